"""A site's windows as a calendar feed (RFC 5545), without anything about people."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from fieldlog.access.calendar_secrets import Told
from fieldlog.rounding import rounded
from fieldlog.windows.access import Window
from fieldlog.windows.rules import SiteRules
from fieldlog.windows.turning import clock, leaves_home_at

LINE_OCTETS = 75
"""The longest line, its end not counted (RFC 5545, section 3.1)."""

WARNING = timedelta(minutes=15)
"""How long before turning back the first alarm sounds; our own proposal, no source."""

ENDED = "Canceled: ask for a new calendar address"
ENDED_REASON = "This calendar address no longer works, so its events are canceled. Ask a lead for a new address, or copy one from the app."
ENDED_STEPS = 2
"""Versions up to 0.3.0 told an ended address's events with a sequence of one more and another title; this one must be greater."""

_CONTROLS = {code: None for code in range(32) if chr(code) not in "\t\n"}
_ESCAPES = _CONTROLS | str.maketrans({"\\": "\\\\", ";": "\\;", ",": "\\,", "\n": "\\n"})


@dataclass(frozen=True)
class Event:
    """
    One window as a calendar's event: its id and low, and its lines but UID, DTSTAMP, SEQUENCE and STATUS.

    `sequence` counts how often it has changed, `changed_at` says when last; a greater sequence replaces what a calendar
    holds. `is_cancelled`: it was told before and is not to be used any more.
    """

    uid: str
    low_at: datetime
    lines: tuple[str, ...]
    sequence: int = 0
    changed_at: datetime | None = None
    is_cancelled: bool = False

    @property
    def digest(self) -> str:
        """Changes with anything that a calendar shows."""
        return hashlib.sha256("\n".join(self.lines).encode()).hexdigest()[:32]


def events_of(site_name: str, station_name: str, rules: SiteRules, windows: Sequence[Window]) -> list[Event]:
    """
    The windows that nothing stops, as events with alarms to leave home, to gather, and to turn back.

    Args:
        station_name: the tide that the levels are predicted by.
    """
    return [
        Event(window.window_id, window.low_at, tuple(_lines(site_name, station_name, rules, window)))
        for window in windows
        if window.safe and window.usable_from and window.turn_back_at
    ]


def _lines(site_name: str, station_name: str, rules: SiteRules, window: Window) -> list[str]:
    assert window.usable_from and window.turn_back_at
    back = f"{site_name}: turn back by {clock(window.turn_back_at, rules.zone)}"
    leave_at = leaves_home_at(window.usable_from, rules)
    leave = f"{site_name}: leave home now, to work from {clock(window.usable_from, rules.zone)}. Check the weather and the water first."
    return [
        f"DTSTART:{_utc(window.usable_from)}",
        f"DTEND:{_utc(window.turn_back_at)}",
        f"SUMMARY:{escaped(back)} (predicted)",
        f"DESCRIPTION:{escaped(_description(station_name, rules, window, leave_at))}",
        f"LOCATION:{escaped(site_name)}",
        "TRANSP:TRANSPARENT",
        *_alarm(leave_at, leave),
        *_alarm(window.turn_back_at - WARNING, f"{back}. Gather people and tools."),
        *_alarm(window.turn_back_at, f"{back}. That is now."),
    ]


def calendar_feed(site_name: str, events: Sequence[Event]) -> str:
    """The feed's text, of events as calendar_events.py keeps them."""
    lines: list[str] = []
    for event in events:
        assert event.changed_at
        lines += [
            "BEGIN:VEVENT",
            f"UID:{event.uid}",
            f"DTSTAMP:{_utc(event.changed_at)}",
            f"LAST-MODIFIED:{_utc(event.changed_at)}",
            f"SEQUENCE:{event.sequence}",
            f"STATUS:{'CANCELLED' if event.is_cancelled else 'TENTATIVE'}",
            *event.lines,
            "END:VEVENT",
        ]
    return _calendar(f"{site_name} low tides", lines)


def ended_feed(told: Sequence[Told], ended_at: datetime) -> str:
    """The text of a feed whose address has ended: each event that it had told, cancelled (RFC 5545, section 3.8.1.11)."""
    lines: list[str] = []
    for event in told:
        lines += [
            "BEGIN:VEVENT",
            f"UID:{event.uid}",
            f"DTSTAMP:{_utc(ended_at)}",
            f"LAST-MODIFIED:{_utc(ended_at)}",
            f"SEQUENCE:{event.sequence + ENDED_STEPS}",
            "STATUS:CANCELLED",
            event.starts,
            event.ends,
            f"SUMMARY:{escaped(ENDED)}",
            f"DESCRIPTION:{escaped(ENDED_REASON)}",
            "TRANSP:TRANSPARENT",
            "END:VEVENT",
        ]
    return _calendar(ENDED, lines)


def _calendar(name: str, lines: Sequence[str]) -> str:
    head = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//Fieldlog//Access windows//EN",
        f"NAME:{escaped(name)}",
        f"X-WR-CALNAME:{escaped(name)}",
        "REFRESH-INTERVAL;VALUE=DURATION:PT6H",
    ]
    return "".join(folded(line) for line in [*head, *lines, "END:VCALENDAR"])


def _alarm(at: datetime, text: str) -> list[str]:
    return [
        "BEGIN:VALARM",
        "ACTION:DISPLAY",
        f"TRIGGER;VALUE=DATE-TIME:{_utc(at)}",
        f"DESCRIPTION:{escaped(text)}",
        "END:VALARM",
    ]


def _description(station_name: str, rules: SiteRules, window: Window, leave_at: datetime) -> str:
    zone = rules.zone
    work_level_m = rules.work_level_m if window.bed_level_m is None else window.bed_level_m
    times = [("Path dry from", window.route_dries_at), ("Work from", window.usable_from), ("Low", window.low_at)]
    said = [f"{word} {clock(at, zone)}." for word, at in times if at]
    return "\n".join(
        [
            f"Turn back by {clock(window.turn_back_at, zone)}: {window.turn_back_reason}.",
            f"Leave home by {clock(leave_at, zone)}: {math.ceil(rules.travel_min)} min to the shore and {math.ceil(rules.walk_out_min)} min to walk out.",
            " ".join(said) + f" {window.usable_min} min usable. Times in {zone}.",
            f"Low {rounded(window.low_level_m, 2)} m predicted for {station_name}. All times include a reserve of {rounded(rules.allowance_m, 2)} m; "
            f"work level {rounded(work_level_m, 2)} m, lowest point of the path {rounded(rules.route_low_level_m, 2)} m.",
            *(caution.sentence for caution in window.cautions),
        ]
    )


def escaped(text: str) -> str:
    """A text value as RFC 5545, section 3.3.11, writes it."""
    return text.translate(_ESCAPES)


def folded(line: str) -> str:
    """A content line with its end, folded so that no piece exceeds 75 octets and no character is cut."""
    if len(line.encode()) <= LINE_OCTETS:
        return line + "\r\n"
    pieces, piece, room = [], "", LINE_OCTETS
    for letter in line:
        octets = len(letter.encode())
        if octets > room:
            pieces.append(piece)
            piece, room = "", LINE_OCTETS - 1
        piece += letter
        room -= octets
    return "\r\n ".join([*pieces, piece]) + "\r\n"


def _utc(at: datetime) -> str:
    return at.strftime("%Y%m%dT%H%M%SZ")
