"""
Writes tests/vectors/tides_curve.json: phone numbers of five stations, and what both engines must make of them.

    python tests/tides/make_curve_vectors.py

At a harmonic station the expected levels are plain cosine sums of the unrounded constants, a way of
calculation that neither engine's curve takes. Run it again only where the rules themselves change.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from fieldlog.stations import find
from fieldlog.tides.curve import Curve
from fieldlog.tides.phone import phone_numbers
from fieldlog.tides.predict import predict_levels

TARGET = Path(__file__).parents[1] / "vectors" / "tides_curve.json"
NEW_YEAR = datetime(2026, 12, 22, tzinfo=UTC)
SUMMER = datetime(2026, 6, 1, tzinfo=UTC)
CASES = (
    ("noaa/8410140", NEW_YEAR),
    ("noaa/8729840", NEW_YEAR),
    ("noaa/9455920", NEW_YEAR),
    ("noaa/8518974", NEW_YEAR),
    ("noaa/9450055", SUMMER),
    ("ticon/masirah-113-omn-uhslc_fd", SUMMER),
)
SPAN = timedelta(days=20)
STEP_MS = 2_740_000


def case(station_id: str, from_utc: datetime) -> dict:
    """One station's numbers with levels, highs and lows, and crossings of two levels."""
    station, to_utc = find(station_id), from_utc + SPAN
    curve = Curve.for_station(station, from_utc, to_utc)
    at_ms = np.arange(_ms(from_utc), _ms(to_utc), STEP_MS)
    levels = predict_levels(station, at_ms.astype("datetime64[ms]"))
    crossed = [round(float(np.quantile(levels, share)), 3) for share in (0.1, 0.6)]
    return {
        "numbers": phone_numbers(station, from_utc, to_utc),
        "step_ms": STEP_MS,
        "levels_m": levels.round(5).tolist(),
        "extremes": [[_ms(one.at_utc), round(one.level_m, 5), one.kind] for one in curve.extremes()],
        "crossings": [
            {"level_m": level_m, "at": [[_ms(one.at_utc), one.is_rising] for one in curve.crossings(level_m)]}
            for level_m in crossed
        ],
    }


def _ms(at_utc: datetime) -> int:
    return round(at_utc.timestamp() * 1000)


def written() -> str:
    """The file's text."""
    cases = ",\n".join(json.dumps(case(*one), separators=(",", ":"), ensure_ascii=False) for one in CASES)
    about = "Made by tests/tides/make_curve_vectors.py: levels from plain cosine sums (harmonic stations), the rest from Curve."
    return f'{{"about":{json.dumps(about)},"cases":[\n{cases}\n]}}\n'


if __name__ == "__main__":
    TARGET.write_text(written(), encoding="utf-8")
