"""Highs and lows of an observed record: the turning points of a smooth curve through it, wiggles dropped."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fieldlog.tides.evenly import interval_s
from fieldlog.tides.record import Levels

_FIT_HALF_MIN = 60.0
"""A high or low is the top of the parabola through the levels this near to it (two at least on either side)."""

TURN_PART = 0.7
"""A turning point tops all levels within this part of that time, so that noise at the fit's ends makes none. Our own choice."""

MISSED_BETWEEN_S = 20 * 3600
"""Two highs (or lows) in turn farther apart than this are both kept, since the turn between them is what is missing: the tide of
one high a day has its low half a day off. Our own choice, under a tidal day by the inequality."""

_LEAST_APART_S = 2 * 3600
_LEAST_RISE_M = 0.03048
"""Two hours and a tenth of a foot: what the agency's tabulation asks of a high beside a low (as in extremes.py)."""


@dataclass(frozen=True)
class Tops:
    """Highs and lows in turn, each of shape (n,): time (seconds since 1970 UTC), level (metres), whether a high."""

    t_s: np.ndarray
    level_m: np.ndarray
    is_high: np.ndarray

    def only(self, keep: np.ndarray) -> Tops:
        """Those of a mask."""
        return Tops(self.t_s[keep], self.level_m[keep], self.is_high[keep])


def highs_and_lows(levels: Levels) -> Tops:
    """
    The highs and lows of a record; one beside a gap is left out.

    Args:
        levels: in time order; intervals of up to an hour.
    """
    t, z = levels.t_s, levels.level_m
    step = interval_s(t)
    half = max(2, round(_FIT_HALF_MIN * 60 / step))
    found: list[tuple[float, float, bool]] = []
    for place in _turns(z, max(1, round(half * TURN_PART))):
        start, end = place - half, place + half + 1
        if start < 0 or end > len(t) or t[end - 1] - t[start] > 2 * half * step * 1.2:
            continue
        x = (t[start:end] - t[place]) / 3600
        square, slope, level = np.polyfit(x, z[start:end], 2)
        if square == 0:
            continue
        at_h = float(np.clip(-slope / (2 * square), x[0], x[-1]))
        top = float(level + at_h * (slope + at_h * square))
        found.append((float(t[place]) + at_h * 3600, top, bool(square < 0)))
    return _in_turn(found)


def _turns(z: np.ndarray, near: int) -> list[int]:
    """Places that are the highest or the lowest within some neighbours on both sides; the first of equals."""
    if len(z) <= 2 * near:
        return []
    windows = np.lib.stride_tricks.sliding_window_view(z, 2 * near + 1)
    middle = z[near:-near]
    tops = np.flatnonzero((windows.argmax(axis=1) == near) & (middle > windows.min(axis=1)))
    bottoms = np.flatnonzero((windows.argmin(axis=1) == near) & (middle < windows.max(axis=1)))
    return sorted((np.concatenate([tops, bottoms]) + near).tolist())


def _in_turn(found: list[tuple[float, float, bool]]) -> Tops:
    """Highs and lows in turn: of two of a kind the farther one, and no pair that is a wiggle."""
    kept: list[tuple[float, float, bool]] = []
    for one in found:
        if kept and kept[-1][2] == one[2]:
            beyond = one[1] > kept[-1][1] if one[2] else one[1] < kept[-1][1]
            if one[0] - kept[-1][0] > MISSED_BETWEEN_S:
                kept.append(one)
            elif beyond:
                kept[-1] = one
            continue
        if kept and one[0] - kept[-1][0] < _LEAST_APART_S and abs(one[1] - kept[-1][1]) < _LEAST_RISE_M:
            kept.pop()
            continue
        kept.append(one)
    t, z, high = zip(*kept, strict=True) if kept else ((), (), ())
    return Tops(np.array(t, float), np.array(z, float), np.array(high, bool))
