"""
Repeated values: a list of numbers such as shell heights, or of small records such as a plan's stops. Declared like any field.

A list of one inner field holds its values bare, [23, 31, 18]; a list of several holds small records, [{"team": 1, ...}, ...].
It merges whole. Tables keep it as JSON text; `item_rows` makes the rows of a table of its own. `static/records/validate.js`
judges the same, with the same words.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from fieldlog.records import sentences
from fieldlog.records.empty import is_empty
from fieldlog.records.fields import Choice, Date, Declared, Measured, Ref, Tag, Text, Verdict, Whole, YesNo

MAY_REPEAT = (Measured, YesNo, Choice, Text, Date, Ref)
"""An instant has one form in rows, made by the name of its field; so none stands within a list."""

NOT_WITHIN = ("x-last", "x-crew", "x-settled", "x-merge", "x-since", "x-datum", "x-across", "x-made-here")
"""What is said of a whole record's fields."""

RECORD_ID, PLACE = "record_id", "place"
"""The first columns of a list's own table: whose list it is, and which item of it, counted from 1."""


class Listed(Declared):
    """
    A list, with how many items it holds at least and at most.

    Args:
        inner: the fields of an item by their names, units in the names; of one field the items are its bare values.
        before: reads the items out of a row of older apps, which wrote them as another field; None where that holds none.

    Raises:
        ValueError: an inner field of a type, or with a word, that has no meaning within a list.
    """

    type_word = "list"

    def __init__(
        self, title: str, inner: Mapping[str, Declared], *, most: int, least: int = 0,
        before: Callable[[Mapping[str, Any]], list[Any] | None] | None = None, **says: Any,
    ) -> None:  # fmt: skip
        for name, declared in inner.items():
            unfit = [word for word in NOT_WITHIN if word in declared.metadata]
            if not isinstance(declared, MAY_REPEAT) or name in (RECORD_ID, PLACE) or unfit:
                raise ValueError(f"{title} cannot repeat {name}, a {declared.type_word}{' with ' if unfit else ''}{', '.join(unfit)}.")
        if not inner or not 0 <= least <= most:
            raise ValueError(f"{title} needs an inner field, and limits from 0 on; it has {len(inner)}, {least} and {most}.")
        self.inner, self.least, self.most, self.before = dict(inner), least, most, before
        self.is_bare = len(inner) == 1
        self._unlikely = any(isinstance(one, Tag) or (isinstance(one, Measured) and one.plausible is not None) for one in inner.values())
        items = next(_described(name, one, within=False) for name, one in inner.items()) if self.is_bare else _group(inner)
        super().__init__(title, type="array", items=items, minItems=least or None, maxItems=most, **says)

    @property
    def may_be_unlikely(self) -> bool:
        """Whether one of its items may be possible and unlikely."""
        return self._unlikely

    def judge(self, value: Any) -> Verdict | None:
        """The first item that is turned down, else the first that is doubted, told with its place."""
        if not isinstance(value, list):
            return self._bad_type("a list", value)
        if self.required and not value:
            return Verdict("missing", sentences.missing(self.title), hard=True)
        if not self.least <= len(value) <= self.most:
            return Verdict("beyond-limit", sentences.items(self.title, len(value), self.least, self.most), hard=True)
        doubt = None
        for place, item in enumerate(value, 1):
            for verdict in self._faults(item):
                told = Verdict(verdict.word, sentences.at_place(self.title, place, verdict.sentence), verdict.hard)
                if told.hard:
                    return told
                doubt = doubt or told
        return doubt

    def _faults(self, item: Any) -> Iterator[Verdict]:
        if self.is_bare:
            yield from _judged(next(iter(self.inner.values())), item, needed=True)
        elif item is None:
            yield Verdict("missing", sentences.missing("It"), hard=True)
        elif not isinstance(item, dict):
            yield Verdict("bad-type", sentences.not_a("It", "a group of values", item), hard=True)
        else:
            for name, declared in self.inner.items():
                yield from _judged(declared, item.get(name), needed=declared.required)
            # A browser orders keys in its own way, so the least one is told, by the order of JavaScript's texts.
            unknown = min((str(name) for name in item if name not in self.inner), key=lambda name: name.encode("utf-16-be", "surrogatepass"), default=None)
            if unknown is not None:
                yield Verdict("unknown-field", sentences.no_such_field(self.title, unknown), hard=True)


def _judged(declared: Declared, value: Any, *, needed: bool) -> Iterator[Verdict]:
    if needed and is_empty(value):
        yield Verdict("missing", sentences.missing(declared.title), hard=True)
    elif value is not None and (verdict := declared.judge(value)) is not None:
        yield verdict


def _group(inner: Mapping[str, Declared]) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": {name: _described(name, declared, within=True) for name, declared in inner.items()},
        "required": [name for name, declared in inner.items() if declared.required],
        "additionalProperties": False,
    }


def _described(name: str, declared: Declared, *, within: bool) -> dict[str, Any]:
    """An inner field as JSON Schema with our x-words; bare, it says its name too, which is its column's."""
    kind = "integer" if isinstance(declared, Whole) else "number" if isinstance(declared, Measured) else "boolean" if isinstance(declared, YesNo) else "string"
    may_be_null = within and not declared.required
    said = dict(declared.metadata)
    if "enum" in said and not may_be_null:
        said["enum"] = [word for word in said["enum"] if word is not None]
    return {"type": [kind, "null"] if may_be_null else kind, **said, **({} if within else {"x-name": name})}


def packed(value: list[Any] | None) -> str | None:
    """A list as its column keeps it: JSON text."""
    return None if value is None else json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def opened(value: list[Any] | str | None) -> list[Any] | None:
    """The list in a column's text; one that is a list already as it is."""
    if not isinstance(value, str):
        return value
    read: list[Any] = json.loads(value)
    return read


def items_of(listed: Listed, name: str, row: Mapping[str, Any]) -> list[Any]:
    """
    The items of a list in a row, those too that an older app wrote as another field.

    Args:
        name: the list's field.
        row: of a table, or the fields of an entry.
    """
    items = opened(row.get(name))
    if items is None and listed.before is not None:
        items = listed.before(row)
    return items or []


def item_columns(listed: Listed) -> dict[str, Declared]:
    """The columns that a list's own table has behind `record_id` and `place`: {name: what is declared of it}."""
    return dict(listed.inner)


def item_rows(listed: Listed, name: str, row: Mapping[str, Any]) -> list[dict[str, Any]]:
    """
    A record's list as rows of a table of its own.

    Args:
        name: the list's field.
        row: the record's row as its table has it, `record_id` with it.

    Returns:
        A row an item, in the list's order: {"record_id": text, "place": from 1 on, and each column of `item_columns`: its value or null}.
    """
    return [
        {RECORD_ID: row[RECORD_ID], PLACE: place, **_values(listed, item)}
        for place, item in enumerate(items_of(listed, name, row), 1)
    ]  # fmt: skip


def _values(listed: Listed, item: Any) -> dict[str, Any]:
    if listed.is_bare:
        return dict.fromkeys(listed.inner, item)
    return {name: item.get(name) for name in listed.inner}


def from_item_rows(listed: Listed, rows: list[Mapping[str, Any]]) -> list[Any]:
    """The list that rows of its own table make, by their place: what `item_rows` undoes; a value that is null is left out of its record."""
    in_order = sorted(rows, key=lambda row: row[PLACE])
    if listed.is_bare:
        return [row[name] for row in in_order for name in listed.inner]
    return [{name: row[name] for name in listed.inner if row.get(name) is not None} for row in in_order]
