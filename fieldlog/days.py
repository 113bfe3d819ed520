"""How a day is written in a sentence, letter for letter as the phone writes it (`static/days.js`, tests/vectors/day_words.json)."""

from __future__ import annotations

from datetime import date

MONTH_NAMES = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December")
MONTHS = tuple(name[:3] for name in MONTH_NAMES)
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def day_words(day: date, *, weekday: bool = False, year: bool = False) -> str:
    """Nov 28; with its weekday Sat, Nov 28; with its year Nov 28, 2026. Of a moment its own clock's day: turn it to the site's zone first."""
    said = f"{MONTHS[day.month - 1]} {day.day}" + (f", {day.year:04d}" if year else "")
    return f"{WEEKDAYS[day.weekday()]}, {said}" if weekday else said


def month_words(day: date) -> str:
    """November 2026."""
    return f"{MONTH_NAMES[day.month - 1]} {day.year:04d}"
