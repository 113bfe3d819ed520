"""What a try found good is taken in one step, and one entry takes it back; nothing of the file is left behind."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from fieldlog.access.devices import Device, device_of_id
from fieldlog.backup import make_backup
from fieldlog.errors import BadTable, NotHere, TooLarge
from fieldlog.imports import kept, reading, taking, trying
from fieldlog.imports.kept import Upload
from fieldlog.imports.limits import MEGABYTE, MOST_BYTES
from fieldlog.questions.imports import changed_since, imports_of, unchanged_of_import
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme, write
from fieldlog.sync.imported import is_turning, turn_some
from fieldlog.sync.lanes import chain_before, lane_name
from fieldlog.sync.receive import receive
from fieldlog.sync.replay import replay

NOW_MS = 1_795_586_400_000
CHECKS = "tag,Date,Time,found,exposed in.\nB019,2025-07-05,8:10,seen,16.5\nB024,2025-07-05,,seen,3\nB031x,2025-07-05,8:10,seen,1\n"


@pytest.fixture
def lead(demo_programme: Programme) -> Device:
    (device_id,) = demo_programme.db().conn.execute("SELECT device_id FROM device WHERE role = 'lead'").fetchone()
    return device_of_id(demo_programme.db(), device_id)


@pytest.fixture
def bring(demo_programme: Programme, lead: Device, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Upload]:
    """Bring a file of the demo's site as far as a try, its open questions answered by leaving rows out; the children's work is done in this process."""
    (site_id,) = demo_programme.db().conn.execute("SELECT record_id FROM site").fetchone()

    modules = {kept.READING_CHILD: reading, kept.TRYING_CHILD: trying}
    monkeypatch.setattr(kept, "run", lambda module, job, tell=lambda _step: None, **_limits: modules[module].work(job, tell))

    def of(data: str, **said: Any) -> Upload:
        upload = kept.begin(demo_programme, lead, site_id, "summer.csv", iter([data.encode()]), NOW_MS)
        found = kept.looked(demo_programme.db(), CATALOGUE, upload, said)
        for question in found["questions"]:
            for change in question["answers"][-1]["sets"]:
                group = found["mapping"]
                for name in change["path"][:-1]:
                    group = group.setdefault(name, {})
                group[change["path"][-1]] = change["value"]
        kept.looked(demo_programme.db(), CATALOGUE, upload, found["mapping"])
        kept.try_upload(demo_programme, upload)
        return upload

    return of


def taken(programme: Programme, upload: Upload) -> str:
    begun = kept.begin_taking(upload, NOW_MS)
    assert kept.take_upload(programme, CATALOGUE, upload, lambda: NOW_MS).held == 0
    return begun.import_id


class Hand:
    """A lead's phone that changes one record after another."""

    def __init__(self, programme: Programme, device: Device) -> None:
        self.programme, self.device, self.key, self.n = programme, device, "ab" * 16, 0
        self.heads: dict[tuple[str, str], str] = {}

    def write(self, kind: str, record_id: str, site_id: str | None, **fields: Any) -> None:
        lane = lane_name(self.key)
        self.n += 1
        line = {"v": 1, "d": lane, "n": self.n, "s": f"{NOW_MS + 1000 * self.n:012x}0000", "u": None, "t": kind, "r": record_id, "g": site_id, "y": None, "f": fields, "o": None}
        line["b"] = {name: [self.heads[record_id, name]] for name in fields if (record_id, name) in self.heads}
        previous = chain_before(self.programme.db(), lane, self.n) or ""
        header = {"p": 1, "rid": "1", "d": lane, "key": self.key, "from": self.n, "prev": previous, "mine": self.n, "cursor": None, "want": 1, "now": NOW_MS, "app": None}
        body = "".join(json.dumps(one) + "\n" for one in (header, line)).encode()
        (ack,) = receive(self.programme.db(), body, CATALOGUE, lambda: self.device, lambda: NOW_MS + 1000 * self.n)["acks"]
        assert ack[2] == "ok", ack
        self.heads |= {(record_id, name): ack[1] for name in fields}


def turned(programme: Programme) -> None:
    while is_turning(programme.db()):
        with write(programme.db()):
            turn_some(programme.db(), CATALOGUE)


def standing(programme: Programme) -> dict[str, Any]:
    """Every record that stands and every flag, as the log's tables say."""
    db = programme.db()
    rows = {name: db.conn.execute(f'SELECT * FROM "{name}" ORDER BY record_id').fetchall() for name in CATALOGUE.kinds}
    return rows | {"flag": db.conn.execute("SELECT * FROM flag ORDER BY flag_id").fetchall()}


def checks(programme: Programme) -> list[tuple[Any, ...]]:
    return programme.db().conn.execute("SELECT exposed_height_mm, time_known, deleted FROM unit_check WHERE checked_at LIKE '2025-07-05%' ORDER BY checked_at").fetchall()


def test_good_rows_are_taken_under_the_leads_device_at_the_time_of_import(demo_programme: Programme, bring: Callable[..., Upload], lead: Device) -> None:
    import_id = taken(demo_programme, bring(CHECKS))
    assert checks(demo_programme) == [(419.1, None, 0), (76.2, 0, 0)]
    rows = demo_programme.db().conn.execute("SELECT line, kind, eff FROM log WHERE lane_id IN (SELECT lane_id FROM lane WHERE device_id = ?) ORDER BY seq DESC LIMIT 3", [lead.device_id]).fetchall()
    assert [kind for _, kind, _ in rows] == ["unit_check", "unit_check", "import"]
    assert [json.loads(line).get("i") for line, _, _ in rows] == [import_id, import_id, None]
    assert {int(eff[:12], 16) for _, _, eff in rows} == {NOW_MS}
    (one,) = imports_of(demo_programme.db(), None)
    assert (one["import_id"], one["file_name"], one["of_kind"], one["records_made"], one["removed"]) == (import_id, "summer.csv", "unit_check", 2, 0)


def test_flags_are_raised_and_go_with_their_import(demo_programme: Programme, bring: Callable[..., Upload], lead: Device) -> None:
    before = standing(demo_programme)
    import_id = taken(demo_programme, bring(CHECKS))
    after = standing(demo_programme)
    assert len(after["unit_check"]) == len(before["unit_check"]) + 2
    hand = Hand(demo_programme, lead)
    (site_id,) = demo_programme.db().conn.execute("SELECT site_id FROM import").fetchone()
    hand.write("import", import_id, site_id, _deleted=True)
    turned(demo_programme)
    assert [row[2] for row in checks(demo_programme)] == [1, 1]
    assert standing(demo_programme)["flag"] == before["flag"]
    hand.write("import", import_id, site_id, _deleted=False)
    turned(demo_programme)
    assert [row[2] for row in checks(demo_programme)] == [0, 0]
    assert standing(demo_programme)["flag"] == after["flag"]
    assert standing(demo_programme)["unit_check"] == after["unit_check"]


def test_a_row_that_was_corrected_since_stays_and_is_listed(demo_programme: Programme, bring: Callable[..., Upload], lead: Device) -> None:
    import_id = taken(demo_programme, bring(CHECKS))
    hand, db = Hand(demo_programme, lead), demo_programme.db()
    record_id, site_id = db.conn.execute("SELECT record_id, site_id FROM unit_check WHERE exposed_height_mm = 419.1 AND import_id IS NOT NULL").fetchone()
    hand.write("unit_check", record_id, site_id, note="read again on the photo")
    hand.write("import", import_id, site_id, _deleted=True)
    turned(demo_programme)
    assert checks(demo_programme) == [(419.1, None, 0), (76.2, 0, 1)]
    (lane_id,) = {one["lane_id"] for one in imports_of(db, None)}
    assert changed_since(db, lane_id, 10) == ([("unit_check", record_id)], 1)
    assert unchanged_of_import(db, CATALOGUE.kinds, import_id) == 1


def test_a_row_that_is_corrected_while_it_is_removed_comes_back(demo_programme: Programme, bring: Callable[..., Upload], lead: Device) -> None:
    """Somebody without a network corrected it meanwhile: what was written is never lost."""
    import_id = taken(demo_programme, bring(CHECKS))
    hand, db = Hand(demo_programme, lead), demo_programme.db()
    record_id, site_id = db.conn.execute("SELECT record_id, site_id FROM unit_check WHERE exposed_height_mm = 419.1 AND import_id IS NOT NULL").fetchone()
    hand.write("import", import_id, site_id, _deleted=True)
    turned(demo_programme)
    hand.write("unit_check", record_id, site_id, note="read again on the photo")
    assert checks(demo_programme) == [(419.1, None, 0), (76.2, 0, 1)]


@pytest.mark.parametrize("is_removed", [False, True])
def test_a_replay_comes_to_the_same(demo_programme: Programme, bring: Callable[..., Upload], lead: Device, is_removed: bool) -> None:
    sheet = "Tag,Row,Slot,Tag with a check digit\nQ-1,B,70,no\nQ-2,B,71,no\n"
    import_id = taken(demo_programme, bring(sheet))
    taken(demo_programme, bring("tag,Date,found\nQ-1,2025-07-05,seen\nB019,2025-07-06,not_found_dry\n"))
    hand = Hand(demo_programme, lead)
    (site_id,) = demo_programme.db().conn.execute("SELECT site_id FROM import").fetchone()
    (unit_id,) = demo_programme.db().conn.execute("SELECT record_id FROM unit WHERE tag = 'Q-2'").fetchone()
    hand.write("unit", unit_id, site_id, slot_number=72)
    hand.write("import", import_id, site_id, _deleted=is_removed)
    turned(demo_programme)
    live = standing(demo_programme)
    assert [row[0] for row in demo_programme.db().conn.execute("SELECT deleted FROM unit WHERE tag LIKE 'Q-%' ORDER BY tag")] == [int(is_removed), 0]
    with write(demo_programme.db()):
        replay(demo_programme.db(), CATALOGUE)
    again = standing(demo_programme)
    assert {name for name in live if live[name] != again[name]} == set()


def test_a_taking_that_was_cut_off_goes_on_with_the_same_lines(demo_programme: Programme, bring: Callable[..., Upload], monkeypatch: pytest.MonkeyPatch) -> None:
    upload = bring("tag,Date,found\n" + "".join(f"B019,2025-07-{day:02d},seen\n" for day in range(1, 11)))
    kept.begin_taking(upload, NOW_MS)
    monkeypatch.setattr(taking, "LINES_AT_ONCE", 4)

    def cut(step: str) -> None:
        if step.startswith("4 of"):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        kept.take_upload(demo_programme, CATALOGUE, upload, lambda: NOW_MS, cut)
    again = Upload(upload.folder)
    assert again.about["state"] == kept.TAKING
    assert kept.take_upload(demo_programme, CATALOGUE, again, lambda: NOW_MS + 60_000).entries == 10
    count, top = demo_programme.db().conn.execute("SELECT count(DISTINCT eff), max(number) FROM log WHERE lane_id = (SELECT lane_id FROM log ORDER BY seq DESC LIMIT 1)").fetchone()
    assert (count, top) == (11, 11)


def test_the_second_import_of_a_file_finds_all_of_it_here(demo_programme: Programme, bring: Callable[..., Upload]) -> None:
    taken(demo_programme, bring(CHECKS))
    again = bring(CHECKS)
    assert (again.about["result"]["good"], again.about["result"]["already_here"]) == (0, 2)
    with pytest.raises(BadTable, match="No row of this file can be imported"):
        kept.begin_taking(again, NOW_MS)


def test_contacts_are_taken_as_private_and_people_by_their_names(demo_programme: Programme, bring: Callable[..., Upload]) -> None:
    db = demo_programme.db()
    (name,) = db.conn.execute("SELECT display_name FROM person WHERE record_id NOT IN (SELECT person_id FROM person_private) LIMIT 1").fetchone()
    taken(demo_programme, bring(f"Name,Phone,Email\n{name},555 0100,someone@example.org\n"))
    assert db.conn.execute("SELECT phone FROM person_private WHERE phone = '555 0100'").fetchone() == ("555 0100",)
    assert db.conn.execute("SELECT privacy FROM log WHERE kind = 'person_private' ORDER BY seq DESC LIMIT 1").fetchone() == ("leader",)


def test_nothing_of_an_upload_is_left_when_it_is_taken_dropped_refused_or_a_day_old(demo_programme: Programme, bring: Callable[..., Upload], lead: Device) -> None:
    folder = demo_programme.folder / kept.FOLDER

    def left() -> list[str]:
        return [path.name for path in folder.glob("*/*")]

    taken(demo_programme, bring(CHECKS))
    assert left() == []
    kept.drop(bring(CHECKS.replace("2025-07-05", "2025-07-07")))
    assert left() == []
    with pytest.raises(BadTable):
        kept.begin(demo_programme, lead, None, "x.csv", iter([b"\x00\x01"]), NOW_MS)
    with pytest.raises(TooLarge, match=r"The file has 51\.0 MB; the limit is 50 MB\."):
        kept.begin(demo_programme, lead, None, "x.csv", iter([b"x" * MEGABYTE] * (MOST_BYTES // MEGABYTE + 1)), NOW_MS)
    assert left() == []
    upload = bring(CHECKS.replace("2025-07-05", "2025-07-08"))
    kept.tend_uploads(demo_programme, NOW_MS + kept.DAY_MS - 1)
    assert left() != []
    kept.tend_uploads(demo_programme, NOW_MS + kept.DAY_MS)
    assert left() == []
    with pytest.raises(NotHere, match="here no longer"):
        kept.upload_of(demo_programme, lead, upload.upload_id)


def test_an_upload_is_in_no_backup(demo_programme: Programme, bring: Callable[..., Upload], tmp_path: Path) -> None:
    bring(CHECKS + "B0SECRETx,2025-07-09,8:10,seen,1\n")
    make_backup(demo_programme, tmp_path / "backup.zip", NOW_MS)
    import zipfile

    with zipfile.ZipFile(tmp_path / "backup.zip") as packed:
        assert packed.namelist()
        assert not any(b"SECRET" in packed.read(name) for name in packed.namelist())
        assert not any(kept.FOLDER in name for name in packed.namelist())


def test_rows_to_fix_can_be_edited_and_chosen_again(demo_programme: Programme, bring: Callable[..., Upload], lead: Device) -> None:
    upload = bring("tag,Date,Time,found,note\nB019,2025-07-05,25:10,seen,=1+1\nB019,2025-07-06,8:10,seen,x\n")
    text = "".join(kept.rows_to_fix(upload))
    assert text.splitlines() == [
        '"Row","tag","Date","Time","found","note","What to fix"', '"2","B019","2025-07-05","25:10","seen","\'=1+1","“25:10” is not a time. Write it as 08:10."'
    ]  # fmt: skip
    again = bring(text.replace("25:10", "8:10", 1), **upload.about["mapping"])
    assert again.about["result"]["good"] == 1
    taken(demo_programme, again)
    assert demo_programme.db().conn.execute("SELECT note FROM unit_check WHERE import_id IS NOT NULL").fetchone() == ("=1+1",)


def test_an_upload_is_its_own_leads_alone(demo_programme: Programme, bring: Callable[..., Upload], lead: Device) -> None:
    upload = bring(CHECKS)
    assert kept.upload_of(demo_programme, lead, upload.upload_id).upload_id == upload.upload_id
    other = Device("another", "lead", None, None, revoked=False)
    for device, name in ((other, upload.upload_id), (lead, "../x"), (lead, "0" * 32)):
        with pytest.raises(NotHere):
            kept.upload_of(demo_programme, device, name)


def test_a_mapping_is_kept_by_name(demo_programme: Programme, bring: Callable[..., Upload]) -> None:
    said = bring(CHECKS).about["mapping"]
    db = demo_programme.db()
    kept.keep_mapping(db, None, "Paper sheets", said, NOW_MS)
    kept.keep_mapping(db, None, "Paper sheets", said | {"zone": "America/New_York"}, NOW_MS)
    assert [(one["name"], one["kind"], one["mapping"]["zone"]) for one in kept.kept_mappings(db, None)] == [("Paper sheets", "unit_check", "America/New_York")]
    with pytest.raises(BadTable, match="Give these choices a name"):
        kept.keep_mapping(db, None, "  ", said, NOW_MS)
    with pytest.raises(BadTable, match="it names no kind"):
        kept.keep_mapping(db, None, "x", {}, NOW_MS)
    kept.drop_mapping(db, None, "Paper sheets")
    assert kept.kept_mappings(db, None) == []


@pytest.fixture(autouse=True)
def _no_folder_is_left(demo_programme: Programme) -> Iterator[None]:
    yield
    demo_programme.close()


def test_a_tag_that_matches_two_units_is_asked_about(demo_programme: Programme, bring: Callable[..., Upload], lead: Device) -> None:
    """A row's letter and slot name one unit, and another bears just that as its own tag."""
    taken(demo_programme, bring("Tag,Row,Slot,Tag with a check digit\nB1,B,70,no\n"))
    (site_id,) = demo_programme.db().conn.execute("SELECT record_id FROM site").fetchone()
    upload = kept.begin(demo_programme, lead, site_id, "x.csv", iter([b"tag,Date,found\nB1,2025-07-05,seen\n"]), NOW_MS)
    (question,) = kept.looked(demo_programme.db(), CATALOGUE, upload, {})["questions"]
    assert (question["ask"], sorted(answer["label"] for answer in question["answers"])) == ("“B1” is", ["B019", "B1", "Leave these rows out"])


def test_a_sign_up_list_makes_people_and_the_same_list_their_contacts_which_leads_alone_read(demo_programme: Programme, bring: Callable[..., Upload]) -> None:
    db = demo_programme.db()
    people = "Name,Role,Under 18\nAda Quillfeather,volunteer,no\nBo Quillfeather,student,yes\n"
    taken(demo_programme, bring(people))
    rows = db.conn.execute("SELECT display_name, role, minor FROM person WHERE display_name LIKE '%Quillfeather' ORDER BY display_name, role").fetchall()
    assert rows == [("Ada Quillfeather", "volunteer", 0), ("Bo Quillfeather", "student", 1)]
    taken(demo_programme, bring("Name,Guardian,Guardian's phone\nBo Quillfeather,Pat Quillfeather,555 0101\n"))
    assert db.conn.execute("SELECT guardian_name, guardian_phone FROM person_private WHERE guardian_phone = '555 0101'").fetchone() == ("Pat Quillfeather", "555 0101")
    assert db.conn.execute("SELECT privacy FROM log WHERE kind = 'person_private' ORDER BY seq DESC LIMIT 1").fetchone() == ("leader",)
    assert db.conn.execute("SELECT count(*) FROM log WHERE privacy IN ('open', 'crew') AND line LIKE '%555 0101%'").fetchone() == (0,)
