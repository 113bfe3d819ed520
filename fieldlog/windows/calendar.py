"""A site's windows as a calendar feed (RFC 5545), without anything about people."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from fieldlog.windows.access import Window
from fieldlog.windows.cautions import clock
from fieldlog.windows.rules import SiteRules

LINE_OCTETS = 75
"""The longest line, its end not counted (RFC 5545, section 3.1)."""

WARNING = timedelta(minutes=15)
"""How long before turning back the first alarm sounds; our own proposal, no source."""

_CONTROLS = {code: None for code in range(32) if chr(code) not in "\t\n"}
_ESCAPES = _CONTROLS | str.maketrans({"\\": "\\\\", ";": "\\;", ",": "\\,", "\n": "\\n"})


def calendar_feed(
    site_name: str, station_name: str, rules: SiteRules, windows: Sequence[Window], changed_at: datetime, sequence: int
) -> str:
    """
    The feed's text, of the windows that nothing stops, with two alarms each.

    Args:
        station_name: the reference port that the levels are predicted for.
        changed_at: UTC; when the site's set-up last changed, so that an unchanged window reads the same at every fetch.
        sequence: how often the site's set-up has changed; a greater number replaces what a calendar holds.
    """
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//Fieldlog//Access windows//EN",
        f"NAME:{escaped(site_name)} low water windows",
        f"X-WR-CALNAME:{escaped(site_name)} low water windows",
        "REFRESH-INTERVAL;VALUE=DURATION:PT6H",
    ]
    for window in windows:
        if window.safe and window.usable_from and window.usable_until:
            back = f"{site_name}: turn back by {clock(window.usable_until, rules.zone)}"
            lines += [
                "BEGIN:VEVENT",
                f"UID:{window.window_id}",
                f"DTSTAMP:{_utc(changed_at)}",
                f"SEQUENCE:{sequence}",
                f"DTSTART:{_utc(window.usable_from)}",
                f"DTEND:{_utc(window.usable_until)}",
                f"SUMMARY:{escaped(back)} (predicted)",
                f"DESCRIPTION:{escaped(_description(station_name, rules, window))}",
                f"LOCATION:{escaped(site_name)}",
                "STATUS:TENTATIVE",
                "TRANSP:TRANSPARENT",
                *_alarm(window.usable_until - WARNING, f"{back}. Gather people and tools."),
                *_alarm(window.usable_until, f"{back}. That is now."),
                "END:VEVENT",
            ]
    return "".join(folded(line) for line in [*lines, "END:VCALENDAR"])


def _alarm(at: datetime, text: str) -> list[str]:
    return [
        "BEGIN:VALARM",
        "ACTION:DISPLAY",
        f"TRIGGER;VALUE=DATE-TIME:{_utc(at)}",
        f"DESCRIPTION:{escaped(text)}",
        "END:VALARM",
    ]


def _description(station_name: str, rules: SiteRules, window: Window) -> str:
    zone = rules.zone
    work_level_m = rules.work_level_m if window.bed_level_m is None else window.bed_level_m
    times = [
        ("Opens", window.opens_at),
        ("Low", window.low_at),
        ("Turn back", window.turn_back_at),
        ("Closes", window.closes_at),
    ]
    said = [f"{word} {clock(at, zone)}." for word, at in times if at]
    return "\n".join(
        [
            f"{window.usable_min} usable minutes. " + " ".join(said) + f" Times in {zone}.",
            f"Low {window.low_level_m:.2f} m predicted for {station_name}, {rules.allowance_m:.2f} m allowance added; "
            f"work level {work_level_m:.2f} m, lowest point of the route {rules.route_low_level_m:.2f} m.",
            *(caution.sentence for caution in window.cautions),
        ]
    )


def escaped(text: str) -> str:
    """A text value as RFC 5545, section 3.3.11, writes it."""
    return text.translate(_ESCAPES)


def folded(line: str) -> str:
    """A content line with its end, folded so that no piece exceeds 75 octets and no character is cut."""
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
