"""
How long a plot is under water, from a series of levels of the site's own tide.

Time with the tide above the plot's level, crossings by straight lines between the levels of the series, over the whole time; hours a
flood = that time over the floods that began. No universal limit is claimed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fieldlog.outcomes.results import CannotTell, Caveat, Floats, Method, Reading, Why, as_floats

LEAST_DAYS, YEAR_DAYS = 29.0, 365.0
"""Spring and neap once; a wet month differs from a dry one, so a year is better."""

LEVEL_SIGMAS = 1.96

FLOODED = Method("plot-flooding", "1", "time above a level, straight lines between levels", "none: a sum over the tide that was predicted")


@dataclass(frozen=True, slots=True)
class Flooding:
    """
    A plot under water.

    Attributes:
        share: of the time, 0 to 1.
        share_if_higher, share_if_lower: at the level plus and minus 1.96 sigma; None where the level's sigma is not known.
        hours_a_flood: None where the level is never, or always, under.
        days: how long a series it is from.
    """

    method: Method
    share: float
    hours_under: float
    floods: int
    hours_a_flood: float | None
    floods_a_day: float
    share_if_higher: float | None
    share_if_lower: float | None
    days: float
    caveats: tuple[Caveat, ...]


def flooding(
    hours: Sequence[float], tide_m: Sequence[Reading], plot_level_m: float, sigma_m: float | None = None, least_days: float = LEAST_DAYS
) -> Flooding | CannotTell:
    """
    Flooding of a level; between two times one of which has no level nothing is counted.

    Args:
        hours: (n,) growing. tide_m: (n,), on the plot's datum.
        sigma_m: doubt of the plot's level.

    Raises:
        ValueError: hours that do not grow, or a level that is no number.
    """
    t, tide = as_floats(hours), as_floats(tide_m)
    if len(t) != len(tide) or not np.isfinite(t).all() or (np.diff(t) <= 0).any() or not math.isfinite(plot_level_m):
        raise ValueError("hours have to grow, each with a level or None, and the plot needs a level")
    whole = _known_hours(t, tide)
    if whole / 24 < least_days - 1e-9 or whole <= 0:
        return CannotTell(FLOODED, Why.TOO_FEW_DAYS, whole / 24, least_days)
    under, floods = hours_under(t, tide, plot_level_m)
    off = None if sigma_m is None else LEVEL_SIGMAS * sigma_m
    shares = (None, None) if off is None else tuple(hours_under(t, tide, plot_level_m + sign * off)[0] / whole for sign in (1, -1))
    caveats = (Caveat.PREDICTED_WITHOUT_WEATHER, *((Caveat.SHORT_SPAN,) if whole / 24 < YEAR_DAYS - 1e-9 else ()))
    a_flood = under / floods if floods else None
    return Flooding(FLOODED, under / whole, under, floods, a_flood, floods / (whole / 24), shares[0], shares[1], whole / 24, caveats)


def hours_under(t: Floats, tide: Floats, level: float) -> tuple[float, int]:
    """Hours above a level, and how many floods began: (n,) growing hours and levels, NaN where there is none."""
    over = tide - level
    p, q, width = over[:-1], over[1:], np.diff(t)
    known = np.isfinite(p) & np.isfinite(q)
    p, q, width = p[known], q[known], width[known]
    crosses = (p > 0) != (q > 0)
    part = np.maximum(p, q) / np.where(crosses, np.abs(p - q), 1.0)
    under = np.where(crosses, width * part, np.where(p > 0, width, 0.0))
    return float(under.sum()), int(((p <= 0) & (q > 0)).sum())


def _known_hours(t: Floats, tide: Floats) -> float:
    known = np.isfinite(tide[:-1]) & np.isfinite(tide[1:])
    return float(np.diff(t)[known].sum())
