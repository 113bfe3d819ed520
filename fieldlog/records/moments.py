"""
Dates and instants as records write them: 2026-11-25 and 2026-11-25T06:12:00Z, UTC, milliseconds allowed.
"""

from __future__ import annotations

import re

DATE_PATTERN = "[0-9]{4}-[0-9]{2}-[0-9]{2}"
INSTANT_PATTERN = DATE_PATTERN + r"T[0-9]{2}:[0-9]{2}:[0-9]{2}(?:\.[0-9]{3})?Z"
FIRST_YEAR = 1970
LAST_YEAR = 2199

_DATE = re.compile(DATE_PATTERN)
_INSTANT = re.compile(INSTANT_PATTERN)
_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


def is_date(text: str) -> bool:
    """Whether the text is a day of the calendar, written YYYY-MM-DD, from 1970 to 2199."""
    return _DATE.fullmatch(text) is not None and _in_calendar(text)


def is_instant(text: str) -> bool:
    """
    Whether the text is a moment, written YYYY-MM-DDTHH:MM:SSZ or with .mmm before the Z, from 1970 to 2199.
    """
    return (
        _INSTANT.fullmatch(text) is not None
        and _in_calendar(text)
        and text[11:13] <= "23" and text[14:16] <= "59" and text[17:19] <= "59"
    )  # fmt: skip


def _in_calendar(text: str) -> bool:
    year, month, day = int(text[:4]), int(text[5:7]), int(text[8:10])
    if not (FIRST_YEAR <= year <= LAST_YEAR and 1 <= month <= 12):
        return False
    leap = month == 2 and year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    return 1 <= day <= _DAYS[month - 1] + leap
