"""The calendar feed as a calendar program reads it, and as RFC 5545 counts octets."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import icalendar
from hypothesis import given
from hypothesis import strategies as st

from fieldlog.store import Programme
from fieldlog.windows.access import Window, access_windows
from fieldlog.windows.calendar import calendar_feed, escaped, events_of, folded
from fieldlog.windows.calendar_cancelled import Cancelling, stopped_lows
from fieldlog.windows.calendar_events import in_place
from fieldlog.windows.cautions import Caution
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
    events = events_of(NAME, "Boston", RULES, BLOCKED)
    return calendar_feed(NAME, [replace(event, sequence=sequence, changed_at=CHANGED) for event in events])


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
    assert "Turn back by 12:04: the work area floods at 12:04." in said
    assert "Path dry from 08:13. Work from 08:56. Low 10:30. 188 min usable. Times in America/New_York." in said
    assert "Low 0.00 m predicted for Boston. All times include a reserve of 0.20 m" in said
    assert "Trust what you see" in said
    assert "safe" not in feed().lower()


def test_alarms_sound_to_leave_home_to_gather_and_to_turn_back() -> None:
    event = icalendar.Calendar.from_ical(feed()).walk("VEVENT")[0]
    triggers = [alarm.decoded("TRIGGER") for alarm in event.walk("VALARM")]
    assert WINDOWS[0].usable_until is not None
    assert WINDOWS[0].usable_from is not None
    # 60 min on the way where the site does not say, and 10 to walk out.
    assert triggers == [
        WINDOWS[0].usable_from - timedelta(minutes=70), WINDOWS[0].usable_until - timedelta(minutes=15), WINDOWS[0].usable_until,
    ]  # fmt: skip
    assert "leave home now" in str(event.walk("VALARM")[0]["DESCRIPTION"])


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
    assert escaped("Turn back\tby 3:00 PM\x00\x1f") == "Turn back\tby 3:00 PM", "a tab and a space are no control characters there"


def told(programme: Programme, windows: list[Window], now: datetime, rules: SiteRules = RULES) -> list:
    """The feed's events as a calendar reads them, kept in a programme between one fetch and the next."""
    cancelling = Cancelling("Alder Spit", stopped_lows(windows))
    made = events_of("Alder Spit", "Boston", rules, windows)
    events = in_place(programme.db(), "s-1", made, cancelling, LOW - timedelta(days=7), now)
    return icalendar.Calendar.from_ical(calendar_feed("Alder Spit", events)).walk("VEVENT")


def test_an_unchanged_window_reads_the_same_at_every_fetch(programme: Programme) -> None:
    first, again = told(programme, WINDOWS, CHANGED), told(programme, WINDOWS, CHANGED + timedelta(hours=6))
    assert [event.to_ical() for event in first] == [event.to_ical() for event in again]


def test_a_changed_window_keeps_its_uid_and_raises_its_sequence(programme: Programme) -> None:
    before = told(programme, WINDOWS, CHANGED)
    after = told(programme, WINDOWS, CHANGED + timedelta(days=1), replace(RULES, travel_min=90))
    assert [event["UID"] for event in after] == [event["UID"] for event in before]
    assert {int(event["SEQUENCE"]) for event in before} == {0}
    assert {int(event["SEQUENCE"]) for event in after} == {1}
    assert {event.decoded("LAST-MODIFIED") for event in after} == {CHANGED + timedelta(days=1)}


def test_another_tide_that_moves_the_low_into_another_hour_changes_the_same_event(programme: Programme) -> None:
    before = told(programme, WINDOWS, CHANGED)
    moved = [
        replace(w, window_id=f"other {n}", low_at=w.low_at + timedelta(minutes=40), usable_from=w.usable_from + timedelta(minutes=40))
        for n, w in enumerate(WINDOWS)
    ]
    after = told(programme, moved, CHANGED + timedelta(days=1))
    assert [event["UID"] for event in after] == [event["UID"] for event in before]
    assert after[0].decoded("DTSTART") == before[0].decoded("DTSTART") + timedelta(minutes=40)
    # From the other side too: nothing is told twice, and the next fetch changes nothing more.
    assert [int(event["SEQUENCE"]) for event in told(programme, moved, CHANGED + timedelta(days=2))] == [1] * len(WINDOWS)


def test_a_window_that_is_not_to_be_used_any_more_is_cancelled_and_may_come_back(programme: Programme) -> None:
    before = told(programme, WINDOWS, CHANGED)
    closed = told(programme, WINDOWS[1:], CHANGED + timedelta(days=1))
    gone = next(event for event in closed if event["UID"] == before[0]["UID"])
    assert (str(gone["STATUS"]), int(gone["SEQUENCE"])) == ("CANCELLED", 1)
    back = told(programme, WINDOWS, CHANGED + timedelta(days=2))[0]
    assert (str(back["STATUS"]), int(back["SEQUENCE"]), back["UID"]) == ("TENTATIVE", 2, before[0]["UID"])


def closed(window: Window, sentence: str) -> Window:
    return replace(window, safe=False, cautions=(Caution("closed", sentence, True), Caution("predicted", "Predicted alone.", False)))


def test_a_cancelled_event_rings_no_alarm_says_so_in_its_title_and_gives_the_reason(programme: Programme) -> None:
    before = told(programme, WINDOWS, CHANGED)[0]
    reason = "Closed: bird nesting, Dec 1 to Dec 9. Follow the permit and the local authority."
    gone = told(programme, [closed(WINDOWS[0], reason), *WINDOWS[1:]], CHANGED + timedelta(days=1))[0]
    assert (str(gone["STATUS"]), str(gone["UID"])) == ("CANCELLED", str(before["UID"]))
    assert gone.walk("VALARM") == []
    assert str(gone["SUMMARY"]) == "Canceled: low tide at Alder Spit"
    assert str(gone["DESCRIPTION"]) == f"Do not plan with this low tide. {reason}"
    assert (gone.decoded("DTSTART"), gone.decoded("DTEND")) == (before.decoded("DTSTART"), before.decoded("DTEND"))
    assert (str(gone["LOCATION"]), str(gone["TRANSP"])) == ("Alder Spit", "TRANSPARENT")


def test_a_low_that_is_not_predicted_any_more_says_that_and_another_reason_is_told_anew(programme: Programme) -> None:
    told(programme, WINDOWS, CHANGED)
    gone = told(programme, WINDOWS[1:], CHANGED + timedelta(days=1))[0]
    assert "There is no longer a low tide predicted at this time." in str(gone["DESCRIPTION"])
    again = told(programme, WINDOWS[1:], CHANGED + timedelta(days=2))[0]
    assert again.to_ical() == gone.to_ical()
    other = told(programme, [closed(WINDOWS[0], "Dark."), *WINDOWS[1:]], CHANGED + timedelta(days=3))[0]
    assert (int(gone["SEQUENCE"]), int(other["SEQUENCE"])) == (1, 2)
    assert str(other["DESCRIPTION"]).endswith("Dark.")


def test_what_an_older_version_cancelled_with_its_alarms_is_told_once_more_without_them(programme: Programme) -> None:
    told(programme, WINDOWS, CHANGED)
    with programme.db().conn:
        programme.db().conn.execute(
            "UPDATE calendar_event SET sequence = 1, event = json_set(event, '$.is_cancelled', json('true')) WHERE uid = ?", (WINDOWS[0].window_id,)
        )
    gone, again = (told(programme, WINDOWS[1:], CHANGED + timedelta(days=days))[0] for days in (1, 2))
    assert (str(gone["STATUS"]), int(gone["SEQUENCE"]), gone.walk("VALARM")) == ("CANCELLED", 2, [])
    assert again.to_ical() == gone.to_ical()


class Overtaken(list):
    """Events that another fetch, of a site changed once more, overtakes while they are first looked through."""

    def __init__(self, events: list, overtake: Callable[[], list]) -> None:
        super().__init__(events)
        self._overtake: Callable[[], list] | None = overtake

    def __iter__(self) -> Iterator:
        overtake, self._overtake = self._overtake, None
        if overtake:
            overtake()
        return super().__iter__()


def test_two_fetches_at_once_tell_no_two_contents_under_one_sequence(programme: Programme) -> None:
    told(programme, WINDOWS, CHANGED)
    late = events_of("Alder Spit", "Boston", replace(RULES, travel_min=90), WINDOWS)
    others: list = []
    overtaken = Overtaken(late, lambda: others.extend(told(programme, WINDOWS, CHANGED, replace(RULES, travel_min=75))))
    kept = in_place(programme.db(), "s-1", overtaken, Cancelling("Alder Spit", ()), LOW - timedelta(days=7), CHANGED)
    assert {int(event["SEQUENCE"]) for event in others} == {1}
    assert {event.sequence for event in kept} == {2}
