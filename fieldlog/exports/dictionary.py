"""The data dictionary of an export: for programs as the schema of a Frictionless data package, for people as a table."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from fieldlog.exports.columns import (
    CHOICE,
    DATE,
    ID,
    INSTANT,
    LOCAL,
    NUMBER,
    TEXT,
    TEXTS,
    WHOLE,
    YES_NO,
    Column,
    Table,
)
from fieldlog.exports.stream import Export, MadeBy
from fieldlog.records.sentences import number_text

SCHEMA_TYPES = {
    ID: "string", TEXT: "string", CHOICE: "string", NUMBER: "number", WHOLE: "integer", YES_NO: "boolean", DATE: "date", INSTANT: "datetime",
    LOCAL: "datetime",
}  # fmt: skip
"""Our types in the words of Table Schema."""

APOSTROPHE = (
    "A text that begins with = + - @, a tab, a carriage return or an apostrophe has one more apostrophe before it."
    " So a spreadsheet program shows it and runs nothing. Take one apostrophe off to have the text as it was written. Numbers have none."
)

TITLES = ("Table", "Column", "Title", "Type", "Unit", "Least", "Most", "Unlikely under", "Unlikely over", "Choices", "Needed", "What it is", "Source", "Computed by")
"""What the dictionary as a table says of each column."""


def schema_of(table: Table, made_by: MadeBy) -> dict[str, Any]:
    """A table's schema in the words of Table Schema, with what else its declaration says."""
    fields = [_field(column, made_by, table.computed) for column in table.columns]
    has_key = bool(table.columns) and table.columns[0].name == "record_id" and not table.list_of and table.kind is not None
    return {"fields": fields, **({"primaryKey": ["record_id"]} if has_key else {}), "missingValues": [""]}


def _field(column: Column, made_by: MadeBy, all_computed: bool) -> dict[str, Any]:
    constraints = {
        "required": (column.required and not column.declared) or None, "minimum": column.least, "maximum": column.most,
        # A grade's choices are whole numbers from the least to the most; a word is one of these.
        "enum": list(column.choices) or None if column.type == CHOICE else None,
    }  # fmt: skip
    said = {
        "name": column.name, "type": SCHEMA_TYPES[column.type], "title": column.title, "description": column.description,
        "constraints": {name: value for name, value in constraints.items() if value is not None} or None,
        "unit": column.unit, "plausible": column.plausible and list(column.plausible),
        "categories": [{"value": int(value) if column.type == WHOLE else value, "label": label} for value, label in column.choices.items()] or None,
        "needed": column.required or None, "of": column.of, "refersTo": column.refers_to, "source": column.source,
        "computedBy": made_by.computed_by if column.computed or all_computed else None,
    }  # fmt: skip
    return {name: value for name, value in said.items() if value is not None}


def described(export: Export, resources: list[dict[str, Any]]) -> bytes:
    """The descriptor of a package of these resources, as JSON text."""
    made_by = export.made_by
    said = {
        "profile": "data-package", "name": "fieldlog-export", "title": made_by.programme, "created": made_by.made_at, "version": made_by.version,
        "resources": resources,
    }  # fmt: skip
    return json.dumps(said, ensure_ascii=False, indent=1).encode()


def dictionary_rows(export: Export) -> Iterator[tuple[str, ...]]:
    """A row a column of each table, in the order of `TITLES`."""
    for table in export.tables:
        for column in table.columns:
            low, high = column.plausible or (None, None)
            yield (
                table.name, column.name, column.title, column.type, column.unit or "", _limit(column.least), _limit(column.most), _limit(low), _limit(high),
                "; ".join(f"{value}: {label}" for value, label in column.choices.items()), "yes" if column.required else "", _what(column),
                column.source or "", export.made_by.computed_by if column.computed or table.computed else "",
            )  # fmt: skip


def _what(column: Column) -> str:
    return column.description or (f"Beside {column.of}" if column.of else "")


def _limit(value: float | None) -> str:
    return "" if value is None else number_text(value)


def has_texts(table: Table) -> bool:
    """Whether a table has a column in which an apostrophe may stand before a text."""
    return any(column.type in TEXTS for column in table.columns)
