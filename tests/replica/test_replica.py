"""A programme's second copy in a folder, made by the real engine."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from fieldlog.backup import make_backup, nightly_backup, own_backups
from fieldlog.doctor import examine
from fieldlog.errors import BadReplica, ReplicaFault
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.replica import running
from fieldlog.replica.checking import place_of_programme, set_replica, tops_in_replica
from fieldlog.replica.engine import EngineLock
from fieldlog.replica.place import Place, generations, place_of, remove_older
from fieldlog.replica.running import Replication
from fieldlog.replica.state import read_state
from fieldlog.restoring import restore_backup
from fieldlog.store import Programme, set_setting
from fieldlog.sync.opening import open_programme
from fieldlog.sync.photos import PhotoShelf, Sender
from some_pictures import name_of
from tests.a_phone import Phone
from tests.backup.conftest import PHOTO, write_species

QUICK_S = 0.05
PATIENCE_S = 30


@pytest.fixture
def follow(now) -> Iterator[Callable[[Programme], Replication]]:
    """follow(programme): its replication, ended after the test."""
    begun: list[Replication] = []

    def start(programme: Programme) -> Replication:
        begun.append(Replication(programme, now, QUICK_S))
        begun[-1].start()
        return begun[-1]

    yield start
    for one in begun:
        one.close()


def entries_in(folder: Path) -> int:
    programme = Programme(folder)
    (count,) = programme.db().execute("SELECT count(*) FROM log").fetchone()
    programme.close()
    return count


def test_what_was_taken_is_in_the_replica_and_comes_back_from_it(full, phone, place, follow, tmp_path) -> None:
    replication = follow(full)
    write_species(phone, 4)
    assert replication.catch_up(PATIENCE_S)
    assert tops_in_replica(full) == {phone.lane_id: 4}
    restored = restore_backup(str(place), tmp_path / "elsewhere", CATALOGUE, 5)
    assert (restored.backup.entries, restored.photos_missing) == (4, 0)
    assert (tmp_path / "elsewhere" / "photos" / name_of(PHOTO)).read_bytes() == PHOTO
    programme = open_programme(tmp_path / "elsewhere", CATALOGUE, 5)
    assert programme.db().execute("SELECT count(*) FROM species").fetchone() == (4,)
    tables = {row[0] for row in programme.db().execute("SELECT name FROM sqlite_master")}
    assert not {name for name in tables if "litestream" in name}
    programme.close()


def test_durable_is_the_lesser_of_backup_and_replica(full, phone, place, follow, tmp_path) -> None:
    replication = follow(full)
    assert replication.catch_up(PATIENCE_S)
    replication.close()
    write_species(phone, 4)
    make_backup(full, tmp_path / "all.zip", 5)
    assert full.db().execute("SELECT durable FROM lane").fetchone() == (3,)


def test_durable_stays_where_the_replica_cannot_be_believed(full, phone, place, follow, tmp_path) -> None:
    with pytest.raises(ReplicaFault, match="not started"):
        make_backup(full, tmp_path / "all.zip", 5)
    assert follow(full).catch_up(PATIENCE_S)
    make_backup(full, tmp_path / "all.zip", 5)
    assert full.db().execute("SELECT durable FROM lane").fetchone() == (3,)


def note_photo(phone: Phone) -> None:
    """Line 5 names the photo; line 6 follows."""
    site = "00000000-0000-4000-8000-00000000000a"
    phone.note("site", site, site)
    phone.note("photo", site, site, of_kind="visit", of_id=site, sha256=name_of(PHOTO), taken_at="2026-11-25T05:00:00Z")
    write_species(phone, 6)


def test_what_follows_a_photo_that_the_replica_lacks_is_not_durable(full, phone, place, follow, tmp_path) -> None:
    note_photo(phone)
    assert follow(full).catch_up(PATIENCE_S)
    (place / "photos" / name_of(PHOTO)).unlink()
    make_backup(full, tmp_path / "all.zip", 5)
    assert full.db().execute("SELECT durable FROM lane").fetchone() == (4,)


def test_a_photo_that_only_the_replica_holds_is_taken_from_there_and_put_back(full, phone, place, follow, tmp_path) -> None:
    note_photo(phone)
    assert follow(full).catch_up(PATIENCE_S)
    (full.photos_folder / name_of(PHOTO)).unlink()
    assert make_backup(full, tmp_path / "all.zip", 5).missing == ()
    assert (full.photos_folder / name_of(PHOTO)).read_bytes() == PHOTO
    assert full.db().execute("SELECT durable FROM lane").fetchone() == (6,)


def test_an_engine_that_is_killed_is_started_again(full, phone, place, follow) -> None:
    replication = follow(full)
    assert replication.catch_up(PATIENCE_S)
    os.kill(int((full.folder / "replica.lock").read_text()), signal.SIGKILL)
    write_species(phone, 4)
    assert replication.catch_up(PATIENCE_S)
    assert tops_in_replica(full) == {phone.lane_id: 4}


def test_a_disk_without_room_for_the_state_does_not_end_the_replication(full, place, follow, caplog) -> None:
    (full.folder / "replica.json.part").mkdir()
    replication = follow(full)
    deadline = time.monotonic() + PATIENCE_S
    while "could not be written down" not in caplog.text and time.monotonic() < deadline:
        time.sleep(0.05)
    (full.folder / "replica.json.part").rmdir()
    assert replication.catch_up(PATIENCE_S)
    state = read_state(full.folder)
    assert state is not None and state.fault is None


def test_a_database_that_cannot_be_read_for_a_moment_does_not_end_the_replication(full, place, follow, monkeypatch) -> None:
    faults = iter([sqlite3.OperationalError("disk I/O error")])

    def place_or_fault(programme: Programme) -> Place | None:
        for fault in faults:
            raise fault
        return place_of_programme(programme)

    monkeypatch.setattr(running, "place_of_programme", place_or_fault)
    assert follow(full).catch_up(PATIENCE_S)


def test_the_number_of_an_engine_that_ended_is_forgotten_by_whoever_takes_its_lock(tmp_path) -> None:
    (tmp_path / "replica.lock").write_text("4194303")
    with EngineLock(tmp_path):
        assert (tmp_path / "replica.lock").read_text() == ""


def test_backups_of_a_week_stay_also_while_the_replica_cannot_be_believed(full, place, now) -> None:
    for day in range(10):
        with pytest.raises(ReplicaFault, match="not started"):
            nightly_backup(full, int(now().timestamp() * 1000) + day * 86_400_000)
    assert [path.name[:15] for path in own_backups(full)] == [f"fieldlog-{number:06d}" for number in range(4, 11)]


def test_an_engine_ends_with_its_server_however_that_ends(full, place, tmp_path) -> None:
    """It went on following the database and writing to the replica until another server began."""
    script = tmp_path / "server.py"
    script.write_text(
        "import sys, time\nfrom datetime import UTC, datetime\nfrom pathlib import Path\n"
        "from fieldlog.replica.running import Replication\nfrom fieldlog.store import Programme\n"
        "running = Replication(Programme(Path(sys.argv[1])), lambda: datetime.now(UTC), 0.05)\nrunning.start()\n"
        "assert running.catch_up(30)\nprint('follows', flush=True)\ntime.sleep(60)\n"
    )
    server = subprocess.Popen([sys.executable, str(script), str(full.folder)], stdout=subprocess.PIPE, text=True)
    assert server.stdout is not None
    assert server.stdout.readline() == "follows\n"
    left = int((full.folder / "replica.lock").read_text())
    server.kill()
    server.wait()
    server.stdout.close()
    for _ in range(100):
        try:
            os.kill(left, 0)
        except ProcessLookupError:
            return
        if Path(f"/proc/{left}/stat").read_text().split(") ")[1][0] == "Z":
            return
        time.sleep(0.05)
    os.kill(left, signal.SIGTERM)
    raise AssertionError("the engine goes on without a server")


def test_an_engine_that_was_left_behind_is_ended_before_another_follows(tmp_path) -> None:
    with EngineLock(tmp_path) as lock:
        left = subprocess.Popen(["sleep", "60"], pass_fds=(lock.file,))
        lock.note_holder(left.pid)
    with EngineLock(tmp_path):
        assert left.wait(5) == -signal.SIGTERM


def test_a_restored_programme_begins_a_generation_of_its_own(full, phone, place, follow, tmp_path, now) -> None:
    replication = follow(full)
    assert replication.catch_up(PATIENCE_S)
    replication.close()
    restore_backup(str(place), tmp_path / "elsewhere", CATALOGUE, 5)
    again = open_programme(tmp_path / "elsewhere", CATALOGUE, 5)
    set_replica(again, str(place))
    second = follow(again)
    assert second.catch_up(PATIENCE_S)
    assert generations(place_of(str(place), None)) == [1, 2]
    assert tops_in_replica(again) == {phone.lane_id: 3}
    remove_older(place_of(str(place), None), 2)
    assert generations(place_of(str(place), None)) == [2]
    again.close()


def test_the_doctor_tells_the_lag_and_what_is_wrong(full, phone, place, follow, now) -> None:
    def replica() -> tuple[bool, str]:
        now_ms = int(now().timestamp() * 1000)
        (finding,) = [one for one in examine(full.folder, CATALOGUE, now_ms) if one.word == "replica"]
        return finding.ok, finding.sentence

    assert replica()[0] is False and "not started" in replica()[1]
    replication = follow(full)
    assert replication.catch_up(PATIENCE_S)
    assert replica()[0] is True and str(place) in replica()[1]
    replication.close()
    now.forward(minutes=10)
    assert replica() == (False, f"The replica {place} is 10 min behind. Is a server running?")


def test_a_place_that_takes_no_writes_is_told_and_tried_again(full, place, follow) -> None:
    place.parent.mkdir(exist_ok=True)
    place.write_text("a file where the folder should be")
    replication = follow(full)
    assert not replication.catch_up(1)
    state = read_state(full.folder)
    assert state is not None and state.fault
    place.unlink()
    assert replication.catch_up(PATIENCE_S)


def test_a_photo_that_rotted_here_does_not_stop_the_entries(full, phone, place, follow) -> None:
    (full.photos_folder / name_of(PHOTO)).write_bytes(b"rotted")
    replication = follow(full)
    note_photo(phone)
    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline:
        state = read_state(full.folder)
        if state is not None and state.synced_at is not None:
            break
        time.sleep(0.05)
    assert state is not None and (state.photos_waiting, state.fault) == (1, None)
    assert tops_in_replica(full) == {phone.lane_id: 4}
    assert not replication.catch_up(0.3)


def test_photos_that_had_not_reached_the_replica_lose_their_receipt(full, place, follow, tmp_path) -> None:
    assert follow(full).catch_up(PATIENCE_S)
    (place / "photos" / name_of(PHOTO)).write_bytes(b"spoilt")
    restored = restore_backup(str(place), tmp_path / "elsewhere", CATALOGUE, 5)
    assert restored.photos_missing == 1
    programme = Programme(tmp_path / "elsewhere")
    assert PhotoShelf(programme).offset(name_of(PHOTO), Sender("a" * 32, may_know=True)) == 0
    programme.close()


def test_a_spoilt_replica_is_refused_and_changes_nothing(refused, full, place, follow, tmp_path) -> None:
    replication = follow(full)
    assert replication.catch_up(PATIENCE_S)
    replication.close()
    for path in (place / "db-000001").rglob("*.ltx"):
        data = bytearray(path.read_bytes())
        data[len(data) // 2] ^= 0xFF
        path.write_bytes(bytes(data))
    assert "replica" in refused("restore", place, data=full.folder)
    assert entries_in(full.folder) == 3


@pytest.mark.parametrize("text", ["s3://X", "s3://b", "ftp://reef/x", "s3://reef/a b", "s3:///x"])
def test_what_is_no_place_is_a_sentence(refused, full, tmp_path, text) -> None:
    assert text in refused("serve", "--replica", text, data=full.folder)
    with pytest.raises(BadReplica):
        place_of(text, None)


def test_a_replica_inside_the_programme_is_refused(refused, full) -> None:
    assert "lost with it" in refused("serve", "--replica", full.folder / "copy", data=full.folder)


def test_a_folder_without_a_replica_is_a_sentence(refused, full, tmp_path) -> None:
    (tmp_path / "empty").mkdir()
    assert "no replica" in refused("restore", tmp_path / "empty", data=full.folder)
    assert "no backup" in refused("restore", tmp_path / "nowhere", data=full.folder)


def test_a_programme_without_a_replica_asks_nothing_of_it(full, follow) -> None:
    assert follow(full).catch_up(0)
    assert tops_in_replica(full) is None
    assert not (full.folder / "replica.lock").exists()
    set_setting(full.db(), "replica", "")
    assert "replica" not in {one.word for one in examine(full.folder, CATALOGUE, 5)}


def test_a_bucket_without_its_client_is_a_sentence(monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "boto3", None)
    monkeypatch.delitem(sys.modules, "fieldlog.replica.bucket", raising=False)
    with pytest.raises(BadReplica, match=r"pip install 'fieldlog\[replica\]'"):
        place_of("s3://reef-unit-log/skein", None)


def test_a_machine_without_the_engine_is_a_sentence(refused, full, tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda _name: None)
    monkeypatch.setattr(sys, "executable", str(tmp_path / "python"))
    assert "litestream" in refused("serve", "--replica", tmp_path / "other", data=full.folder)
