"""
Area between two surveys of one line, and volumes between lines: gains and losses apart, since a net of 0 is not nothing.

Both surveys on the union of their stations within the common reach, straight between them, each step that changes sign split at
w p/(p - q). Volumes by end areas, which overstate a pyramid by half; the prismoidal form is exact there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fieldlog.outcomes.intervals import of_mean
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
)

LEAST_STATIONS, LEAST_TRANSECTS = 2, 3

AREA = Method("profile-area", "1", "straight lines between stations, split where the surveys cross; doubt by trapezoid weights", "survey of one line")
VOLUME = Method("end-area-volume", "1", "average end areas", "cross section")
REACH_VOLUME = Method("reach-volume", "1", "length times the mean area, t over transects", "transect")


@dataclass(frozen=True, slots=True)
class ProfileChange:
    """
    What one line of shore gained and lost, in square meters a meter of shore.

    Attributes:
        from_m, to_m: the reach that both surveys have.
        crossings_m: where the surveys cross.
    """

    method: Method
    from_m: float
    to_m: float
    gain_m2: float
    loss_m2: float
    net_m2: float
    crossings_m: tuple[float, ...]
    mean_change_m: float
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True, slots=True)
class AreaDoubt:
    """
    Sigma of a net area, in square meters a meter of shore.

    Attributes:
        by_readings_m2: readings add by their weights.
        by_mark_m2: the mark's error shifts a whole line; 0 where both surveys closed on one undisturbed mark.
    """

    by_readings_m2: float
    by_mark_m2: float
    sigma_m2: float


@dataclass(frozen=True, slots=True)
class Volume:
    """Cubic meters between the first and the last cross section."""

    method: Method
    gain_m3: float
    loss_m3: float
    net_m3: float
    caveats: tuple[Caveat, ...]


@dataclass(frozen=True, slots=True)
class ReachVolume:
    """Net volume of a reach from the net area of transects along it, in cubic meters, and the mean area with its standard error."""

    method: Method
    mean_area_m2: float
    se_area_m2: float
    df: float
    volume_m3: float
    low_m3: float
    high_m3: float
    transects: int
    left_out: tuple[LeftOut, ...]
    caveats: tuple[Caveat, ...]


def profile_change(
    stations_before_m: Sequence[float], level_before_m: Sequence[Reading], stations_after_m: Sequence[float], level_after_m: Sequence[Reading]
) -> ProfileChange | CannotTell:
    """
    Area between two surveys; stations along the line in any order, a level or None each.

    Raises:
        ValueError: a station without a number, or twice in one survey.
    """
    (x0, z0, notes0), (x1, z1, notes1) = _surveyed(stations_before_m, level_before_m), _surveyed(stations_after_m, level_after_m)
    notes = (*notes0, *notes1)
    if min(len(x0), len(x1)) < LEAST_STATIONS:
        return CannotTell(AREA, Why.TOO_FEW_STATIONS, min(len(x0), len(x1)), LEAST_STATIONS, left_out=notes)
    start, end = max(x0[0], x1[0]), min(x0[-1], x1[-1])
    if not end > start:
        return CannotTell(AREA, Why.NO_COMMON_REACH, left_out=notes)
    x = np.unique(np.concatenate([x0, x1, [start, end]]))
    x = x[(x >= start) & (x <= end)]
    rise = np.interp(x, x1, z1) - np.interp(x, x0, z0)
    width, p, q = np.diff(x), rise[:-1], rise[1:]
    changes = p * q < 0
    split = np.where(changes, width * p / np.where(changes, p - q, 1.0), width)
    first = np.where(changes, split * p / 2, width * (p + q) / 2)
    second = np.where(changes, (width - split) * q / 2, 0.0)
    areas = np.concatenate([first, second])
    gain, loss = float(areas[areas > 0].sum()), -float(areas[areas < 0].sum())
    at_stations = [float(at) for at, before, here, after in zip(x[1:-1], rise[:-2], rise[1:-1], rise[2:], strict=True) if here == 0 and before * after < 0]
    crossings = sorted([*(float(at) for at in (x[:-1] + split)[changes]), *at_stations])
    return ProfileChange(AREA, float(start), float(end), gain, loss, gain - loss, tuple(crossings), (gain - loss) / float(end - start), notes)


def trapezoid_weights_m(stations_m: Sequence[float], from_m: float | None = None, to_m: float | None = None) -> Floats:
    """(n,) how many meters of the reach each station stands for, by straight lines between stations in order."""
    x = as_floats(stations_m)
    start, end = (x[0] if from_m is None else from_m), (x[-1] if to_m is None else to_m)
    grid = np.unique(np.concatenate([x, [start, end]]))
    grid = grid[(grid >= start) & (grid <= end)]
    shares = np.stack([np.interp(grid, x, own) for own in np.eye(len(x))])
    return np.asarray(((shares[:, 1:] + shares[:, :-1]) / 2) @ np.diff(grid))


def area_doubt(
    stations_before_m: Sequence[float], stations_after_m: Sequence[float], sigma_reading_m: float, sigma_mark_m: float = 0.0
) -> AreaDoubt | CannotTell:
    """
    Doubt of a net area; stations in order. Where the bed bends between stations is not in it.

    Args:
        sigma_mark_m: of each survey's mark; 0 where both were leveled from the same undisturbed one.
    """
    if min(len(stations_before_m), len(stations_after_m)) < LEAST_STATIONS:
        return CannotTell(AREA, Why.TOO_FEW_STATIONS, min(len(stations_before_m), len(stations_after_m)), LEAST_STATIONS)
    start, end = max(stations_before_m[0], stations_after_m[0]), min(stations_before_m[-1], stations_after_m[-1])
    if not end > start:
        return CannotTell(AREA, Why.NO_COMMON_REACH)
    weights = [trapezoid_weights_m(stations, start, end) for stations in (stations_before_m, stations_after_m)]
    readings = sigma_reading_m * math.sqrt(sum(float((each**2).sum()) for each in weights))
    mark = sigma_mark_m * math.sqrt(2) * (end - start)
    return AreaDoubt(readings, mark, math.hypot(readings, mark))


def end_area_volume(along_m: Sequence[float], gain_m2: Sequence[float], loss_m2: Sequence[float]) -> Volume | CannotTell:
    """Volume between cross sections at places along the shore, in order; an area each, gains and losses apart, both 0 or more."""
    along, gain, loss = as_floats(along_m), as_floats(gain_m2), as_floats(loss_m2)
    if len(along) < LEAST_STATIONS or not np.isfinite([along, gain, loss]).all():
        return CannotTell(VOLUME, Why.TOO_FEW_TRANSECTS, int(np.isfinite([along, gain, loss]).all(0).sum()), LEAST_STATIONS)
    steps = np.diff(along)
    volumes = [float((steps * (areas[1:] + areas[:-1]) / 2).sum()) for areas in (gain, loss)]
    tapers = any((((areas[1:] == 0) != (areas[:-1] == 0)).any()) for areas in (gain, loss))
    return Volume(VOLUME, volumes[0], volumes[1], volumes[0] - volumes[1], (Caveat.ONE_END_IS_ZERO,) if tapers else ())


def prismoidal_volume_m3(length_m: float, first_m2: float, middle_m2: float, last_m2: float) -> float:
    """Volume from the areas at both ends and half way: exact for a pyramid, a wedge and a prism."""
    return length_m / 6 * (first_m2 + 4 * middle_m2 + last_m2)


def reach_volume(net_m2: Sequence[Reading], reach_m: float) -> ReachVolume | CannotTell:
    """The volume of a reach of so many meters: length x (mean +- t s/sqrt n) of its transects, at least 3; evenly spaced ones make it a little wide."""
    areas = as_floats(net_m2)
    notes = tuple(LeftOut(str(place + 1), Why.NOT_READ) for place in np.flatnonzero(~np.isfinite(areas)))
    areas = areas[np.isfinite(areas)]
    if len(areas) < LEAST_TRANSECTS:
        return CannotTell(REACH_VOLUME, Why.TOO_FEW_TRANSECTS, len(areas), LEAST_TRANSECTS, left_out=notes)
    if not is_spread(areas):
        return CannotTell(REACH_VOLUME, Why.NO_SPREAD, len(areas), left_out=notes)
    found = of_mean(areas)
    volumes = [float(each) * reach_m for each in (found.value, found.low, found.high)]
    return ReachVolume(
        REACH_VOLUME, float(found.value), float(found.se), float(found.df), volumes[0], volumes[1], volumes[2], len(areas), notes, (Caveat.EVENLY_SPACED,)
    )


def _surveyed(stations_m: Sequence[float], level_m: Sequence[Reading]) -> tuple[Floats, Floats, list[LeftOut]]:
    x, z = as_floats(stations_m), as_floats(level_m)
    if not np.isfinite(x).all() or len(np.unique(x)) < len(x):
        raise ValueError("a station has no distance, or stands twice in one survey")
    notes = [LeftOut(f"{at:g}", Why.NOT_READ) for at in x[~np.isfinite(z)]]
    order = np.argsort(x)
    order = order[np.isfinite(z[order])]
    return x[order], z[order], notes
