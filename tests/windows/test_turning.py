"""There is one time to turn back from a low, never later than any reason for it; and the way in is dry and lit."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import icalendar
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.commands.windows import site_windows
from fieldlog.pack.windows_columns import windows_columns
from fieldlog.stations import find
from fieldlog.store import Programme
from fieldlog.windows.access import Window
from fieldlog.windows.beds import ground_of
from fieldlog.windows.calendar import calendar_feed, events_of
from fieldlog.windows.rules import Closure, SiteRules
from fieldlog.windows.season import Season, season
from fieldlog.windows.turning import leaves_home_at

MINUTE = timedelta(minutes=1)
PLACES = [
    ("noaa/8443970", 42.35, -71.05, "America/New_York"),
    ("noaa/9447130", 47.6, -122.3, "America/Los_Angeles"),
    ("noaa/8729840", 30.4, -87.2, "America/Chicago"),
    ("noaa/8518974", 42.25, -73.8, "Australia/Lord_Howe"),
    ("noaa/8443970", 70.1, 25.6, "Europe/Oslo"),
]
NESTING = Closure("Tern nesting", date(2026, 4, 15), date(2026, 7, 31), every_year=True, stops=True)
START = datetime(2026, 1, 1, tzinfo=UTC)

SITES = st.builds(
    lambda place, work, higher, allowance, walk, muster, latest, least, travel, closed: (
        place[0],
        SiteRules(
            "s", place[3], place[1], place[2], work, work + higher, allowance, walk, muster, latest, least, (NESTING,) if closed else (), travel
        ),
    ),
    st.sampled_from(PLACES), st.floats(-0.2, 1.5), st.floats(-0.5, 0.8), st.sampled_from([0.0, 0.2, 0.35]), st.floats(0, 45), st.floats(0, 30),
    st.none() | st.floats(0, 200), st.integers(0, 60), st.floats(0, 120), st.booleans(),
)  # fmt: skip


def light_ends(span: Season, at: datetime) -> datetime | None:
    """When the light ends in which a moment lies."""
    seconds = at.timestamp()
    found = next((one.ends_s for one in span.light if one.starts_s <= seconds < one.ends_s), None)
    return None if found is None else datetime.fromtimestamp(found, UTC)


@settings(max_examples=80, deadline=None)
@given(site=SITES, day=st.integers(0, 364), higher_m=st.floats(-0.4, 0.6))
def test_nobody_is_told_a_time_after_closing_the_path_the_minutes_or_the_light(site: tuple[str, SiteRules], day: int, higher_m: float) -> None:
    station_id, rules = site
    start = START + timedelta(days=day)
    span = season(find(station_id), rules, start, start + timedelta(days=6))
    columns = span.exposures([rules.work_level_m])
    walk = timedelta(seconds=rules.walk_s)
    rows = {w.low_at: w for w in span.windows(rules.work_level_m + higher_m)}
    for n, window in enumerate(span.windows()):
        assert window.low_level_m == round(window.low_level_m, 3), "whole millimeters, as a pack carries them"
        back = window.turn_back_at
        if back is None:
            assert not window.safe and (window.opens_at, window.closes_at) == (None, None)
            continue
        assert window.turn_back_reason and back.second == back.microsecond == 0
        assert window.closes_at is None or back <= window.closes_at
        if rules.latest_after_low_min is not None:
            assert back <= window.low_at + timedelta(minutes=rules.latest_after_low_min)
        floods_s = columns.floods_s[n]
        if not math.isnan(floods_s):
            assert back + walk + timedelta(seconds=rules.muster_s) <= datetime.fromtimestamp(floods_s, UTC)
        row = rows[window.low_at]
        assert row.turn_back_at is None or row.turn_back_at == back or (row.turn_back_at < back and row.turn_back_word == "light")
        if row.usable_from is not None and row.turn_back_at is not None:
            lit_until = light_ends(span, row.usable_from)
            assert lit_until is not None and row.turn_back_at + walk <= lit_until, "a row above the work area is left in the light too"
        assert row.leave_row_at is None or row.closes_at is None or row.leave_row_at <= min(row.closes_at, back)
        if window.usable_from is None or window.usable_until is None:
            continue
        assert back == window.usable_until
        ends = light_ends(span, window.usable_from)
        assert ends is not None and back + walk <= ends
        walk_out_at = window.usable_from - timedelta(seconds=rules.out_s)
        assert light_ends(span, walk_out_at) == ends, "the walk out begins in the light"
        assert window.route_dries_at is None or walk_out_at >= window.route_dries_at, "and on dry ground"
        assert leaves_home_at(window.usable_from, rules) + timedelta(minutes=rules.travel_min) <= walk_out_at
        assert not (closure := rules.closure_on(back + walk - timedelta(seconds=1))) or not closure.stops or not window.safe
        assert not (closure := rules.closure_on(walk_out_at)) or not closure.stops or not window.safe, "nor is anyone on a path still closed"


def test_a_row_above_the_work_area_is_left_in_the_light_of_a_low_that_is_dark_for_the_rest() -> None:
    rules = SiteRules("s", "America/New_York", 42.35, -71.05, 0.3, 1.8, 0.2, 15, 10, None, 45, (), 60)
    span = season(find("noaa/8443970"), rules, datetime(2026, 11, 10, tzinfo=UTC), datetime(2026, 11, 11, tzinfo=UTC))
    window = next(one for one in span.windows(1.4) if one.safe and one.turn_back_word == "light")
    assert (window.turn_back_at, window.turn_back_word) == (window.usable_until, "light")
    site = next(one for one in span.windows() if one.low_at == window.low_at)
    assert not site.safe and site.turn_back_at is not None and site.turn_back_at > window.turn_back_at


@pytest.fixture
def demo_year(demo_programme: Programme) -> tuple[SiteRules, list[Window]]:
    site = next(iter(demo_programme.db().query("SELECT * FROM site")))
    ground = ground_of(demo_programme.db(), site)
    start = datetime(2026, 11, 25, tzinfo=UTC)
    return ground.rules, [one for one in season(ground.station, ground.rules, start, start + timedelta(days=365)).windows() if one.safe]


def test_in_the_demos_year_no_low_is_told_a_time_after_its_own_end(demo_year: tuple[SiteRules, list[Window]]) -> None:
    """Told by the path alone it was later on 158 of 290 lows, by 110 min at worst."""
    _, windows = demo_year
    assert len(windows) > 250
    assert [one.low_at for one in windows if one.turn_back_at != one.usable_until] == []
    assert {"light", "work"} <= {one.turn_back_word for one in windows}


def test_on_the_28th_of_december_the_light_turns_people_back(demo_year: tuple[SiteRules, list[Window]]) -> None:
    rules, windows = demo_year
    (window,) = [one for one in windows if one.low_at.date() == date(2026, 12, 28)]
    assert window.turn_back_at is not None
    assert f"{window.turn_back_at - 5 * 60 * MINUTE:%H:%M}" == "17:36"
    assert window.turn_back_reason == f"last light is 17:54, and the walk in takes up to {rules.walk_s // 60} min"


def test_calendar_rows_and_pack_tell_the_windows_one_time(demo_programme: Programme, demo_year: tuple[SiteRules, list[Window]]) -> None:
    rules, windows = demo_year
    site = next(iter(demo_programme.db().query("SELECT * FROM site")))
    rows, _ = site_windows(demo_programme.db(), site, date(2026, 11, 26), 60, rows=True)
    of_site = {row["low_at"]: row["turn_back_at"] for row in rows if row["row"] is None}
    of_rows = [row for row in rows if row["row"] and row["turn_back_at"] and of_site[row["low_at"]]]
    assert len(of_rows) > 200
    apart = [row for row in of_rows if row["turn_back_at"] != of_site[row["low_at"]]]
    assert all(row["turn_back_at"] < of_site[row["low_at"]] and row["turn_back_reason"].startswith("last light is") for row in apart)
    assert len(apart) == 4, "rows above the work area, on lows whose work area is open in the dark alone"
    columns = windows_columns(date(2026, 11, 25), {"site": windows})["levels"]["site"]
    assert columns["back"] == columns["until"] and len(columns["why"]) == len(windows)
    events = [replace(event, changed_at=START) for event in events_of("Alder Spit", "Savannah", rules, windows)]
    for event, window in zip(icalendar.Calendar.from_ical(calendar_feed("Alder Spit", events)).walk("VEVENT"), windows, strict=True):
        assert event.decoded("DTEND") == window.turn_back_at
        local = event.decoded("DTEND").astimezone(ZoneInfo(rules.zone))
        assert f"turn back by {local:%H:%M}" in str(event["SUMMARY"])
        assert f"Turn back by {local:%H:%M}: {window.turn_back_reason}." in str(event["DESCRIPTION"])
        assert "Closes" not in str(event["DESCRIPTION"])


def test_where_the_path_lies_lower_than_the_work_nobody_sets_out_over_water(demo_programme: Programme) -> None:
    """A path at 0.30 m: 138 of 141 windows began with it under water, by 27 min in the median."""
    site = next(iter(demo_programme.db().query("SELECT * FROM site")))
    ground = ground_of(demo_programme.db(), site)
    rules = replace(ground.rules, route_low_level_m=0.30)
    start = datetime(2026, 11, 25, tzinfo=UTC)
    span = season(ground.station, rules, start, start + timedelta(days=365))
    windows = [one for one in span.windows() if one.usable_from]
    assert len(windows) > 50
    for window in windows:
        assert window.usable_from and window.route_dries_at
        arrives_at = leaves_home_at(window.usable_from, rules) + timedelta(minutes=rules.travel_min)
        assert window.route_dries_at <= arrives_at + MINUTE
        assert span.curve.level_at(window.usable_from - timedelta(seconds=rules.out_s)) + rules.allowance_m <= rules.route_low_level_m + 0.001


def test_after_a_closure_nobody_is_on_the_path_before_it_is_over() -> None:
    """Where the nights are light: the closure's last midnight fell into 12 min of walking out, and its first into none of walking in."""
    station_id, lat, lon, zone = PLACES[4]
    moved = 0
    for day in range(1, 29):
        first_open = date(2026, 6, day)
        closure = Closure("Tern nesting", date(2026, 4, 15), first_open - timedelta(days=1), every_year=False, stops=True)
        rules = SiteRules("s", zone, lat, lon, 1.0, 1.3, 0.2, 12, 10, None, 15, (closure,), 60)
        midnight = datetime.combine(first_open, time(), ZoneInfo(zone)).astimezone(UTC)
        for window in season(find(station_id), rules, midnight, midnight + timedelta(days=1)).windows():
            if window.usable_from is None or not window.safe:
                continue
            walk_out_at = window.usable_from - timedelta(seconds=rules.out_s)
            assert walk_out_at >= midnight, (first_open, window)
            assert leaves_home_at(window.usable_from, rules) >= midnight - timedelta(minutes=rules.travel_min)
            moved += walk_out_at == midnight
    assert moved >= 3
