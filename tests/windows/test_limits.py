"""Windows at the limits of their rules: what a row, a calendar, a rank and a sentence say, worked by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from fieldlog.errors import NotHere
from fieldlog.stations import find
from fieldlog.store import Programme, write
from fieldlog.windows import routes
from fieldlog.windows.access import Window, access_windows, numbers_of
from fieldlog.windows.calendar import Event, calendar_feed, escaped, events_of, folded
from fieldlog.windows.calendar_cancelled import Cancelling
from fieldlog.windows.calendar_events import in_place
from fieldlog.windows.cautions import Caution, caution
from fieldlog.windows.daylight import Day, Light, light_of, sun_columns
from fieldlog.windows.levels import zeros
from fieldlog.windows.ranking import ranked
from fieldlog.windows.routes import feed_of
from fieldlog.windows.rows import no_window_sentence, window_row
from fieldlog.windows.rules import SiteRules, site_rules
from fieldlog.windows.season import season
from fieldlog.windows.turning import leaves_home_at
from tests.windows.test_ranking import RULES, window
from tests.windows.test_site_rules import SITE
from windows.drawn_tides import CosineTide

LOW = datetime(2026, 12, 3, 15, 30, 5, tzinfo=UTC)
NOW = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)


def test_a_row_says_all_of_a_window() -> None:
    told = window_row(
        window(low_level_m=0.123, bed_level_m=0.4, cautions=(Caution("predicted", "A sentence.", False),), turn_back_at=None), "Alder Spit", RULES, "A", "A010",
    )  # fmt: skip
    assert told == {
        "site": "Alder Spit", "row": "A", "unit": "A010", "window_id": "w", "opens_at": "2026-11-28T14:00:00.000Z", "low_at": "2026-11-28T15:00:00.000Z",
        "low_level_m": 0.123, "route_dries_at": None, "leave_home_at": "2026-11-28T12:50:00.000Z", "turn_back_at": None, "turn_back_reason": None, "leave_row_at": None, "closes_at": "2026-11-28T16:00:00.000Z", "usable_from": "2026-11-28T14:00:00.000Z",
        "usable_until": "2026-11-28T16:00:00.000Z", "usable_min": 120, "bed_level_m": 0.4, "daylight": "day", "safe": True,
        "cautions": [{"word": "predicted", "sentence": "A sentence.", "stops": False}],
    }  # fmt: skip


REASONS = {
    "above-work": "above the work level", "route-wet": "with the path under water", "turn-back-first": "with the turn-back time before the work area opens",
    "short": "too short", "dark": "in the dark", "polar-night": "in the polar night", "closed": "on closed days",
    "same-window": "part of another low",
}  # fmt: skip


@pytest.mark.parametrize("word", REASONS)
def test_every_reason_against_a_low_has_its_words(word: str) -> None:
    stopped = window(safe=False, cautions=(Caution("predicted", "", False), Caution(word, "", True), Caution("short", "", True)))
    assert no_window_sentence([stopped], RULES, 9) == f"No usable low in the next 9 days. Of 1 low: 1 {REASONS[word]}."


def test_a_low_at_the_work_level_is_not_below_it_and_the_lowest_is_told_on_the_sites_day() -> None:
    """0.3 m and 0.2 m of allowance are the work level's 0.5 m; 23:30 in New York on the 2nd is the 3rd in UTC."""
    low = window(safe=False, low_level_m=0.3, low_at=datetime(2026, 12, 3, 4, 30, tzinfo=UTC), cautions=(Caution("above-work", "", True),))
    said = no_window_sentence([replace(low, low_level_m=0.9), low], RULES, 30)
    assert said == (
        "No low in the next 30 days falls below the work level 0.50 m (lowest: 0.50 m on Dec 2, with the allowance of 0.20 m). "
        "Are the work level, its datum and the tide station right?"
    )
    assert "Of 1 low:" in (no_window_sentence([replace(low, low_level_m=0.299)], RULES, 30) or "")
    assert "work level 0.10 m" in (no_window_sentence([replace(low, bed_level_m=0.1)], RULES, 30) or "")


@pytest.mark.parametrize(
    ("said", "part", "points"),
    [
        ({"usable_min": 180}, "minutes", 50), ({"usable_min": 400}, "minutes", 50), ({"usable_min": 0}, "minutes", 0), ({"usable_min": 90}, "minutes", 25),
        ({"usable_min": 1}, "minutes", 0), ({"usable_min": 2}, "minutes", 1),  # 0.28 and 0.56 of a point
        ({"low_level_m": -0.2}, "margin", 20), ({"low_level_m": -0.9}, "margin", 20), ({"low_level_m": 0.3}, "margin", 0), ({"low_level_m": 0.4}, "margin", 0),
        ({"bed_level_m": 0.25, "low_level_m": 0.0}, "margin", 2), ({"daylight": "day"}, "daylight", 20), ({"daylight": "partly"}, "daylight", 10),
    ],
)  # fmt: skip
def test_points_are_shares_of_180_minutes_and_half_a_metre(said: dict, part: str, points: int) -> None:
    assert ranked([window(**said)], RULES)[0].points[part] == points


@pytest.mark.parametrize(("day", "weekend"), [(27, False), (28, True), (29, True), (30, False)])
def test_saturday_and_sunday_are_the_weekend(day: int, weekend: bool) -> None:
    one = window(low_at=datetime(2026, 11, day, 15, tzinfo=UTC))
    for wanted, points in (("weekend", 10 if weekend else 0), ("weekday", 0 if weekend else 10), ("any", 10)):
        assert ranked([one], replace(RULES, visit_weekday=wanted))[0].points["weekday"] == points


def test_of_equal_windows_the_earlier_comes_first() -> None:
    later = window(window_id="later", low_at=window().low_at + 7 * 24 * HOUR)
    assert [one.window.window_id for one in ranked([later, window()], RULES)] == ["w", "later"]


def event(uid: str, low_at: datetime, word: str = "as it was") -> Event:
    return Event(uid, low_at, (f"SUMMARY:{word}",))


def fetched(programme: Programme, events: list[Event], site_id: str = "s-1", from_at: datetime = LOW - 24 * HOUR, now: datetime = NOW) -> dict[str, tuple]:
    kept = in_place(programme.db(), site_id, events, Cancelling("Alder Spit", ()), from_at, now)
    return {one.uid: (one.sequence, one.is_cancelled, one.changed_at) for one in kept}


@pytest.mark.parametrize(("later", "is_same"), [(2 * HOUR, True), (-2 * HOUR, True), (2 * HOUR + timedelta(seconds=1), False)])
def test_a_low_moved_by_two_hours_is_the_same_event_and_by_more_another(programme: Programme, later: timedelta, is_same: bool) -> None:
    fetched(programme, [event("first", LOW)])
    after = fetched(programme, [event("second", LOW + later, "moved")], now=NOW + HOUR)
    if is_same:
        assert after == {"first": (1, False, NOW + HOUR)}
    else:
        assert after == {"first": (1, True, NOW + HOUR), "second": (0, False, NOW + HOUR)}


def test_of_two_told_before_the_nearer_low_is_the_same_event(programme: Programme) -> None:
    fetched(programme, [event("far", LOW - 110 * MINUTE), event("near", LOW + 20 * MINUTE)])
    after = fetched(programme, [event("new", LOW)], now=NOW + HOUR)
    assert {uid: cancelled for uid, (_, cancelled, _) in after.items()} == {"near": False, "far": True}


def test_each_site_has_its_own_events(programme: Programme) -> None:
    fetched(programme, [event("one", LOW)], "s-1")
    assert fetched(programme, [event("two", LOW + 9 * HOUR)], "s-2") == {"two": (0, False, NOW)}
    assert fetched(programme, [event("one", LOW)], "s-1", now=NOW + HOUR) == {"one": (0, False, NOW)}


def test_what_lies_before_the_span_is_forgotten_and_its_first_moment_is_kept(programme: Programme) -> None:
    fetched(programme, [event("old", LOW), event("edge", LOW + HOUR)])
    after = fetched(programme, [event("new", LOW + 20 * HOUR)], from_at=LOW + HOUR, now=NOW + HOUR)
    assert after == {"edge": (1, True, NOW + HOUR), "new": (0, False, NOW + HOUR)}
    assert programme.db()["calendar_event"].count == 2
    assert set(fetched(programme, [event("new", LOW + 20 * HOUR)], from_at=LOW - HOUR, now=NOW + HOUR)) == {"edge", "new"}


def test_an_event_at_the_first_moment_of_the_span_is_kept_while_another_changes(programme: Programme) -> None:
    fetched(programme, [event("edge", LOW + HOUR)])
    fetched(programme, [event("edge", LOW + HOUR), event("new", LOW + 20 * HOUR)], from_at=LOW + HOUR, now=NOW + HOUR)
    assert {row["uid"] for row in programme.db().query("SELECT uid FROM calendar_event")} == {"edge", "new"}


def test_devices_that_ask_on_one_day_get_events_predicted_once(demo_programme: Programme, monkeypatch: pytest.MonkeyPatch) -> None:
    db, made = demo_programme.db(), []
    (site,) = db.query("SELECT * FROM site")
    monkeypatch.setattr(routes, "season", lambda *asked: made.append(asked) or season(*asked))
    routes._events.cache_clear()
    told = {feed_of(db, site["record_id"], at).count("BEGIN:VEVENT") for at in (NOW, NOW + MINUTE, NOW + HOUR)}
    assert (len(made), len(told)) == (1, 1)
    feed_of(db, site["record_id"], NOW + 24 * HOUR)
    assert len(made) == 2, "and once more on the next"


def test_a_removed_sites_calendar_says_that_it_is_gone(demo_programme: Programme) -> None:
    db = demo_programme.db()
    (site,) = db.query("SELECT * FROM site")
    assert "BEGIN:VEVENT" in feed_of(db, site["record_id"], NOW)
    with write(db):
        db.execute("UPDATE site SET deleted = 1")
    for gone in (site["record_id"], "no such site"):
        with pytest.raises(NotHere, match="This site was removed"):
            feed_of(db, gone, NOW)


def test_a_cancelled_event_is_told_once_more_and_changes_no_more(programme: Programme) -> None:
    fetched(programme, [event("one", LOW)])
    for turn in (1, 2):
        assert fetched(programme, [], now=NOW + turn * HOUR) == {"one": (1, True, NOW + HOUR)}


def test_events_come_in_the_order_of_their_lows(programme: Programme) -> None:
    assert list(fetched(programme, [event("b", LOW + 30 * HOUR), event("a", LOW), event("c", LOW + 12 * HOUR)])) == ["a", "c", "b"]


@pytest.mark.parametrize(("octets", "pieces"), [(74, 1), (75, 1), (76, 2), (149, 2), (150, 3)])
def test_a_line_is_folded_after_75_octets_and_its_continuations_after_74(octets: int, pieces: int) -> None:
    """RFC 5545, section 3.1: the space that begins a continuation counts."""
    line = folded("x" * octets)
    assert line.endswith("\r\n")
    assert len(line.split("\r\n")) - 1 == pieces
    assert max(map(len, line.split("\r\n"))) <= 75


def test_a_letter_of_two_octets_is_not_cut_at_the_fold() -> None:
    assert folded("x" * 74 + "\u00e9" + "y") == "x" * 74 + "\r\n \u00e9y\r\n"


def test_tabs_stay_and_the_control_characters_beside_them_go() -> None:
    assert escaped("a\tb\x00\x08\x0b\x1fc") == "a\tbc"


def test_a_rows_window_tells_its_own_level_and_the_way_from_home() -> None:
    rules = replace(RULES, travel_min=45, walk_out_min=12)
    row = window(bed_level_m=0.35)
    assert leaves_home_at(row.usable_from, rules) == row.usable_from - 57 * MINUTE
    (made,) = events_of("Alder Spit", "Boston", rules, [row, replace(row, usable_from=None), replace(row, turn_back_at=None), replace(row, safe=False)])
    text = calendar_feed("Alder Spit", [replace(made, changed_at=NOW)]).replace("\r\n ", "")
    assert "work level 0.35 m\\, lowest point of the path 0.80 m." in text
    assert "Leave home by 08:03: 45 min to the shore and 12 min to walk out." in text
    assert "Work from 09:00. Low 10:00. 120 min usable." in text
    halves = replace(rules, travel_min=44.5, walk_out_min=12.4, least_usable_min=45.4)
    (made,) = events_of("Alder Spit", "Boston", halves, [row])
    assert "45 min to the shore and 13 min to walk out." in calendar_feed("Alder Spit", [replace(made, changed_at=NOW)]).replace("\r\n ", "")
    assert caution("short", numbers_of(replace(row, usable_min=45), halves), True).sentence == "Too short: 45 min usable; this site asks for 46 min."
    for line in ("VERSION:2.0", "STATUS:TENTATIVE", "TRANSP:TRANSPARENT", "DTSTART:20261128T140000Z", "DTEND:20261128T160000Z", "SEQUENCE:0", "NAME:Alder Spit low tides"):
        assert f"\r\n{line}\r\n" in text


DAWN, DUSK = datetime(2026, 6, 1, 8, 0, 1, tzinfo=UTC), datetime(2026, 6, 1, 20, 0, 59, tzinfo=UTC)


def day(shift_days: int, light: str = "crosses", **said: object) -> Day:
    by = timedelta(days=shift_days)
    usual = Day(date(2026, 6, 1) + by, datetime(2026, 6, 1, 14, tzinfo=UTC) + by, DAWN + by, DUSK + by, "crosses", 42.35, -71.05)
    return replace(usual, light=light, **said)  # type: ignore[arg-type]


def test_a_day_of_no_light_parts_the_stretches_on_its_sides() -> None:
    bright = {"first_light_at": None, "last_light_at": None}
    assert len(light_of([day(0, "above", **bright), day(1, "below", **bright), day(2, "above", **bright)])) == 2


def test_light_that_meets_at_solar_midnight_is_one_stretch_and_a_minute_of_dark_parts_it() -> None:
    midnight = datetime(2026, 6, 2, 2, 0, tzinfo=UTC)
    met = light_of([day(0, last_light_at=midnight), day(1, first_light_at=midnight)])
    assert [(one.starts_s, one.ends_s) for one in met] == [(DAWN.timestamp(), (DUSK + timedelta(days=1)).timestamp())]
    assert len(light_of([day(0, last_light_at=midnight - timedelta(seconds=1)), day(1, first_light_at=midnight)])) == 2
    assert light_of([day(0, "below")]) == []
    (bright,) = light_of([day(0, "above", first_light_at=None, last_light_at=None)])
    assert (bright.starts_s, bright.ends_s) == (midnight.timestamp() - 86_400, midnight.timestamp())


def test_the_phones_minutes_are_whole_and_turned_towards_less_light() -> None:
    columns = sun_columns([day(0)])
    # Boston, 1 June 2026: rises 05:10, sets 20:15 by the clock there (US Naval Observatory, from memory).
    assert columns == {"from_day": "2026-06-01", "sunrise": [550], "sunset": [1455], "light": [[481, 1200]]}
    assert sun_columns([day(0, lat_deg=78.2)])["sunrise"] == [None], "it does not set at 78 degrees north in June"


def test_the_walk_is_stretched_by_half_and_rounded_up_to_whole_minutes() -> None:
    assert replace(RULES, walk_out_min=10.01).walk_s == 16 * 60
    assert (replace(RULES, walk_out_min=10.01).out_s, replace(RULES, muster_min=9.2).muster_s) == (11 * 60, 10 * 60)
    assert replace(RULES, walk_out_min=0).walk_s == 0


def closure(**said: object) -> dict:
    return {"name": "Terns", "from_day": "2026-04-01", "to_day": "2026-08-15", "every_year": True, "closure": "closed", **said}


def test_a_closure_without_its_days_or_its_meaning_is_left_out_and_one_without_a_name_has_one() -> None:
    told = [closure(), closure(closure="care", every_year=False, name=None), closure(from_day=None), closure(to_day=None), closure(closure=None)]
    terns, unnamed = site_rules(SITE, "MLLW", told).closures
    assert (terns.name, terns.from_day, terns.to_day, terns.every_year, terns.stops) == ("Terns", date(2026, 4, 1), date(2026, 8, 15), True, True)
    assert (unnamed.name, unnamed.every_year, unnamed.stops) == ("a closure", False, False)


def test_a_site_that_says_nothing_of_its_way_and_days_is_an_hour_off_and_goes_on_any() -> None:
    plain = site_rules(SITE, "MLLW")
    assert (plain.travel_min, plain.visit_weekday, plain.closures) == (60, "any", ())
    own = site_rules({**SITE, "travel_min": 0.0, "visit_weekday": "weekend"}, "MLLW")
    assert (own.travel_min, own.visit_weekday) == (0, "weekend")


def test_a_stated_datum_goes_before_the_stations_but_never_before_the_chart_datum() -> None:
    boston = find("noaa/8443970")
    stated = [
        {"datum": "MSL", "above_chart_m": 1.5, "source": None, "epoch": None}, {"datum": "mllw", "above_chart_m": 9.0, "source": "x", "epoch": "y"},
        {"datum": None, "above_chart_m": 1.0, "source": "x", "epoch": "y"}, {"datum": "NAVD88", "above_chart_m": None, "source": "x", "epoch": "y"},
    ]  # fmt: skip
    known = zeros(boston, stated)
    assert (known["MSL"].above_chart_m, known["MSL"].source) == (1.5, "no source, no epoch")
    assert (known["MLLW"].above_chart_m, known["MLLW"].source) == (0.0, "the chart datum itself")
    assert known["MHW"].above_chart_m == pytest.approx(boston.datums_m["MHW"] - boston.datums_m["MLLW"])
    assert known["MHW"].source == f"{boston.name}'s datums"
    assert None not in known
    assert "NAVD88" not in known or known["NAVD88"].source.endswith("datums")


def test_windows_at_both_edges_of_a_season_are_whole() -> None:
    """A low at the first and at the last moment asked for has its water's times and its light."""
    rules = SiteRules("s", "America/New_York", 42.35, -71.05, 0.6, 0.9, 0.2, 10, 10, None, 30)
    start = datetime(2026, 6, 14, tzinfo=UTC)
    wide = season(find("noaa/8443970"), rules, start - 48 * HOUR, start + 96 * HOUR).windows()
    first, last = wide[3], wide[9]
    narrow = season(find("noaa/8443970"), rules, first.low_at, last.low_at).windows()
    assert [one.low_at for one in narrow] == [one.low_at for one in wide[3:10]]
    assert [replace(one, low_level_m=0) for one in narrow] == [replace(one, low_level_m=0) for one in wide[3:10]]


def test_the_first_and_the_last_moment_of_a_span_belong_to_it() -> None:
    tide, light = CosineTide(LOW, 2.0, count=3), [Light(0, 2**40)]
    lows = [LOW + n * timedelta(hours=12.42) for n in range(3)]

    def found(from_utc: datetime, to_utc: datetime) -> list[Window]:
        return access_windows(tide, RULES, light, from_utc, to_utc)

    assert len(found(LOW, LOW)) == 1
    assert len(found(LOW, lows[2] + timedelta(seconds=1))) == 3
    assert len(found(LOW + timedelta(seconds=1), lows[2] - timedelta(seconds=1))) == 1
