"""
Trends of one series: least squares, Theil-Sen and Mann-Kendall, each from its least number of dates, all per year.

At 4 dates the most extreme order has an exact two-sided p of 2/24, so that no 95 in 100 interval of Theil and Sen exists; at 5 it is
2/120. The normal form of Mann-Kendall is far off below 11 dates, so the exact p stands alone there, and beside it from 8.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import ndtr

from fieldlog.outcomes.intervals import Z, of_mean
from fieldlog.outcomes.lines import lag1, line, line_in_pieces
from fieldlog.outcomes.results import (
    YEAR_DAYS,
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

LEAST_LINE, LEAST_ORDER, LEAST_NORMAL, NORMAL_ALONE = 4, 5, 8, 11
LEAST_PLOTS, LEAST_PLOT_DATES = 3, 3
LEAST_MEMORY_DATES, MOST_MEMORY = 8, 0.4

LEAST_SQUARES = Method("trend-line", "1", "least squares, t(n - 2)", "date")
PIECES = Method("trend-pieces", "1", "one slope, a level for each piece", "date")
THEIL_SEN = Method("trend-theil-sen", "1", "Theil 1950, Sen 1968", "date")
MANN_KENDALL = Method("trend-mann-kendall", "1", "Mann 1945, Kendall 1975; exact p by counting orders", "date")
PLOTS = Method("slopes-over-plots", "1", "slope of each plot, t over plots: Hurlbert 1984, from memory", "plot")


@dataclass(frozen=True, slots=True)
class Trend:
    """A slope per year in the unit of what went in; `pieces`: how many levels it has; `lag1` is None under 8 dates."""

    method: Method
    slope_per_year: float
    se_per_year: float
    df: float
    low_per_year: float
    high_per_year: float
    r2: float
    residual_sd: float
    dates: int
    pieces: int
    lag1: float | None
    left_out: tuple[LeftOut, ...]
    caveats: tuple[Caveat, ...]


@dataclass(frozen=True, slots=True)
class TheilSen:
    """The median of all pairs' slopes, per year in the unit of what went in, with Sen's interval."""

    method: Method
    slope_per_year: float
    low_per_year: float
    high_per_year: float
    dates: int
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True, slots=True)
class MannKendall:
    """
    Whether a series goes one way.

    Attributes:
        s: pairs that rise less pairs that fall.
        tau: s over all pairs.
        z, p_normal: tie-corrected, with the correction for continuity; None under 8 dates.
        p_exact: None where there are ties, which it does not know of, and from 11 dates on.
        p: the one to show.
    """

    method: Method
    s: float
    tau: float
    variance_s: float
    z: float | None
    p_normal: float | None
    p_exact: float | None
    p: float
    dates: int
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True, slots=True)
class SlopesOverPlots:
    """Mean of plots' own slopes, per year in the unit of what went in."""

    method: Method
    slope_per_year: float
    se_per_year: float
    df: float
    low_per_year: float
    high_per_year: float
    slope_of: dict[str, float]
    left_out: tuple[LeftOut, ...]


def trend(days: Sequence[float], values: Sequence[Reading], pieces: Sequence[int] | None = None) -> Trend | CannotTell:
    """
    A line by least squares: 4 dates at least, one more for each further piece. A piece of one reading gives nothing and is left out.

    Args:
        pieces: (n,) a number that changes with a reset, a moved stake or another datum.
    """
    method = LEAST_SQUARES if pieces is None else PIECES
    t, y, piece, notes = _series(days, values, pieces)
    dates = len(np.unique(t))
    numbers = len(np.unique(piece))
    if dates < LEAST_LINE or len(t) - numbers + 1 < LEAST_LINE:
        return CannotTell(method, Why.TOO_FEW_DATES, dates, LEAST_LINE + max(numbers - 1, 0), left_out=notes)
    found = line(t, y) if numbers == 1 else line_in_pieces(t, y, piece.tolist())
    made = found.interval()
    if not float(made.se) > 1e-12 * max(1.0, float(np.abs(y).max())):
        return CannotTell(method, Why.NO_SPREAD, dates, left_out=notes)
    memory = lag1(found.residuals, piece.tolist()) if dates >= LEAST_MEMORY_DATES else None
    off = y - y.mean()
    return Trend(
        method, float(made.value), float(made.se), float(made.df), float(made.low), float(made.high), 1 - float((found.residuals**2).sum() / (off**2).sum()),
        float(np.sqrt(found.residual_variance)), len(t), numbers, memory, notes, (Caveat.REMEMBERS,) if memory is not None and memory > MOST_MEMORY else (),
    )  # fmt: skip


def theil_sen(days: Sequence[float], values: Sequence[Reading]) -> TheilSen | CannotTell:
    """The median slope with Sen's interval: 5 dates at least; ties widen it as in Sen 1968."""
    t, y, _, notes = _series(days, values, None)
    n = len(t)
    if n < LEAST_ORDER:
        return CannotTell(THEIL_SEN, Why.TOO_FEW_DATES, n, LEAST_ORDER, left_out=notes)
    if not is_spread(y):
        return CannotTell(THEIL_SEN, Why.NO_SPREAD, n, left_out=notes)
    first, second = np.triu_indices(n, 1)
    slopes = np.sort((y[second] - y[first]) / (t[second] - t[first]))
    half = Z * math.sqrt(_variance_s(y))
    high = min(int(np.round((len(slopes) + half) / 2)), len(slopes) - 1)
    low = max(int(np.round((len(slopes) - half) / 2)) - 1, 0)
    return TheilSen(THEIL_SEN, float(np.median(slopes)), float(slopes[low]), float(slopes[high]), n, notes)


def mann_kendall(days: Sequence[float], values: Sequence[Reading]) -> MannKendall | CannotTell:
    """Whether later values are larger: 5 dates at least, with ties 8."""
    t, y, _, notes = _series(days, values, None)
    n = len(t)
    if n < LEAST_ORDER:
        return CannotTell(MANN_KENDALL, Why.TOO_FEW_DATES, n, LEAST_ORDER, left_out=notes)
    first, second = np.triu_indices(n, 1)
    s = float(np.sign(y[second] - y[first]).sum())
    has_ties = len(np.unique(y)) < n
    if has_ties and n < LEAST_NORMAL:
        return CannotTell(MANN_KENDALL, Why.TIES, n, LEAST_NORMAL, left_out=notes)
    variance = _variance_s(y)
    z = (s - math.copysign(1.0, s)) / math.sqrt(variance) if s and variance > 0 else 0.0
    normal = 2 * float(ndtr(-abs(z))) if n >= LEAST_NORMAL else None
    exact = None if has_ties or n >= NORMAL_ALONE else exact_p(n, abs(int(s)))
    shown = exact if exact is not None else normal
    return MannKendall(MANN_KENDALL, s, s / len(first), variance, z if n >= LEAST_NORMAL else None, normal, exact, 1.0 if shown is None else shown, n, notes)


def slopes_over_plots(days: Sequence[float], values: Mapping[str, Sequence[Reading]]) -> SlopesOverPlots | CannotTell:
    """
    The same plots again and again: the plot is the replicate, since its readings are no independent ones.

    Args:
        days: (k,). values: by plot (k,), None where not read; a plot needs 3 dates, 3 plots are the least.
    """
    slopes: dict[str, float] = {}
    notes: list[LeftOut] = []
    for plot, row in values.items():
        t, y, _, _ = _series(days, row, None)
        if len(t) < LEAST_PLOT_DATES:
            notes.append(LeftOut(plot, Why.TOO_FEW_READINGS))
        else:
            slopes[plot] = float(line(t, y).slope)
    each = as_floats(list(slopes.values()))
    if len(each) < LEAST_PLOTS:
        return CannotTell(PLOTS, Why.TOO_FEW_PLOTS, len(each), LEAST_PLOTS, left_out=tuple(notes))
    if not is_spread(each):
        return CannotTell(PLOTS, Why.NO_SPREAD, len(each), left_out=tuple(notes))
    found = of_mean(each)
    return SlopesOverPlots(PLOTS, float(found.value), float(found.se), float(found.df), float(found.low), float(found.high), slopes, tuple(notes))


def memory(values: Sequence[Reading]) -> float | None:
    """Lag-1 autocorrelation of values in order; None under 8."""
    read = read_ones(values)
    return lag1(read) if len(read) >= LEAST_MEMORY_DATES else None


@lru_cache(256)
def exact_p(n: int, s: int) -> float:
    """How often an order of n different values at random has |S| of `s` or more: all orders counted by their inversions."""
    ways = [1]
    for item in range(2, n + 1):
        sums = [0, *np.cumsum(np.array(ways, dtype=object)).tolist()]
        most = len(ways) + item - 1
        ways = [sums[min(at + 1, len(ways))] - sums[max(at - item + 1, 0)] for at in range(most)]
    pairs = n * (n - 1) // 2
    return sum(count for inversions, count in enumerate(ways) if abs(pairs - 2 * inversions) >= abs(s)) / math.factorial(n)


def _variance_s(y: Floats) -> float:
    """Of S, less what ties take."""
    n = len(y)
    _, ties = np.unique(y, return_counts=True)
    return float(n * (n - 1) * (2 * n + 5) - (ties * (ties - 1) * (2 * ties + 5)).sum()) / 18


def _series(days: Sequence[float], values: Sequence[Reading], pieces: Sequence[int] | None) -> tuple[Floats, Floats, Floats, tuple[LeftOut, ...]]:
    """Years from the first date, values and pieces in order: readings of one date and piece are one, single ones of a piece are left out."""
    t, y = as_floats(days), as_floats(values)
    piece = np.zeros(len(t)) if pieces is None else as_floats(pieces)
    if not len(t) == len(y) == len(piece) or not np.isfinite(t).all():
        raise ValueError("each value needs a day, and a piece where there are any")
    notes = [LeftOut(f"{day:g}", Why.NOT_READ) for day in t[~np.isfinite(y)]]
    read = np.isfinite(y)
    t, y, piece = t[read], y[read], piece[read]
    keys, which, counts = np.unique(np.stack([t, piece]), axis=1, return_inverse=True, return_counts=True)
    notes += [LeftOut(f"{day:g}", Why.SAME_DATE) for day in keys[0][counts > 1]]
    y = np.bincount(which.ravel(), y, len(counts)) / np.maximum(counts, 1)
    t, piece = keys
    numbers, sizes = np.unique(piece, return_counts=True)
    single = np.isin(piece, numbers[sizes == 1]) & (len(numbers) > 1)
    notes += [LeftOut(f"{day:g}", Why.ONE_READING_A_PIECE) for day in t[single]]
    t, y, piece = t[~single], y[~single], piece[~single]
    return (t - t.min(initial=np.inf if len(t) else 0.0)) / YEAR_DAYS, y, piece, tuple(notes)
