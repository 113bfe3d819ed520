"""
Movement of one named line along fixed transects, plus is seaward: net, spread, rate between the ends, and rates by a line.

A reach is measured by its dates, not by its transects: neighbors move together, so the rate of a reach is the line through the mean of
all its transects by date. Definitions as in the US Geological Survey's Open-File Report 2008-1278.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import chdtr, chdtrc

from fieldlog.outcomes.intervals import Z
from fieldlog.outcomes.lines import Line, lag1, line, line_in_pieces, weighted_line
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
)
from fieldlog.outcomes.stake_rates import EVEN, visit_response, visits_weigh, zone_slopes
from fieldlog.outcomes.stake_readings import StakeReadings, breaks, counted, with_slopes

LEAST_SURVEYS, LEAST_TRANSECTS = 4, 3
LEAST_MEMORY_SURVEYS, MOST_MEMORY = 8, 0.4
FAR_P = 0.05
"""Uncertainties are far from the scatter seen where chi-square is rarer than that, either way."""

ENDS = Method("shore-ends", "1", "USGS Open-File Report 2008-1278", "survey")
LEAST_SQUARES = Method("shore-line", "1", "least squares, t(n - 2)", "survey")
WEIGHTED = Method("shore-weighted-line", "1", "least squares weighted by 1/u², scaled by its residuals, t(n - 2)", "survey")
REACH = Method("reach-line", "1", "a line through the mean of all transects by date", "survey")


@dataclass(frozen=True, slots=True)
class ShoreRate:
    """
    A rate by a line, in meters a year; plus is seaward.

    Attributes:
        lag1: how far what a survey leaves resembles the one before; None under 8 surveys.
        reduced_chi2, chi2_p_upper, chi2_p_lower: of a weighted line, how the scatter compares with the uncertainties given.
        mean_by_date_m: of a reach, its mean at each date, about its transects' own levels.
    """

    method: Method
    rate_m_y: float
    se_m_y: float
    df: float
    low_m_y: float
    high_m_y: float
    r2: float
    residual_sd_m: float
    surveys: int
    years: float
    lag1: float | None
    caveats: tuple[Caveat, ...]
    left_out: tuple[LeftOut, ...] = ()
    reduced_chi2: float | None = None
    chi2_p_upper: float | None = None
    chi2_p_lower: float | None = None
    transects: int = 1
    mean_by_date_m: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class ShoreMovement:
    """
    What one transect shows.

    Attributes:
        net_m: newest less oldest.
        greatest_spread_m: largest less smallest distance.
        end_rate_half_width_m_y: at 95 in 100, where both ends have an uncertainty.
    """

    method: Method
    net_m: float
    greatest_spread_m: float
    years: float
    end_rate_m_y: float
    end_rate_half_width_m_y: float | None
    surveys: int
    left_out: tuple[LeftOut, ...]


def end_rate_m_y(net_m: float, years: float) -> float:
    """Net movement over the years between the ends."""
    return net_m / years


def end_rate_u_m_y(first_u_m: float, last_u_m: float, years: float) -> float:
    """Uncertainty of the rate between the ends: as half widths at 95 in 100 go in, so it comes out; as sigmas likewise."""
    return math.hypot(first_u_m, last_u_m) / years


def shore_movement(
    days: Sequence[float], distance_m: Sequence[Reading], uncertainty_m: Sequence[Reading] | None = None, *, is_sigma: bool = False
) -> ShoreMovement | CannotTell:
    """
    Movement between the oldest and the newest of the surveys (n,) of one transect.

    Args:
        uncertainty_m: of each distance, a half width at 95 in 100, or a sigma where `is_sigma`.
    """
    t, y, u, notes = _surveys(days, distance_m, uncertainty_m)
    if len(t) < 2 or not np.ptp(t) > 0:
        return CannotTell(ENDS, Why.TOO_FEW_SURVEYS, len(np.unique(t)), 2, left_out=notes)
    years, net = float(t[-1] - t[0]), float(y[-1] - y[0])
    half = None if u is None or not np.isfinite(u[[0, -1]]).all() else end_rate_u_m_y(float(u[0]), float(u[-1]), years) * (Z if is_sigma else 1.0)
    return ShoreMovement(ENDS, net, float(np.ptp(y)), years, end_rate_m_y(net, years), half, len(t), notes)


def shore_rate(days: Sequence[float], distance_m: Sequence[Reading]) -> ShoreRate | CannotTell:
    """The rate of one transect by least squares: 4 surveys of different days at least."""
    t, y, _, notes = _surveys(days, distance_m, None)
    few = _too_few(LEAST_SQUARES, t, notes)
    return few or _told(LEAST_SQUARES, line(t, y), t, y, notes)


def weighted_shore_rate(
    days: Sequence[float], distance_m: Sequence[Reading], uncertainty_m: Sequence[Reading], *, is_sigma: bool = False
) -> ShoreRate | CannotTell:
    """
    The same weighted by 1/u². The u need be right only relative to each other; chi-square says how far they are from the scatter seen.

    A survey without an uncertainty above 0 is left out.
    """
    given = [at if own is not None and own > 0 else None for at, own in zip(distance_m, uncertainty_m, strict=True)]
    t, y, u, notes = _surveys(days, given, uncertainty_m)
    few = _too_few(WEIGHTED, t, notes)
    if few or u is None:
        return few or CannotTell(WEIGHTED, Why.TOO_FEW_SURVEYS, 0, LEAST_SURVEYS)
    sigma = u if is_sigma else u / Z
    found = weighted_line(t, y, 1 / sigma**2)
    chi2 = float((found.residuals**2 / sigma**2).sum())
    upper, lower = float(chdtrc(found.df, chi2)), float(chdtr(found.df, chi2))
    far = (Caveat.UNCERTAINTIES_FAR_FROM_SCATTER,) if min(upper, lower) < FAR_P else ()
    return _told(WEIGHTED, found, t, y, notes, far, reduced_chi2=chi2 / found.df, chi2_p_upper=upper, chi2_p_lower=lower)


def reach_rate(
    days: Sequence[float], distance_m: Sequence[Sequence[Reading]], transects: Sequence[str] | None = None, pieces: Sequence[Sequence[int]] | None = None
) -> ShoreRate | CannotTell:
    """
    The rate of a reach: one line through the mean of its fixed transects by date, 4 dates and 3 transects at least.

    Each transect's own level and the mean slope are taken off before the mean, so that a missing reading shifts nothing. Of this reach:
    "shores like this one" would need transects drawn from all of them.

    Args:
        days: (k,). distance_m: (transects, k). transects: their names. pieces: (transects, k) a number that changes with a transect's mark.
    """
    names = [str(place + 1) for place in range(len(distance_m))] if transects is None else transects
    down_mm = [[None if at is None else -at for at in row] for row in distance_m]
    read = with_slopes(counted(StakeReadings("", names, days, down_mm, pieces)))
    if len(read.stakes) < LEAST_TRANSECTS:
        return CannotTell(REACH, Why.TOO_FEW_TRANSECTS, len(read.stakes), LEAST_TRANSECTS, left_out=read.left_out)
    begun = breaks([read])
    if len(begun) - begun[-1] < LEAST_SURVEYS:
        return CannotTell(REACH, Why.TOO_FEW_SURVEYS, len(begun) - begun[-1], LEAST_SURVEYS, left_out=read.left_out)
    t = read.years
    zone = zone_slopes(t, read.level_mm, read.pieces)
    means = zone.series + zone.rate * (t - t.mean()) + np.nanmean(read.level_mm)
    found = line_in_pieces(t, means, begun) if begun[-1] else line(t, means)
    weight = visits_weigh(t, [visit_response(t, np.isfinite(read.level_mm), read.pieces)], found, False, begun)
    if weight > EVEN:
        found = replace(found, slope_variance=found.slope_variance * weight)
    return _told(REACH, found, t, means, read.left_out, (Caveat.THIS_REACH_ALONE,), transects=len(read.stakes), mean_by_date_m=tuple(map(float, means)))


def _surveys(days: Sequence[float], distance_m: Sequence[Reading], uncertainty_m: Sequence[Reading] | None) -> tuple[Floats, Floats, Floats | None, tuple[LeftOut, ...]]:
    """Years from the first survey, distances and uncertainties in order of the days, without surveys that were not read."""
    t, y = as_floats(days), as_floats(distance_m)
    if len(t) != len(y) or not np.isfinite(t).all():
        raise ValueError("each distance needs a day")
    kept = np.argsort(t, kind="stable")
    kept = kept[np.isfinite(y[kept])]
    notes = tuple(LeftOut(f"{day:g}", Why.NOT_READ) for day in t[~np.isfinite(y)])
    u = None if uncertainty_m is None else as_floats(uncertainty_m)[kept]
    years = (t[kept] - t[kept].min(initial=math.inf)) / YEAR_DAYS if len(kept) else t[kept]
    return years, y[kept], u, notes


def _too_few(method: Method, t: Floats, notes: tuple[LeftOut, ...]) -> CannotTell | None:
    surveys = len(np.unique(t))
    return CannotTell(method, Why.TOO_FEW_SURVEYS, surveys, LEAST_SURVEYS, left_out=notes) if surveys < LEAST_SURVEYS else None


def _told(
    method: Method, found: Line, t: Floats, y: Floats, notes: tuple[LeftOut, ...], caveats: tuple[Caveat, ...] = (), **more: float | tuple[float, ...]
) -> ShoreRate | CannotTell:
    made = found.interval()
    if not float(made.se) > 1e-12:
        return CannotTell(method, Why.NO_SPREAD, len(t), left_out=notes)
    memory = lag1(found.residuals) if len(t) >= LEAST_MEMORY_SURVEYS else None
    caveats += (Caveat.REMEMBERS,) if memory is not None and memory > MOST_MEMORY else ()
    r2 = 1 - float((found.residuals**2).sum() / max(((y - y.mean()) ** 2).sum(), 1e-300))
    return ShoreRate(
        method, float(made.value), float(made.se), float(made.df), float(made.low), float(made.high), r2, float(np.sqrt((found.residuals**2).sum() / found.df)),
        len(t), float(np.ptp(t)), memory, caveats, notes, **more,  # type: ignore[arg-type]
    )  # fmt: skip
