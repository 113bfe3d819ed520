"""
Before and after, control and impact: the date is the replicate, by the difference impact less control of each date.

Welch of the differences after against before (Stewart-Oaten and others 1986, from memory). What the season does to both places cancels
in the difference; four groups as if unpaired are needlessly wide. One control place cannot part the site from the treatment.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fieldlog.outcomes.intervals import Interval, interval, of_difference, summed, two_sided_p
from fieldlog.outcomes.lines import lag1
from fieldlog.outcomes.results import (
    CannotTell,
    Caveat,
    Floats,
    LeftOut,
    Method,
    Reading,
    Why,
    as_floats,
    is_spread,
    read_ones,
)

LEAST_DATES = 3
LEAST_MEMORY_DATES, MOST_MEMORY = 8, 0.5

PAIRED = Method("before-after-control-impact", "1", "Welch over dates of the difference: Stewart-Oaten and others 1986, from memory", "date")
UNPAIRED = Method("before-after-unpaired", "1", "Welch over four groups", "date")


@dataclass(frozen=True, slots=True)
class BeforeAfter:
    """
    The change at the impact place less that at the control, in the unit of what went in.

    Attributes:
        lag1: how far a date resembles the one before, within periods; None under 8 dates.
    """

    method: Method
    effect: float
    se: float
    df: float
    low: float
    high: float
    p: float
    dates_before: int
    dates_after: int
    lag1: float | None
    left_out: tuple[LeftOut, ...]
    caveats: tuple[Caveat, ...]


def before_after(
    impact_before: Sequence[Reading], control_before: Sequence[Reading], impact_after: Sequence[Reading], control_after: Sequence[Reading]
) -> BeforeAfter | CannotTell:
    """
    By date differences: impact and control of the same dates, in order, None where one was not read; 3 dates before and 3 after.

    Raises:
        ValueError: impact and control of unequal lengths.
    """
    notes: list[LeftOut] = []
    periods: list[Floats] = []
    for impact, control in ((impact_before, control_before), (impact_after, control_after)):
        if len(impact) != len(control):
            raise ValueError(f"{len(impact)} dates at the impact place and {len(control)} at the control; a pair a date is needed")
        differences = as_floats(impact) - as_floats(control)
        name = "before" if not periods else "after"
        notes += [LeftOut(f"{name} {place + 1}", Why.NOT_READ) for place in np.flatnonzero(~np.isfinite(differences))]
        periods.append(differences[np.isfinite(differences)])
    few = _too_few(PAIRED, [len(each) for each in periods], notes)
    if few:
        return few
    before, after = periods
    if not (is_spread(before) or is_spread(after)):
        return CannotTell(PAIRED, Why.NO_SPREAD, len(before) + len(after), left_out=tuple(notes))
    found = of_difference(after, before)
    dates = len(before) + len(after)
    residuals = np.concatenate([before - before.mean(), after - after.mean()])
    memory = lag1(residuals, [0] * len(before) + [1] * len(after)) if dates >= LEAST_MEMORY_DATES else None
    caveats = (Caveat.ONE_CONTROL, *((Caveat.REMEMBERS,) if memory is not None and abs(memory) > MOST_MEMORY else ()))
    return _told(PAIRED, found, [len(before), len(after)], memory, notes, caveats)


def before_after_unpaired(
    impact_before: Sequence[Reading], control_before: Sequence[Reading], impact_after: Sequence[Reading], control_after: Sequence[Reading]
) -> BeforeAfter | CannotTell:
    """The same where the two places were read on different dates: four groups by Welch, 3 dates each."""
    groups = [read_ones(each) for each in (impact_before, control_before, impact_after, control_after)]
    counts = [min(len(groups[0]), len(groups[1])), min(len(groups[2]), len(groups[3]))]
    few = _too_few(UNPAIRED, counts, [])
    if few:
        return few
    if not any(is_spread(each) for each in groups):
        return CannotTell(UNPAIRED, Why.NO_SPREAD, sum(counts))
    return _told(UNPAIRED, of_four_groups(*groups), counts, None, [], (Caveat.ONE_CONTROL,))


def of_four_groups(impact_before: Floats, control_before: Floats, impact_after: Floats, control_after: Floats) -> Interval:
    """(impact after - impact before) - (control after - control before), last axes, by Welch."""
    groups = (impact_after, impact_before, control_after, control_before)
    means = [each.mean(-1) for each in groups]
    variance, df = summed(tuple(each.var(-1, ddof=1) / each.shape[-1] for each in groups), tuple(each.shape[-1] - 1 for each in groups))
    return interval(means[0] - means[1] - means[2] + means[3], np.sqrt(variance), df)


def _too_few(method: Method, counts: Sequence[int], notes: list[LeftOut]) -> CannotTell | None:
    for count, why in zip(counts, (Why.TOO_FEW_DATES_BEFORE, Why.TOO_FEW_DATES_AFTER), strict=True):
        if count < LEAST_DATES:
            return CannotTell(method, why, count, LEAST_DATES, left_out=tuple(notes))
    return None


def _told(method: Method, found: Interval, counts: Sequence[int], memory: float | None, notes: list[LeftOut], caveats: tuple[Caveat, ...]) -> BeforeAfter:
    numbers = [float(each) for each in (found.value, found.se, found.df, found.low, found.high)]
    p = float(two_sided_p(found.value / found.se, found.df))
    return BeforeAfter(method, numbers[0], numbers[1], numbers[2], numbers[3], numbers[4], p, counts[0], counts[1], memory, tuple(notes), caveats)
