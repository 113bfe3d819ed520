"""Backups are put in order by their number and what they hold; a clock that jumps deletes none and stops none."""

from __future__ import annotations

import json
import zipfile
from datetime import UTC, datetime, timedelta

import pytest

import fieldlog.backup as module
from fieldlog.backup import make_backup, nightly_backup, own_backups
from fieldlog.doctor import examine
from fieldlog.errors import BackupUnsound
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.serving import is_due
from tests.backup.conftest import write_species


def ms(at: datetime) -> int:
    return int(at.timestamp() * 1000)


def durable(programme) -> int:
    return programme.db().execute("SELECT max(durable) FROM lane").fetchone()[0]


def newest_entries(programme) -> int:
    with zipfile.ZipFile(own_backups(programme)[-1]) as packed:
        return json.loads(packed.read("manifest.json"))["entries"]


@pytest.mark.parametrize("year", [2020, 2031])
def test_after_a_clock_that_was_years_off_the_newest_backup_stays_and_is_the_newest(full, phone, year) -> None:
    first = datetime(2026, 11, 25, 6, tzinfo=UTC)
    for day in range(8):
        nightly_backup(full, ms(first + timedelta(days=day)))
    write_species(phone, 4)
    nightly_backup(full, ms(datetime(year, 1, 1, tzinfo=UTC)))
    assert newest_entries(full) == 4
    assert durable(full) == 4
    write_species(phone, 5)
    nightly_backup(full, ms(first + timedelta(days=9)))
    assert newest_entries(full) == 5
    assert len(own_backups(full)) == 7


def test_the_newest_of_each_of_the_last_seven_days_stays(full, phone) -> None:
    first = datetime(2026, 11, 25, 6, tzinfo=UTC)
    for day in range(9):
        for hour in (0, 3):
            nightly_backup(full, ms(first + timedelta(days=day, hours=hour)))
    kept = [path.name[-19:-4] for path in own_backups(full)]
    assert kept == [f"{first + timedelta(days=day, hours=3):%Y%m%dT%H%M%S}" for day in range(2, 9)]


def test_backups_of_older_versions_come_before_the_numbered_ones(full) -> None:
    old = full.backups_folder / "fieldlog-20310101T000000.zip"
    old.write_bytes(b"an older version's")
    nightly_backup(full, ms(datetime(2026, 11, 25, 6, tzinfo=UTC)))
    assert own_backups(full)[0] == old


def test_numbers_go_on_after_a_restored_older_backup(full) -> None:
    at = datetime(2026, 11, 25, 6, tzinfo=UTC)
    for _ in range(3):
        nightly_backup(full, ms(at))
    full.db().execute("DELETE FROM setting WHERE name LIKE 'backup%'")
    nightly_backup(full, ms(at))
    numbers = [int(path.name.split("-")[1]) for path in own_backups(full)]
    assert numbers[-1] == 4


@pytest.mark.parametrize(
    ("last", "at", "due"),
    [("2031-01-01T00:00Z", "2026-11-25T06:00Z", True), ("2026-11-25T06:00Z", "2031-01-01T00:00Z", True),
     ("2026-11-25T12:00Z", "2026-11-25T12:01Z", False)],
)  # fmt: skip
def test_a_clock_that_was_set_back_makes_a_backup_due(last, at, due) -> None:
    assert is_due(datetime.fromisoformat(at), datetime.fromisoformat(last)) is due


def test_durable_moves_only_for_a_file_that_still_exists(full, tmp_path, monkeypatch) -> None:
    """A disk that lost the new file's name, or a program that clears the folder, while the backup was made."""
    file = tmp_path / "kept" / "all.zip"
    real = module.settle

    def losing(path) -> None:
        real(path)
        file.unlink(missing_ok=True)

    monkeypatch.setattr(module, "settle", losing)
    with pytest.raises(BackupUnsound, match="disappeared"):
        make_backup(full, file, 5)
    assert durable(full) == 0


def test_a_backup_dated_after_now_is_no_reason_to_be_content(full) -> None:
    nightly_backup(full, ms(datetime(2031, 1, 1, tzinfo=UTC)))
    (finding,) = [one for one in examine(full.folder, CATALOGUE, ms(datetime(2026, 11, 25, tzinfo=UTC))) if one.word == "backup"]
    assert not finding.ok
    assert "clock" in finding.sentence


def test_a_backup_names_the_last_entry_it_holds_and_the_chain_up_to_there(full, tmp_path) -> None:
    made = make_backup(full, tmp_path / "one.zip", 5)
    assert (made.top, made.h) == full.db().execute("SELECT seq, h FROM log ORDER BY seq DESC LIMIT 1").fetchone()


def test_what_a_server_killed_in_a_backup_left_behind_is_cleared_by_the_next(full) -> None:
    """Each kill left a copy of the database in `backups/`, for ever."""
    for name in (".backup-abc", ".check-def"):
        (full.backups_folder / name).mkdir()
        (full.backups_folder / name / "fieldlog.sqlite").write_bytes(b"half a copy")
    (full.backups_folder / "fieldlog-000001-20261124T060000.zip.part").write_bytes(b"half a zip")
    nightly_backup(full, ms(datetime(2026, 11, 25, 6, tzinfo=UTC)))
    assert [path.suffix for path in full.backups_folder.iterdir()] == [".zip"]


def test_a_backup_that_is_gone_from_its_folder_is_looked_for_and_its_number_is_not_given_again(full, tmp_path) -> None:
    """Its folder was emptied: the doctor said that all was backed up, and the next was number 1 again."""
    at = datetime(2026, 11, 25, 6, tzinfo=UTC)

    def told() -> tuple[bool, str]:
        (finding,) = [one for one in examine(full.folder, CATALOGUE, ms(at)) if one.word == "backup"]
        return finding.ok, finding.sentence

    for _ in range(2):
        nightly_backup(full, ms(at))
    assert told() == (True, "Backed up less than an hour ago.")
    for path in own_backups(full):
        path.unlink()
    is_ok, sentence = told()
    assert not is_ok and "fieldlog-000002-20261125T060000.zip, is gone" in sentence and "fieldlog backup FILE" in sentence
    nightly_backup(full, ms(at))
    assert [path.name for path in own_backups(full)] == ["fieldlog-000003-20261125T060000.zip"]
    assert told() == (True, "Backed up less than an hour ago.")
    make_backup(full, tmp_path / "stick" / "all.zip", ms(at))
    (tmp_path / "stick" / "all.zip").unlink()
    assert told() == (True, f"Backed up less than an hour ago into {tmp_path / 'stick' / 'all.zip'}, which is not here now.")


def test_a_folder_that_is_called_like_a_backup_hinders_none(full) -> None:
    for name in ("fieldlog-000009-20261124T060000.zip", "fieldlog-000001-20261124T060000.zip.part"):
        (full.backups_folder / name).mkdir()
    nightly_backup(full, ms(datetime(2026, 11, 25, 6, tzinfo=UTC)))
    assert len(own_backups(full)) == 1
