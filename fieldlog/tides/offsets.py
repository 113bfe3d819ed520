"""
Stations by offsets: highs and lows from a reference station's, and the curve between them.

Only highs and lows are published for such stations. The curve between is the reference's, warped: time runs linearly
between two matching events, and the height is stretched linearly between the two events' heights. So it is exact
at the events, keeps the reference's shape between them, and is to be shown as estimated.
"""

from __future__ import annotations

import numpy as np

from fieldlog.tides.extremes import listed
from fieldlog.tides.station import Offsets
from fieldlog.tides.trace import Trace, TurningPoints

# Stretching a rise smaller than this would blow its wiggles up; a plain S-curve joins the two events instead.
_SMALLEST_RISE_M = 0.01


def own_events(offsets: Offsets, points: TurningPoints) -> TurningPoints:
    """The station's own highs and lows, one for each of its reference's, before the list rule."""
    minutes = np.where(points.is_high, offsets.minutes_high, offsets.minutes_low)
    times = np.where(points.is_high, offsets.times_high, offsets.times_low)
    plus_m = np.where(points.is_high, offsets.plus_high_m, offsets.plus_low_m)

    def changed(level_m: np.ndarray) -> np.ndarray:
        own_m: np.ndarray = level_m * times + plus_m
        return own_m

    return TurningPoints(
        points.t_s + 60 * minutes, changed(points.level_m), changed(points.before_m), points.is_high, points.node
    )


def warped(reference: Trace, points: TurningPoints, offsets: Offsets) -> tuple[Trace, TurningPoints]:
    """
    The station's own curve and listed events from its reference's trace and turning points.

    Args:
        reference: The reference's trace, with its turning points as nodes.
        points: Those turning points.
        offsets: The station's offsets.

    Returns:
        A trace from the first listed event to the last, and the listed events with their nodes in it.
    """
    all_own = own_events(offsets, points)
    kept = _in_order(all_own.t_s, listed(all_own))
    own = _taken(all_own, kept)
    first, last = int(own.node[0]), int(own.node[-1])
    inside = slice(first, last + 1)
    node = np.arange(first, last + 1)
    piece = np.clip(np.searchsorted(own.node, node, side="right") - 1, 0, len(kept) - 2)

    reference_s, reference_m = points.t_s[kept], points.level_m[kept]
    stretch = np.diff(own.t_s) / np.diff(reference_s)
    t_s = own.t_s[piece] + (reference.t_s[inside] - reference_s[piece]) * stretch[piece]
    rise = np.diff(reference_m)
    is_flat = np.abs(rise) < _SMALLEST_RISE_M
    scale = np.diff(own.level_m) / np.where(is_flat, 1.0, rise)
    level_m = own.level_m[piece] + (reference.level_m[inside] - reference_m[piece]) * scale[piece]
    slope = reference.slope_m_per_s[inside] * scale[piece] / stretch[piece]

    duration_s = np.diff(own.t_s)[piece]
    x = (t_s - own.t_s[piece]) / duration_s
    own_rise = np.diff(own.level_m)[piece]
    smooth_m = own.level_m[piece] + own_rise * x * x * (3 - 2 * x)
    smooth_slope = own_rise * 6 * x * (1 - x) / duration_s
    level_m = np.where(is_flat[piece], smooth_m, level_m)
    slope = np.where(is_flat[piece], smooth_slope, slope)
    placed = TurningPoints(own.t_s, own.level_m, own.before_m, own.is_high, own.node - first)
    return Trace(t_s, level_m, slope), placed


def _in_order(t_s: np.ndarray, kept: np.ndarray) -> np.ndarray:
    """Without the pairs that their different offsets put in the wrong order: no curve passes them."""
    ordered: list[int] = []
    for index in kept.tolist():
        if ordered and t_s[index] <= t_s[ordered[-1]]:
            ordered.pop()
        else:
            ordered.append(index)
    return np.array(ordered, dtype=int)


def _taken(points: TurningPoints, kept: np.ndarray) -> TurningPoints:
    return TurningPoints(
        points.t_s[kept], points.level_m[kept], points.before_m[kept], points.is_high[kept], points.node[kept]
    )
