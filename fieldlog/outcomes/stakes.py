"""
Bed change at stakes: one change between two visits, and a rate from four visits on, of a zone and of a reef less its control.

Signs: bed change = exposed before - exposed after, plus is up. A step is the same stake on the same side. Missing stays missing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from fieldlog.outcomes.intervals import of_difference, of_mean
from fieldlog.outcomes.lines import is_of_one_season, lag1, parts_season
from fieldlog.outcomes.results import (
    YEAR_DAYS,
    CannotTell,
    Caveat,
    Flags,
    Floats,
    LeftOut,
    Method,
    Why,
    is_spread,
)
from fieldlog.outcomes.stake_rates import RateParts, rate_of, visit_response, zone_slopes
from fieldlog.outcomes.stake_readings import (
    Counted,
    StakeReadings,
    breaks,
    counted,
    same_visits,
    visited_together,
    whole_years_apart,
    with_slopes,
)

LEAST_STAKES, LEAST_VISITS, LEAST_YEARS = 3, 4, 1.0
"""For a rate; our suggestion. Under four visits the visits' own scatter about a line cannot be judged."""

LEAST_MEMORY_VISITS, MOST_MEMORY = 8, 0.4
"""From so many visits the lag-1 of what the line leaves is shown; above the limit the interval is too narrow."""

CHANGE = Method("stakes-change", "1", "t over stakes: Student 1908", "stake")
CHANGE_LESS_CONTROL = Method("stakes-change-less-control", "1", "Welch 1947", "stake")
RATE = Method("stakes-rate", "1", "slopes of stakes and a line through visits, variances added: our suggestion, held by simulation", "stake and visit")
RATE_LESS_CONTROL = Method("stakes-rate-less-control", "1", RATE.source, "stake and visit")

Result = TypeVar("Result", "BedChange | CannotTell", "BedRate | CannotTell")


@dataclass(frozen=True)
class BedChange:
    """
    The change between two visits, in mm; plus is up.

    Attributes:
        change_mm_of, control_change_mm_of: by stake.
        stakes, control_stakes: how many count; the control's is None where there is none.
        without_scour_rings: the same without readings that had a scour ring; None where none had.
    """

    method: Method
    zone: str
    change_mm: float
    sd_mm: float | None
    se_mm: float
    df: float
    low_mm: float
    high_mm: float
    change_mm_of: dict[str, float]
    control_change_mm_of: dict[str, float]
    stakes: int
    control_stakes: int | None
    years: float
    scour_ring_readings: int
    without_scour_rings: BedChange | CannotTell | None
    left_out: tuple[LeftOut, ...]
    caveats: tuple[Caveat, ...]


@dataclass(frozen=True)
class BedRate:
    """
    A rate in mm a year; plus is up.

    Attributes:
        slopes_mm_y, control_slopes_mm_y: by stake.
        by_stakes_mm2_y2, by_visits_mm2_y2: the two parts of the rate's variance; the second is less the reading noise.
        series_mm: (visits,) what is left of each visit once levels and rate are taken off.
        visit_spread_mm: how far the visits scatter about the line.
        lag1: how far a visit resembles the one before; None under 8 visits.
        amplitude_mm: of the yearly wave beside the line; None where none stands there.
    """

    method: Method
    zone: str
    rate_mm_y: float
    se_mm_y: float
    df: float
    low_mm_y: float
    high_mm_y: float
    slopes_mm_y: dict[str, float]
    control_slopes_mm_y: dict[str, float]
    by_stakes_mm2_y2: float
    by_visits_mm2_y2: float
    series_mm: tuple[float, ...]
    visit_spread_mm: float
    lag1: float | None
    amplitude_mm: float | None
    stakes: int
    control_stakes: int | None
    visits: int
    years: float
    scour_ring_readings: int
    without_scour_rings: BedRate | CannotTell | None
    left_out: tuple[LeftOut, ...]
    caveats: tuple[Caveat, ...]

    @property
    def more_of(self) -> str:
        """What would make it surer: the replicate that has the larger part of the variance, "stakes" or "visits"."""
        return "stakes" if self.by_stakes_mm2_y2 >= self.by_visits_mm2_y2 else "visits"


def bed_change(readings: StakeReadings) -> BedChange | CannotTell:
    """The change from the first to the last visit, t over stakes; at least 3 stakes read at both."""
    return _with_and_without_rings(readings, None, lambda zones: _change(zones, CHANGE))


def bed_change_by_year(readings: StakeReadings) -> BedChange | CannotTell:
    """
    The change between visits of the same time of year, as far apart as there are: what a season does is then in neither.

    For a zone alone whose visits are too few for a yearly wave.
    """

    def worked_out(zones: list[Counted]) -> BedChange | CannotTell:
        visited = zones[0].at(np.flatnonzero(np.isfinite(zones[0].level_mm).any(0)))
        pair = whole_years_apart(visited.days)
        return CannotTell(CHANGE, Why.NO_YEAR_APART, zone=visited.zone) if pair is None else _change([visited.at(pair)], CHANGE)

    return _with_and_without_rings(readings, None, worked_out)


def bed_change_less_control(reef: StakeReadings, control: StakeReadings) -> BedChange | CannotTell:
    """
    The reef's change less the control's between the first and the last visit that both share, by Welch; 3 stakes in each.

    Two visits cannot tell the weather between them from a trend: that is said beside it.
    """
    return _with_and_without_rings(reef, control, lambda zones: _change(zones, CHANGE_LESS_CONTROL))


def bed_rate(readings: StakeReadings) -> BedRate | CannotTell:
    """The rate of a zone: 3 stakes of 3 readings each, 4 visits, 1 year. A yearly wave stands beside the line where the visits can tell one."""
    return _with_and_without_rings(readings, None, lambda zones: _rate([with_slopes(zones[0])], RATE))


def bed_rate_less_control(reef: StakeReadings, control: StakeReadings) -> BedRate | CannotTell:
    """The reef's rate less the control's, from visits that both share (within 3 days); the least of each zone as for a rate."""
    return _with_and_without_rings(reef, control, lambda zones: _rate(list(visited_together(*zones)), RATE_LESS_CONTROL))


def _with_and_without_rings(readings: StakeReadings, control: StakeReadings | None, worked_out: Callable[[list[Counted]], Result]) -> Result:
    """The answer, and beside it the one without the readings that had a scour ring, where there are such."""
    zones = [counted(one) for one in (readings, control) if one is not None]
    whole = worked_out(zones)
    if isinstance(whole, CannotTell) or not sum(zone.scour_ring_readings for zone in zones):
        return whole
    return replace(whole, without_scour_rings=worked_out([zone.without_scour_rings() for zone in zones]))


def _change(zones: list[Counted], method: Method) -> BedChange | CannotTell:
    visited = [zone.at(np.flatnonzero(np.isfinite(zone.level_mm).any(0))) for zone in zones]
    pairs = same_visits(visited[0].days, visited[-1].days) if len(visited) > 1 else [(visit, visit) for visit in range(len(visited[0].days))]
    if len(pairs) < 2:
        return CannotTell(method, Why.TOO_FEW_VISITS, len(pairs), 2, zones[0].zone)
    stepped = [_steps(zone.at([pairs[0][which], pairs[-1][which]])) for which, zone in enumerate(visited)]
    notes = tuple(note for zone, _ in stepped for note in zone.left_out)
    for zone, _ in stepped:
        if len(zone.stakes) < LEAST_STAKES:
            return CannotTell(method, Why.TOO_FEW_STAKES, len(zone.stakes), LEAST_STAKES, zone.zone, notes)
    (reef, steps), *others = stepped
    if not any(is_spread(each) for _, each in stepped):
        return CannotTell(method, Why.NO_SPREAD, len(reef.stakes), None, reef.zone, notes)
    found = of_difference(steps, others[0][1]) if others else of_mean(steps)
    named = [_named(zone.stakes, each) for zone, each in stepped]
    return BedChange(
        method, reef.zone, float(found.value), None if others else float(steps.std(ddof=1)), float(found.se), float(found.df), float(found.low), float(found.high),
        named[0], named[1] if others else {}, len(reef.stakes), len(others[0][0].stakes) if others else None, float(reef.years[-1]),
        sum(zone.scour_ring_readings for zone, _ in stepped), None, notes, (Caveat.TWO_VISITS,),
    )  # fmt: skip


def _named(names: tuple[str, ...], values: Floats) -> dict[str, float]:
    return {name: float(value) for name, value in zip(names, values, strict=True)}


def _steps(zone: Counted) -> tuple[Counted, Floats]:
    """The stakes of two visits that were read at both on the same side, and how far the bed rose at each."""
    both: Flags = np.asarray(np.isfinite(zone.level_mm).all(1))
    same = zone.piece[:, 0] == zone.piece[:, 1]
    notes = [
        LeftOut(name, Why.BEGAN_AGAIN if is_both else Why.NOT_READ_BOTH_TIMES, zone.zone)
        for name, is_both, is_same in zip(zone.stakes, both, same, strict=True) if not (is_both and is_same)
    ]  # fmt: skip
    kept = zone.of(both & same, notes)
    return kept, kept.level_mm[:, 1] - kept.level_mm[:, 0]


def _rate(zones: list[Counted], method: Method) -> BedRate | CannotTell:
    notes = tuple(note for zone in zones for note in zone.left_out)
    for zone in zones:
        if len(zone.stakes) < LEAST_STAKES:
            return CannotTell(method, Why.TOO_FEW_STAKES, len(zone.stakes), LEAST_STAKES, zone.zone, notes)
    begun = breaks(zones)
    visits = len(begun) - begun[-1]
    if visits < LEAST_VISITS:
        return CannotTell(method, Why.TOO_FEW_VISITS, visits, LEAST_VISITS, zones[0].zone, notes)
    years = np.mean([zone.days for zone in zones], axis=0)
    years = (years - years[0]) / YEAR_DAYS
    if years[-1] < LEAST_YEARS - 1e-9:
        return CannotTell(method, Why.TOO_FEW_YEARS, float(years[-1]), LEAST_YEARS, zones[0].zone, notes)
    is_alone, is_whole = len(zones) == 1, not begun[-1]
    with_wave = is_alone and is_whole and parts_season(years)
    slopes = [zone_slopes(zone.years, zone.level_mm, zone.pieces) for zone in zones]
    responses = [visit_response(zone.years, np.isfinite(zone.level_mm), zone.pieces) for zone in zones]
    found = rate_of(years, slopes, with_wave, None if is_whole else begun, responses)
    if not float(found.interval.se) > 1e-9:
        return CannotTell(method, Why.NO_SPREAD, len(zones[0].stakes), None, zones[0].zone, notes)
    memory = lag1(found.fit.residuals, begun) if len(years) >= LEAST_MEMORY_VISITS else None
    caveats = ((Caveat.REMEMBERS,) if memory is not None and memory > MOST_MEMORY else ()) + ((Caveat.SEASON_NOT_PARTED,) if is_alone and not with_wave and not is_of_one_season(years) else ())
    return _rate_told(zones, method, found, [_named(zone.stakes, each.slopes) for zone, each in zip(zones, slopes, strict=True)], years, memory, with_wave, caveats, notes)


def _rate_told(
    zones: list[Counted], method: Method, found: RateParts, slopes: list[dict[str, float]], years: Floats, memory: float | None, with_wave: bool,
    caveats: tuple[Caveat, ...], notes: tuple[LeftOut, ...],
) -> BedRate:  # fmt: skip
    made = found.interval
    return BedRate(
        method, zones[0].zone, float(made.value), float(made.se), float(made.df), float(made.low), float(made.high),
        slopes[0], slopes[1] if len(zones) > 1 else {}, float(found.by_stakes), float(found.by_visits),
        tuple(float(each) for each in found.series), float(np.sqrt(found.fit.residual_variance)), memory, float(found.fit.amplitude) if with_wave else None,
        len(zones[0].stakes), len(zones[1].stakes) if len(zones) > 1 else None, len(years), float(years[-1]),
        sum(zone.scour_ring_readings for zone in zones), None, notes, caveats,
    )  # fmt: skip
