"""What a phone needs to draw a station's curve by itself: a few numbers a UTC year, and no astronomy."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from fieldlog.tides.station import Offsets, Station
from fieldlog.tides.yearly import YearNumbers, left_out, left_out_m, spanned_years, yearly_numbers


def phone_numbers(station: Station, from_utc: datetime, to_utc: datetime) -> dict[str, Any]:
    """
    A JSON-able document from which static/tides/predict.js gets the same curve as Curve, to 1 mm.

    Holds the yearly numbers of the station or, by offsets, of its reference, for every UTC year that the span touches
    with the days before and after it that the list rule looks at; and the offsets. Rounded: amplitudes to 0.01 mm,
    phases to 0.001 degree, speeds to 1e-7 degrees an hour (test_predict_js).

    Raises:
        BadSpan: the span is empty or outside the years that can be predicted.
    """
    return {
        "station": {
            "id": station.station_id,
            "name": station.name,
            "chart_datum": station.chart_datum,
            "kind": station.kind,
            "source": station.source,
            "licence": station.licence,
            "attribution": station.attribution,
        },
        "is_estimated": station.offsets is not None,
        "warnings": list(left_out(station)),
        "left_out_m": round(left_out_m(station), 3),
        "from_ms": round(from_utc.timestamp() * 1000),
        "to_ms": round(to_utc.timestamp() * 1000),
        "numbers": [_rounded(yearly_numbers(station.harmonic, year)) for year, _, _ in spanned_years(from_utc, to_utc)],
        "offsets": None if station.offsets is None else _by_kind(station.offsets),
    }


def _rounded(numbers: YearNumbers) -> dict[str, Any]:
    return {
        "year": numbers.year,
        "start_ms": round(numbers.start_utc.timestamp() * 1000),
        "mean_level_m": round(numbers.mean_level_m, 5),
        "amplitude_m": numbers.amplitude_m.round(5).tolist(),
        "speed_deg_per_h": numbers.speed_deg_per_h.round(7).tolist(),
        "phase_deg": numbers.phase_deg.round(3).tolist(),
    }


def _by_kind(offsets: Offsets) -> dict[str, dict[str, float]]:
    return {
        "high": {"minutes": offsets.minutes_high, "times": offsets.times_high, "plus_m": offsets.plus_high_m},
        "low": {"minutes": offsets.minutes_low, "times": offsets.times_low, "plus_m": offsets.plus_low_m},
    }
