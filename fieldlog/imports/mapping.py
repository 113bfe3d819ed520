"""
How a sheet is to be read: what a lead settles column by column, kept as JSON under a name or in a file.

    {"kind": "unit_check", "sheet": "Checks", "header_row": 1, "zone": "America/New_York", "constants": {"method": "rtk"},
     "columns": {"Block no": {"field": "unit_id", "words": {"B-7": "<id>", "old C4": "new"}},
                 "Date": {"field": "checked_at", "order": "mdy"}, "exposed in.": {"field": "exposed_height_mm", "unit": "in"}},
     "wide": {"columns": ["2024-06-01", "2024-07-01"], "heading": {"field": "checked_at"}, "value": {"field": "exposed_height_mm", "unit": "cm"}}}

Nothing in it is guessed: what it does not say, and what must be said, stays an open question.
"""

from __future__ import annotations

import json
from collections.abc import Mapping as Says
from dataclasses import asdict, dataclass
from dataclasses import field as made
from typing import Any

from fieldlog.errors import BadTable
from fieldlog.imports.values import DAYS_FROM, NIGHTS, ORDERS

NEW, LEAVE = "new", "leave"
"""In the place of a record's id: it is to be made, or its rows are to be left out."""

RECORD, SITE, VISIT, OBSERVER = "record_id", "site_id", "visit_id", "observer"
ENVELOPE = {RECORD: "Record's own id", SITE: "Site", VISIT: "Visit", OBSERVER: "Observer"}
"""What a row may say beside its kind's fields: {name: title}."""


@dataclass
class Column:
    """
    How one column is read.

    `field` is the kind's, one of ENVELOPE, or None where the column is left out. `unit`, `decimal`, `order` (of days), `days_from`, `zone`
    and `night` are as `values.py` takes them; `words` says what a text stands for: a choice, "yes", "no", a record's id, NEW or LEAVE;
    `split`: what stands between the values of a list. `is_settled`: a person said so, though another column has the same name.
    """

    field: str | None = None
    unit: str | None = None
    decimal: str | None = None
    order: str | None = None
    days_from: str | None = None
    zone: str | None = None
    night: str | None = None
    words: dict[str, str] = made(default_factory=dict)
    split: str | None = None
    is_settled: bool = False


@dataclass
class Wide:
    """A sheet with a column a date, or a species, turned long: each of these columns becomes a row, its heading and its cell two columns."""

    columns: list[str]
    heading: Column
    value: Column


@dataclass
class Mapping:
    """How a whole sheet is read; `header_row` counts from 1, as spreadsheets do. `constants` say the same for every row."""

    kind: str
    sheet: str = ""
    header_row: int = 1
    zone: str | None = None
    columns: dict[str, Column] = made(default_factory=dict)
    constants: dict[str, Any] = made(default_factory=dict)
    wide: Wide | None = None


HEADING, VALUE = "heading of the column", "value in the column"
"""What the two columns are called that a wide sheet has once it is long."""


def long_columns(mapping: Mapping) -> dict[str, Column]:
    """The columns of the rows that records are made of: of a wide sheet those that stay, the heading and the value."""
    if mapping.wide is None:
        return mapping.columns
    turned = set(mapping.wide.columns)
    stay = {header: column for header, column in mapping.columns.items() if header not in turned}
    return stay | {HEADING: mapping.wide.heading, VALUE: mapping.wide.value}


def as_said(mapping: Mapping) -> dict[str, Any]:
    """A mapping as JSON, without what says nothing."""
    return _full(asdict(mapping))  # type: ignore[no-any-return]


def _full(said: Any) -> Any:
    if not isinstance(said, dict):
        return said
    return {name: _full(value) for name, value in said.items() if value not in (None, {}, False, "") or name == "field"}


def settled(said: dict[str, Any], sets: list[dict[str, Any]]) -> dict[str, Any]:
    """
    A mapping as JSON with the answers to questions in it.

    Args:
        sets: of each change the `path` to where it stands and the `value`; `static/online/bring-in.js` does the same.
    """
    made: dict[str, Any] = json.loads(json.dumps(said))
    for change in sets:
        group = made
        for name in change["path"][:-1]:
            group = group.setdefault(name, {})
        group[change["path"][-1]] = change["value"]
    return made


_ONE_OF = {"decimal": (".", ","), "order": tuple(ORDERS), "days_from": tuple(DAYS_FROM), "night": tuple(NIGHTS)}
_TEXTS = ("field", "unit", "zone", "split")


def mapping_of(said: Any) -> Mapping:
    """
    A mapping out of JSON.

    Raises:
        BadTable: it is none.
    """
    if not isinstance(said, dict) or not isinstance(said.get("kind"), str):
        raise _bad("it names no kind")
    unknown = set(said) - {"kind", "sheet", "header_row", "zone", "columns", "constants", "wide"}
    if unknown:
        raise _bad(f"“{sorted(unknown)[0]}” is unknown")
    row = said.get("header_row", 1)
    if type(row) is not int or not 1 <= row <= 1000:
        raise _bad("header_row must be a whole number from 1 to 1000")
    sheet, zone = said.get("sheet", ""), said.get("zone")
    if not isinstance(sheet, str) or not (zone is None or isinstance(zone, str)):
        raise _bad("sheet and zone must be text")
    if any(not isinstance(value, str | int | float) for value in _group(said.get("constants", {}), "constants").values()):
        raise _bad("what every row says must be text or a number")
    columns, constants = _group(said.get("columns", {}), "columns"), _group(said.get("constants", {}), "constants")
    return Mapping(
        said["kind"], sheet, row, zone, {header: _column(header, column) for header, column in columns.items()}, dict(constants), _wide(said.get("wide"))
    )


def _wide(said: Any) -> Wide | None:
    if said is None:
        return None
    names = _group(said, "wide").get("columns")
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        raise _bad("wide must have a list of columns")
    return Wide(names, _column("heading", said.get("heading", {})), _column("value", said.get("value", {})))


def _column(header: str, said: Any) -> Column:
    given = _group(said, header)
    for name, value in given.items():
        if name in _ONE_OF:
            is_right = value is None or value in _ONE_OF[name]
        elif name in _TEXTS:
            is_right = value is None or isinstance(value, str)
        elif name == "words":
            is_right = isinstance(value, dict) and all(isinstance(word, str) for word in value.values())
        else:
            is_right = name == "is_settled" and isinstance(value, bool)
        if not is_right:
            raise _bad(f"{name} of column “{header}” cannot be {value!r}")
    return Column(**given)


def _group(said: Any, what: str) -> Says[str, Any]:
    if not isinstance(said, dict):
        raise _bad(f"{what} must be a group of values")
    return said


def _bad(why: str) -> BadTable:
    return BadTable(f"The choices of columns cannot be used: {why}. Open the file again and settle its columns.")
