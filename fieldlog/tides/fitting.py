"""
Time and height offsets of a site against a reference port, by least squares: what a short record can tell.

High = times x reference high + plus, and the same for lows: two or three numbers for heights, two for times, out of some
dozens of events. The curve between follows as at a published station by offsets (offsets.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fieldlog.errors import RecordTooShort
from fieldlog.tides.highs_lows import Tops
from fieldlog.tides.station import Offsets

LEAST_EVENTS = 10
"""Two and a half days of a semidiurnal tide."""

APART_EVENTS = 100
"""
From so many events on (a month) highs and lows have a ``plus`` each: ``times`` then rests on springs and neaps alone, which
a shorter record has not seen.
"""

FARTHEST_S = 4 * 3600
"""A site's high belongs to a reference high this near once the usual delay is taken off; our own choice."""


@dataclass(frozen=True)
class FittedOffsets:
    """The offsets, the standard error of each number in the same units, and how many events they rest on."""

    offsets: Offsets
    errors: Offsets
    events: int


def fit_offsets(site: Tops, reference: Tops) -> FittedOffsets:
    """
    Fit offsets.

    Args:
        site: highs and lows of the record, metres above its zero.
        reference: the reference port's predicted ones over the same days and a day more at each end, above chart datum.

    Raises:
        RecordTooShort: fewer than ten events match.
    """
    delay_s = _usual_delay_s(site, reference)
    minutes: dict[bool, np.ndarray] = {}
    pairs: dict[bool, tuple[np.ndarray, np.ndarray]] = {}
    for is_high in (True, False):
        own, its = site.only(site.is_high == is_high), reference.only(reference.is_high == is_high)
        mine, theirs = _matched(own.t_s, its.t_s, delay_s)
        minutes[is_high] = (own.t_s[mine] - its.t_s[theirs]) / 60
        pairs[is_high] = its.level_m[theirs], own.level_m[mine]
    events = len(minutes[True]) + len(minutes[False])
    if min(len(minutes[True]), len(minutes[False])) < 3 or events < LEAST_EVENTS:
        raise RecordTooShort(
            f"Only {events} highs and lows of the record match the reference port's; offsets need {LEAST_EVENTS}, "
            "which is three days or more. Leave the logger out for a month."
        )
    (times, plus_high, plus_low), (times_e, high_e, low_e) = _heights(*pairs[True], *pairs[False])
    centre = {kind: float(np.mean(_without_outliers(found))) for kind, found in minutes.items()}
    error = {kind: float(np.std(found) / np.sqrt(len(found))) for kind, found in minutes.items()}
    return FittedOffsets(
        Offsets(centre[True], centre[False], times, plus_high, times, plus_low),
        Offsets(error[True], error[False], times_e, high_e, times_e, low_e),
        events,
    )


def _usual_delay_s(site: Tops, reference: Tops) -> float:
    """The delay that most highs and lows agree on; a tide earlier or later fits about as well, so the shorter is preferred."""
    delays = np.arange(-12, 12.01, 0.25) * 3600

    def misfit(delay: float) -> float:
        off = []
        for is_high in (True, False):
            own, its = site.t_s[site.is_high == is_high], reference.t_s[reference.is_high == is_high]
            if len(own) and len(its):
                off.append(np.abs(own - delay - its[_nearest(its, own - delay)]))
        return float(np.median(np.concatenate(off))) + 0.02 * abs(delay) if off else np.inf

    return float(min(delays, key=misfit))


def _matched(own_s: np.ndarray, its_s: np.ndarray, delay_s: float) -> tuple[np.ndarray, np.ndarray]:
    """Places of events that belong together once the usual delay is taken off: the nearest, near enough."""
    if not len(own_s) or not len(its_s):
        return np.array([], int), np.array([], int)
    theirs = _nearest(its_s, own_s - delay_s)
    near = np.abs(own_s - delay_s - its_s[theirs]) < FARTHEST_S
    return np.flatnonzero(near), theirs[near]


def _nearest(its_s: np.ndarray, at_s: np.ndarray) -> np.ndarray:
    after = np.clip(np.searchsorted(its_s, at_s), 1, len(its_s) - 1) if len(its_s) > 1 else np.zeros(len(at_s), int)
    before = np.maximum(after - 1, 0)
    found: np.ndarray = np.where(np.abs(its_s[after] - at_s) < np.abs(its_s[before] - at_s), after, before)
    return found


def _heights(
    its_high: np.ndarray, own_high: np.ndarray, its_low: np.ndarray, own_low: np.ndarray
) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """(times, plus for highs, plus for lows) by least squares, and their standard errors; one plus where events are few."""
    is_high = np.concatenate([np.ones(len(its_high)), np.zeros(len(its_low))])
    theirs, own = np.concatenate([its_high, its_low]), np.concatenate([own_high, own_low])
    apart = [is_high, 1 - is_high] if len(own) >= APART_EVENTS else [np.ones(len(own))]
    design = np.column_stack([theirs, *apart])
    found = np.linalg.lstsq(design, own, rcond=None)[0]
    left = own - design @ found
    variance = float(left @ left) / max(1, len(own) - design.shape[1])
    errors = np.sqrt(np.diag(np.linalg.inv(design.T @ design)) * variance)
    return (
        (float(found[0]), float(found[1]), float(found[-1])),
        (float(errors[0]), float(errors[1]), float(errors[-1])),
    )


def _without_outliers(values: np.ndarray) -> np.ndarray:
    """Without what lies more than three robust standard deviations off the median."""
    middle = np.median(values)
    spread = 1.4826 * float(np.median(np.abs(values - middle)))
    kept: np.ndarray = values[np.abs(values - middle) <= max(3 * spread, 1.0)]
    return kept
