"""How much of what was taken a machine that is gone may cost: measured at the product's own pace."""

from __future__ import annotations

import json
import shutil
import time

import pytest

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.replica.running import Replication
from fieldlog.restoring import restore_backup
from tests.backup.conftest import write_species

PATIENCE_S = 30


@pytest.mark.alone
def test_a_killed_machine_loses_at_most_the_last_second(full, phone, place, now, tmp_path) -> None:
    """The folder goes while entries come in, at four moments; the replica has all that was older than a second."""
    replication = Replication(full, now)
    replication.start()
    assert replication.catch_up(PATIENCE_S)
    written: list[float] = []
    copied: list[float] = []
    for number in range(4, 84):
        write_species(phone, number)
        written.append(time.monotonic())
        time.sleep(0.05)
        if number % 23 == 0:
            copied.append(time.monotonic())
            shutil.copytree(place, tmp_path / f"at {len(copied)}")
    replication.close()
    for moment, at in enumerate(copied, 1):
        restored = restore_backup(str(tmp_path / f"at {moment}"), tmp_path / f"elsewhere {moment}", CATALOGUE, 5)
        lost = [at - one for one in written[restored.backup.entries - 3 :] if one < at]
        assert max(lost, default=0) <= 1, f"moment {moment}: the oldest entry that is lost was {max(lost):.2f} s old"
    assert json.loads((full.folder / "replica.json").read_text())["fault"] is None


@pytest.mark.alone
def test_the_engine_follows_within_a_second_by_itself(full, phone, place, now) -> None:
    """A server that is too busy to ask whether all is there delays nothing."""
    replication = Replication(full, now, 3600.0)
    replication.start()
    deadline = time.monotonic() + PATIENCE_S
    while not list(place.rglob("*.ltx")) and time.monotonic() < deadline:
        time.sleep(0.05)
    took = []
    for number in range(4, 14):
        write_species(phone, number)
        begun = time.monotonic()
        before = set(place.rglob("*.ltx"))
        while set(place.rglob("*.ltx")) <= before and time.monotonic() < deadline:
            time.sleep(0.01)
        took.append(time.monotonic() - begun)
        time.sleep(0.11)
    replication.close()
    assert max(took) <= 1, [round(one, 2) for one in took]
