"""
What a cell says as a value: numbers in other units, days and times in other orders. Pure: nothing is asked, nothing guessed.

A `Mend` in the place of a value says in a sentence why there is none.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from fieldlog.days import MONTHS, day_words
from fieldlog.imports.cells import Cell, text_of
from fieldlog.instants import written


@dataclass(frozen=True, slots=True)
class Mend:
    """A value that somebody must mend, with the sentence that says why."""

    sentence: str


NOTHING = frozenset({"", "-", "–", "—", ".", "n/a", "na", "n.a.", "#n/a", "none", "null", "nil", "?", "not measured", "no data"})
"""What people write where they have nothing to say; in small letters."""


def says_nothing(cell: Cell) -> bool:
    """Whether a cell is empty, or says that there is nothing."""
    return cell is None or (isinstance(cell, str) and cell.strip().lower() in NOTHING)


UNITS: dict[str, tuple[str, float]] = {
    "mm": ("length", 0.001), "cm": ("length", 0.01), "m": ("length", 1.0), "in": ("length", 0.0254), "ft": ("length", 0.3048),
    "kg": ("mass", 1.0), "g": ("mass", 0.001), "lb": ("mass", 0.45359237), "min": ("time", 1.0), "h": ("time", 60.0), "s": ("time", 1 / 60),
    "%": ("share", 0.01), "of 1": ("share", 1.0),
}  # fmt: skip
"""
Units that are turned into each other: what they measure, and one of them in that one's own unit.

Source: the international yard and pound agreement of 1959 (1 in = 25.4 mm, 1 lb = 0.45359237 kg), exact.
"""

WORDS_OF_UNITS = {
    "inch": "in", "inches": "in", "in.": "in", '"': "in", "″": "in", "foot": "ft", "feet": "ft", "ft.": "ft", "'": "ft", "′": "ft", "mm.": "mm",
    "millimeter": "mm", "millimeters": "mm", "millimetre": "mm", "millimetres": "mm", "cm.": "cm", "centimeter": "cm", "centimeters": "cm",
    "centimetre": "cm", "centimetres": "cm", "meter": "m", "meters": "m", "metre": "m", "metres": "m", "lbs": "lb", "pound": "lb", "pounds": "lb",
    "kilogram": "kg", "kilograms": "kg", "gram": "g", "grams": "g", "minute": "min", "minutes": "min", "hour": "h", "hours": "h", "hr": "h",
    "hrs": "h", "sec": "s", "seconds": "s", "percent": "%", "pct": "%", "deg": "°", "degree": "°", "degrees": "°",
}  # fmt: skip
"""Other ways to write a unit, in small letters."""


def unit_named(word: str) -> str | None:
    """The unit that a word names, None where it names none."""
    word = word.strip().lower()
    word = WORDS_OF_UNITS.get(word, word)
    return word if word in UNITS or word == "°" else None


def units_for(unit: str | None) -> list[str]:
    """The units from which numbers can be turned into this one, itself first; none where there is but one."""
    if unit not in UNITS:
        return []
    return [unit, *(other for other, (measures, _) in UNITS.items() if measures == UNITS[unit][0] and other != unit)]


def converted(value: float, unit: str, into: str) -> float:
    """A number in another unit, to nine digits, so that 16.5 in are 419.1 mm and not a little more."""
    if unit == into:
        return value
    return float(f"{value * UNITS[unit][1] / UNITS[into][1]:.9g}")


_MINUS = str.maketrans({"−": "-", "–": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " "})
_NUMBER = re.compile(r"([+-]?[0-9][0-9 .,']*?|[+-]?[.,][0-9]+)\s*([^0-9\s.,+-][^0-9]*)?")
_FRACTION = re.compile(r"([+-]?)(?:([0-9]+)[ -])?([0-9]+)/([0-9]+)\s*([^0-9\s][^0-9]*)?")
_FEET = re.compile(r"([0-9]+)\s*(?:ft\.?|feet|foot|'|′)\s*([0-9]+(?:\.[0-9]+)?)\s*(?:in\.?|inches|inch|\"|″|'')", re.IGNORECASE)
_THOUSANDS = {".": re.compile(r"[+-]?[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]+)?"), ",": re.compile(r"[+-]?[1-9][0-9]{0,2}(?:\.[0-9]{3})+(?:,[0-9]+)?")}


def decimals_of(text: str) -> set[str]:
    """Which signs may be the decimal sign of a number written so, "." or ",": both where it has none or may have either."""
    number = _NUMBER.fullmatch(text.translate(_MINUS).strip())
    plain = number[1].strip() if number else ""
    if "." not in plain and "," not in plain:
        return {".", ","}
    return {sign for sign in ".," if _plain_number(plain, sign) is not None}


def _plain_number(text: str, decimal: str) -> float | None:
    joined = text.replace(" ", "").replace("'", "")
    other = "," if decimal == "." else "."
    if other in joined:
        if not _THOUSANDS[decimal].fullmatch(joined):
            return None
        joined = joined.replace(other, "")
    if joined.count(decimal) > 1:
        return None
    try:
        return float(joined.replace(decimal, "."))
    except ValueError:
        return None


def number_of(cell: Cell, decimal: str, unit: str | None, into: str | None) -> float | Mend:
    """
    A cell as a number.

    Args:
        decimal: the sign before its decimals where it is text.
        unit: that of a number without one of its own, None for the field's.
        into: the field's unit.
    """
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        value, own = float(cell), None
    elif isinstance(cell, str):
        read = _number_in(cell, decimal)
        if isinstance(read, Mend):
            return read
        value, own = read
    else:
        return Mend(f"“{text_of(cell)}” is not a number. Enter a number.")
    said = own or unit or into
    if own is not None and own != into and (into not in UNITS or own not in UNITS or UNITS[own][0] != UNITS[into][0]):
        return Mend(f"“{text_of(cell)}” is in {own}; {into or 'a plain number'} is wanted. Correct the unit.")
    if said is None or into is None or said == into or said not in UNITS or into not in UNITS:
        return value
    return converted(value, said, into)


def _number_in(text: str, decimal: str) -> tuple[float, str | None] | Mend:
    plain = text.translate(_MINUS).strip()
    feet = _FEET.fullmatch(plain)
    if feet:
        return int(feet[1]) * 12 + float(feet[2]), "in"
    part = _FRACTION.fullmatch(plain)
    if part and int(part[4]):
        size, own = int(part[2] or 0) + int(part[3]) / int(part[4]), part[5]
        return (-size if part[1] == "-" else size), unit_named(own) if own else None
    number = _NUMBER.fullmatch(plain)
    value = _plain_number(number[1].strip(), decimal) if number else None
    if number is None or value is None:
        return Mend(f"“{_short(text)}” is not a number. Enter a number.")
    own = unit_named(number[2]) if number[2] else None
    if number[2] and own is None:
        return Mend(f"“{_short(text)}” is not a number with a unit known here. Enter a number.")
    return value, own


def _short(text: str) -> str:
    return text if len(text) <= 40 else f"{text[:40]}…"


ORDERS = {"mdy": "month first", "dmy": "day first", "ymd": "year first"}
DAYS_FROM = {"1900": date(1899, 12, 30), "1904": date(1904, 1, 1)}
"""Day 0 of the two calendars of spreadsheets. In the one from 1900 there is a Feb 29, 1900, so days before Mar 1900 are not read."""

LEAST_DAY, MOST_DAY = 18_000, 80_000
"""Numbers that may be days: 1949 to 2119 in the calendar from 1900."""

_THREE = re.compile(r"([0-9]{1,4})([./ -])([0-9]{1,2})\2([0-9]{1,4})\.?")
_WEEKDAY, _DAY_DIGITS, _MONTH_WORD, _YEAR_DIGITS = r"(?:[A-Za-z]{2,9}\.?,?\s+)?", r"([0-9]{1,2})(?:st|nd|rd|th)?", r"([A-Za-z]{3,9})\.?", r"([0-9]{4}|[0-9]{2})"
_NAMED = re.compile(rf"{_WEEKDAY}(?:{_DAY_DIGITS}[ .-]*{_MONTH_WORD}|{_MONTH_WORD}[ .-]*{_DAY_DIGITS})[ .,-]*{_YEAR_DIGITS}")
_CLOCK = re.compile(r"([0-9]{1,2})[:.h]([0-9]{2})(?:[:.]([0-9]{2})(?:\.[0-9]+)?)?\s*([AaPp])?\.?\s*(?:[Mm]\.?)?|([0-9]{1,2})\s*([AaPp])\.?\s*[Mm]\.?|([0-9]{2})([0-9]{2})")
_OFFSET = re.compile(r"(.*[0-9](?:\s*[ap]\.?m\.?)?)\s*(?:(Z|UTC|GMT)|(?:UTC|GMT)?([+-])([0-9]{2}):?([0-9]{2}))", re.IGNORECASE)
_CENTURY = 70
"""A year of two digits from this on is one of 1900."""

Days = date | Mend


def orders_of(text: str) -> set[str] | None:
    """In which orders a text is a day; None where it is one in no need of an order, or no day at all."""
    three = _THREE.fullmatch(_day_part(text))
    if three is None or len(three[1]) > 2:
        return None
    return {order for order in ("mdy", "dmy") if _in_order(three, order) is not None}


def _day_part(text: str) -> str:
    """A text without the time by the clock behind its day."""
    first, _, rest = text.strip().partition("T" if re.match(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T", text.strip()) else " ")
    return first if _THREE.fullmatch(first) and rest else text.strip()


def _in_order(three: re.Match[str], order: str) -> date | None:
    numbers = dict(zip(order, (three[1], three[3], three[4]), strict=True))
    if len(numbers["y"]) not in (2, 4) or len(numbers["m"]) > 2 or len(numbers["d"]) > 2:
        return None
    return _day(_year(numbers["y"]), int(numbers["m"]), int(numbers["d"]))


def _year(digits: str) -> int:
    year = int(digits)
    return year if len(digits) == 4 else year + (1900 if year >= _CENTURY else 2000)


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def day_of(cell: Cell, order: str | None, days_from: str | None) -> Days:
    """
    A cell as a day, whatever time it says beside.

    Args:
        order: of days written in numbers, a key of ORDERS.
        days_from: which calendar numbers count days in, a key of DAYS_FROM.
    """
    if isinstance(cell, dict) and ("on" in cell or "at" in cell):
        return date.fromisoformat((cell.get("on") or cell["at"])[:10])
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        if days_from is None or not LEAST_DAY <= cell <= MOST_DAY:
            return Mend(f"{text_of(cell)} is not a day. Write it as 2025-07-05.")
        return DAYS_FROM[days_from] + timedelta(days=int(cell))
    if not isinstance(cell, str):
        return Mend(f"“{text_of(cell)}” is not a day. Write it as 2025-07-05.")
    return _day_in(cell, order)


@lru_cache(maxsize=20_000)
def _day_in(text: str, order: str | None) -> Days:
    part = _day_part(text)
    three = _THREE.fullmatch(part)
    if three:
        wanted = "ymd" if len(three[1]) > 2 else order
        day = None if wanted is None else _in_order(three, wanted)
        if day is not None:
            return day
        return Mend(f"{_short(text)} is not a day{f' with the {ORDERS[wanted]}' if wanted else ''}. Write it as 2025-07-05.")
    named = _NAMED.match(part)
    if named:
        word = (named[2] or named[3])[:3].title()
        day = _day(_year(named[5]), MONTHS.index(word) + 1, int(named[1] or named[4])) if word in MONTHS else None
        if day is not None:
            return day
    return Mend(f"“{_short(text)}” is not a day. Write it as 2025-07-05.")


Clock = time | None | Mend


def clock_of(cell: Cell) -> Clock:
    """The time by the clock that a cell says, beside a day or alone; None where it says none."""
    if isinstance(cell, dict):
        if "fault" in cell:
            return Mend(cell["fault"])
        return time.fromisoformat(cell["clock"] if "clock" in cell else cell["at"][11:]) if "clock" in cell or "at" in cell else None
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        part = cell % 1
        return (datetime(2000, 1, 1, tzinfo=UTC) + timedelta(seconds=round(part * 86400))).time() if part or cell == 0 else None
    if not isinstance(cell, str):
        return None
    text = cell.strip()
    day = _day_part(text)
    rest = text[len(day) :].lstrip(" T,") if day != text else text
    if rest == text and (_THREE.fullmatch(text) or _NAMED.match(text)):
        behind = _NAMED.match(text)
        rest = text[behind.end() :].lstrip(" T,") if behind else ""
    offset = _OFFSET.fullmatch(rest)
    return _clock_in(offset[1] if offset else rest) if rest else None


@lru_cache(maxsize=20_000)
def _clock_in(text: str) -> Clock:
    found = _CLOCK.fullmatch(text.strip())
    if found is None:
        return Mend(f"“{_short(text)}” is not a time. Write it as 08:10.")
    hour, half = int(found[1] or found[5] or found[7]), (found[4] or found[6] or "").lower()
    minute, second = int(found[2] or found[8] or 0), int(found[3] or 0)
    if (half and not 1 <= hour <= 12) or hour > 23 or minute > 59 or second > 59:
        return Mend(f"“{_short(text)}” is not a time. Write it as 08:10.")
    return time(hour % 12 + (12 if half == "p" else 0) if half else hour, minute, second)


def offset_in(cell: Cell) -> timedelta | None:
    """How far ahead of UTC the clock of a cell is, where it says so itself."""
    found = _OFFSET.fullmatch(cell.strip()) if isinstance(cell, str) and ":" in cell else None
    if found is None:
        return None
    if found[2]:
        return timedelta()
    return (1 if found[3] == "+" else -1) * timedelta(hours=int(found[4]), minutes=int(found[5]))


NIGHTS = {"first": 0, "second": 1}
"""Of an hour that comes twice in the night when clocks go back: which one."""


def moment_of(day: date, clock: time | None, zone: ZoneInfo, night: str | None) -> datetime | Mend:
    """
    A day and a time by the clock of a zone as a moment in UTC; without a time the zone's noon.

    Args:
        night: which of an hour that comes twice is meant, a key of NIGHTS.
    """
    local = datetime.combine(day, clock or time(12), zone)
    other = local.replace(fold=1)
    if local.utcoffset() == other.utcoffset():
        return local.astimezone(UTC)
    said = f"{local:%H:%M} on {day_words(day, year=True)}"
    if local.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != local.replace(tzinfo=None):
        return Mend(f"{said} did not exist in {zone.key}: clocks were set forward in that night. Correct the time.")
    if night is None:
        return Mend(f"{said} came twice in {zone.key}: clocks were set back in that night. Say which of the two.")
    return (other if NIGHTS[night] else local).astimezone(UTC)


def comes_twice(day: date, clock: time, zone: ZoneInfo) -> bool:
    """Whether a time by the clock came twice on a day."""
    local = datetime.combine(day, clock, zone)
    if local.utcoffset() == local.replace(fold=1).utcoffset():
        return False
    return local.astimezone(UTC).astimezone(zone).replace(tzinfo=None) == local.replace(tzinfo=None)


def instant_text(at: datetime) -> str:
    """A moment as records have it."""
    return written(at)


YES = frozenset({"yes", "y", "true", "t", "1", "x", "✓", "ja", "oui", "si", "sí"})
NO = frozenset({"no", "n", "false", "f", "0", "nein", "non"})


def yes_no_of(cell: Cell) -> bool | None:
    """Yes or no as people write it; None where it is another word."""
    if isinstance(cell, bool):
        return cell
    word = text_of(cell).strip().lower()
    return True if word in YES else False if word in NO else None
