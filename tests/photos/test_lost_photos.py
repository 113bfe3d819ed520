"""A photo whose file went missing on the disk is asked for again of the phone that took it, and parts that nobody goes on with go."""

from __future__ import annotations

import os
import threading
import uuid
from pathlib import Path

import pytest

from a_phone import Phone
from fieldlog.backup import make_backup
from fieldlog.doctor import examine
from fieldlog.lost_photos import ASKED_AT_ONCE, lost_photos
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import write
from fieldlog.sync.lanes import lane_name
from fieldlog.sync.photo_tending import note_gone, tend_photos
from fieldlog.sync.photos import PART_KEPT_MS, PhotoShelf, Sender
from some_pictures import drawn, encoded, name_of
from tests.photos.sending import SITE_1, send, shown
from tests.sync.model_phone import link

NOW_MS = 1_800_000_000_000
PICTURE = encoded(drawn())


def asked(phone: Phone) -> list[str]:
    return phone.sync().json.get("photos", [])


def send_bytes(phone: Phone, data: bytes) -> int:
    headers = {"Upload-Offset": "0", "Upload-Length": str(len(data))}
    return phone.client.patch(f"/api/photos/{name_of(data)}", data=data, headers=headers).status_code


def test_a_photo_that_is_gone_is_asked_of_the_phone_that_took_it_until_it_is_here_again(crew, copies, programme, client_of, now) -> None:
    name = send(crew, PICTURE)
    assert copies.wait()
    other = Phone(client_of("crew", SITE_1), NOW_MS)
    assert note_gone(programme, NOW_MS) == 0
    assert asked(crew) == []
    for path in programme.photos_folder.glob(f"{name}*"):
        path.unlink()
    assert note_gone(programme, NOW_MS) == 1
    assert note_gone(programme, NOW_MS) == 0, "it is told once"
    assert asked(crew) == asked(crew) == [name]
    assert asked(other) == []
    assert crew.client.head(f"/api/photos/{name}").headers["Upload-Offset"] == "0"
    assert send_bytes(crew, PICTURE) == 201
    assert copies.wait()
    assert asked(crew) == []
    assert shown(crew.client, name).size == (640, 480)
    assert lost_photos(programme.db()) == set()


def test_a_device_that_was_taken_off_or_is_not_confirmed_is_asked_for_nothing(crew, copies, programme) -> None:
    name = send(crew, PICTURE)
    (programme.photos_folder / name).unlink()
    note_gone(programme, NOW_MS)
    db = programme.db()
    for column, value in (("unconfirmed", 1), ("revoked_at", 5)):
        db.conn.execute(f"UPDATE device SET {column} = ? WHERE device_id = ?", (value, crew.client.device_id))
        assert asked(crew) == []
        db.conn.execute("UPDATE device SET unconfirmed = 0, revoked_at = NULL")
    assert asked(crew) == [name]


def test_a_photo_whose_record_was_removed_is_not_asked_for(crew, copies, programme) -> None:
    name = name_of(PICTURE)
    record = str(uuid.uuid4())
    crew.note("photo", record, SITE_1, of_kind="unit", of_id=str(uuid.uuid4()), sha256=name, taken_at="2026-11-25T05:00:00Z")
    crew.sync()
    assert send_bytes(crew, PICTURE) == 201
    (programme.photos_folder / name).unlink()
    note_gone(programme, NOW_MS)
    assert asked(crew) == [name]
    crew.note("photo", record, SITE_1, _deleted=True)
    assert asked(crew) == []


def test_a_phone_that_only_wrote_at_a_photos_record_is_not_asked(crew, copies, programme, client_of) -> None:
    name, record = name_of(PICTURE), str(uuid.uuid4())
    crew.note("photo", record, SITE_1, of_kind="unit", of_id=str(uuid.uuid4()), sha256=name, taken_at="2026-11-25T05:00:00Z")
    crew.sync()
    assert send_bytes(crew, PICTURE) == 201
    lead = Phone(client_of("lead"), NOW_MS)
    lead.made.add(("photo", record))
    lead.note("photo", record, SITE_1, shows="a unit")
    assert lead.sync().json["acks"][-1][2] == "ok"
    (programme.photos_folder / name).unlink()
    note_gone(programme, NOW_MS)
    assert (asked(lead), asked(crew)) == ([], [name])


def lose(programme, name: str) -> None:
    """The bytes came, and are gone."""
    with write(programme.db()):
        programme.db().execute("INSERT INTO photo_file(sha256, bytes, received_bytes, complete_at, lost_at) VALUES (?, 1, 1, 1, 1)", (name,))


def as_keyed(phone: Phone) -> Phone:
    phone.key = link("", phone.lane_id)
    phone.lane_id = lane_name(phone.key)
    return phone


def name_one(phone: Phone, **fields: object) -> str:
    """A phone writes a photo's record; returns the name of its file."""
    name = uuid.uuid4().hex * 2
    said = {"of_kind": "unit", "of_id": str(uuid.uuid4()), "sha256": name, "taken_at": "2026-11-25T05:00:00Z", **fields}
    phone.note("photo", str(uuid.uuid4()), SITE_1, **{field: value for field, value in said.items() if value is not None})
    return name


def test_a_phone_that_lost_its_cookie_and_joined_again_is_asked_by_the_lane_whose_key_it_shows(crew, programme, client_of) -> None:
    """It was asked for nothing until it wrote: the lane was its former device's."""
    as_keyed(crew)
    name = name_one(crew)
    assert {ack[2] for ack in crew.sync().json["acks"]} == {"ok"}
    lose(programme, name)
    crew.client = client_of("crew", SITE_1)
    quiet = {"first": len(crew.texts) + 1}

    def asked_now(**header: object) -> list[str]:
        return crew.client.post("/api/sync", data=crew.body(**quiet, **header)).json.get("photos", [])

    assert asked_now() == [name]
    assert asked_now(key="0" * 32) == [], "a lane that is not proven tells nothing"


def test_a_photo_whose_record_is_held_is_asked_for_and_whoever_mends_the_record_its_phone_is(crew, programme, client_of) -> None:
    """Bytes are taken before their record: while it was held nobody was asked, and once another device mended it only that one."""
    name = name_one(crew, taken_at=None)
    (ack,) = crew.sync().json["acks"]
    assert ack[2] == "q"
    lose(programme, name)
    lead = Phone(client_of("lead"), NOW_MS)
    assert (asked(crew), asked(lead)) == ([name], [])
    mended = {"of_kind": "unit", "of_id": str(uuid.uuid4()), "sha256": name, "taken_at": "2026-11-25T05:00:00Z"}
    record = str(uuid.uuid4())
    lead.write("photo", record, mended, g=SITE_1, fixes=ack[1])
    assert lead.sync().json["acks"][-1][2] == "ok"
    assert (asked(crew), asked(lead)) == ([name], [name])
    lead.made.add(("photo", record))
    lead.note("photo", record, SITE_1, _deleted=True)
    assert (asked(lead), asked(crew)) == ([], []), "nobody shows it"


def test_bytes_that_rotted_are_found_by_backup_and_doctor_and_asked_for_too(crew, copies, programme, tmp_path) -> None:
    name = send(crew, PICTURE)
    assert copies.wait()
    (programme.photos_folder / name).write_bytes(b"rotted")
    assert note_gone(programme, NOW_MS) == 0
    make_backup(programme, tmp_path / "all.zip", NOW_MS)
    assert asked(crew) == [name]
    (programme.photos_folder / name).write_bytes(PICTURE)
    make_backup(programme, tmp_path / "again.zip", NOW_MS)
    assert asked(crew) == [], "somebody put it back"
    (programme.photos_folder / name).write_bytes(b"rotted")
    (told,) = [one for one in examine(programme.folder, CATALOGUE, NOW_MS) if one.word == "photos-missing"]
    assert not told.ok and ": 1 (" in told.sentence and "asked for it" in told.sentence
    assert asked(crew) == [name]


def test_the_doctor_counts_what_entries_name_and_has_not_come(crew, copies, programme) -> None:
    def coming() -> list[tuple[bool, str]]:
        return [(one.ok, one.sentence) for one in examine(programme.folder, CATALOGUE, NOW_MS) if one.word == "photos-coming"]

    assert coming() == []
    for data in (PICTURE, encoded(drawn(90))):
        crew.note("photo", str(uuid.uuid4()), SITE_1, of_kind="unit", of_id=str(uuid.uuid4()), sha256=name_of(data), taken_at="2026-11-25T05:00:00Z")
    crew.sync()
    ((ok, sentence),) = coming()
    assert ok and "have not arrived yet: 2." in sentence
    for data in (PICTURE, encoded(drawn(90))):
        assert send_bytes(crew, data) == 201
    assert coming() == []


def test_many_are_asked_for_some_at_a_time_and_none_is_left_out_for_ever(crew, programme) -> None:
    names = [f"{number:064x}" for number in range(ASKED_AT_ONCE + 5)]
    for name in names:
        crew.note("photo", str(uuid.uuid5(uuid.NAMESPACE_OID, name)), SITE_1, of_kind="unit", of_id=str(uuid.uuid4()), sha256=name,
                  taken_at="2026-11-25T05:00:00Z")  # fmt: skip
    crew.sync()
    db = programme.db()
    with write(db):
        db.conn.executemany(
            "INSERT INTO photo_file(sha256, bytes, received_bytes, complete_at, lost_at) VALUES (?, 1, 1, 1, 1)", [(name,) for name in names]
        )
    rounds = [asked(crew) for _ in range(40)]
    assert {len(some) for some in rounds} == {ASKED_AT_ONCE}
    assert set().union(*rounds) == set(names)


def aged(path: Path, grown_ms: float) -> Path:
    os.utime(path, (grown_ms / 1000, grown_ms / 1000))
    return path


@pytest.fixture
def parts(programme) -> dict[str, Path]:
    """Parts by when they grew last; one of a photo that is named like those of version 0.2.0, and somebody's own file."""
    made = {
        "today": ("a" * 32, 0), "at the limit": ("b" * 32, PART_KEPT_MS), "old": ("c" * 32, PART_KEPT_MS + 1000),
        "dated ahead": ("d" * 32, -PART_KEPT_MS - 1000), "tomorrow": ("e" * 32, -86_400_000),
    }  # fmt: skip
    paths = {word: programme.photos_folder / f"{name_of(PICTURE)}.{device}.part" for word, (device, _) in made.items()}
    for word, path in paths.items():
        path.write_bytes(PICTURE[:1000])
        aged(path, NOW_MS - made[word][1])
    own = programme.photos_folder / "note.part"
    own.write_bytes(b"somebody's own file")
    return {**paths, "own": aged(own, 0)}


def test_parts_that_have_not_grown_for_30_days_go_and_no_others(programme, parts) -> None:
    assert PhotoShelf(programme).drop_old_parts(NOW_MS) == 2
    assert {word for word, path in parts.items() if path.exists()} == {"today", "at the limit", "tomorrow", "own"}


def test_a_phone_whose_old_part_went_begins_anew_and_loses_nothing(programme, parts) -> None:
    shelf, me = PhotoShelf(programme), Sender("c" * 32, may_know=True)
    shelf.drop_old_parts(NOW_MS)
    assert shelf.offset(name_of(PICTURE), me) == 0
    assert shelf.take(name_of(PICTURE), me, 0, len(PICTURE), PICTURE, NOW_MS) is None
    assert (programme.photos_folder / name_of(PICTURE)).read_bytes() == PICTURE


def test_a_part_that_is_gone_on_with_stays(programme, parts, now) -> None:
    shelf, me = PhotoShelf(programme), Sender("c" * 32, may_know=True)
    shelf.take(name_of(PICTURE), me, 1000, len(PICTURE), PICTURE[1000:2000], NOW_MS)
    aged(parts["old"], NOW_MS)  # the disk dates it by its own clock
    shelf.drop_old_parts(NOW_MS)
    assert shelf.offset(name_of(PICTURE), me) == 2000


def test_a_server_looks_at_once_and_each_hour(crew, copies, app, programme, now, parts, monkeypatch) -> None:
    name = send(crew, PICTURE)
    (programme.photos_folder / name).unlink()
    for path in parts.values():
        if path.exists():
            aged(path, now().timestamp() * 1000)
    looked: list[float] = []

    class Hours(threading.Event):
        """An hour passes at once; the second ends it."""

        def wait(self, timeout: float | None = None) -> bool:
            looked.append(timeout or 0)
            now.forward(days=31)
            if len(looked) == 2:
                self.set()
            return self.is_set()

    tend_photos(programme, PhotoShelf(programme), now, Hours())
    assert looked == [3600, 3600]
    assert [path for path in programme.photos_folder.glob("*.part") if path.name != "note.part"] == []
    assert asked(crew) == [name]


def test_a_folder_that_cannot_be_looked_through_is_told_and_looked_at_again(programme, now, caplog) -> None:
    programme.photos_folder.rename(programme.folder / "elsewhere")
    stop = threading.Event()
    stop.wait = lambda _s=None: stop.set() or True  # type: ignore[method-assign]
    tend_photos(programme, PhotoShelf(programme), now, stop)
    assert "was not looked through" in caplog.text and "in an hour" in caplog.text
