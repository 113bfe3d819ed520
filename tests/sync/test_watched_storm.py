"""Hostile devices in a storm: nobody reads or changes what is not theirs, and nothing honest is lost or held."""

from __future__ import annotations

import os

import pytest

from tests.sync.verdict import verdict
from tests.sync.watched_storm import WatchedStorm

SCHEDULES = int(os.environ.get("FIELDLOG_WATCHED_STORMS", "60"))
"""How many random schedules; `make soak` asks for more."""

FIRST = int(os.environ.get("FIELDLOG_STORM_SEED", "0"))
"""The first seed: a schedule that failed is played again alone with FIELDLOG_WATCHED_STORMS=1."""

CHUNK, STEPS = 20, 100


@pytest.mark.parametrize("first", range(FIRST, FIRST + SCHEDULES, CHUNK))
def test_hostile_devices_read_and_change_nothing_that_is_not_theirs(first: int) -> None:
    for seed in range(first, min(first + CHUNK, FIRST + SCHEDULES)):
        storm = WatchedStorm(seed)
        storm.run(STEPS)
        storm.calm()
        verdict(storm)
