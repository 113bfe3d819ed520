"""The calendar feed as a calendar program reads it, and as RFC 5545 counts octets."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import icalendar
from hypothesis import given
from hypothesis import strategies as st

from fieldlog.windows.access import access_windows
from fieldlog.windows.calendar import calendar_feed, escaped, folded
from fieldlog.windows.daylight import Light
from fieldlog.windows.rules import SiteRules
from windows.drawn_tides import CosineTide

LOW = datetime(2026, 12, 3, 15, 30, 5, tzinfo=UTC)
CHANGED = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
RULES = SiteRules("s-1", "America/New_York", 41.0, -72.0, 0.5, 0.8, 0.2, 10, 10, None, 60)
NAME = "Alder Spit; north, \\ côté 礁\nsecond line"
WINDOWS = access_windows(
    CosineTide(LOW, 2.0, count=4), RULES, [Light(0, 2**40)], LOW, LOW + timedelta(days=3)
)
BLOCKED = [
    replace(WINDOWS[0], safe=False, low_at=LOW - timedelta(days=1), window_id="not to be used"),
    *WINDOWS,
]


def feed(sequence: int = 7) -> str:
    return calendar_feed(NAME, "Boston", RULES, BLOCKED, CHANGED, sequence)


def test_a_calendar_program_reads_each_window_that_nothing_stops() -> None:
    calendar = icalendar.Calendar.from_ical(feed())
    events = calendar.walk("VEVENT")
    assert [str(event["UID"]) for event in events] == [window.window_id for window in WINDOWS]
    for event, window in zip(events, WINDOWS, strict=True):
        assert (event.decoded("DTSTART"), event.decoded("DTEND")) == (window.usable_from, window.usable_until)
        assert event.decoded("DTSTAMP") == CHANGED
        assert int(event["SEQUENCE"]) == 7
        assert str(event["LOCATION"]) == NAME
        assert not event.errors


def test_the_words_say_why_and_promise_nothing() -> None:
    # A cosine of 12.42 h and 2 m passes 0.3 m 94.35 min and 0.6 m 137.5 min from low; 25 min walk and muster.
    event = icalendar.Calendar.from_ical(feed()).walk("VEVENT")[0]
    assert str(event["SUMMARY"]).endswith("turn back by 12:04 (predicted)")
    said = str(event["DESCRIPTION"])
    assert "Opens 08:55. Low 10:30. Turn back 12:22. Closes 12:04. Times in America/New_York." in said
    assert "Low 0.00 m predicted for Boston, 0.20 m allowance added" in said
    assert "Trust what you see" in said
    assert "safe" not in feed().lower()


def test_an_alarm_sounds_at_the_turn_back_time_and_one_before() -> None:
    event = icalendar.Calendar.from_ical(feed()).walk("VEVENT")[0]
    triggers = [alarm.decoded("TRIGGER") for alarm in event.walk("VALARM")]
    assert WINDOWS[0].usable_until is not None
    assert triggers == [WINDOWS[0].usable_until - timedelta(minutes=15), WINDOWS[0].usable_until]


def test_the_same_set_up_gives_the_same_bytes() -> None:
    assert feed() == feed()
    assert feed(8) != feed()


def test_lines_end_in_crlf_and_hold_75_octets_at_most() -> None:
    octets = feed().encode()
    assert octets.endswith(b"\r\n")
    assert octets.replace(b"\r\n", b"").count(b"\n") == octets.replace(b"\r\n", b"").count(b"\r") == 0
    for line in octets.split(b"\r\n"):
        assert len(line) <= 75
        line.decode()  # no character is cut in two


def test_properties_of_an_event_come_before_its_alarms() -> None:
    event = feed().split("BEGIN:VEVENT")[1].split("END:VEVENT")[0]
    properties, alarms = event.split("BEGIN:VALARM", 1)
    assert "DTSTAMP" in properties
    assert "END:VALARM\r\n" in alarms
    assert alarms.rsplit("END:VALARM", 1)[1].strip() == ""


@given(st.text(alphabet=st.characters(exclude_categories=("Cs", "Cc")), max_size=400))
def test_what_is_folded_unfolds_to_the_same(text: str) -> None:
    line = folded(text)
    assert line.removesuffix("\r\n").replace("\r\n ", "") == text
    assert all(len(piece.encode()) <= 75 for piece in line.split("\r\n"))


def test_text_is_escaped_and_control_characters_are_left_out() -> None:
    assert escaped("a;b,c\\d\ne\r\x07f") == "a\\;b\\,c\\\\d\\nef"
