"""What is missing, alike, too little or wrong: every estimator says why, or gives numbers that are numbers, and never warns."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fieldlog.outcomes import horizons, shoreline, stakes, tables, trends
from fieldlog.outcomes.methods import METHODS, MODULES, is_worked_out_so
from fieldlog.outcomes.more_visits import more_visits_for
from fieldlog.outcomes.results import CannotTell, Caveat, LeftOut, Method, Why
from fieldlog.outcomes.stake_readings import StakeReadings, same_visits
from fieldlog.outcomes.tables import TableReadings
from tests.outcomes.cases import YEAR_DAYS, as_json, why

OUTCOMES = Path(stakes.__file__).parent
WITHOUT_METHODS = {"__init__", "intervals", "lines", "methods", "results", "stake_rates", "stake_readings"}

NAN = float("nan")
QUARTERS = [0.0, 91, 183, 274, 365, 457, 548, 639, 731]
RISING = [[400 - 2 * visit - 3 * stake * visit % 7 - 11 * stake for visit in range(9)] for stake in range(4)]


def stakes_of(zone: str, exposed_mm: Any, days: Any = QUARTERS, **more: Any) -> StakeReadings:
    return StakeReadings(zone, [f"{zone}{place}" for place in range(len(exposed_mm))], days, exposed_mm, **more)


SERIES = {
    "empty": ([], []),
    "one value": ([0], [3.0]),
    "not a number": ([0, 100, 200, 300, 400], [NAN] * 5),
    "not read": ([0, 100, 200, 300, 400], [None] * 5),
    "one date": ([7] * 6, [1.0, 2, 3, 4, 5, 6]),
    "all zeros": ([0, 100, 200, 300, 400, 500, 600, 700], [0.0] * 8),
    "infinite": ([0, 100, 200, 300, 400], [1.0, float("inf"), 2, 3, 1]),
}


@pytest.mark.parametrize("name", SERIES)
@pytest.mark.parametrize("estimator", [trends.trend, trends.theil_sen, trends.mann_kendall, shoreline.shore_rate, shoreline.shore_movement], ids=lambda one: one.__name__)
def test_a_series_that_is_too_little_says_so(name: str, estimator: Any) -> None:
    found = estimator(*SERIES[name])
    if not isinstance(found, CannotTell):
        as_json(found)
    if name in ("empty", "one value", "not a number", "not read", "one date"):
        assert why(found) in (Why.TOO_FEW_DATES, Why.TOO_FEW_SURVEYS)
    if name == "all zeros" and estimator in (trends.trend, trends.theil_sen, shoreline.shore_rate):
        assert why(found) is Why.NO_SPREAD


def test_series_of_unequal_lengths_are_refused() -> None:
    for estimator in (trends.trend, shoreline.shore_rate):
        with pytest.raises(ValueError, match="day"):
            estimator([0, 1, 2], [1.0, 2.0])


def test_stakes_that_are_too_few_too_seldom_or_too_short_say_so() -> None:
    assert why(stakes.bed_rate(stakes_of("reef", [], []))) is Why.TOO_FEW_STAKES
    assert why(stakes.bed_rate(stakes_of("reef", RISING[:2]))) is Why.TOO_FEW_STAKES
    assert why(stakes.bed_rate(stakes_of("reef", [[NAN] * 9] * 4))) is Why.TOO_FEW_STAKES
    assert why(stakes.bed_rate(stakes_of("reef", [row[:3] for row in RISING], QUARTERS[:3]))) is Why.TOO_FEW_VISITS
    short = stakes.bed_rate(stakes_of("reef", [row[:4] for row in RISING], QUARTERS[:4]))
    assert why(short) is Why.TOO_FEW_YEARS
    assert (round(short.has, 2), short.least) == (0.75, 1)
    assert why(stakes.bed_rate(stakes_of("reef", RISING, [5.0] * 9))) is Why.TOO_FEW_STAKES
    assert why(stakes.bed_rate(stakes_of("reef", [[400] * 9] * 4))) is Why.NO_SPREAD
    assert why(stakes.bed_change(stakes_of("reef", [[400, 390]] * 4, [0, 100]))) is Why.NO_SPREAD
    assert why(stakes.bed_change(stakes_of("reef", [[400], [410]], [0]))) is Why.TOO_FEW_VISITS


def test_a_stake_that_is_not_found_is_left_out_by_name_and_shifts_nothing() -> None:
    whole = stakes.bed_rate(stakes_of("reef", RISING))
    lost = [*RISING, [500, 480, *[None] * 7], [None] * 9]
    found = stakes.bed_rate(stakes_of("reef", lost))
    assert found.left_out == (LeftOut("reef4", Why.TOO_FEW_READINGS, "reef"), LeftOut("reef5", Why.TOO_FEW_READINGS, "reef"))
    assert (found.rate_mm_y, found.low_mm_y, found.stakes) == (whole.rate_mm_y, whole.low_mm_y, 4)
    high = [row[:] for row in RISING]
    high[3][8] = None  # a stake that stands far from the others: its missing reading must not move the last visit
    assert abs(stakes.bed_rate(stakes_of("reef", high)).series_mm[8] - whole.series_mm[8]) < 3


def test_no_control_is_no_difference() -> None:
    reef = stakes_of("reef", RISING)
    found = stakes.bed_rate_less_control(reef, stakes_of("control", [], []))
    assert why(found) is Why.TOO_FEW_STAKES
    found = stakes.bed_rate_less_control(reef, stakes_of("control", [row[:1] for row in RISING], QUARTERS[:1]))
    assert isinstance(found, CannotTell)
    assert why(stakes.bed_change_less_control(reef, stakes_of("control", [], []))) is Why.TOO_FEW_VISITS


def test_visits_of_two_zones_pair_within_three_days_and_no_further() -> None:
    control = [[430 - visit - stake * visit % 5 for visit in range(9)] for stake in range(4)]
    together = stakes.bed_rate_less_control(stakes_of("reef", RISING), stakes_of("control", control))
    days = [day + (3 if visit % 2 else 0) for visit, day in enumerate(QUARTERS)]
    later = stakes.bed_rate_less_control(stakes_of("reef", RISING), stakes_of("control", control, days))
    assert later.visits == together.visits == 9
    assert later.left_out == ()
    days[4] = QUARTERS[4] + 4
    apart = stakes.bed_rate_less_control(stakes_of("reef", RISING), stakes_of("control", control, days))
    assert apart.visits == 8
    assert apart.left_out == (LeftOut("365", Why.NO_VISIT_WITHIN_DAYS, "reef"), LeftOut("369", Why.NO_VISIT_WITHIN_DAYS, "control"))
    never = stakes.bed_rate_less_control(stakes_of("reef", RISING), stakes_of("control", control, [day + 20 for day in QUARTERS]))
    assert isinstance(never, CannotTell)
    assert same_visits(np.array([0.0, 2, 10]), np.array([1.5, 2.5])) == [(0, 0), (1, 1)]
    assert same_visits(np.array([0.0, 2, 10]), np.array([2.2])) == [(1, 0)]


def test_readings_of_one_day_are_one() -> None:
    twice = [[*row[:4], row[4] + 1, row[4] - 1, *row[5:]] for row in RISING]
    found = stakes.bed_rate(stakes_of("reef", twice, [*QUARTERS[:5], *QUARTERS[4:]]))
    once = stakes.bed_rate(stakes_of("reef", RISING))
    assert found.visits == 9
    assert np.isclose(found.rate_mm_y, once.rate_mm_y)
    assert {note.why for note in found.left_out} == {Why.SAME_DAY}


def test_visits_may_come_in_any_order() -> None:
    turned = stakes.bed_rate(stakes_of("reef", [row[::-1] for row in RISING], QUARTERS[::-1]))
    assert np.isclose(turned.rate_mm_y, stakes.bed_rate(stakes_of("reef", RISING)).rate_mm_y)


def test_a_moved_stake_begins_a_new_piece_instead_of_a_false_rise() -> None:
    moved = [row[:] for row in RISING]
    moved[0][5:] = [each + 60 for each in moved[0][5:]]
    pieces = [[0] * 9 for _ in RISING]
    pieces[0][5:] = [1] * 4
    honest, known = stakes.bed_rate(stakes_of("reef", RISING)), stakes.bed_rate(stakes_of("reef", moved, pieces=pieces))
    overlooked = stakes.bed_rate(stakes_of("reef", moved))
    assert abs(known.rate_mm_y - honest.rate_mm_y) < 2 < abs(overlooked.rate_mm_y - honest.rate_mm_y)
    assert why(stakes.bed_change(stakes_of("reef", moved[:3], pieces=pieces[:3]))) is Why.TOO_FEW_STAKES
    single = [[0] * 8 + [1], *pieces[1:]]
    found = stakes.bed_rate(stakes_of("reef", moved, pieces=single))
    assert LeftOut("reef0", Why.ONE_READING_A_PIECE, "reef") in found.left_out


def test_a_datum_that_changes_for_all_stakes_gives_the_visits_a_new_level_too() -> None:
    """As section 11 of the method has it: one slope, a level for each piece, and the df that costs."""
    random = np.random.default_rng(3)
    t = np.array(QUARTERS) / YEAR_DAYS
    level = -9 * t + random.normal(0, 2, (5, 9)) + random.normal(0, 3, 9)
    pieces = [[0] * 5 + [1] * 4] * 5
    shifted = level + np.where(np.array(pieces) == 1, 300, 0)
    known = stakes.bed_rate(stakes_of("reef", (400 + level).tolist(), pieces=pieces))
    after = stakes.bed_rate(stakes_of("reef", (400 + shifted).tolist(), pieces=pieces))
    assert np.isclose(known.rate_mm_y, after.rate_mm_y)
    assert np.isclose(known.se_mm_y, after.se_mm_y)
    assert np.isclose(known.by_visits_mm2_y2, after.by_visits_mm2_y2)


def test_scour_rings_stay_in_and_the_rate_without_them_stands_beside() -> None:
    rings = [[stake == 1 and visit > 5 for visit in range(9)] for stake in range(4)]
    scoured = [[each - 40 * ring for each, ring in zip(row, of, strict=True)] for row, of in zip(RISING, rings, strict=True)]
    found = stakes.bed_rate(stakes_of("reef", scoured, scour_rings=rings))
    assert found.scour_ring_readings == 3
    assert abs(found.without_scour_rings.rate_mm_y - stakes.bed_rate(stakes_of("reef", RISING)).rate_mm_y) < 3
    assert found.rate_mm_y - found.without_scour_rings.rate_mm_y > 3
    as_json(found)


def test_odd_shapes_of_stakes_never_warn_and_never_give_what_is_no_number() -> None:
    random = np.random.default_rng(11)
    for _ in range(150):
        zones = []
        for zone in ("reef", "control"):
            n, k = random.integers(0, 6), random.integers(0, 9)
            exposed = np.where(random.random((n, k)) < random.choice([0, 0.3, 0.7]), np.nan, random.integers(380, 420, (n, k)))
            pieces = np.cumsum(random.random((n, k)) < random.choice([0, 0.2]), axis=1) if k else np.zeros((n, k), int)
            zones.append(stakes_of(zone, exposed, np.sort(random.integers(0, 900, k)).astype(float), pieces=pieces, scour_rings=random.random((n, k)) < 0.1))
        for found in (stakes.bed_rate(zones[0]), stakes.bed_change(zones[0]), stakes.bed_rate_less_control(*zones), stakes.bed_change_less_control(*zones)):
            as_json(found)


def test_tables_say_what_they_lack() -> None:
    pins = {name: [[10.0 * visit + place + turn * visit for place in range(9)] for visit in range(5)] for turn, name in enumerate("NESW")}
    days = [0.0, 100, 200, 300, 400]
    whole = tables.table_rate(TableReadings("T1", days, pins))
    as_json(whole)
    assert Caveat.ONE_TABLE in whole.caveats
    noted = {"N": [[place == 0 and visit == 2 for place in range(9)] for visit in range(5)]}
    found = tables.table_rate(TableReadings("T1", days, pins, noted))
    assert found.left_out == (LeftOut("N 1", Why.PIN_NOTED, "T1"),)
    assert np.isclose(found.rate_mm_y, whole.rate_mm_y)
    assert why(tables.table_rate(TableReadings("T1", days[:3], {name: rows[:3] for name, rows in pins.items()}))) is Why.TOO_FEW_VISITS
    few = {**pins, "E": [row[:4] for row in pins["E"]]}
    assert tables.table_change(TableReadings("T1", days, few)).left_out == (LeftOut("E", Why.TOO_FEW_PINS, "T1"),)
    assert why(tables.table_change(TableReadings("T1", days, {"N": pins["N"]}))) is Why.TOO_FEW_DIRECTIONS
    assert why(tables.table_change(TableReadings("T1", [], {}))) is Why.TOO_FEW_VISITS
    assert why(tables.table_change(TableReadings("T1", days, pins, pieces=[0, 0, 1, 1, 1]))) is Why.BEGAN_AGAIN
    lifted = {name: [[each + 500 * (visit > 1) for each in row] for visit, row in enumerate(rows)] for name, rows in pins.items()}
    assert np.isclose(tables.table_rate(TableReadings("T1", days, lifted, pieces=[0, 0, 1, 1, 1])).rate_mm_y, whole.rate_mm_y)
    assert why(tables.zone_change_of_tables({"T1": 5.5})) is Why.TOO_FEW_TABLES
    assert why(tables.zone_rate_of_tables({"T1": 5.5, "T2": 5.5, "T3": 5.5})) is Why.NO_SPREAD


def test_a_horizon_that_is_not_found_is_missing_and_said() -> None:
    found = horizons.accretion({"H1": [[11, 12]], "H2": [[9, None]], "H3": [[16]], "H4": [], "H5": [[None, None]]}, 2)
    assert (found.plots, found.plots_not_found, found.caveats) == (3, 2, (Caveat.HORIZONS_NOT_FOUND,))
    assert why(horizons.accretion({"H1": [[1]], "H2": []}, 2)) is Why.TOO_FEW_PLOTS
    with pytest.raises(ValueError, match="years"):
        horizons.accretion({}, 0)


def test_without_enough_visits_for_a_wave_the_same_time_of_year_is_compared() -> None:
    days = [0.0, 90, 180, 366, 456]
    waved = [[400 + 10 * np.cos(2 * np.pi * day / YEAR_DAYS) - 9 * day / YEAR_DAYS - stake - day % (stake + 7) / 9 for day in days] for stake in range(4)]
    found = stakes.bed_change_by_year(stakes_of("reef", waved, days))
    assert round(found.years, 2) == 1.0
    assert abs(found.change_mm - 9) < 2
    assert why(stakes.bed_change_by_year(stakes_of("reef", [row[:3] for row in waved], days[:3]))) is Why.NO_YEAR_APART


def test_visits_of_one_season_a_year_have_none_in_their_line() -> None:
    yearly = stakes.bed_rate(stakes_of("reef", [row[:5] for row in RISING], [0.0, 370, 725, 1100, 1450]))
    assert Caveat.SEASON_NOT_PARTED not in yearly.caveats
    assert Caveat.SEASON_NOT_PARTED in stakes.bed_rate(stakes_of("reef", [row[:6] for row in RISING], QUARTERS[:6])).caveats
    assert stakes.bed_rate(stakes_of("reef", RISING)).amplitude_mm is not None


def test_where_stakes_differ_most_more_visits_do_not_help() -> None:
    differ = [[400 - round(slope * day / YEAR_DAYS) - visit % 2 for visit, day in enumerate(QUARTERS)] for slope in (1, 9, 20, 4)]
    found = stakes.bed_rate(stakes_of("reef", differ))
    assert found.more_of == "stakes"
    assert why(more_visits_for(found, 5)) is Why.MORE_STAKES
    weather = [0, 6, -5, 7, -6, 5, -7, 6, -4]
    together = [[400 - round(slope * day / YEAR_DAYS) - sway for day, sway in zip(QUARTERS, weather, strict=True)] for slope in (9, 10, 11, 10)]
    found = stakes.bed_rate(stakes_of("reef", together))
    assert found.more_of == "visits"
    assert more_visits_for(found, 5).more > 0


def test_stakes_that_came_later_do_not_make_the_rate_surer_than_it_is() -> None:
    """Their slopes are from fewer visits, whose weather weighs more in them than in a line through all visits."""
    random = np.random.default_rng(4)
    level = 400 - 9 * np.array(QUARTERS) / YEAR_DAYS + random.normal(0, 5, 9) + random.normal(0, 1, (8, 9))
    reef, control = level, 430 - 2 * np.array(QUARTERS) / YEAR_DAYS + random.normal(0, 5, 9) + random.normal(0, 1, (8, 9))
    whole = stakes.bed_rate_less_control(stakes_of("reef", reef.tolist()), stakes_of("control", control.tolist()))
    late = [np.where((np.arange(8)[:, None] < 4) & (np.arange(9) < 4), np.nan, each).tolist() for each in (reef, control)]
    found = stakes.bed_rate_less_control(stakes_of("reef", late[0]), stakes_of("control", late[1]))
    assert found.by_visits_mm2_y2 > 1.5 * whole.by_visits_mm2_y2


def test_each_computation_has_a_name_of_its_own_and_a_version() -> None:
    kept = [method for module in MODULES for method in vars(module).values() if isinstance(method, Method)]
    assert len({method.name for method in kept}) == len(kept) == len(METHODS) > 30
    assert all(method.computed_as.isdigit() and method.source and method.replicate for method in kept)
    assert {path.stem for path in OUTCOMES.glob("*.py")} == {module.__name__.rpartition(".")[2] for module in MODULES} | WITHOUT_METHODS
    assert is_worked_out_so("stakes-rate", stakes.RATE.computed_as)
    assert not is_worked_out_so("stakes-rate", "0")
    assert not is_worked_out_so("no-such", "1")
