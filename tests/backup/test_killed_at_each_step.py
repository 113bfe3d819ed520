"""
SIGKILL before any step of a backup, a replay, a confirmation and a restore: what was taken is whole, and whoever comes next finishes.

A few steps, drawn anew by FIELDLOG_SEED; all of them where FIELDLOG_KILLS asks for many, as `make soak` does.
"""

from __future__ import annotations

import os
import random
import shutil
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from flask.testing import FlaskClient

from fieldlog.backup import nightly_backup, own_backups
from fieldlog.backup_file import opened_backup
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.restoring import restore_backup
from fieldlog.soundness import faults_of
from fieldlog.store import Programme, set_setting, setting
from fieldlog.sync.confirming import confirm_device, finish_releasing
from fieldlog.sync.opening import must_be_rebuilt, open_programme
from fieldlog.sync.release import CONFIRMED_AT_ONCE
from some_pictures import name_of
from tests.backup.conftest import PHOTO
from tests.backup.killed import kill_at, steps_of
from tests.sync.lines import REQUIRED, keyed_lane, record_id

NOW_MS = 1_800_000_000_000
FEW = 2
IS_LONG = int(os.environ.get("FIELDLOG_KILLS", "0")) > 50
SITE = record_id("Alder Spit")


def each_killed(folder: Path, tmp_path: Path, work: Callable[[Path], object]) -> Iterator[Path]:
    """The folder after `work` was done, and after it was killed at a step, a fresh copy for each."""

    def copied(name: str) -> Path:
        return Path(shutil.copytree(folder, tmp_path / name))

    whole = copied("whole")
    every = range(1, steps_of(partial(work, whole)) + 1)
    yield whole
    drawn = random.Random(os.environ.get("FIELDLOG_SEED", "1")).sample(every, min(FEW, len(every)))
    for step in every if IS_LONG else drawn:
        copy = copied(f"killed at {step}")
        kill_at(step, partial(work, copy))
        yield copy


def closed(programme: Programme) -> Path:
    programme.db().conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    programme.close()
    return programme.folder


def check_whole(folder: Path, species: int = 3) -> None:
    """Chains, log, photos and tables are intact."""
    programme = Programme(folder)
    try:
        assert faults_of(programme.db(), lambda sha256: (programme.photos_folder / sha256).open("rb")) == []
        assert (programme.photos_folder / name_of(PHOTO)).read_bytes() == PHOTO
        assert programme.db().execute("SELECT count(*) FROM species").fetchone() == (species,)
    finally:
        programme.close()


def test_killed_in_a_backup_nothing_is_called_durable_that_no_whole_backup_holds(full, app, tmp_path) -> None:
    app.extensions["programme"].close()
    for folder in each_killed(closed(full), tmp_path, lambda copy: nightly_backup(Programme(copy), NOW_MS)):
        check_whole(folder)
        programme = Programme(folder)
        entries = [0]
        for file in own_backups(programme):
            with opened_backup(file, None) as opened:
                entries.append(opened.backup.entries)
        (durable,) = programme.db().execute("SELECT max(durable) FROM lane").fetchone()
        assert durable <= max(entries)
        assert nightly_backup(programme, NOW_MS).entries == 3
        assert programme.db().execute("SELECT max(durable) FROM lane").fetchone() == (3,)
        assert [path.name for path in programme.backups_folder.iterdir() if path not in own_backups(programme)] == []
        programme.close()


def test_killed_in_a_replay_the_old_tables_stand_and_the_next_start_makes_the_new_ones(full, app, tmp_path) -> None:
    set_setting(full.db(), "tables", "of an older version")
    full.db().execute("UPDATE species SET scientific_name = 'as it was'")
    app.extensions["programme"].close()
    for folder in each_killed(closed(full), tmp_path, lambda copy: open_programme(copy, CATALOGUE, NOW_MS)):
        check_whole(folder)
        programme = Programme(folder)
        names = {row[0] for row in programme.db().execute("SELECT DISTINCT scientific_name FROM species")}
        assert ("as it was" in names) == must_be_rebuilt(programme), "old and new tables are never mixed"
        assert len(names) == (1 if must_be_rebuilt(programme) else 3)
        programme.close()
        again = open_programme(folder, CATALOGUE, NOW_MS)
        assert {row[0] for row in again.db().execute("SELECT scientific_name FROM species")} == {f"Invented {n}" for n in (1, 2, 3)}
        again.close()


def test_killed_in_a_confirmation_each_entry_is_taken_once_and_the_next_goes_on(full, app, client_of, tmp_path) -> None:
    site, many = keyed_lane("lead"), 2 * CONFIRMED_AT_ONCE + 5
    site.write("site", SITE, REQUIRED["site"], g=SITE)
    assert client_of("lead").post("/api/sync", data=site.body()).json["acks"][0][2] == "ok"
    crew = client_of("crew", SITE)
    full.db().execute("UPDATE device SET unconfirmed = 1 WHERE device_id = ?", [crew.device_id])
    _write_sightings(crew, many)
    app.extensions["programme"].close()

    def work(copy: Path) -> None:
        confirm_device(Programme(copy).db(), CATALOGUE, None, crew.device_id, NOW_MS)

    for folder in each_killed(closed(full), tmp_path, work):
        check_whole(folder)
        programme = Programme(folder)
        db = programme.db()
        taken, held = (db.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in ("sighting", "tray"))
        assert taken + held == many
        if db.execute("SELECT unconfirmed FROM device WHERE device_id = ?", [crew.device_id]).fetchone() == (1,):
            assert taken == 0
            confirm_device(db, CATALOGUE, None, crew.device_id, NOW_MS)
        else:
            assert held == 0 or setting(db, "releasing")
        assert finish_releasing(db, CATALOGUE, NOW_MS)
        taken, held = (db.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in ("sighting", "tray"))
        assert (taken, held) == (many, 0)
        assert faults_of(db, None) == []
        programme.close()


def _write_sightings(client: FlaskClient, count: int) -> None:
    lane = keyed_lane("crew", SITE)
    for number in range(count):
        lane.write("sighting", record_id(f"seen {number}"), REQUIRED["sighting"])
    assert {ack[4] for ack in client.post("/api/sync", data=lane.body()).json["acks"]} == {"unconfirmed"}


def test_killed_in_a_restore_the_old_content_is_kept_and_restoring_again_does_all(full, app, backup, tmp_path) -> None:
    full.db().execute("INSERT INTO setting VALUES ('of', 'the folder')")
    app.extensions["programme"].close()

    def work(copy: Path) -> None:
        restore_backup(str(backup), copy, CATALOGUE, NOW_MS)

    def mark_of(path: Path) -> str | None:
        programme = Programme(path)
        try:
            return setting(programme.db(), "of")
        finally:
            programme.close()

    for folder in each_killed(closed(full), tmp_path, work):
        places = [folder, *folder.glob("before-restore-*")]
        assert [mark_of(place) for place in places if (place / "fieldlog.sqlite").exists()].count("the folder") == 1
        assert any((place / "photos" / name_of(PHOTO)).exists() for place in places)
        restored = restore_backup(str(backup), folder, CATALOGUE, NOW_MS)
        assert restored.backup.entries == 3
        check_whole(folder)
        assert not list(folder.glob(".restoring-*"))
