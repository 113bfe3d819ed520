"""
Highs, lows and hourly levels against what NOAA itself publishes: every event found, none extra.

tests/data/tides/noaa_*.json: published tide predictions of the National Oceanic and Atmospheric Administration (US
Government work, public domain), 30 days a station; each file says where its values were seen. NOAA prints whole minutes.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from fieldlog.stations import find
from fieldlog.tides.curve import Curve
from fieldlog.tides.predict import predict_levels, tide_extremes

PUBLISHED = {
    told["station"]: told
    for file in sorted((Path(__file__).parents[1] / "data" / "tides").glob("noaa_[0-9]*.json"))
    for told in [json.loads(file.read_text("utf-8"))]
}
MOST_MINUTES = 1.2
MOST_CM = 1.0
MOST_CM_OF = {"9455920": 1.5}
"""Anchorage: nine metres of range and 120 constituents."""

TWO_HOURS = timedelta(hours=2)


def span(told: dict) -> tuple[datetime, datetime]:
    first, last = (datetime.strptime(day, "%Y%m%d").replace(tzinfo=UTC) for day in told["window_utc"])
    return first, last + timedelta(days=1)


def test_seven_stations_and_760_events_are_here() -> None:
    assert len(PUBLISHED) == 7
    assert sum(len(told["extremes"]) for told in PUBLISHED.values()) == 760


@pytest.mark.parametrize("number", PUBLISHED, ids=lambda number: PUBLISHED[number]["name"])
def test_every_published_high_and_low_is_found_and_no_other(number: str) -> None:
    told = PUBLISHED[number]
    first, end = span(told)
    found = tide_extremes(find(f"noaa/{number}"), first - TWO_HOURS, end + TWO_HOURS)
    inside = [one for one in found if first - timedelta(minutes=2) <= one.at_utc < end + timedelta(minutes=2)]
    published = [(first + timedelta(minutes=minute), mm / 1000, "high" if is_high else "low") for minute, mm, is_high in told["extremes"]]
    # An event within two minutes of midnight may be listed on either day.
    edge = timedelta(minutes=2)
    inside = [one for one in inside if (published[0][0] - edge <= one.at_utc <= published[-1][0] + edge)]
    assert [one.kind for one in inside] == [kind for _, _, kind in published]
    minutes = [abs((one.at_utc - at).total_seconds()) / 60 for one, (at, _, _) in zip(inside, published, strict=True)]
    cm = [abs(one.level_m - level_m) * 100 for one, (_, level_m, _) in zip(inside, published, strict=True)]
    assert max(minutes) <= MOST_MINUTES
    assert max(cm) <= MOST_CM_OF.get(number, MOST_CM)


HOURLY = [number for number, told in PUBLISHED.items() if "hourly_mm_from_first_day_00utc" in told]


@pytest.mark.parametrize("number", HOURLY, ids=lambda number: PUBLISHED[number]["name"])
def test_every_published_hourly_level_is_met(number: str) -> None:
    told = PUBLISHED[number]
    first, _ = span(told)
    published_m = np.array(told["hourly_mm_from_first_day_00utc"]) / 1000
    at = np.datetime64(first.replace(tzinfo=None), "ms") + np.arange(len(published_m)) * np.timedelta64(1, "h")
    plain_m = predict_levels(find(f"noaa/{number}"), at)
    assert np.abs(plain_m - published_m).max() * 100 <= MOST_CM_OF.get(number, MOST_CM)
    curve = Curve.for_station(find(f"noaa/{number}"), first, first + timedelta(hours=len(published_m)))
    assert np.abs(curve.levels_at(at) - plain_m).max() * 1000 <= 1.0, "the curve is the plain sum to a millimetre"


@pytest.mark.parametrize("number", ["8518974", "9450055"], ids=["by ratio", "by metres"])
def test_a_station_by_offsets_has_its_own_highs_and_lows_on_its_curve(number: str) -> None:
    station = find(f"noaa/{number}")
    assert station.offsets is not None
    first, end = span(PUBLISHED[number])
    curve = Curve.for_station(station, first, end)
    for one in curve.extremes():
        assert curve.level_at(one.at_utc) == pytest.approx(one.level_m, abs=0.002)


def test_the_prediction_steps_at_new_year_as_the_published_tables_do() -> None:
    """Each year has its own constants; smoothing across the edge would leave the published values on both sides."""
    eastport = find("noaa/8410140")
    at = np.array(["2025-12-31T23:59:59", "2026-01-01T00:00:00"], dtype="datetime64[ms]")
    before, after = predict_levels(eastport, at)
    assert 0.0005 < abs(after - before) < 0.10
