"""A backup goes back over whatever is left of a programme, and nothing but a sound backup does."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import stat
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from fieldlog.backup import make_backup
from fieldlog.errors import BackupUnsound
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.restoring import restore_backup
from fieldlog.store import Programme, setting
from fieldlog.sync.opening import open_programme
from some_pictures import name_of
from tests.backup.conftest import PHOTO, everything_in, sha256_of

NOW_MS = 1_800_000_000_000


def page_one_zeroed(folder: Path) -> None:
    with (folder / "fieldlog.sqlite").open("r+b") as file:
        file.write(bytes(4096))


def half_a_file(folder: Path) -> None:
    os.truncate(folder / "fieldlog.sqlite", (folder / "fieldlog.sqlite").stat().st_size // 2)


def no_bytes(folder: Path) -> None:
    os.truncate(folder / "fieldlog.sqlite", 0)


def no_database(folder: Path) -> None:
    (folder / "fieldlog.sqlite").unlink()


def only_photos(folder: Path) -> None:
    for path in folder.iterdir():
        if path.name != "photos":
            shutil.rmtree(path) if path.is_dir() else path.unlink()


def a_folder_in_its_place(folder: Path) -> None:
    (folder / "fieldlog.sqlite").unlink()
    (folder / "fieldlog.sqlite").mkdir()


def another_program_s_file(folder: Path) -> None:
    (folder / "fieldlog.sqlite").write_bytes(b"not a database at all" * 400)


HARMS = [page_one_zeroed, half_a_file, no_bytes, no_database, only_photos, a_folder_in_its_place, another_program_s_file]


def harmed(programme: Programme, harm: Callable[[Path], None]) -> Path:
    """The programme's folder as a bad disk left it; its write-ahead file is folded in first."""
    db = programme.db()
    db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    programme.close()
    for beside in ("-wal", "-shm"):
        programme.path.with_name(programme.path.name + beside).unlink(missing_ok=True)
    harm(programme.folder)
    return programme.folder


@pytest.mark.parametrize("harm", HARMS)
def test_a_backup_goes_back_over_any_damage_and_what_was_there_is_kept(call, full, backup, harm) -> None:
    folder = harmed(full, harm)
    left = everything_in(folder)
    said = call("restore", backup, "--json", data=folder)
    assert (said.status, said.err) == (0, "")
    programme = open_programme(folder, CATALOGUE, NOW_MS)
    assert programme.db().execute("SELECT count(*) FROM species").fetchone() == (3,)
    assert (programme.photos_folder / name_of(PHOTO)).read_bytes() == PHOTO
    programme.close()
    aside = everything_in(Path(said.document["before"]))
    for name, data in left.items():
        if name.startswith(("fieldlog.sqlite", "photos/")):
            assert aside[name] == data, name
    assert "are intact" in call("doctor", data=folder).out


@pytest.mark.parametrize("harm", [page_one_zeroed, half_a_file, no_bytes, another_program_s_file, a_folder_in_its_place])
@pytest.mark.parametrize("command", ["doctor", "serve", "flags", "invite"])
def test_a_damaged_database_is_told_in_a_sentence_and_never_made_anew(call, full, backup, harm, command) -> None:
    folder = harmed(full, harm)
    left = everything_in(folder).get("fieldlog.sqlite")
    said = call(command, *(["--role", "crew"] if command == "invite" else []), data=folder)
    assert said.status == (1 if command == "doctor" else 2)
    assert "Traceback" not in said.err
    told = said.out + said.err
    assert "damaged" in told and "restore" in told
    assert everything_in(folder)["fieldlog.sqlite"] == left


def test_the_doctor_tells_a_damaged_database_in_json_too(call, full, backup) -> None:
    said = call("doctor", "--json", data=harmed(full, no_bytes))
    (finding,) = said.document["findings"]
    assert (said.document["ok"], finding["word"], finding["ok"]) == (False, "unsound", False)
    assert "0 bytes" in finding["sentence"]


@pytest.mark.parametrize("harm", [no_bytes, no_database, only_photos])
def test_what_is_left_of_a_programme_is_never_a_place_for_a_new_one(refused, full, backup, harm) -> None:
    make_backup(full, full.backups_folder / "fieldlog-20261125T060000.zip", NOW_MS)
    assert "restore" in refused("init", data=harmed(full, harm))


def test_a_programme_whose_database_is_gone_is_told_to_restore_not_to_init(refused, full, backup) -> None:
    sentence = refused("serve", data=harmed(full, no_database))
    assert "restore" in sentence and "init" not in sentence


def test_a_page_in_the_middle_that_is_bad_is_found(call, full, backup) -> None:
    def middle(folder: Path) -> None:
        db = sqlite3.connect(folder / "fieldlog.sqlite")
        (page,) = db.execute("SELECT rootpage FROM sqlite_master WHERE name = 'log'").fetchone()
        db.close()
        with (folder / "fieldlog.sqlite").open("r+b") as file:
            file.seek((page - 1) * 4096)
            file.write(b"\xff" * 4096)

    said = call("doctor", "--json", data=harmed(full, middle))
    assert (said.status, said.err) == (1, "")
    assert any(not finding["ok"] and finding["word"] == "unsound" for finding in said.document["findings"])


OUTSIDE = ["photos/../../../X", "photos/../X", "../X", "/tmp/fieldlog-X", "photos/sub/X", "X", "photos/", "photos/" + "A" * 64, "photos\\..\\X"]


@pytest.mark.parametrize("name", OUTSIDE)
@pytest.mark.parametrize("command", ["restore", "doctor"])
def test_a_member_with_a_name_of_its_own_is_refused_by_name_and_writes_nothing(call, rewritten, tmp_path, name, command) -> None:
    file = rewritten({name: b"planted"})
    before = everything_in(tmp_path)
    elsewhere = tmp_path / "deep" / "er" / "elsewhere"
    said = call(command, file, data=elsewhere)
    assert said.status == (2 if command == "restore" else 1)
    assert name.replace("\\", "/") in (said.err + said.out).replace("\\\\", "/").replace("\\", "/")
    assert {name: data for name, data in everything_in(tmp_path).items() if not name.startswith("deep")} == before
    assert [path.name for path in elsewhere.rglob("*") if path.name not in ("lock",)] == []


def test_a_photo_of_other_bytes_is_refused_by_hash(refused, rewritten, tmp_path) -> None:
    listed = rewritten({f"photos/{name_of(PHOTO)}": b"other bytes"})
    assert name_of(PHOTO)[:12] in refused("restore", listed, data=tmp_path / "elsewhere")


def test_a_photo_that_no_row_names_is_held_to_its_hash_too(refused, rewritten, tmp_path) -> None:
    wrong = sha256_of(b"promised")
    assert wrong[:12] in refused("restore", rewritten({f"photos/{wrong}": b"other bytes"}), data=tmp_path / "elsewhere")


@pytest.mark.parametrize(
    "manifest",
    [b"", b"[]", b"null", b'"x"', b'{"format":1}', b'{"format":1,"programme":3,"made_at":1,"entries":1,"held":0,"photos":0}',
     b'{"format":1,"programme":"x","made_at":1e30,"entries":1,"held":0,"photos":0}', b'{"format":2}', b"\xff\xfe", b"[" * 100_000],
)  # fmt: skip
def test_any_other_manifest_is_a_sentence(call, rewritten, tmp_path, manifest) -> None:
    said = call("restore", rewritten({"manifest.json": manifest}), data=tmp_path / "elsewhere")
    assert (said.status, said.out) == (2, "")
    assert "Traceback" not in said.err
    assert "backup" in said.err


@pytest.mark.parametrize(
    "statement",
    ["UPDATE log SET line = 7", "UPDATE log SET line = 'text'", "UPDATE log SET entry_id = 7 WHERE seq = 1", "UPDATE log SET eff = 5",
     "UPDATE lane SET top = 'x'", "UPDATE log SET number = 'x' WHERE seq = 2", "DROP TABLE lane", "DROP TABLE device",
     "UPDATE photo_file SET sha256 = '../../X'", "CREATE TRIGGER t AFTER UPDATE ON photo_file BEGIN DELETE FROM log; END",
     "CREATE VIEW v AS SELECT 1", "DELETE FROM log", "UPDATE device SET role = 'owner'", "ALTER TABLE device DROP COLUMN skew_ms", "DROP TABLE incident"],
)  # fmt: skip
def test_a_database_that_was_tampered_with_is_refused_in_a_sentence(call, rewritten, backup, tmp_path, statement) -> None:
    with zipfile.ZipFile(backup) as packed:
        packed.extract("fieldlog.sqlite", tmp_path)
    db = sqlite3.connect(tmp_path / "fieldlog.sqlite")
    db.execute(statement)
    db.commit()
    db.close()
    said = call("restore", rewritten({"fieldlog.sqlite": (tmp_path / "fieldlog.sqlite").read_bytes()}), data=tmp_path / "elsewhere")
    assert (said.status, said.out) == (2, "")
    assert "Traceback" not in said.err
    assert not (tmp_path / "elsewhere" / "fieldlog.sqlite").exists()


def test_what_stands_under_the_name_of_an_own_trigger_never_runs(call, rewritten, backup, tmp_path) -> None:
    with zipfile.ZipFile(backup) as packed:
        (tmp_path / "harmed.sqlite").write_bytes(packed.read("fieldlog.sqlite"))
    harmed_file = sqlite3.connect(tmp_path / "harmed.sqlite")
    harmed_file.execute("DROP TRIGGER pack_unit_after_insert")
    harmed_file.execute("CREATE TRIGGER pack_unit_after_insert AFTER UPDATE ON setting BEGIN DELETE FROM log; END")
    harmed_file.commit()
    harmed_file.close()
    file = rewritten({"fieldlog.sqlite": (tmp_path / "harmed.sqlite").read_bytes()})
    assert call("restore", file, data=tmp_path / "restored").status == 0
    restored = sqlite3.connect(tmp_path / "restored" / "fieldlog.sqlite")
    (sql,) = restored.execute("SELECT sql FROM sqlite_master WHERE name = 'pack_unit_after_insert'").fetchone()
    (entries,) = restored.execute("SELECT count(*) FROM log").fetchone()
    restored.close()
    assert "DELETE FROM log" not in sql
    assert entries == 3


@pytest.fixture
def read_only(backup: Path):
    """The backup's folder as a medium that takes no writes, whoever asks."""
    mounted = os.system(f"mount --bind {backup.parent} {backup.parent} && mount -o remount,ro,bind {backup.parent}") == 0
    if not mounted:
        backup.parent.chmod(stat.S_IRUSR | stat.S_IXUSR)
    yield backup
    if mounted:
        os.system(f"umount {backup.parent}")
    backup.parent.chmod(stat.S_IRWXU)


@pytest.mark.parametrize("command", ["restore", "doctor"])
def test_a_backup_is_read_from_a_medium_that_takes_no_writes(call, read_only, tmp_path, command) -> None:
    said = call(command, read_only, "--json", data=tmp_path / "elsewhere")
    assert (said.status, said.err) == (0, "")


def test_the_doctor_says_what_a_backup_holds_without_a_programme(call, backup) -> None:
    said = call("doctor", backup)
    assert said.status == 0
    assert "3 entries" in said.out and "1 photo" in said.out


def test_what_a_backup_holds_is_counted_not_believed(call, rewritten, tmp_path) -> None:
    file = rewritten({}, entries=1533, held=9, photos=22, programme="Another", top=7, h="x")
    assert "holds 3 entries, 0 held, and 1 photo." in call("doctor", file).out
    said = call("restore", file, "--json", data=tmp_path / "elsewhere").document
    assert (said["entries"], said["held"], said["photos"], said["top"]) == (3, 0, 1, 3)
    assert said["programme"] != "Another" and len(said["h"]) == 32


def test_the_doctor_says_what_is_wrong_with_a_backup(call, backup, tmp_path) -> None:
    cut = tmp_path / "cut.zip"
    cut.write_bytes(backup.read_bytes()[:-200])
    said = call("doctor", cut, "--json")
    assert (said.status, said.document["ok"]) == (1, False)


def test_each_restored_programme_has_an_epoch_of_its_own(backup, tmp_path) -> None:
    epochs = []
    for name in ("one", "two", "two"):
        restore_backup(str(backup), tmp_path / name, CATALOGUE, NOW_MS)
        programme = Programme(tmp_path / name)
        epochs.append(setting(programme.db(), "epoch"))
        programme.close()
    assert all(len(epoch) == 32 and int(epoch, 16) >= 0 for epoch in epochs)
    assert len(set(epochs)) == 3


def test_a_restore_that_was_killed_between_its_renames_is_done_again(full, backup, monkeypatch) -> None:
    folder = harmed(full, lambda _: None)
    real = Path.rename

    def killed_at(rename: int) -> Callable[[Path, Path], Path]:
        left = [rename]

        def killed(path: Path, target: Path) -> Path:
            left[0] -= 1
            if left[0] == 0:
                raise KeyboardInterrupt
            return real(path, target)

        return killed

    for rename in range(1, 5):
        with monkeypatch.context() as patched, pytest.raises(KeyboardInterrupt):
            patched.setattr(Path, "rename", killed_at(rename))
            restore_backup(str(backup), folder, CATALOGUE, NOW_MS)
        restore_backup(str(backup), folder, CATALOGUE, NOW_MS)
        programme = open_programme(folder, CATALOGUE, NOW_MS)
        assert programme.db().execute("SELECT count(*) FROM species").fetchone() == (3,)
        programme.close()
        assert not list(folder.glob(".restoring-*"))


def test_an_unsound_backup_changes_nothing_in_a_damaged_folder(full, backup, tmp_path) -> None:
    folder = harmed(full, half_a_file)
    before = everything_in(folder)
    cut = tmp_path / "cut.zip"
    cut.write_bytes(backup.read_bytes()[:-200])
    with pytest.raises(BackupUnsound):
        restore_backup(str(cut), folder, CATALOGUE, NOW_MS)
    after = everything_in(folder)
    assert {name: data for name, data in after.items() if name != "lock"} == before


def test_backups_of_older_versions_are_still_restored(rewritten, tmp_path) -> None:
    """Their manifest names neither number nor chain."""
    file = rewritten({})
    with zipfile.ZipFile(file) as packed:
        said = json.loads(packed.read("manifest.json"))
    old = {name: said[name] for name in ("format", "programme", "made_at", "entries", "held", "photos")}
    restored = restore_backup(str(rewritten({"manifest.json": json.dumps(old).encode()})), tmp_path / "elsewhere", CATALOGUE, NOW_MS)
    assert restored.backup.entries == 3


def test_a_bad_page_under_a_running_server_is_a_503_with_a_sentence(app, full, client_of) -> None:
    client = client_of("lead")
    (page,) = full.db().execute("SELECT rootpage FROM sqlite_master WHERE name = 'device'").fetchone()
    full.db().conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    with full.path.open("r+b") as file:
        file.seek((page - 1) * 4096)
        file.write(b"\xff" * 4096)
    full.close()
    app.extensions["programme"].close()
    answer = client.get("/api/devices")
    assert (answer.status_code, answer.json["word"]) == (503, "database-damaged")
