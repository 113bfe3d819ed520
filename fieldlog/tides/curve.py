"""A station's level curve over a span: built once, then asked for levels, highs and lows, and crossings."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from fieldlog.errors import OutsideCurve
from fieldlog.tides.extremes import Extreme, listed
from fieldlog.tides.offsets import warped
from fieldlog.tides.station import Station
from fieldlog.tides.trace import (
    Trace,
    crossings_in,
    joined,
    levels_in,
    trace_of_year,
    with_turning_points,
)
from fieldlog.tides.yearly import left_out, left_out_m, spanned_years, yearly_numbers


@dataclass(frozen=True)
class Crossing:
    """The instant (UTC) at which the level passes a given one, and whether it rises there."""

    at_utc: datetime
    is_rising: bool


class Curve:
    """
    Level over time at one station, in metres above its chart datum, from ``from_utc`` to ``to_utc``.

    ``is_estimated`` is true at a station by offsets, where only highs and lows are published; ``warnings`` are sentences
    about constituents left out.
    """

    def __init__(
        self, station: Station, from_utc: datetime, to_utc: datetime, trace: Trace, extremes: list[Extreme]
    ) -> None:
        self.from_utc = from_utc
        self.to_utc = to_utc
        self.chart_datum = station.chart_datum
        self.is_estimated = station.offsets is not None
        self.warnings = left_out(station)
        self.left_out_m = left_out_m(station)
        self._trace = trace
        self._extremes = extremes
        self._crossings: dict[float, tuple[np.ndarray, np.ndarray]] = {}

    @classmethod
    def for_station(cls, station: Station, from_utc: datetime, to_utc: datetime) -> Curve:
        """
        Build the curve of a span.

        Raises:
            BadSpan: the span is empty, longer than ten years, or outside the years that can be predicted.
        """
        spans = spanned_years(from_utc, to_utc)
        parts = [trace_of_year(yearly_numbers(station.harmonic, year), start, end) for year, start, end in spans]
        trace, points = with_turning_points(joined(parts))
        if station.offsets is None:
            kept = listed(points)
        else:
            trace, points = warped(trace, points, station.offsets)
            kept = np.arange(len(points.t_s))
        inside = (points.t_s[kept] >= from_utc.timestamp()) & (points.t_s[kept] <= to_utc.timestamp())
        extremes = [
            Extreme(_instant(points.t_s[i]), float(points.level_m[i]), "high" if points.is_high[i] else "low")
            for i in kept[inside]
        ]
        return cls(station, from_utc, to_utc, trace, extremes)

    def level_at(self, at_utc: datetime) -> float:
        """
        The level at one instant, metres above chart datum.

        Raises:
            OutsideCurve: the instant lies outside the curve's span.
        """
        if not self.from_utc <= at_utc <= self.to_utc:
            raise OutsideCurve(self._outside(at_utc.isoformat()))
        return float(levels_in(self._trace, np.array([at_utc.timestamp()]))[0])

    def levels_at(self, at_utc: np.ndarray) -> np.ndarray:
        """
        Levels at many instants.

        Args:
            at_utc: Times, any shape, datetime64, UTC, in any order.

        Returns:
            Levels of the same shape, metres above chart datum.

        Raises:
            OutsideCurve: a time lies outside the curve's span.
        """
        return self.levels_at_s(at_utc.astype("datetime64[ms]").astype(np.int64) / 1000)

    def levels_at_s(self, t_s: np.ndarray) -> np.ndarray:
        """Levels at many instants in seconds since 1970 UTC, as `levels_at`."""
        if t_s.size and (t_s.min() < self.from_utc.timestamp() or t_s.max() > self.to_utc.timestamp()):
            first, last = (datetime.fromtimestamp(float(at), UTC) for at in (t_s.min(), t_s.max()))
            raise OutsideCurve(self._outside(f"{first:%Y-%m-%dT%H:%M:%S} to {last:%Y-%m-%dT%H:%M:%S}"))
        return levels_in(self._trace, t_s)

    def extremes(self) -> list[Extreme]:
        """Highs and lows of the span, both ends included, in time order, by the list rule."""
        return list(self._extremes)

    def crossings(
        self, level_m: float, from_utc: datetime | None = None, to_utc: datetime | None = None
    ) -> list[Crossing]:
        """Every instant from one time to another (default: the span) at which the level passes ``level_m``."""
        t_s, is_rising = self.crossing_times(level_m)
        start = np.searchsorted(t_s, (from_utc or self.from_utc).timestamp(), side="left")
        end = np.searchsorted(t_s, (to_utc or self.to_utc).timestamp(), side="right")
        return [Crossing(_instant(t_s[i]), bool(is_rising[i])) for i in range(start, end)]

    def crossing_times(self, level_m: float) -> tuple[np.ndarray, np.ndarray]:
        """The span's crossings of a level as arrays: seconds since 1970 UTC, and whether the level rises there."""
        if level_m not in self._crossings:
            t_s, is_rising = crossings_in(self._trace, level_m)
            t_s = np.round(t_s, 3)
            inside = (t_s >= self.from_utc.timestamp()) & (t_s <= self.to_utc.timestamp())
            self._crossings[level_m] = t_s[inside], is_rising[inside]
        return self._crossings[level_m]

    def _outside(self, asked: str) -> str:
        return f"The tide curve runs from {self.from_utc.isoformat()} to {self.to_utc.isoformat()}; asked for {asked}."


def _instant(t_s: float) -> datetime:
    return datetime.fromtimestamp(round(float(t_s), 3), UTC)
