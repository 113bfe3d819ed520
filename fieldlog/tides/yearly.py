"""
A station's numbers for one calendar year: the convention of the published tables.

V0 is taken at 0 h UTC on 1 January, f and u once, at the middle of the year, and the speed is constant inside it. So
the prediction steps at New Year, by up to about a decimetre; the published tables step there too.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np

from fieldlog.errors import BadSpan
from fieldlog.rounding import rounded
from fieldlog.tides.astronomy import equilibrium, longitudes_deg, node_factors, orbit_at, speed_deg_per_h
from fieldlog.tides.constituents import NOT_VERIFIED, known_name
from fieldlog.tides.station import Station

# The list rule reads events in pairs: the scan starts well before the span, so that it never depends on where that is.
_CONTEXT = timedelta(days=4)

# SP98's longitudes are series about 1900, and its tables stop before 2100; the length keeps one answer's memory small.
_FIRST_YEAR, _LAST_YEAR = 1900, 2100
_LONGEST = timedelta(days=366 * 10)


@dataclass(frozen=True, eq=False)
class YearNumbers:
    """
    What a year's curve is summed from: mean + sum of amplitude x cos(speed x hours since the start + phase).

    ``amplitude_m`` is f x H, ``phase_deg`` is V0 + u - G in 0 to 360; all three arrays have shape (len(names),).
    ``mean_level_m`` is mean sea level above the station's chart datum.
    """

    year: int
    start_utc: datetime
    mean_level_m: float
    amplitude_m: np.ndarray
    speed_deg_per_h: np.ndarray
    phase_deg: np.ndarray
    names: tuple[str, ...]


@cache
def _equilibrium_of_year(year: int) -> tuple[np.ndarray, dict[str, tuple[float, float]]]:
    start, end = datetime(year, 1, 1, tzinfo=UTC), datetime(year + 1, 1, 1, tzinfo=UTC)
    return longitudes_deg(start), node_factors(orbit_at(start + (end - start) / 2))


def spanned_years(from_utc: datetime, to_utc: datetime) -> list[tuple[int, datetime, datetime]]:
    """
    A span with four days more at each end, cut at each New Year, 0 h UTC: (year, from, to) in time order.

    Raises:
        BadSpan: the span is empty, longer than ten years, or not within 1901 to 2099.
    """
    if to_utc <= from_utc:
        raise BadSpan(f"{to_utc.isoformat()} is not after {from_utc.isoformat()}: give the earlier time first.")
    if from_utc.year <= _FIRST_YEAR or to_utc.year >= _LAST_YEAR:
        raise BadSpan(f"Tides are predicted for years after {_FIRST_YEAR} and before {_LAST_YEAR} only.")
    if to_utc - from_utc > _LONGEST:
        raise BadSpan("A tide curve spans at most ten years: ask for less time.")
    start, last = (from_utc - _CONTEXT).astimezone(UTC), (to_utc + _CONTEXT).astimezone(UTC)
    spans = []
    while start < last:
        end = min(datetime(start.year + 1, 1, 1, tzinfo=UTC), last)
        spans.append((start.year, start, end))
        start = end
    return spans


def yearly_numbers(station: Station, year: int) -> YearNumbers:
    """A harmonic station's numbers for one UTC year; constituents that left_out names are not in it."""
    longitudes, factors = _equilibrium_of_year(year)
    names, amplitude_m, speed, phase_deg = [], [], [], []
    for given, height_m, lag_deg in station.constituents:
        name = known_name(given)
        if name is None or name in NOT_VERIFIED:
            continue
        f, argument_deg = equilibrium(name, longitudes, factors)
        names.append(name)
        amplitude_m.append(f * height_m)
        speed.append(speed_deg_per_h(name))
        phase_deg.append((argument_deg - lag_deg) % 360)
    return YearNumbers(
        year=year,
        start_utc=datetime(year, 1, 1, tzinfo=UTC),
        mean_level_m=mean_level_m(station),
        amplitude_m=np.array(amplitude_m, dtype=float),
        speed_deg_per_h=np.array(speed, dtype=float),
        phase_deg=np.array(phase_deg, dtype=float),
        names=tuple(names),
    )


def argument_at(name: str, at_utc: datetime) -> tuple[float, float]:
    """f and V + u (degrees, 0 to 360) of a verified constituent at an instant, by the numbers of its UTC year."""
    start = datetime(at_utc.year, 1, 1, tzinfo=UTC)
    f, argument_deg = equilibrium(name, *_equilibrium_of_year(at_utc.year))
    return f, (argument_deg + speed_deg_per_h(name) * (at_utc - start).total_seconds() / 3600) % 360


def mean_level_m(station: Station) -> float:
    """Mean sea level above the station's chart datum; zero where levels are given above mean sea level."""
    if station.chart_datum == "MSL":
        return 0.0
    return station.datums_m["MSL"] - station.datums_m[station.chart_datum]


def has_season(station: Station) -> bool:
    """Whether a station's constants have the yearly wave of the sea level."""
    return any(known_name(given) == "SA" and height_m > 0 for given, height_m, _ in station.harmonic.constituents)


def left_out(station: Station) -> tuple[str, ...]:
    """A sentence for each group of constituents that a prediction at this station leaves out."""
    harmonic, sentences = station.harmonic, []
    for given, height_m, _ in harmonic.constituents:
        if known_name(given) is None:
            sentences.append(
                f"Constituent {given!r} ({rounded(height_m * 100, 1)} cm) of {harmonic.name} is not known here: "
                "it is left out, so levels may be wrong by as much."
            )
    doubtful = [(name, height_m) for name, height_m, _ in harmonic.constituents if known_name(name) in NOT_VERIFIED]
    if doubtful:
        names, heights_m = zip(*doubtful, strict=True)
        sentences.append(
            f"{', '.join(names)} ({rounded(sum(heights_m) * 100, 1)} cm together) of {harmonic.name} could not be verified "
            "against a published table and are left out."
        )
    return tuple(sentences)


def left_out_m(station: Station) -> float:
    """What the constituents that a prediction at this station leaves out make together at most, metres; nodal factors aside."""
    at_offsets = 1.0 if station.offsets is None else max(station.offsets.times_high, station.offsets.times_low)
    left = [height_m for given, height_m, _ in station.harmonic.constituents if known_name(given) is None or known_name(given) in NOT_VERIFIED]
    return at_offsets * sum(left)
