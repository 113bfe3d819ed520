"""
Guessing how a logger's file is to be read: any delimited text, with a line of column names somewhere near its top.

What is taken for what is shown before anything is stored, and what the file cannot tell is asked: day or month first, summer
time, a missing unit.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from fieldlog.errors import BadRecord
from fieldlog.tides.logger import IN_THE_FILE, Columns, number_of, parsed, scale_of, stamp_of, zone_of

LINES_SHOWN = 4
_LINES_LOOKED = 60

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
class Look:
    """What a file seems to hold: the columns' names, the guess, its first lines, and questions in sentences."""

    names: tuple[str, ...]
    columns: Columns
    first_rows: tuple[tuple[str, ...], ...]
    questions: tuple[str, ...]


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
            "No line of this file begins with a date and a time that Fieldlog can read. Write them as 2026-11-25 06:12, "
            "one reading a line, with commas, semicolons or tabs between the columns."
        )
    data = [row for row in rows[first : first + _LINES_LOOKED] if len(row) >= 2]
    date, time = _time_columns(data[0]) or (None, 0)
    names = _names(rows[:first], len(data[0]))
    value = _value_column(data, names, {date, time})
    form, questions = _time_form([stamp_of(row, date, time) for row in data])
    unit, unit_question = _unit(names[value], " ".join(" ".join(row) for row in rows[:first]))
    questions += unit_question
    comma = any("," in row[value] for row in data)
    if form == "iso" and re.search(r"(Z|[+-]\d\d:?\d\d)$", stamp_of(data[0], date, time)):
        zone = IN_THE_FILE
    else:
        named = re.search(r"(?:UTC|GMT)\s*([+-]\d{1,2}(?::?\d\d)?)?", " ".join(names))
        if named:
            zone = _offset_name(named[1])
        else:
            questions.append(
                f"The times have no time zone. They are read as the local time of {zone}, with daylight saving time. Many loggers keep standard time all year: if this one does, give the zone as an offset, such as UTC-05:00."
            )
    columns = Columns(delimiter, first, time, date, value, form, zone, unit, comma)
    return Look(tuple(names), columns, tuple(tuple(row) for row in data[:LINES_SHOWN]), tuple(questions))


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
        raise BadRecord(f"The times are written in more than one way: {stamps[0]!r} and others. Give one reading a line.")
    if len(fitting) > 1 and fitting[0] != "iso" and "/" in stamps[0]:
        # Readings follow one another: of two readings of the same digits, the one whose days do not jump.
        def unevenness(form: str) -> float:
            at = [parsed(stamp, form) for stamp in stamps]
            steps = [(after - before).total_seconds() for before, after in pairwise(at)]
            return max(steps, default=0) - min(steps, default=0)

        fitting.sort(key=unevenness)
        if unevenness(fitting[0]) == unevenness(fitting[1]):
            first = "month" if fitting[0].startswith("%m") else "day"
            return fitting[0], [f"{stamps[0]} is read with the {first} first. If that is wrong, change it before storing."]
    return fitting[0], []


def _names(above: Sequence[Sequence[str]], width: int) -> list[str]:
    titled = next((row for row in reversed(above) if len(row) >= 2 and any(cell.strip() for cell in row)), [])
    return [(titled[n].strip() if n < len(titled) else "") or f"column {n + 1}" for n in range(width)]


def _value_column(data: Sequence[Sequence[str]], names: Sequence[str], taken: set[int | None]) -> int:
    """The column of numbers whose name speaks of water or pressure, or else the first that varies."""
    numeric = [n for n in range(len(data[0])) if n not in taken and _share_of_numbers(data, n) > 0.8]
    if not numeric:
        raise BadRecord("There is no column of numbers next to the times. The file needs a level or a pressure in each line.")
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
    return len(values) > 2 and all(after - before == 1 for before, after in pairwise(values))


def _share_of_numbers(data: Sequence[Sequence[str]], n: int) -> float:
    good = 0
    for row in data:
        try:
            number_of(row[n], comma=True)
            good += 1
        except (ValueError, IndexError):
            continue
    return good / len(data)


def _unit(name: str, above: str) -> tuple[str, list[str]]:
    for text in (name, above):
        for unit, spelling in _SPELLINGS.items():
            if re.search(rf"(?:^|[\s,(\[_/:;])(?:{spelling})(?:$|[\s,)\]_/:;])", text, re.IGNORECASE):
                return unit, []
    if re.search("press", name, re.IGNORECASE):
        return "kPa", [f"The column {name!r} names no unit; kilopascals are assumed. Check it."]
    return "m", [f"The column {name!r} names no unit; meters are assumed. Check it."]


def _offset_name(offset: str | None) -> str:
    if not offset:
        return "UTC"
    sign, digits = offset[0], offset[1:].replace(":", "")
    hours, minutes = (digits[:-2], digits[-2:]) if len(digits) > 2 else (digits, "00")
    return "UTC" if int(hours) == int(minutes) == 0 else f"UTC{sign}{int(hours):02d}:{minutes}"


def _is_form(form: str) -> bool:
    """Whether strptime can read by it: it names each part of a time once."""
    try:
        parsed("", form)
    except ValueError as fault:
        return form == "iso" or "directive" not in str(fault)
    except re.error:
        return False
    return True


def told(found: Look, said: dict[str, object]) -> Columns:
    """
    The guess with what a person says instead; names left out or empty stay as guessed.

    Raises:
        BadRecord: a name is not one of the columns', or a value not of its kind, such as a zone that is none.
    """
    given = {name: value for name, value in said.items() if value not in (None, "")}
    wrong = [name for name in given if name not in Columns.__dataclass_fields__]
    if wrong:
        raise BadRecord(f"There is no setting {', '.join(wrong)}. Known are: {', '.join(Columns.__dataclass_fields__)}.")
    for name in ("first_line", "time", "date", "value"):
        if name in given:
            try:
                given[name] = int(str(given[name]))
            except ValueError:
                raise BadRecord(f"{name} is the number of a line or column; {given[name]!r} is none.") from None
            if not 0 <= int(str(given[name])) < (10_000 if name == "first_line" else len(found.names)):
                raise BadRecord(f"There is no {name} column number {given[name]}: the file has {len(found.names)}, counted from 0.")
    if not isinstance(given.get("delimiter", ","), str) or len(str(given.get("delimiter", ","))) != 1:
        raise BadRecord(f"The delimiter is one character; {given['delimiter']!r} is not.")
    if not isinstance(given.get("decimal_comma", False), bool):
        raise BadRecord(f"decimal_comma is true or false; {given['decimal_comma']!r} is neither.")
    given = {name: str(value) if name in ("zone", "unit", "time_form") else value for name, value in given.items()}
    whole = replace(found.columns, **given)  # type: ignore[arg-type]
    if not _is_form(whole.time_form):
        raise BadRecord(f"{whole.time_form!r} is not a time format. Give one such as %Y-%m-%d %H:%M, or iso.")
    if whole.zone != IN_THE_FILE:
        zone_of(whole.zone)
    scale_of(whole.unit)
    return whole
