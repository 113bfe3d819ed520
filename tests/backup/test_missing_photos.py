"""A photo that is gone or unreadable stops no backup: all else is kept, what is missing is named, and none of it is durable."""

from __future__ import annotations

import json
import logging
import shutil
import threading
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import pytest
from sqlite_utils import Database

from fieldlog import child
from fieldlog.backup import make_backup, nightly_backup, own_backups
from fieldlog.doctor import examine
from fieldlog.durable import tops_without
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.restoring import restore_backup
from fieldlog.serving import back_up_nightly
from fieldlog.store import Programme, write
from fieldlog.sync.opening import open_programme
from fieldlog.sync.photos import PhotoShelf, Sender
from some_pictures import drawn, encoded, name_of
from tests.a_phone import Phone
from tests.backup.conftest import PHOTO, write_species

DAY_MS = 86_400_000
NOW_MS = 1_800_000_000_000
SITE = "00000000-0000-4000-8000-00000000000a"
OTHER_PHOTO = encoded(drawn(90))


def take(programme: Programme, data: bytes) -> None:
    PhotoShelf(programme).take(name_of(data), Sender("a" * 32, may_know=True), 0, len(data), data, NOW_MS)


def note_photo(phone: Phone, number: int, data: bytes, **fields: object) -> None:
    said = {"of_kind": "visit", "of_id": SITE, "sha256": name_of(data), "taken_at": "2026-11-25T05:00:00Z"} | fields
    phone.note("photo", f"{number:08d}-0000-4000-8000-0000000000ff", SITE, **said)


@pytest.fixture
def shown(full: Programme, phone: Phone) -> Programme:
    """A programme whose two photos are named by lines 5 and 6 of seven."""
    phone.note("site", SITE, SITE)
    note_photo(phone, 1, PHOTO)
    note_photo(phone, 2, OTHER_PHOTO)
    write_species(phone, 9)
    take(full, OTHER_PHOTO)
    assert full.db().execute("SELECT count(*) FROM tray").fetchone() == (0,)
    return full


def gone(path: Path) -> None:
    path.unlink()


def rotted(path: Path) -> None:
    path.write_bytes(b"rotted")


def unreadable(path: Path) -> None:
    path.unlink()
    path.mkdir()


def durable(programme: Programme) -> int:
    return int(programme.db().execute("SELECT max(durable) FROM lane").fetchone()[0])


def findings(folder: Path, now_ms: int = NOW_MS) -> dict[str, tuple[bool, str]]:
    return {one.word: (one.ok, one.sentence) for one in examine(folder, CATALOGUE, now_ms)}


def manifest(file: Path) -> dict:
    with zipfile.ZipFile(file) as packed:
        return json.loads(packed.read("manifest.json"))


@pytest.mark.parametrize("harm", [gone, rotted, unreadable])
def test_all_else_is_backed_up_and_what_is_missing_is_named_and_not_durable(shown, tmp_path, harm: Callable[[Path], None]) -> None:
    harm(shown.photos_folder / name_of(PHOTO))
    made = make_backup(shown, tmp_path / "all.zip", NOW_MS)
    assert (made.entries, made.photos, made.missing) == (7, 1, (name_of(PHOTO),))
    assert manifest(tmp_path / "all.zip")["missing"] == [name_of(PHOTO)]
    with zipfile.ZipFile(tmp_path / "all.zip") as packed:
        assert f"photos/{name_of(OTHER_PHOTO)}" in packed.namelist()
        assert f"photos/{name_of(PHOTO)}" not in packed.namelist()
    assert durable(shown) == 4, "line 5 names the photo that is missing"
    told = findings(shown.folder)
    assert told["photos-missing"][0] is False
    assert name_of(PHOTO)[:12] in told["photos-missing"][1]
    assert "restore FILE" not in told["photos-missing"][1], "no backup holds it"
    assert told["backup"][0] is False
    assert "without 1 photo" in told["backup"][1]


def test_what_was_durable_is_no_more_when_its_photo_is_gone_from_everywhere(shown, tmp_path) -> None:
    make_backup(shown, tmp_path / "first.zip", NOW_MS)
    assert durable(shown) == 7
    gone(shown.photos_folder / name_of(OTHER_PHOTO))
    make_backup(shown, tmp_path / "second.zip", NOW_MS)
    assert durable(shown) == 5


def test_a_photo_whose_record_was_removed_holds_nothing_up(shown, phone, tmp_path) -> None:
    gone(shown.photos_folder / name_of(PHOTO))
    phone.note("photo", f"{1:08d}-0000-4000-8000-0000000000ff", SITE, _deleted=True)
    phone.sync()
    made = make_backup(shown, tmp_path / "all.zip", NOW_MS)
    assert made.missing == (name_of(PHOTO),)
    assert durable(shown) == 8


def test_a_held_line_that_names_a_missing_photo_is_not_durable(full, phone, tmp_path) -> None:
    note_photo(phone, 1, PHOTO, a_field_of_a_newer_app=1)
    assert phone.sync().json["acks"][-1][2] == "q"
    make_backup(full, tmp_path / "with.zip", NOW_MS)
    assert durable(full) == 4
    gone(full.photos_folder / name_of(PHOTO))
    make_backup(full, tmp_path / "without.zip", NOW_MS)
    assert durable(full) == 3


def test_a_photo_that_comes_again_is_in_the_next_backup(shown, tmp_path) -> None:
    gone(shown.photos_folder / name_of(PHOTO))
    make_backup(shown, tmp_path / "without.zip", NOW_MS)
    take(shown, PHOTO)
    made = make_backup(shown, tmp_path / "with.zip", NOW_MS)
    assert (made.photos, made.missing) == (2, ())
    assert durable(shown) == 7
    told = findings(shown.folder)
    assert "photos-missing" not in told
    assert told["backup"] == (True, "Backed up less than an hour ago.")


def test_a_photo_that_only_an_older_backup_holds_is_taken_from_there_and_put_back(shown) -> None:
    nightly_backup(shown, NOW_MS)
    gone(shown.photos_folder / name_of(PHOTO))
    rotted(shown.photos_folder / name_of(OTHER_PHOTO))
    made = nightly_backup(shown, NOW_MS + DAY_MS)
    assert (made.photos, made.missing) == (2, ())
    assert (shown.photos_folder / name_of(PHOTO)).read_bytes() == PHOTO
    assert (shown.photos_folder / name_of(OTHER_PHOTO)).read_bytes() == OTHER_PHOTO


def test_a_photos_folder_that_is_lost_comes_back_from_the_newest_backup(shown) -> None:
    nightly_backup(shown, NOW_MS)
    shutil.rmtree(shown.photos_folder)
    for day in range(1, 10):
        made = nightly_backup(shown, NOW_MS + day * DAY_MS)
        assert made.missing == ()
    assert len(own_backups(shown)) == 7
    assert (shown.photos_folder / name_of(PHOTO)).read_bytes() == PHOTO


def test_many_missing_photos_are_all_named_and_the_backup_is_still_believed(shown, tmp_path) -> None:
    names = [f"{number:064x}" for number in range(3000)]
    shown.db().conn.executemany("INSERT INTO photo_file(sha256, bytes, received_bytes, complete_at) VALUES (?, 1, 1, 1)", [(name,) for name in names])
    made = make_backup(shown, tmp_path / "all.zip", NOW_MS)
    assert made.missing == tuple(names)
    restored = restore_backup(str(tmp_path / "all.zip"), tmp_path / "elsewhere", CATALOGUE, NOW_MS)
    assert restored.photos_missing == 3000


def test_a_restore_of_such_a_backup_says_what_is_missing_and_the_phone_may_send_it(call, shown, tmp_path) -> None:
    gone(shown.photos_folder / name_of(PHOTO))
    said = call("backup", tmp_path / "all.zip", data=shown.folder)
    assert said.status == 0
    assert "Photos that are gone or unreadable: 1" in said.out and name_of(PHOTO)[:12] in said.out
    said = call("doctor", tmp_path / "all.zip", data=shown.folder)
    assert said.status == 1
    assert "is missing 1 photo" in said.out and name_of(PHOTO)[:12] in said.out
    said = call("restore", tmp_path / "all.zip", data=tmp_path / "elsewhere")
    assert (said.status, said.err) == (0, "")
    assert "Missing photos: 1" in said.out and name_of(PHOTO)[:12] in said.out
    programme = open_programme(tmp_path / "elsewhere", CATALOGUE, NOW_MS)
    assert programme.db().execute("SELECT count(*) FROM photo").fetchone() == (2,)
    shelf = PhotoShelf(programme)
    assert shelf.offset(name_of(PHOTO), Sender("a" * 32, may_know=True)) == 0
    take(programme, PHOTO)
    assert make_backup(programme, tmp_path / "again.zip", NOW_MS).missing == ()
    programme.close()
    assert "photos-missing" not in findings(tmp_path / "elsewhere")


def test_a_backup_that_lost_a_photo_which_it_does_not_name_is_refused(shown, refused, tmp_path) -> None:
    gone(shown.photos_folder / name_of(PHOTO))
    make_backup(shown, tmp_path / "all.zip", NOW_MS)
    with zipfile.ZipFile(tmp_path / "all.zip") as packed, zipfile.ZipFile(tmp_path / "cut.zip", "w") as cut:
        for name in packed.namelist():
            if name != f"photos/{name_of(OTHER_PHOTO)}":
                cut.writestr(name, packed.read(name))
    assert name_of(OTHER_PHOTO)[:12] in refused("restore", tmp_path / "cut.zip", data=tmp_path / "elsewhere")


@pytest.mark.parametrize("missing", ["x", [1], ["photos/x"], ["A" * 64], {"a": 1}, None, [["0" * 64]]])
def test_a_manifest_that_names_no_photos_as_missing_is_refused(refused, rewritten, tmp_path, missing) -> None:
    assert "manifest" in refused("restore", rewritten({}, missing=missing), data=tmp_path / "elsewhere")


def test_the_servers_log_names_what_the_nightly_backup_lacks(shown, caplog, monkeypatch) -> None:
    gone(shown.photos_folder / name_of(PHOTO))
    made = child.run("fieldlog.backing_up", {"folder": str(shown.folder), "now_ms": NOW_MS})
    assert made == {"entries": 7, "missing": [name_of(PHOTO)]}
    stop = threading.Event()

    def run(*_job: object, **_how: object) -> dict[str, object]:
        stop.set()
        return made

    monkeypatch.setattr("fieldlog.serving.child.run", run)
    back_up_nightly(shown, lambda: datetime(2026, 11, 26, 3, tzinfo=UTC), stop, SimpleNamespace(catch_up=lambda _seconds: None))
    (record,) = [record for record in caplog.records if name_of(PHOTO)[:12] in record.message]
    assert record.levelno == logging.ERROR


def photos_that_came(db: Database, names: list[str]) -> None:
    with write(db):
        db.conn.executemany("INSERT INTO photo(record_id, sha256, deleted) VALUES (?, ?, 0)", [(f"photo-{name}", name) for name in names])
        db.conn.executemany(
            """INSERT INTO log(entry_id, lane_id, number, line, eff, kind, record_id, received_at, h, ch, privacy)
               VALUES (?, 'lane', ?, ?, '', 'photo', ?, 0, '', '', '')""",
            [(name[-32:], int(name, 16), name.encode(), f"photo-{name}") for name in names],
        )


def test_naming_twice_as_many_missing_photos_costs_twice_as_much(programme) -> None:
    db, costs = programme.db(), []
    names = [f"{number:064x}" for number in range(1, 401)]
    for some in (names[:200], names[200:]):
        photos_that_came(db, some)
        steps = []
        db.conn.set_progress_handler(lambda steps=steps: steps.append(1), 100)
        _, ends = tops_without(db, names[: names.index(some[-1]) + 1])
        db.conn.set_progress_handler(None, 0)
        assert ends == {"lane": 0}
        costs.append(len(steps))
    assert costs[1] <= costs[0] * 2.5
