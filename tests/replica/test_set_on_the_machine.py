"""Where a second copy lies is a setting of the machine: a restore keeps the one that is set there, and brings none along."""

from __future__ import annotations

from pathlib import Path

import pytest

from fieldlog.backup import make_backup
from fieldlog.doctor import examine
from fieldlog.errors import ReplicaFault
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.replica.checking import place_of_programme, set_replica
from fieldlog.replica.running import Replication
from fieldlog.store import Programme, setting

PATIENCE_S = 30


def test_a_restore_brings_no_replica_along_and_says_that_it_is_off(call, full, place, now, tmp_path) -> None:
    """Where a second copy lies is of the machine; the restored one wrote into the lost machine's place, or failed each second."""
    replication = Replication(full, now, 0.05)
    replication.start()
    assert replication.catch_up(PATIENCE_S)
    replication.close()
    make_backup(full, tmp_path / "all.zip", 5)
    for number, source in enumerate((tmp_path / "all.zip", place)):
        folder = tmp_path / f"elsewhere {number}"
        said = call("restore", source, data=folder)
        assert f"The replica is off: none is set on this machine. It was at {place}. Set one: fieldlog serve --replica PLACE" in said.out
        programme = Programme(folder)
        assert [setting(programme.db(), name) for name in ("replica", "replica_generation", "replica_epoch")] == [None] * 3
        assert place_of_programme(programme) is None
        programme.close()
        assert "replica" not in {one.word for one in examine(folder, CATALOGUE, 5)}


@pytest.mark.parametrize("ended", [False, True])
def test_a_restore_keeps_the_replica_that_is_set_on_the_machine(call, full, place, tmp_path, ended: bool) -> None:
    make_backup_without_replica(full, tmp_path / "all.zip", str(place))
    here = "" if ended else str(tmp_path / "a third disk")
    set_replica(full, here)
    full.close()
    said = call("restore", tmp_path / "all.zip", "--json", data=full.folder).document
    assert (said["replica"], said["replica_elsewhere"]) == (here or None, str(place))
    programme = Programme(full.folder)
    assert (setting(programme.db(), "replica") or "") == here
    programme.close()
    again = call("restore", tmp_path / "all.zip", data=full.folder).out
    assert (f"continues at {here}, as set on this machine" in again, "The replica is off" in again) == (not ended, ended)


def test_where_the_machines_setting_cannot_be_read_the_replica_is_off_and_that_is_told(call, full, app, place, tmp_path) -> None:
    make_backup_without_replica(full, tmp_path / "all.zip", str(place))
    app.extensions["programme"].close()
    full.close()
    for beside in ("-wal", "-shm"):
        full.path.with_name(full.path.name + beside).unlink(missing_ok=True)
    full.path.write_bytes(b"another program's file" * 400)
    assert "The replica is off" in call("restore", tmp_path / "all.zip", data=full.folder).out
    full.path.unlink()
    full.path.mkdir()
    assert "The replica is off" in call("restore", tmp_path / "all.zip", data=full.folder).out


def make_backup_without_replica(programme: Programme, file: Path, place: str) -> None:
    """A backup whose programme has a replica that nothing has begun: it is made, and `durable` stays."""
    with pytest.raises(ReplicaFault):
        make_backup(programme, file, 5)
    assert setting(programme.db(), "replica") == place
