"""What reads the columns of a moment: its day and its time, together or apart, by the clock of a zone."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from fieldlog.imports.cells import Cell, text_of
from fieldlog.imports.mapping import Column
from fieldlog.imports.values import Mend, clock_of, day_of, instant_text, moment_of, offset_in, says_nothing
from fieldlog.instants import normal
from fieldlog.records.moments import is_instant

Moment = tuple[str, bool]
"""A moment as records have it, and whether its time was said."""


@lru_cache(maxsize=64)
def zone_named(name: str) -> ZoneInfo | None:
    """A time zone by its name, None where there is none of it."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, OSError, ValueError):
        return None


def moment_in(
    cells: list[tuple[Column, Cell]], zone: str | None, other_day: date | None
) -> Moment | tuple[int, Mend] | None:  # fmt: skip
    """
    The moment that one or two cells say.

    Args:
        cells: those of the columns that are this moment, in the order of the sheet.
        zone: of a time that says none itself, and whose column says none.
        other_day: the day of the row's main moment, for a column that says a time alone.

    Returns:
        The moment; None where the cells say nothing; or which cell is to be mended, and why.
    """
    day: date | None = None
    clock: time | None = None
    read_at, offset = 0, None
    for place, (column, cell) in enumerate(cells):
        if isinstance(cell, dict) and "fault" in cell:
            return place, Mend(cell["fault"])
        if says_nothing(cell):
            continue
        if isinstance(cell, str) and is_instant(cell):
            return normal("_at", cell), True
        found = clock_of(cell)
        if not isinstance(found, Mend) and found is not None:
            clock, read_at = found, place
        own = offset_in(cell)
        offset = own if own is not None else offset
        day_said = day_of(cell, column.order, column.days_from)
        if not isinstance(day_said, Mend):
            day = day_said
            if isinstance(found, Mend):
                return place, found
        elif found is None or isinstance(found, Mend):
            return place, found if isinstance(found, Mend) and day is not None else day_said
    if day is None and clock is None:
        return None
    day = day or other_day
    if day is None:
        return read_at, Mend(f"{text_of(cells[read_at][1])} is a time without a day. Add its day.")
    return _at(day, clock, offset, cells, read_at, zone)


def _at(
    day: date, clock: time | None, offset: timedelta | None, cells: list[tuple[Column, Cell]], read_at: int, zone: str | None
) -> Moment | tuple[int, Mend]:  # fmt: skip
    if offset is not None and clock is not None:
        return instant_text(datetime.combine(day, clock, UTC) - offset), True
    name = next((column.zone for column, _ in cells if column.zone), zone)
    known = zone_named(name) if name else None
    if known is None:
        return read_at, Mend("No time zone is known for this row. Name the site, or say the zone beside the column.")
    night = next((column.night for column, _ in cells if column.night), None)
    at = _moment(day, clock, known, night)
    return (read_at, at) if isinstance(at, Mend) else (at, clock is not None)


@lru_cache(maxsize=20_000)
def _moment(day: date, clock: time | None, zone: ZoneInfo, night: str | None) -> str | Mend:
    at = moment_of(day, clock, zone, night)
    return at if isinstance(at, Mend) else instant_text(at)


def day_said(cells: list[tuple[Column, Cell]]) -> date | None:
    """The day that the cells of a moment say, None where they say none."""
    for column, cell in cells:
        if not says_nothing(cell):
            day = day_of(cell, column.order, column.days_from)
            if not isinstance(day, Mend):
                return day
    return None
