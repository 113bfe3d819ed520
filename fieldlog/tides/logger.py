"""
Reading a logger's file as told: which columns hold time and value, in which unit and zone (logger_look.py guesses them).

Nothing is converted in silence, and the lines that cannot be read are counted.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from fieldlog.errors import BadRecord

METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254}
KILOPASCALS = {"kPa": 1.0, "hPa": 0.1, "mbar": 0.1, "bar": 100.0, "dbar": 10.0, "psi": 6.894757293168, "inHg": 3.386389}
"""Inch of mercury at 0 °C; psi from the international pound and inch (exact definitions, rounded)."""

IN_THE_FILE = "in the file"
"""Stands for the zone where each time carries its own."""

_BAD_SHOWN = 5

_NO_READING = re.compile(r"-?(?=(?:.*9){3})9+[.,]?9*0*")


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
class Readings:
    """Times (seconds since 1970 UTC) and values (metres or kilopascals) as they stand in the file, and what could not be read."""

    t_s: np.ndarray
    value: np.ndarray
    unread: int
    unread_lines: tuple[int, ...]


def read(text: str, columns: Columns) -> Readings:
    """
    Read a file as told. All nines, far from everything else, are a logger's word for no reading (-9999) and count as unread.

    Raises:
        BadRecord: fewer than ten lines can be read, or the zone or unit is not known.
    """
    scale = scale_of(columns.unit)
    clock = None if columns.zone == IN_THE_FILE else zone_of(columns.zone)
    times: list[float] = []
    values: list[float] = []
    unread: list[int] = []
    lines: list[int] = []
    nines: list[int] = []
    last: datetime | None = None
    width = max(columns.time, columns.date or 0, columns.value) + 1
    for number, row in enumerate(_rows(text, columns.delimiter), 1):
        if number <= columns.first_line or not any(cell.strip() for cell in row):
            continue
        try:
            if len(row) < width:
                raise ValueError("cut line")
            naive = parsed(stamp_of(row, columns.date, columns.time), columns.time_form)
            value = number_of(row[columns.value], columns.decimal_comma)
            last = _instant(naive, clock, last)
        except (ValueError, OverflowError):  # the second: a time that another zone puts before the year 1 or after 9999
            unread.append(number)
            continue
        if _NO_READING.fullmatch(row[columns.value].strip()):
            nines.append(len(values))
        times.append(last.timestamp())
        values.append(value * scale)
        lines.append(number)
    absent = _absent(np.array(values), nines)
    unread = sorted([*unread, *(lines[n] for n in absent)])
    times, values = (np.delete(np.array(column), absent).tolist() for column in (times, values))
    if len(times) < 10:
        raise BadRecord(
            f"Lines that could be read as a time and a number: {len(times)} only. Are the columns right? "
            f"The first that could not: line {unread[0]}." if unread else f"The file is too short. Its readings: {len(times)}; at least 10 are needed."
        )
    return Readings(np.array(times), np.array(values), len(unread), tuple(unread[:_BAD_SHOWN]))


def _rows(text: str, delimiter: str) -> Iterator[list[str]]:
    try:
        yield from csv.reader(text.splitlines(), delimiter=delimiter)
    except csv.Error as fault:
        raise BadRecord(f"The file cannot be split into columns ({fault}). Export it again as plain text, one reading a line.") from None


def _absent(values: np.ndarray, nines: list[int]) -> list[int]:
    """Those of the places written in nines that lie three times the spread of all others away from them."""
    others = np.delete(values, nines)
    if not nines or not len(others):
        return []
    middle, spread = float(np.median(others)), float(np.ptp(others))
    return [n for n in nines if abs(values[n] - middle) > 3 * spread]


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
        raise BadRecord(f"The time zone {name!r} is not known. Give an IANA name such as America/New_York, or UTC-05:00.") from None


def parsed(stamp: str, form: str) -> datetime:
    """A time as it stands in the file; naive unless it carries its offset."""
    return datetime.fromisoformat(stamp) if form == "iso" else datetime.strptime(stamp, form)  # noqa: DTZ007 (zone follows)


def _instant(naive: datetime, clock: timezone | ZoneInfo | None, last: datetime | None) -> datetime:
    """The instant; of an hour that a clock shows twice, the one that goes on from the line before."""
    if naive.tzinfo is not None:
        return naive.astimezone(UTC)
    at = naive.replace(tzinfo=clock or UTC).astimezone(UTC)
    later = naive.replace(tzinfo=clock or UTC, fold=1).astimezone(UTC)
    return later if last is not None and at <= last <= later else at


def number_of(cell: str, comma: bool) -> float:
    value = float(cell.strip().replace(",", ".") if comma else cell)
    if not math.isfinite(value):
        raise ValueError("not a finite number")
    return value


def stamp_of(row: Sequence[str], date: int | None, time: int) -> str:
    return row[time].strip() if date is None else f"{row[date].strip()} {row[time].strip()}"


def scale_of(unit: str) -> float:
    """
    Metres or kilopascals of one of a unit.

    Raises:
        BadRecord: it is not known.
    """
    scale = METRES.get(unit) or KILOPASCALS.get(unit)
    if scale is None:
        raise BadRecord(f"The unit {unit!r} is not known. Known are: {', '.join([*METRES, *KILOPASCALS])}.")
    return scale
