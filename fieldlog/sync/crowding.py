"""
How much a record may carry that nobody has settled.

Values that do not know of each other all stand in a record's state, and so do names of entries that have not come; whoever
touches the record later reads them all. An honest phone adds one such value at most, since it names what it follows; a broken or
hostile one adds one a line for ever. Judged at arrival by what the log holds then, never again by a replay.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import orjson

from fieldlog.sync import merge
from fieldlog.sync.log import MAX_FIELDS, Entry

MOST_OPEN = 200
"""
Values and awaited names of one field. Twice the phones of the largest day that is planned for (100) may each begin the same visit
without a network; and four savings settle it, since a line names 64 at most.
"""

MOST_OPEN_BYTES = 256 * 1024
"""Of all fields with more than one value, as they stand in the state. Folding that much takes about 14 ms a line, measured."""

HEAD_BYTES = 34
"""An entry's name in JSON."""

ALWAYS_ROOM_BYTES = MOST_OPEN * HEAD_BYTES
"""A record whose lines are no longer than this in all is never crowded: each value and each awaited name takes more of a line."""

Cells = Mapping[str, dict[str, Any]]


def crowds(state: merge.State, entry: Entry) -> bool:
    """
    Whether an entry would leave more open at its record than that may carry, and more than stood open before.

    An entry that names the values which stand, all or as many as a line can, is never too much: it takes their place.
    """
    before: Cells = {name: state["fields"][name] for name in entry.fields if name in state["fields"]}
    trial: merge.State = {**merge.empty(), "fields": dict(before)}
    merge.apply(trial, entry, "")
    after: Cells = trial["fields"]
    grown = [name for name in after if _grew(before.get(name), after[name]) and not _answers(entry, name, before, after)]
    if any(_open(after[name]) > MOST_OPEN for name in grown):
        return True
    return bool(grown) and sum(map(_size, {**state["fields"], **after}.values())) > MOST_OPEN_BYTES


def _grew(before: dict[str, Any] | None, after: dict[str, Any]) -> bool:
    return _open(after) > max(1, _open(before)) or _size(after) > _size(before)


def _open(cell: dict[str, Any] | None) -> int:
    return 0 if cell is None else len(cell["heads"]) + len(cell["waiting"])


def _size(cell: dict[str, Any] | None) -> int:
    """Bytes of a field in which something is open: a single value is none."""
    return 0 if cell is None or _open(cell) < 2 else len(orjson.dumps(cell))


def _answers(entry: Entry, name: str, before: Cells, after: Cells) -> bool:
    heads = {head[0] for head in before[name]["heads"]} if name in before else set()
    named = heads.intersection(entry.bases.get(name, ()))
    return bool(heads) and len(named) >= min(len(heads), MAX_FIELDS) and _open(after[name]) <= _open(before[name])
