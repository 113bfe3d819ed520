"""
Cells as they travel from the reading child: JSON's own values for text, numbers, yes and no, and groups of one word for the rest.

    {"on": "2025-07-05"}                 a day
    {"at": "2025-07-05T08:10:00"}        a day and a time by the clock, of no zone
    {"clock": "08:10:00"}                a time by the clock alone
    {"fault": "sentence"}                what could not be read
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any

Cell = None | str | float | int | bool | dict[str, str]
Row = list[Cell]


def cell_of(value: Any) -> Cell:
    """A value of a reading library as a cell; text as it stands, one of white space alone as None."""
    if isinstance(value, str):
        return value if value and not value.isspace() else None
    if value is None or isinstance(value, bool | int):
        return value
    if isinstance(value, float):
        return int(value) if value.is_integer() and abs(value) < 2**53 else value
    if isinstance(value, datetime):
        at = _to_second(value)
        return {"on": at.date().isoformat()} if at.time() == time() else {"at": at.isoformat()}
    if isinstance(value, date):
        return {"on": value.isoformat()}
    if isinstance(value, time):
        return {"clock": _to_second(datetime.combine(date(2000, 1, 1), value)).time().isoformat()}
    if isinstance(value, timedelta):
        return value / timedelta(days=1)
    return str(value)


def _to_second(at: datetime) -> datetime:
    """A spreadsheet keeps a time as a part of a day, so 08:10 may be 08:09:59.999."""
    return (at + timedelta(milliseconds=500)).replace(microsecond=0)


def text_of(cell: Cell) -> str:
    """A cell as a person would read it in the sheet."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, float):
        return repr(cell)
    if isinstance(cell, dict):
        ((form, said),) = cell.items()
        return said.replace("T", " ") if form == "at" else said
    return str(cell)
