"""
Cover: the share of points hit, of one plot and of a zone.

Wilson's interval with the effective number of points: points of one plot hit the same clump, so a zone's plots count by how far they
differ (design effect and t in place of z after Korn and Graubard 1998, from memory; our suggestion, held by simulation). t over plots
falls below 0 where cover is small. Wilson as method 3 of Newcombe 1998, Stat. Med. 17, 857.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import betaincinv

from fieldlog.outcomes.intervals import LEVEL, Z, t_quantile
from fieldlog.outcomes.results import CannotTell, Caveat, Floats, LeftOut, Method, Reading, Why, as_floats

LEAST_PLOTS = 3

PLOT = Method("plot-cover", "1", "Wilson 1927", "point")
ZONE = Method("zone-cover", "1", "Wilson with the effective number of points: our suggestion after Korn and Graubard 1998", "plot")
NONE_SEEN = Method("none-seen", "1", "exact one-sided binomial over plots", "plot")

CLASS_BOUNDS_PCT = (5.0, 25.0, 50.0, 75.0, 95.0)
"""Daubenmire's six classes; published classes share their bounds, here the lower bound belongs to the class and 100 to the sixth."""


@dataclass(frozen=True, slots=True)
class PlotCover:
    """Share of the points of one frame; it speaks of that frame's grid alone."""

    method: Method
    share: float
    low: float
    high: float
    hits: int
    points: int
    caveats: tuple[Caveat, ...] = (Caveat.THIS_PLOT_ALONE,)


@dataclass(frozen=True, slots=True)
class ZoneCover:
    """
    Mean share over the plots of a zone.

    Attributes:
        design_effect: how much less a point tells than an independent one; None where cover was read without points.
        effective_points: how many independent points would tell as much.
    """

    method: Method
    share: float
    low: float
    high: float
    sd: float
    plots: int
    points: int | None
    design_effect: float | None
    effective_points: float
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True, slots=True)
class AllAlike:
    """
    None of the plots has it, or all are full of it: no interval, but a bound.

    Attributes:
        share: 0 or 1.
        most_share_of_plots: fewer than this share of such plots are otherwise (95 in 100, one-sided).
    """

    method: Method
    share: float
    most_share_of_plots: float
    plots: int
    points: int | None
    left_out: tuple[LeftOut, ...]


def wilson(share: Floats | float, points: Floats | float, z: float = Z) -> tuple[Floats, Floats]:
    """Wilson's interval of shares of so many points, of any shape; the ends are exactly 0 and 1 at shares of 0 and 1."""
    p, n = np.asarray(share, float), np.asarray(points, float)
    middle = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z / (1 + z * z / n) * np.sqrt(np.maximum(p * (1 - p), 0.0) / n + z * z / (4 * n * n))
    return np.where(p <= 0, 0.0, middle - half), np.where(p >= 1, 1.0, middle + half)


def exact_share(hits: int, of: int, level: float = LEVEL) -> tuple[float, float]:
    """The exact two-sided interval of Clopper and Pearson 1934 for `hits` of `of`."""
    tail = (1 - level) / 2
    low = 0.0 if hits == 0 else float(betaincinv(hits, of - hits + 1, tail))
    high = 1.0 if hits == of else float(betaincinv(hits + 1, of - hits, 1 - tail))
    return low, high


def effective_points(shares: Floats, points: Floats | float | None) -> tuple[Floats, Floats]:
    """
    Design effect and effective number of points of plots.

    Args:
        shares: (..., n plots), not all 0 or all 1.
        points: of all plots together; None where there were none, so that the plots' spread alone says it.
    """
    n = shares.shape[-1]
    mean = shares.mean(-1)
    by_plots = shares.var(-1, ddof=1) / n
    binomial = mean * (1 - mean)
    shrunk = (Z / float(t_quantile(n - 1))) ** 2
    if points is None:
        return np.full(mean.shape, np.nan), binomial / by_plots * shrunk
    deff = np.maximum(1.0, by_plots * points / binomial)
    return deff, points / deff * shrunk


def plot_cover(hits: int, points: int) -> PlotCover:
    """
    Cover of one plot.

    Raises:
        ValueError: no points, or hits that are not within 0 and them.
    """
    if not 0 <= hits <= points or points < 1:
        raise ValueError(f"{hits} hits of {points} points; 0 up to the points, which are 1 or more")
    low, high = wilson(hits / points, points)
    return PlotCover(PLOT, hits / points, float(low), float(high), hits, points)


def zone_cover(hits: Sequence[Reading], points: Sequence[int], plots: Sequence[str] | None = None) -> ZoneCover | AllAlike | CannotTell:
    """
    Cover of a zone from hits and points of its plots (n,), None where a plot was not read; 3 plots at least.

    Raises:
        ValueError: hits that are not within 0 and the points of a plot.
    """
    counted, grid = as_floats(hits), as_floats(points)
    if len(counted) != len(grid) or (grid < 1).any() or ((counted < 0) | (counted > grid)).any():
        raise ValueError("hits have to be within 0 and the points of their plot, which are 1 or more")
    return _zone(counted / grid, grid, plots)


def zone_cover_by_percent(cover_pct: Sequence[Reading], plots: Sequence[str] | None = None) -> ZoneCover | AllAlike | CannotTell:
    """
    Cover of a zone from percent that was judged, not counted, in its plots (n,); 3 plots at least.

    Raises:
        ValueError: a percent outside 0 to 100.
    """
    percent = as_floats(cover_pct)
    if ((percent < 0) | (percent > 100)).any():
        raise ValueError("percent has to be within 0 and 100")
    return _zone(percent / 100, None, plots)


def _zone(shares: Floats, grid: Floats | None, plots: Sequence[str] | None) -> ZoneCover | AllAlike | CannotTell:
    read = np.isfinite(shares)
    names = [str(place + 1) for place in range(len(shares))] if plots is None else plots
    notes = tuple(LeftOut(name, Why.NOT_READ) for name, is_read in zip(names, read, strict=True) if not is_read)
    shares = shares[read]
    points = None if grid is None else float(grid[read].sum())
    of_points = None if points is None else int(points)
    if len(shares) < LEAST_PLOTS:
        return CannotTell(ZONE, Why.TOO_FEW_PLOTS, len(shares), LEAST_PLOTS, left_out=notes)
    if (shares == 0).all() or (shares == 1).all():
        return AllAlike(NONE_SEEN, float(shares[0]), exact_share(0, len(shares), 0.90)[1], len(shares), of_points, notes)
    if points is None and not np.ptp(shares) > 1e-12:
        return CannotTell(ZONE, Why.NO_SPREAD, len(shares), left_out=notes)
    mean = float(shares.mean())
    deff, effective = effective_points(shares, points)
    low, high = wilson(mean, effective)
    return ZoneCover(
        ZONE, mean, float(low), float(high), float(shares.std(ddof=1)), len(shares), of_points, None if points is None else float(deff), float(effective), notes
    )


def class_of(cover_pct: float, bounds_pct: Sequence[float] = CLASS_BOUNDS_PCT) -> int:
    """The class of a percent, from 1; the lower bound belongs to the class."""
    return bisect_right(bounds_pct, cover_pct) + 1


def mean_of_classes_pct(classes: Sequence[int], bounds_pct: Sequence[float] = CLASS_BOUNDS_PCT) -> float:
    """The mean of the midpoints of classes; never to be averaged with percent that was measured."""
    ends = (0.0, *bounds_pct, 100.0)
    return math.fsum((ends[each - 1] + ends[each]) / 2 for each in classes) / len(classes)
