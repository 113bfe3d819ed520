"""
The rate of a zone from stakes read again and again, where both stakes and visits are replicates.

A bed that sinks and swells with the weather moves all stakes of a visit together, so t over the stakes alone holds the truth in 58 to
71 of 100 made sites. What stakes differ by and what visits differ by are added, less the reading noise that would count twice. Our
suggestion, held by simulation (tests/outcomes/test_coverage_sediment.py). Arrays: y (..., n stakes, k visits), NaN where not read.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fieldlog.outcomes.intervals import Interval, interval
from fieldlog.outcomes.lines import Line, line, line_in_pieces, line_with_wave
from fieldlog.outcomes.results import Flags, Floats, Integers

EVEN = 1.1
"""Up to so much more weight of the visits the line through them stands: a few readings that are missing."""


@dataclass(frozen=True, slots=True)
class VisitResponse:
    """
    What the effects w (k,) of visits on all stakes do to a zone: to its rate, on_rate @ w; to its series, on_series @ w.

    Where all stakes are read at all visits the rate's part is that of a line through the visits. Where stakes came later, or began again
    together, a visit weighs more in their slopes than that line takes it for.
    """

    on_rate: Floats
    on_series: Floats


@dataclass(frozen=True, slots=True)
class ZoneSlopes:
    """
    What the stakes of a zone say.

    Attributes:
        slopes: (..., n) of each stake over its own dates.
        series: (..., k) what is left of each visit once each stake's level and the zone's rate are taken off.
        noise: (...) variance of one reading about its stake's line and its visit.
    """

    slopes: Floats
    series: Floats
    noise: Floats

    @property
    def rate(self) -> Floats:
        """Mean of the stakes' slopes."""
        return np.asarray(self.slopes.mean(-1))

    @property
    def variance(self) -> Floats:
        """Of the rate, by what stakes differ."""
        return np.asarray(self.slopes.var(-1, ddof=1) / self.slopes.shape[-1])


@dataclass(frozen=True, slots=True)
class RateParts:
    """A rate with its interval, and the two variances it is made of: by stakes, and by visits less reading noise."""

    interval: Interval
    by_stakes: Floats
    by_visits: Floats
    by_visits_raw: Floats
    noise: Floats
    series: Floats
    fit: Line


def _off_own_mean(values: Floats, seen: Floats, piece: Integers | None) -> Floats:
    """Values less their mean over the readings of the same stake and piece; 0 where not read."""
    if piece is None:
        return np.asarray((values - ((values * seen).sum(-1) / seen.sum(-1))[..., None]) * seen)
    off = np.zeros_like(values)
    for number in np.unique(piece):
        own = seen * (piece == number)
        count = own.sum(-1)
        mean = (values * own).sum(-1) / np.where(count > 0, count, 1)
        off = off + (values - mean[..., None]) * own
    return off


def zone_slopes(t: Floats, y: Floats, piece: Integers | None = None) -> ZoneSlopes:
    """
    The slopes of a zone.

    Args:
        t: (k,) or (..., k) years.
        y: (..., n, k), NaN where not read; each stake has three readings or more, each visit one.
        piece: (n, k) the number of the piece that a reading belongs to: each piece has a level of its own.
    """
    seen = np.isfinite(y).astype(float)
    filled = np.where(seen > 0, y, 0.0)
    off_t = _off_own_mean(np.broadcast_to(t[..., None, :], y.shape), seen, piece)
    off_y = _off_own_mean(filled, seen, piece)
    slopes = (off_t * off_y).sum(-1) / (off_t * off_t).sum(-1)
    stakes_read = seen.sum(-2)
    series = (off_y - slopes.mean(-1)[..., None, None] * off_t).sum(-2) / stakes_read
    left = off_y - slopes[..., None] * off_t
    left = (left - (left.sum(-2) / stakes_read)[..., None, :]) * seen
    n, k = y.shape[-2:]
    more_pieces = 0 if piece is None else sum(len(np.unique(row)) - 1 for row in piece)
    noise = (left**2).sum((-1, -2)) / max((n - 1) * (k - 2) - more_pieces, 1)
    return ZoneSlopes(slopes, series, noise)


def visit_response(t: Floats, is_read: Flags, piece: Integers | None = None) -> VisitResponse:
    """Of one zone: t (k,) years, is_read (n, k), piece (n, k) where stakes began again."""
    seen = is_read.astype(float)
    n, k = seen.shape
    # effect[i, j, v]: what a unit effect of visit v does to stake i's reading at visit j, less its mean over the piece.
    effect = np.stack([_off_own_mean(np.broadcast_to(own, (n, k)), seen, piece) for own in np.eye(k)], -1)
    off_t = _off_own_mean(np.broadcast_to(t, (n, k)), seen, piece)
    on_rate = (off_t / (off_t * off_t).sum(1, keepdims=True)).mean(0)
    on_series = (effect.sum(0) - np.outer(off_t.sum(0), on_rate)) / seen.sum(0)[:, None]
    return VisitResponse(on_rate, on_series)


def rate_of(
    t: Floats, zones: list[ZoneSlopes], with_wave: bool = False, breaks: list[int] | None = None, responses: list[VisitResponse] | None = None
) -> RateParts:
    """
    The rate of the first zone, less the second's where there are two; both were read at the same visits.

    Args:
        t: (k,) or (..., k) years of the visits.
        with_wave: whether a yearly wave stands beside the line through the visits.
        breaks: (k,) the number of the piece of each visit, where all stakes together began anew.
        responses: of each zone, where t is (k,): used where its stakes' spans are uneven.
    """
    series = zones[0].series - zones[1].series if len(zones) > 1 else zones[0].series
    rate = zones[0].rate - zones[1].rate if len(zones) > 1 else zones[0].rate
    if with_wave:
        fit = line_with_wave(t, series)
        rate = rate + fit.slope
    else:
        fit = line(t, series) if breaks is None else line_in_pieces(t, series, breaks)
    noise = np.asarray(sum(zone.noise / zone.slopes.shape[-1] for zone in zones))
    weight = 1.0 if responses is None else visits_weigh(t, responses, fit, with_wave, breaks)
    raw = fit.slope_variance * (weight if weight > EVEN else 1.0)
    by_visits = np.maximum(0.0, raw - noise / fit.spread * (weight if weight > EVEN else 1.0))
    by_stakes = np.asarray(sum(zone.variance for zone in zones))
    variance = by_stakes + by_visits
    # The visits' part was got from its raw variance, whose degrees of freedom it keeps.
    below = np.asarray(sum(zone.variance**2 / (zone.slopes.shape[-1] - 1) for zone in zones))
    below = below + np.where(by_visits > 0, raw**2 / fit.df, 0.0)
    df = np.where(below > 0, variance**2 / np.where(below > 0, below, 1.0), 1.0)
    return RateParts(interval(rate, np.sqrt(variance), df), by_stakes, by_visits, raw, noise, series, fit)


def visits_weigh(t: Floats, responses: list[VisitResponse], fit: Line, with_wave: bool, breaks: list[int] | None) -> float:
    """How much more the visits' scatter about the line (k,) says of the rate's variance than the line itself takes it for; 1 where spans are even."""
    if with_wave:
        design = np.stack([np.ones_like(t), t, np.sin(2 * np.pi * t), np.cos(2 * np.pi * t)], 1)
    else:
        numbers = np.zeros(len(t), int) if breaks is None else np.asarray(breaks)
        design = np.stack([*(numbers == np.unique(numbers)[:, None]).astype(float), t], 1)
    fitted = np.linalg.pinv(design)
    slope = fitted[1] if with_wave else np.zeros(len(t))
    left = sum(float(((each.on_series - design @ (fitted @ each.on_series)) ** 2).sum()) for each in responses)
    moved = sum(float(((each.on_rate + slope @ each.on_series) ** 2).sum()) for each in responses)
    return moved / left * float(fit.spread) * fit.df if left > 0 else 1.0
