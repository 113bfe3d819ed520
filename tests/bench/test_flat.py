"""What a request costs does not grow with the years behind it: counted in SQLite's own steps and statements, never in time."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from fieldlog.access.devices import list_devices
from tests.bench.asking import Asking, Cost
from tests.bench.story import Shape
from tests.bench.write_programme import write_programme

YOUNG, OLD = 4, 48
"""Months."""

GROWTH = 1.25
"""Twelve times the history may cost this much more, since trees get deeper. A scan of the past would cost twelve times."""

POSITIONS_GROWTH = 2
"""Twelve times the history has some eight positions of a unit instead of one, and each is read."""

SMALL = {"json_each", "one", "site", "setting"}
"""What may be read whole: what a request itself lists, the sites."""

FEW = 60
"""Steps that do not count: one more level of a tree in a request of some hundred."""


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Path]:
    made = {}
    for months in (YOUNG, OLD):
        made[months] = tmp_path_factory.mktemp(f"{months} months") / "programme"
        # Odd values raise flags that stay, so the old programme has many more of them open.
        write_programme(made[months], Shape(sites=2, units=10, months=months, sightings=10, odd_share=0.05), int(time.time() * 1000))
    return made


@pytest.mark.parametrize("role", ["crew", "lead"])
def test_a_sync_with_nothing_new_costs_the_same_after_twelve_times_the_history(folders: dict[int, Path], role: str) -> None:
    costs = []
    for months in (YOUNG, OLD):
        asking = Asking(folders[months], role)
        asking.sync()
        costs.append(asking.cost(asking.sync))
    assert costs[1].statements <= costs[0].statements * GROWTH
    assert costs[1].steps <= costs[0].steps * GROWTH + FEW


def test_the_list_of_devices_costs_the_same_after_twelve_times_the_history(folders: dict[int, Path]) -> None:
    costs = []
    for months in (YOUNG, OLD):
        asking = Asking(folders[months], "lead")
        list_devices(asking.db, asking.device)
        costs.append(asking.cost(partial(list_devices, asking.db, asking.device)))
    assert costs[1].steps <= costs[0].steps * GROWTH + FEW


def pushes(asking: Asking, count: int) -> Cost:
    """All units of the site checked, so many a push; those with an open flag cost a few statements more than those without."""
    units, costs = list(asking.units), []
    for is_first in (True, False):
        for start in range(0, len(units), count):
            asking.units = units[start : start + count]
            asking.check(count)
            cost = asking.cost(asking.sync)
            if not is_first:
                costs.append(cost)
    return Cost(sum(one.steps for one in costs), sum(one.statements for one in costs))


@pytest.mark.parametrize("count", [1, 10])
@pytest.mark.parametrize("role", ["crew", "lead"])
def test_a_push_costs_the_same_after_twelve_times_the_history(folders: dict[int, Path], role: str, count: int) -> None:
    young, old = (pushes(Asking(folders[months], role), count) for months in (YOUNG, OLD))
    assert old.statements <= young.statements * GROWTH
    assert old.steps <= young.steps * GROWTH + FEW


def test_a_push_of_positions_grows_with_those_of_its_units_alone(folders: dict[int, Path]) -> None:
    costs = []
    for months in (YOUNG, OLD):
        asking = Asking(folders[months], "crew")
        asking.fix(3)
        asking.sync()
        asking.fix(3)
        costs.append(asking.cost(asking.sync))
    assert costs[1].statements <= costs[0].statements * GROWTH
    assert costs[1].steps <= costs[0].steps * POSITIONS_GROWTH + FEW


@pytest.mark.parametrize("write", [Asking.check, Asking.fix])
def test_no_push_reads_a_whole_table(folders: dict[int, Path], write: Callable[[Asking, int], None]) -> None:
    asking = Asking(folders[YOUNG], "crew")
    for _ in range(2):
        write(asking, 3)
        scanned = asking.tables_scanned(asking.sync)
    assert scanned - SMALL == set()
