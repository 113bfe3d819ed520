"""Whatever stands where a programme keeps its parts, a restore needs nothing of it but to set it aside."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from fieldlog.errors import BackupUnsound
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.restoring import restore_backup
from fieldlog.store import ProgrammeLock
from fieldlog.sync.opening import open_programme
from tests.backup.conftest import everything_in
from tests.backup.test_restoring import NOW_MS, half_a_file, harmed


def a_folder_at(name: str) -> Callable[[Path], None]:
    def harm(folder: Path) -> None:
        (folder / name).unlink(missing_ok=True)
        (folder / name).mkdir()
        (folder / name / "somebody's").write_bytes(b"kept")

    return harm


def a_file_at(name: str) -> Callable[[Path], None]:
    def harm(folder: Path) -> None:
        if (folder / name).is_dir():
            shutil.rmtree(folder / name)
        (folder / name).write_bytes(b"kept")

    return harm


def a_link_at(name: str) -> Callable[[Path], None]:
    def harm(folder: Path) -> None:
        if (folder / name).is_dir():
            shutil.rmtree(folder / name)
        (folder / name).symlink_to(folder / "not mounted")

    return harm


def a_pipe_at(name: str) -> Callable[[Path], None]:
    return lambda folder: os.mkfifo(folder / name)


LOCKS = ("lock", "replaying", "replica.lock")
IN_THE_WAY = [
    *[(name, a_folder_at) for name in (*LOCKS, "replica.json", "replica.json.part")], *[(name, a_file_at) for name in ("backups", "photos")],
    *[(name, a_link_at) for name in ("lock", "backups", "photos")], ("lock", a_pipe_at),
]  # fmt: skip


@pytest.mark.parametrize(("name", "harm"), IN_THE_WAY, ids=[f"{harm.__name__} {name}" for name, harm in IN_THE_WAY])
def test_whatever_stands_in_the_place_of_a_programmes_parts_is_set_aside(call, full, backup, name, harm) -> None:
    folder = harmed(full, harm(name))
    said = call("restore", backup, "--json", data=folder)
    assert (said.status, said.err) == (0, "")
    assert os.path.lexists(Path(said.document["before"]) / name)
    programme = open_programme(folder, CATALOGUE, NOW_MS)
    assert programme.db().execute("SELECT count(*) FROM species").fetchone() == (3,)
    programme.close()
    with ProgrammeLock(folder), ProgrammeLock(folder, "replaying"):
        assert (folder / "photos").is_dir() and (folder / "backups").is_dir()


@pytest.mark.parametrize("harm", [a_folder_at, a_file_at, a_link_at])
def test_what_a_restore_left_goes_whatever_it_is(full, backup, harm) -> None:
    folder = harmed(full, harm(".restoring-left"))
    restore_backup(str(backup), folder, CATALOGUE, NOW_MS)
    assert not list(folder.glob(".restoring-*"))


def test_a_file_where_the_programmes_folder_should_be_stays_and_is_told(refused, backup, tmp_path) -> None:
    """It may be the very backup that is restored, so it is not set aside."""
    assert "not a folder" in refused("restore", backup, data=backup)
    (tmp_path / "link").symlink_to(tmp_path / "not mounted")
    assert "Is its disk mounted" in refused("restore", backup, data=tmp_path / "link")
    assert backup.is_file() and (tmp_path / "link").is_symlink()


def test_the_own_backups_stay_where_they_are(call, full, backup) -> None:
    (full.backups_folder / "all.zip").write_bytes(backup.read_bytes())
    folder = harmed(full, half_a_file)
    assert call("restore", folder / "backups" / "all.zip", data=folder).status == 0
    assert (folder / "backups" / "all.zip").read_bytes() == backup.read_bytes()


def test_an_unsound_backup_moves_no_folder_that_stands_for_the_lock(full, backup, tmp_path) -> None:
    folder = harmed(full, a_folder_at("lock"))
    before = everything_in(folder)
    cut = tmp_path / "cut.zip"
    cut.write_bytes(backup.read_bytes()[:-200])
    with pytest.raises(BackupUnsound):
        restore_backup(str(cut), folder, CATALOGUE, NOW_MS)
    assert everything_in(folder) == before
