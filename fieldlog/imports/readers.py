"""What reads the cells of one column as values of one field, by the field's own declaration. Each text is read once."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

from fieldlog.imports.cells import Cell, text_of
from fieldlog.imports.headers import plain
from fieldlog.imports.known import Known
from fieldlog.imports.mapping import LEAVE, NEW, VISIT, Column
from fieldlog.imports.values import Mend, day_of, number_of, says_nothing, yes_no_of
from fieldlog.records.fields import Choice, Date, Declared, Measured, Patterned, Ref, Tag, Whole, YesNo
from fieldlog.records.listed import Listed

EMPTY = ""
"""In the place of a choice: the text says nothing."""

LEFT_OUT = object()
"""In the place of a value: the row is to be left out."""

Value = Any
Read = Callable[[Cell], Value]
ReadAt = Callable[[Cell, str | None, str | None], Value]
"""Reads a cell at a site; the last is the kind that a reference is to."""


def reader_of(declared: Declared, column: Column) -> Read:
    """What reads the cells of a column as values of a field that is neither a moment nor a reference: a value, None, or a `Mend`."""
    read = _plain_reader(declared, column)
    known: dict[str, Value] = {}

    def once(cell: Cell) -> Value:
        if isinstance(cell, dict) and "fault" in cell:
            return Mend(cell["fault"])
        if not isinstance(cell, str):
            return read(cell)
        if cell not in known:
            known[cell] = read(cell)
        return known[cell]

    return once


def _plain_reader(declared: Declared, column: Column) -> Read:
    if isinstance(declared, Listed):
        return lambda cell: _list(declared, column, cell)
    if isinstance(declared, Measured):
        return lambda cell: _number(declared, column, cell)
    if isinstance(declared, YesNo | Choice):
        return lambda cell: _word(declared, column, cell)
    if isinstance(declared, Date):
        return lambda cell: _nothing_or(cell, lambda: _day(column, cell))
    if isinstance(declared, Tag | Patterned):
        return lambda cell: _nothing_or(cell, lambda: text_of(cell).strip())
    return lambda cell: None if cell is None else text_of(cell)


def _nothing_or(cell: Cell, read: Callable[[], Value]) -> Value:
    return None if says_nothing(cell) else read()


def _day(column: Column, cell: Cell) -> Value:
    day = day_of(cell, column.order, column.days_from)
    return day if isinstance(day, Mend) else day.isoformat()


def _number(declared: Measured, column: Column, cell: Cell) -> Value:
    if says_nothing(cell):
        return None
    grade = grade_of(declared, text_of(cell), column)
    if grade is not None:
        return grade
    value = number_of(cell, column.decimal or ".", column.unit, declared.unit)
    if isinstance(value, float) and isinstance(declared, Whole) and value.is_integer():
        return int(value)
    return value


def grade_of(declared: Measured, text: str, column: Column) -> int | None:
    """The grade that a word or a grade's label stands for; None where it is no label."""
    labels: dict[str, str] = declared.metadata.get("x-labels") or {}
    said = column.words.get(text)
    if said and said in labels:
        return int(said)
    return next((int(grade) for grade, label in labels.items() if plain(label) == plain(text)), None)


def _word(declared: Declared, column: Column, cell: Cell) -> Value:
    text = text_of(cell)
    said = column.words.get(text)
    if said is None:
        if says_nothing(cell):
            return None
        said = word_of(declared, text)
    if said is None:
        return Mend(f"“{text[:40]}” is none of the choices of {declared.title} yet. Say what it means, or correct it.")
    if said == EMPTY:
        return None
    if isinstance(declared, YesNo):
        return said == "yes" if said in ("yes", "no") else None
    return said


def word_of(declared: Declared, text: str) -> str | None:
    """The choice that a text is by itself, by its word or its label; of yes and no the usual ways to write them. None where it is none."""
    if isinstance(declared, YesNo):
        said = yes_no_of(text)
        return None if said is None else "yes" if said else "no"
    assert isinstance(declared, Choice)
    if text in declared.labels:
        return text
    return next((word for word, label in declared.labels.items() if plain(text) in (plain(label), plain(word)) and plain(text)), None)


def _list(declared: Listed, column: Column, cell: Cell) -> Value:
    """A list in one cell: its values with a sign between them, or JSON."""
    text = text_of(cell).strip()
    if says_nothing(cell):
        return None
    if text.startswith("["):
        try:
            return json.loads(text)
        except (ValueError, RecursionError):
            return Mend(f"“{text[:40]}” is not a list. Write its values with a semicolon between them.")
    if not declared.is_bare:
        return Mend(f"“{text[:40]}” is not a list. {declared.title} takes a sheet of its own, a row an item.")
    ((_, inner),) = declared.inner.items()
    pieces = [piece for piece in re.split(re.escape(column.split) if column.split else r"[;\s]+", text) if piece]
    values = [reader_of(inner, column)(piece) for piece in pieces]
    return next((value for value in values if isinstance(value, Mend)), values)


def is_record_id(text: str) -> bool:
    """Whether a text has the form of a record's id."""
    return _ANY_RECORD.judge(text) is None


_ANY_RECORD = Ref("Record", "record")


def reference_reader(column: Column, known: Known, made: Callable[[str, str, str | None], str | None]) -> ReadAt:
    """
    What reads the cells of a column as records' ids.

    Args:
        made: gives the id of a record that is to be made by kind, name and site; None where it cannot be made of its name alone.
    """
    read: dict[tuple[str, str | None, str | None], Value] = {}

    def at(cell: Cell, site_id: str | None, kind: str | None) -> Value:
        if isinstance(cell, dict) and "fault" in cell:
            return Mend(cell["fault"])
        if says_nothing(cell):
            return None
        key = (text_of(cell).strip(), site_id, kind)
        if key not in read:
            read[key] = _record(column, known, made, *key)
        return read[key]

    return at


def _record(
    column: Column, known: Known, made: Callable[[str, str, str | None], str | None], text: str, site_id: str | None, kind: str | None
) -> Value:  # fmt: skip
    if kind is None:
        return Mend(f"It does not say of which kind “{text[:40]}” is. Say it for every row, or in a column.")
    said = column.words.get(text)
    if said == LEAVE:
        return LEFT_OUT
    if said == NEW:
        return made(kind, text, site_id) or Mend(f"“{text[:40]}” cannot be made of its name alone. Import these records first.")
    if column.field == VISIT and is_record_id(text):
        # A visit in the envelope may come later, as a phone's may.
        return text
    called = [said] if said and known.called(kind, said, site_id) else known.called(kind, text, site_id)
    if len(called) == 1:
        return called[0]
    if called:
        return Mend(f"“{text[:40]}” names more than one record here. Say which, or write one's own id.")
    return Mend(f"“{text[:40]}” is not known here. Say which it is, let it be made, or leave its rows out.")
