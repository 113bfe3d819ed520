"""
Reading a logger's file: which columns hold time and value, in which unit and zone; guessed, shown, then read.

Any delimited text with a line of column names somewhere near its top. Nothing is converted in silence: `look` says what it
takes the columns for and what it cannot know (day or month first, summer time), and `read` counts the lines it cannot read.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from fieldlog.errors import BadRecord

METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254}
KILOPASCALS = {"kPa": 1.0, "hPa": 0.1, "mbar": 0.1, "bar": 100.0, "dbar": 10.0, "psi": 6.894757293168, "inHg": 3.386389}
"""Inch of mercury at 0 °C; psi from the international pound and inch (exact definitions, rounded)."""

LINES_SHOWN = 4
_LINES_LOOKED = 60
_BAD_SHOWN = 5

_SPELLINGS = {
    "m": r"m|metres?|meters?", "cm": "cm", "mm": "mm", "ft": r"ft|feet|foot", "in": r"in|inch(es)?",
    "kPa": "kpa", "hPa": "hpa", "mbar": r"mbars?|millibars?", "bar": "bar", "dbar": r"dbars?", "psi": r"psia?", "inHg": "inhg",
}  # fmt: skip
_TIMES = (
    "%Y-%m-%d %H:%M:%S", "%Y-%m-%d %H:%M", "%Y/%m/%d %H:%M:%S", "%Y/%m/%d %H:%M", "%d.%m.%Y %H:%M:%S", "%d.%m.%Y %H:%M",
    "%m/%d/%Y %H:%M:%S", "%m/%d/%Y %H:%M", "%d/%m/%Y %H:%M:%S", "%d/%m/%Y %H:%M", "%m/%d/%Y %I:%M:%S %p",
    "%m/%d/%Y %I:%M %p", "%d/%m/%Y %I:%M:%S %p", "%d/%m/%Y %I:%M %p", "%m/%d/%y %I:%M:%S %p", "%m/%d/%y %I:%M %p",
    "%m/%d/%y %H:%M:%S", "%m/%d/%y %H:%M", "%d/%m/%y %H:%M:%S", "%d/%m/%y %H:%M", "%d-%b-%Y %H:%M:%S", "%d-%b-%Y %H:%M",
)  # fmt: skip


@dataclass(frozen=True)
class Columns:
    """
    How a file is to be read.

    ``time`` and ``value`` are places of columns, counted from 0; ``date`` is a column of its own where the day stands apart from
    the time. ``zone`` is an IANA name, "UTC" or an offset such as "UTC-05:00"; not used where the times carry their own.
    ``time_form`` is "iso" or a pattern of strptime. ``unit`` is one of METRES (a level) or KILOPASCALS (a pressure).
    """

    delimiter: str
    first_line: int
    time: int
    date: int | None
    value: int
    time_form: str
    zone: str
    unit: str
    decimal_comma: bool = False

    @property
    def is_pressure(self) -> bool:
        """Whether the values are absolute pressures."""
        return self.unit in KILOPASCALS


@dataclass(frozen=True)
class Look:
    """What a file seems to hold: the columns' names, the guess, its first lines, and questions in sentences."""

    names: tuple[str, ...]
    columns: Columns
    first_rows: tuple[tuple[str, ...], ...]
    questions: tuple[str, ...]


@dataclass(frozen=True)
class Readings:
    """Times (seconds since 1970 UTC) and values (metres or kilopascals) as they stand in the file, and what could not be read."""

    t_s: np.ndarray
    value: np.ndarray
    unread: int
    unread_lines: tuple[int, ...]


def look(text: str, zone: str) -> Look:
    """
    Guess how a file is to be read.

    Args:
        zone: the site's IANA zone, taken where the times carry none.

    Raises:
        BadRecord: no column of times or none of numbers is found.
    """
    delimiter, rows = _rows(text[:40_000])
    first = next((n for n, row in enumerate(rows) if _time_columns(row)), None)
    if first is None:
        raise BadRecord(
            "No line of this file begins with a date and a time that are known here. Write them as 2026-11-25 06:12, "
            "one reading a line, with commas, semicolons or tabs between the columns."
        )
    data = [row for row in rows[first : first + _LINES_LOOKED] if len(row) >= 2]
    date, time = _time_columns(data[0]) or (None, 0)
    names = _names(rows[:first], len(data[0]))
    value = _value_column(data, names, {date, time})
    form, questions = _time_form([_stamp(row, date, time) for row in data])
    unit, unit_question = _unit(names[value], " ".join(" ".join(row) for row in rows[:first]))
    questions += unit_question
    comma = delimiter != "," and any("," in row[value] for row in data)
    if form == "iso" and re.search(r"(Z|[+-]\d\d:?\d\d)$", _stamp(data[0], date, time)):
        zone = "in the file"
    else:
        named = re.search(r"(?:UTC|GMT)\s*([+-]\d{1,2}(?::?\d\d)?)?", " ".join(names))
        if named:
            zone = _offset_name(named[1])
        else:
            questions.append(
                f"The times carry no zone. They are read as the clock of {zone}, summer time included; many loggers keep "
                "standard time all year: then give the zone as an offset, such as UTC-05:00."
            )
    columns = Columns(delimiter, first, time, date, value, form, zone, unit, comma)
    return Look(tuple(names), columns, tuple(tuple(row) for row in data[:LINES_SHOWN]), tuple(questions))


def read(text: str, columns: Columns) -> Readings:
    """
    Read a file as told.

    Raises:
        BadRecord: fewer than ten lines can be read, or the zone or unit is not known.
    """
    scale = METRES.get(columns.unit) or KILOPASCALS.get(columns.unit)
    if scale is None:
        raise BadRecord(f"The unit {columns.unit!r} is not known. Known are: {', '.join([*METRES, *KILOPASCALS])}.")
    clock = None if columns.zone == "in the file" else zone_of(columns.zone)
    times: list[float] = []
    values: list[float] = []
    unread: list[int] = []
    last: datetime | None = None
    width = max(columns.time, columns.date or 0, columns.value) + 1
    for number, row in enumerate(csv.reader(text.splitlines(), delimiter=columns.delimiter), 1):
        if number <= columns.first_line or not any(cell.strip() for cell in row):
            continue
        try:
            if len(row) < width:
                raise ValueError("cut line")
            naive = parsed(_stamp(row, columns.date, columns.time), columns.time_form)
            value = _number(row[columns.value], columns.decimal_comma)
        except ValueError:
            unread.append(number)
            continue
        last = _instant(naive, clock, last)
        times.append(last.timestamp())
        values.append(value * scale)
    if len(times) < 10:
        raise BadRecord(
            f"Only {len(times)} lines could be read as a time and a number. Are the columns right? "
            f"The first that could not: line {unread[0]}." if unread else f"The file holds only {len(times)} readings."
        )
    return Readings(np.array(times), np.array(values), len(unread), tuple(unread[:_BAD_SHOWN]))


def zone_of(name: str) -> timezone | ZoneInfo:
    """
    A zone by its IANA name, "UTC", or an offset such as "UTC-05:00".

    Raises:
        BadRecord: there is none of that name.
    """
    offset = re.fullmatch(r"UTC([+-])(\d{1,2}):?(\d\d)?", name.strip())
    if offset:
        minutes = int(offset[2]) * 60 + int(offset[3] or 0)
        if minutes > 14 * 60:
            raise BadRecord(f"The offset {name} is beyond 14 hours. Give it as hours and minutes, such as UTC-05:00.")
        return timezone(timedelta(minutes=minutes if offset[1] == "+" else -minutes))
    try:
        return UTC if name.strip() in ("UTC", "GMT", "Z") else ZoneInfo(name.strip())
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise BadRecord(f"No time zone {name!r} is known. Give an IANA name such as America/New_York, or UTC-05:00.") from None


def parsed(stamp: str, form: str) -> datetime:
    """A time as it stands in the file; naive unless it carries its offset."""
    return datetime.fromisoformat(stamp) if form == "iso" else datetime.strptime(stamp, form)  # noqa: DTZ007 (zone follows)


def _instant(naive: datetime, clock: timezone | ZoneInfo | None, last: datetime | None) -> datetime:
    """The instant; of an hour that a clock shows twice, the one that goes on from the line before."""
    if naive.tzinfo is not None:
        return naive.astimezone(UTC)
    at = naive.replace(tzinfo=clock or UTC).astimezone(UTC)
    later = naive.replace(tzinfo=clock or UTC, fold=1).astimezone(UTC)
    return later if last is not None and at <= last < later else at


def _rows(text: str) -> tuple[str, list[list[str]]]:
    """The delimiter that parts most lines alike, and the rows."""
    lines = text.lstrip("\ufeff").splitlines()[: _LINES_LOOKED * 3]
    body = lines[len(lines) // 3 :]
    delimiter = max(",;\t", key=lambda sign: sum(line.count(sign) > 0 for line in body) + 0.001 * (sign != ","))
    return delimiter, list(csv.reader(lines, delimiter=delimiter))


def _time_columns(row: Sequence[str]) -> tuple[int | None, int] | None:
    """(None, column) where one cell is date and time; (date, time) where two neighbours are."""
    for place, cell in enumerate(row[:-1]):
        if _forms(cell.strip()):
            return None, place
        if place + 2 < len(row) and _forms(f"{cell.strip()} {row[place + 1].strip()}"):
            return place, place + 1
    return None


def _forms(stamp: str) -> list[str]:
    """The forms that fit a stamp."""
    if not re.search(r"\d{1,4}[-/.].*\d{1,2}:\d\d", stamp):
        return []
    found = []
    for form in ("iso", *_TIMES):
        try:
            parsed(stamp, form)
        except ValueError:
            continue
        found.append(form)
    return found


def _time_form(stamps: Sequence[str]) -> tuple[str, list[str]]:
    fitting = [form for form in ("iso", *_TIMES) if all(form in _forms(stamp) for stamp in stamps)]
    if not fitting:
        raise BadRecord(f"The times do not keep one form: {stamps[0]!r} and others. Give one reading a line.")
    if len(fitting) > 1 and fitting[0] != "iso" and "/" in stamps[0]:
        # Readings follow one another: of two readings of the same digits, the one whose days do not jump.
        def unevenness(form: str) -> float:
            at = [parsed(stamp, form) for stamp in stamps]
            steps = [(after - before).total_seconds() for before, after in zip(at, at[1:], strict=False)]
            return max(steps, default=0) - min(steps, default=0)

        fitting.sort(key=unevenness)
        if unevenness(fitting[0]) == unevenness(fitting[1]):
            first = "month" if fitting[0].startswith("%m") else "day"
            return fitting[0], [f"{stamps[0]} is read with the {first} first. If the other is right, say so before storing."]
    return fitting[0], []


def _stamp(row: Sequence[str], date: int | None, time: int) -> str:
    return row[time].strip() if date is None else f"{row[date].strip()} {row[time].strip()}"


def _names(above: Sequence[Sequence[str]], width: int) -> list[str]:
    titled = next((row for row in reversed(above) if len(row) >= 2 and any(cell.strip() for cell in row)), [])
    return [(titled[n].strip() if n < len(titled) else "") or f"column {n + 1}" for n in range(width)]


def _value_column(data: Sequence[Sequence[str]], names: Sequence[str], taken: set[int | None]) -> int:
    """The column of numbers whose name speaks of water or pressure, or else the first that varies."""
    numeric = [n for n in range(len(data[0])) if n not in taken and _share_of_numbers(data, n) > 0.8]
    if not numeric:
        raise BadRecord("No column of numbers stands beside the times. The file needs a level or a pressure in each line.")
    wanted = re.compile(r"level|depth|water|stage|height|press|sensor|kpa|psi|mbar", re.IGNORECASE)
    unwanted = re.compile(r"temp|°|batt|volt|salin|conduct|\bn\b|#|count|record|sigma|flag", re.IGNORECASE)
    by_name = [n for n in numeric if wanted.search(names[n]) and not unwanted.search(names[n])]
    varying = [n for n in numeric if len({row[n] for row in data if n < len(row)}) > 2 and not unwanted.search(names[n])]
    counting = [n for n in varying if not _counts(data, n)]
    return (by_name or counting or varying or numeric)[0]


def _counts(data: Sequence[Sequence[str]], n: int) -> bool:
    """Whether a column is the number of the line."""
    try:
        values = [float(row[n]) for row in data]
    except (ValueError, IndexError):
        return False
    return len(values) > 2 and all(after - before == 1 for before, after in zip(values, values[1:], strict=False))


def _share_of_numbers(data: Sequence[Sequence[str]], n: int) -> float:
    good = 0
    for row in data:
        try:
            _number(row[n], comma=True)
            good += 1
        except (ValueError, IndexError):
            continue
    return good / len(data)


def _number(cell: str, comma: bool) -> float:
    value = float(cell.strip().replace(",", ".") if comma else cell)
    if not math.isfinite(value):
        raise ValueError("not a finite number")
    return value


def _unit(name: str, above: str) -> tuple[str, list[str]]:
    for text in (name, above):
        for unit, spelling in _SPELLINGS.items():
            if re.search(rf"(?:^|[\s,(\[_/:;])(?:{spelling})(?:$|[\s,)\]_/:;])", text, re.IGNORECASE):
                return unit, []
    if re.search("press", name, re.IGNORECASE):
        return "kPa", [f"The column {name!r} names no unit; kilopascals are assumed. Check it."]
    return "m", [f"The column {name!r} names no unit; metres are assumed. Check it."]


def _offset_name(offset: str | None) -> str:
    if not offset:
        return "UTC"
    sign, digits = offset[0], offset[1:].replace(":", "")
    hours, minutes = (digits[:-2], digits[-2:]) if len(digits) > 2 else (digits, "00")
    return "UTC" if int(hours) == int(minutes) == 0 else f"UTC{sign}{int(hours):02d}:{minutes}"


def told(columns: Columns, said: dict[str, object]) -> Columns:
    """
    The guess with what a person says instead; names left out or empty stay as guessed.

    Raises:
        BadRecord: a name is not one of the columns', or a value not of its kind.
    """
    given = {name: value for name, value in said.items() if value not in (None, "")}
    wrong = [name for name in given if name not in Columns.__dataclass_fields__]
    if wrong:
        raise BadRecord(f"Nothing is read by {', '.join(wrong)}. Known are: {', '.join(Columns.__dataclass_fields__)}.")
    for name in ("first_line", "time", "date", "value"):
        if name in given:
            try:
                given[name] = int(str(given[name]))
            except ValueError:
                raise BadRecord(f"{name} is the number of a line or column; {given[name]!r} is none.") from None
    return replace(columns, **given)  # type: ignore[arg-type]
