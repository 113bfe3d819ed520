"""Intervals of stakes, zones, tables, reaches and lines on made sites: how many hold the truth. The made sites are our own."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest

from fieldlog.outcomes.intervals import of_difference, of_mean
from fieldlog.outcomes.lines import line, line_with_wave, weighted_line
from fieldlog.outcomes.stake_rates import rate_of, visit_response, zone_slopes
from tests.outcomes.covering import Ends, Random, Row, drawn, held

USUAL = (93.0, 97.0)
T3_SD = np.sqrt(3.0)

SPREADS = {
    "normal": lambda random, shape: random.normal(0, 4, shape),
    "heavy tails": lambda random, shape: random.standard_t(3, shape) / T3_SD * 4,
    "skewed": lambda random, shape: (random.gamma(2, 1, shape) - 2) / np.sqrt(2) * 4,
}


def one_change(spread: str, n: int, random: Random, sites: int) -> Ends:
    found = of_mean(14 + SPREADS[spread](random, (sites, n)))
    return found.low, found.high, 14.0


def two_zones(n: tuple[int, int], sd: tuple[float, float], random: Random, sites: int) -> Ends:
    a, b = (random.normal(mean, spread, (sites, stakes)) for mean, spread, stakes in zip((14, 5), sd, n, strict=True))
    found = of_difference(a, b)
    return found.low, found.high, 9.0


def made_stakes(random: Random, sites: int, t: np.ndarray, n: int, rate: float, visit_mm: np.ndarray) -> np.ndarray:
    """Levels (sites, n, visits): each stake's own rate differs by 3 mm/y, a reading is off by 2.5 mm."""
    own = rate + random.normal(0, 3, (sites, n, 1))
    return random.normal(0, 12, (sites, n, 1)) + own * t + visit_mm[:, None, :] + random.normal(0, 2.5, (sites, n, len(t)))


def visits_of(random: Random, sites: int, t: np.ndarray, mm: float) -> np.ndarray:
    return random.normal(0, mm, (sites, len(t))) if mm else np.zeros((sites, len(t)))


def rate_alone(visits: int, visit_mm: float, random: Random, sites: int) -> Ends:
    t = np.linspace(0, 2, visits)
    zone = zone_slopes(t, made_stakes(random, sites, t, 10, 11, visits_of(random, sites, t, visit_mm)))
    found = rate_of(t, [zone]).interval
    return found.low, found.high, 11.0


def rate_less_control(stakes: int, visits: int, zone_visit_mm: float, random: Random, sites: int) -> Ends:
    t = np.linspace(0, 2, visits)
    weather = visits_of(random, sites, t, 4.0)
    zones = [zone_slopes(t, made_stakes(random, sites, t, stakes, rate, weather + visits_of(random, sites, t, zone_visit_mm))) for rate in (11, 2)]
    found = rate_of(t, zones).interval
    return found.low, found.high, 9.0


UNEVEN = ("half came later", "half began again together", "some began again", "all began again")


def uneven(way: str, n: int, visits: int) -> tuple[np.ndarray, np.ndarray, list[int] | None]:
    """Which readings (n, visits) there are, of which piece, and the visits' own pieces."""
    is_read, piece, middle = np.ones((n, visits), bool), np.zeros((n, visits), int), visits // 2
    if way == "half came later":
        is_read[: n // 2, :middle] = False
    elif way == "half began again together":
        piece[: n // 2, middle:] = 1
    elif way == "some began again":
        for stake in range(0, n, 2):
            piece[stake, 2 + stake * 7 % (visits - 3) :] = 1
    else:
        piece[:, middle:] = 1
    return is_read, piece, piece[0].tolist() if way == "all began again" else None


def uneven_rate(way: str, visits: int, zone_visit_mm: float, random: Random, sites: int) -> Ends:
    t = np.linspace(0, 2, visits)
    is_read, piece, breaks = uneven(way, 8, visits)
    levels = [np.where(is_read, made_stakes(random, sites, t, 8, rate, visits_of(random, sites, t, zone_visit_mm)) + 300 * piece, np.nan) for rate in (11, 2)]
    found = rate_of(t, [zone_slopes(t, each, piece) for each in levels], breaks=breaks, responses=[visit_response(t, is_read, piece)] * 2).interval
    return found.low, found.high, 9.0


def rate_in_seasons(visits: int, random: Random, sites: int) -> Ends:
    """One zone with a season of 6 mm and weather: the yearly wave stands beside the line."""
    t = np.linspace(0, 2, visits)
    season = 6 * np.sin(2 * np.pi * (t + random.random((sites, 1))))
    zone = zone_slopes(t, made_stakes(random, sites, t, 10, 11, season + visits_of(random, sites, t, 3.0)))
    found = rate_of(t, [zone], with_wave=True).interval
    return found.low, found.high, 11.0


def table(visits: int, random: Random, sites: int) -> Ends:
    t = np.linspace(0, 2, visits) if visits > 1 else np.ones(1)
    directions = 5.5 + random.normal(0, 2, (sites, 4))
    pins = directions[..., None, None] * t + random.normal(0, 1.5, (sites, 4, 9, len(t)))
    each = pins.mean(2)
    found = of_mean(line(t, each).slope if visits > 1 else each[..., 0])
    return found.low, found.high, 5.5


def zone_of_tables(tables: int, random: Random, sites: int) -> Ends:
    found = of_mean(5.5 + random.normal(0, 2, (sites, tables)) + random.normal(0, 1, (sites, tables)))
    return found.low, found.high, 5.5


def transect(surveys: int, random: Random, sites: int) -> Ends:
    t = np.arange(surveys, dtype=float)
    found = line(t, 12 + 0.4 * t + random.normal(0, 0.6, (sites, surveys))).interval()
    return found.low, found.high, 0.4


def weighted(surveys: int, truth_over_u: float, random: Random, sites: int) -> Ends:
    t = np.arange(surveys, dtype=float)
    u = np.where(t < surveys / 2, 1.0, 0.4)
    found = weighted_line(t, 12 + 0.4 * t + random.normal(0, 1, (sites, surveys)) * u * truth_over_u, np.broadcast_to(1 / u**2, (sites, surveys))).interval()
    return found.low, found.high, 0.4


def reach(transects: int, surveys: int, alike: float, random: Random, sites: int) -> Ends:
    """Neighbors' own rates follow each other by `alike`; of this reach the truth is the mean of its transects' own rates."""
    t = np.linspace(0, 3, surveys)
    rates = np.empty((sites, transects))
    rates[:, 0] = random.normal(0, 0.15, sites)
    for place in range(1, transects):
        rates[:, place] = alike * rates[:, place - 1] + random.normal(0, 0.15 * np.sqrt(1 - alike**2), sites)
    rates += 0.4
    survey = random.normal(0, 0.10, (sites, 1, surveys))
    found = zone_slopes(t, rates[..., None] * t + survey + random.normal(0, 0.25, (sites, transects, surveys)))
    made = line(t, found.series + found.rate[:, None] * t).interval()
    return made.low, made.high, rates.mean(1)


def monthly_with_season(phase: float, random: Random, sites: int) -> Ends:
    t = np.arange(25) / 12
    found = line_with_wave(t, 9 * t + 6 * np.sin(2 * np.pi * (t + phase)) + random.normal(0, 3, (sites, 25))).interval()
    return found.low, found.high, 9.0


SAID_SPREAD = {"normal": "normal", "heavy tails": "heavy tails (t3)", "skewed": "skewed (gamma 2)"}
LESS_NOISE = "stakes + visits by date less reading noise"

ROWS = [
    *(Row(f"one change, {spread}, {n} stakes", USUAL if spread != "skewed" else (90, 97), partial(one_change, spread, n), (f"stakes, one change, n={n}, {SAID_SPREAD[spread]}", "t over stakes")) for spread in SPREADS for n in (3, 5, 10, 20)),
    *(
        Row(f"two zones, {n} stakes, sd {sd}", (92, 97) if n == (10, 3) else USUAL, partial(two_zones, n, sd), (f"reef minus control, {n[0]}/{n[1]} stakes, sd {sd[0]}/{sd[1]}", "Welch"))
        for n, sd in [((10, 10), (4, 4)), ((10, 10), (9, 3)), ((5, 5), (4, 4)), ((5, 5), (9, 3)), ((3, 3), (4, 4)), ((3, 3), (9, 3)), ((10, 4), (3, 9)), ((10, 3), (3, 9))]
    ),
    *(Row(f"rate, one zone, {visits} visits, visit {mm} mm", USUAL, partial(rate_alone, visits, mm)) for visits in (5, 6, 8, 13) for mm in (0, 4)),
    *(
        Row(f"rate less control, {n} stakes, {visits} visits, zone-visit {mm} mm", USUAL if n >= 6 and visits >= 5 else (92, 98), partial(rate_less_control, n, visits, mm), (f"reef-control rate, {n}+{n} stakes, {visits} visits, zone-visit {mm} mm", LESS_NOISE))
        for n in (4, 6, 10) for visits in (4, 5, 6, 9) for mm in (0, 2, 4)
    ),
    *(Row(f"rate less control, {way}, {visits} visits, zone-visit {mm} mm", (93, 98.5), partial(uneven_rate, way, visits, mm)) for way in UNEVEN for visits in (6, 9) for mm in (0, 4)),
    *(Row(f"rate, one zone with a season, {visits} visits", USUAL, partial(rate_in_seasons, visits)) for visits in (9, 13, 25)),
    *(Row(f"table, {visits} dates", USUAL, partial(table, visits)) for visits in (1, 5)),
    *(Row(f"zone of {tables} tables", USUAL, partial(zone_of_tables, tables)) for tables in (3, 4, 6)),
    *(Row(f"one transect, {surveys} surveys", USUAL, partial(transect, surveys), (f"shoreline, one transect, {surveys} surveys", "least squares, t(n-2)")) for surveys in (4, 5, 6, 8, 12)),
    *(Row(f"weighted, {surveys} surveys, truth {over} u", USUAL, partial(weighted, surveys, over)) for surveys in (4, 5, 6, 8, 12) for over in (1, 2)),
    *(Row(f"reach, {n} transects, {k} surveys, alike {alike}", USUAL, partial(reach, n, k, alike)) for n in (6, 12, 20) for k in (5, 6, 9) for alike in (0, 0.5, 0.8)),
    *(Row(f"monthly for two years, season from {phase}", USUAL, partial(monthly_with_season, phase)) for phase in (0, 0.25)),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_an_interval_holds_the_truth_as_often_as_it_says(row: Row) -> None:
    held(row)


def share(name: str, ends: Ends) -> float:
    low, high, truth = ends
    return 100 * float(np.mean((low <= truth) & (truth <= high)))


def test_the_ways_that_are_not_taken_hold_it_too_seldom() -> None:
    """Else the longer way would not be needed: the traps are real on these sites."""
    random, sites, t = drawn("not taken"), 400, np.linspace(0, 2, 6)
    zone = zone_slopes(t, made_stakes(random, sites, t, 10, 11, visits_of(random, sites, t, 4.0)))
    stakes_alone = of_mean(zone.slopes)
    assert share("t over stakes", (stakes_alone.low, stakes_alone.high, 11.0)) < 75
    still = zone_slopes(t, made_stakes(random, sites, t, 10, 11, visits_of(random, sites, t, 0)))
    visits_alone = line(t, still.series + still.rate[:, None] * t).interval()
    assert share("line through visits", (visits_alone.low, visits_alone.high, 11.0)) < 88
    pins = (5.5 + random.normal(0, 2, (sites, 4, 1)) + random.normal(0, 1.5, (sites, 4, 9))).reshape(sites, 36)
    all_pins = of_mean(pins)
    assert share("t over pins", (all_pins.low, all_pins.high, 5.5)) < 70
    zones = [random.normal(mean, 4, (sites, 10)) + random.normal(0, 4 * np.sqrt(2), (sites, 1)) for mean in (14, 5)]
    two_visits = of_difference(*zones)
    assert share("two visits", (two_visits.low, two_visits.high, 9.0)) < 60


def test_a_line_through_dates_that_remember_is_too_narrow_and_its_lag_shows_it() -> None:
    random, surveys, sites = drawn("memory"), 12, 400
    noise = random.normal(0, 1, (sites, surveys + 20))
    for place in range(1, surveys + 20):
        noise[:, place] = 0.5 * noise[:, place - 1] + noise[:, place] * np.sqrt(0.75)
    t = np.arange(surveys, dtype=float)
    found = line(t, 0.4 * t + noise[:, -surveys:]).interval()
    assert share("memory", (found.low, found.high, 0.4)) < 88
