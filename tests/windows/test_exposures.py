"""Columns of many levels say what the plain rule says of one low after another, on real tides of every kind."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.stations import find
from fieldlog.tides.station import Station
from fieldlog.windows.exposures import LIGHTS
from fieldlog.windows.rules import Closure, SiteRules
from fieldlog.windows.season import Season, season
from fieldlog.windows.turning import BACK_WORDS
from windows.plain_rule import plain_windows

START = datetime(2026, 3, 20, tzinfo=UTC)
PLACES = {
    "semidiurnal": ("noaa/8443970", 42.35, -71.05, "America/New_York"),
    "mixed": ("noaa/9447130", 47.6, -122.3, "America/Los_Angeles"),
    "diurnal": ("noaa/8729840", 30.4, -87.2, "America/Chicago"),
    "by offsets": ("noaa/8518974", 42.25, -73.8, "America/New_York"),
    "polar": ("noaa/8443970", 78.2, 15.6, "Arctic/Longyearbyen"),
}
NESTING = Closure("Tern nesting", date(2026, 4, 15), date(2026, 7, 31), every_year=True, stops=True)


def rules(place: str, **said: object) -> SiteRules:
    _, lat, lon, zone = PLACES[place]
    usual = {
        "site_id": "s", "zone": zone, "lat_deg": lat, "lon_deg": lon, "work_level_m": 0.5, "route_low_level_m": 0.8, "allowance_m": 0.2,
        "walk_out_min": 12, "muster_min": 10, "latest_after_low_min": None, "least_usable_min": 45, "closures": (NESTING,),
    }  # fmt: skip
    return SiteRules(**{**usual, **said})


def assert_same(span: Season, beds: list[float]) -> None:
    """The columns, and the windows made from them, are the plain rule's."""
    columns = span.exposures(beds)
    for row, bed in enumerate(beds):
        plain = plain_windows(span.curve, span.rules, span.light, span.start, span.end, bed)
        assert [one.low_s for one in plain] == columns.low_s.tolist()
        assert [one.safe for one in plain] == columns.safe[row].tolist()
        assert [one.usable_min for one in plain] == columns.usable_min[row].tolist()
        assert [one.daylight for one in plain] == [LIGHTS[place] for place in columns.light[row]]
        assert [one.back_word for one in plain] == [None if place < 0 else BACK_WORDS[place] for place in columns.back_word[row]]
        for name in ("opens_s", "closes_s", "back_s", "leave_s", "from_s", "until_s"):
            theirs = [None if np.isnan(at) else at for at in getattr(columns, name)[row]]
            assert [getattr(one, name) for one in plain] == theirs, (name, bed)
        windows = span.windows(bed)
        assert [w.safe for w in windows] == columns.safe[row].tolist()
        for name, column in (("opens_at", columns.opens_s), ("turn_back_at", columns.back_s), ("leave_row_at", columns.leave_s), ("usable_until", columns.until_s)):
            assert [at and at.timestamp() for at in (getattr(w, name) for w in windows)] == [None if np.isnan(at) else at for at in column[row]]


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("said", [
    {}, {"latest_after_low_min": 40, "least_usable_min": 0}, pytest.param({"route_low_level_m": 1.6, "closures": ()}, marks=pytest.mark.long),
    pytest.param({"work_level_m": 5, "route_low_level_m": 6}, marks=pytest.mark.long),
])  # fmt: skip
def test_columns_are_the_windows_of_each_level(place: str, said: dict) -> None:
    span = season(find(PLACES[place][0]), rules(place, **said), START, START + timedelta(days=60))
    assert_same(span, [-0.3, 0.1, 0.2, 0.35, 0.5, 0.9, 2.0, 6.0])


@settings(max_examples=60, deadline=None)
@given(
    place=st.sampled_from(list(PLACES)), day=st.integers(0, 360), bed=st.floats(-1, 4), route=st.floats(-0.5, 5),
    allowance=st.sampled_from([0.0, 0.2, 0.6]), walk=st.integers(0, 60), muster=st.integers(0, 40), least=st.integers(0, 200),
    latest=st.none() | st.integers(0, 300),
)  # fmt: skip
def test_columns_are_the_windows_whatever_the_rules(
    place: str, day: int, bed: float, route: float, allowance: float, walk: int, muster: int, least: int, latest: int | None
) -> None:
    asked = rules(
        place, route_low_level_m=route, allowance_m=allowance, walk_out_min=walk, muster_min=muster, least_usable_min=least,
        latest_after_low_min=latest,
    )  # fmt: skip
    start = START + timedelta(days=day)
    assert_same(season(find(PLACES[place][0]), asked, start, start + timedelta(days=8)), [bed])


# Two lows a tide, four hours apart, with a hump of a quarter of a metre between them: an invented M2 with half as much M4.
TWICE_LOW = Station(
    station_id="made-up", name="Skein Bay", lat_deg=41.2, lon_deg=-72.5, kind="harmonic", source="invented", chart_datum="MLLW",
    datums_m={"MLLW": 0.0, "MSL": 1.0}, constituents=(("M2", 1.0, 100.0), ("M4", 0.5, 200.0)), offsets=None, reference=None, licence="", attribution="",
)  # fmt: skip


@pytest.mark.parametrize("route_m", [0.45, 0.6, 0.75, 0.9, 2.0])
def test_columns_are_the_windows_where_the_water_is_low_twice_a_tide(route_m: float) -> None:
    asked = rules("mixed", route_low_level_m=route_m, allowance_m=0.0, closures=())
    span = season(TWICE_LOW, asked, START, START + timedelta(days=6))
    lows = span.exposures([0.5]).low_s
    assert (np.diff(lows) < 8 * 3600).sum() >= 10
    assert_same(span, [0.2, 0.3, 0.4, 0.5, 0.6, 0.75, 1.0])
    joined = [window for window in span.windows(0.75) if {one.word for one in window.cautions} & {"same-window"}]
    assert bool(joined) is (route_m > 0.55), "lows are one window only where the hump leaves the way dry"
