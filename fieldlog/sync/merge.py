"""
How entries become one record: field by field, whatever the order of arrival.

A **head** is a write of a field that no other write names as its base. The head with the greatest (eff, entry id)
wins; other heads of another value are an open disagreement. The state of a record is plain JSON, the same on the
phone:

    {"first": [eff, id, made_by, site_id, visit_id], "last": [eff, id, made_by],
     "fields": {name: {"heads": [[id, eff, value], ...], "waiting": [ids named as a base, not seen yet]}}}
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime
from functools import partial
from typing import Any

from fieldlog.instants import normal, written
from fieldlog.records.fields import EARLIEST, EITHER, HIGHER, LATEST, LOWER
from fieldlog.sync.clock import is_backdated
from fieldlog.sync.log import Entry

State = dict[str, Any]


def empty() -> State:
    """The state of a record that no entry has touched."""
    return {"first": None, "last": None, "fields": {}}


def apply(state: State, entry: Entry, eff: str) -> None:
    """Fold one entry, ordered by its effective stamp, into a record's state."""
    fold(state, [(entry, eff)])


def fold(state: State, written: Iterable[tuple[Entry, str]]) -> None:
    """
    Fold entries, each with its effective stamp, into a record's state.

    The heads of a field are sorted once, after the last entry: n writes that know nothing of each other cost n log n.
    """
    cells: dict[str, _Cell] = {}
    for entry, eff in written:
        who = [eff, entry.entry_id, entry.made_by, entry.site_id, entry.visit_id]
        if state["first"] is None or (is_backdated(eff), *who[:2]) < (is_backdated(state["first"][0]), *state["first"][:2]):
            state["first"] = who
        if state["last"] is None or who[:2] > state["last"][:2]:
            state["last"] = who[:3]
        for name, value in entry.fields.items():
            cell = cells.get(name)
            if cell is None:
                cell = cells[name] = _Cell(state["fields"].get(name))
            cell.write(entry.entry_id, eff, normal(name, value), entry.bases.get(name, ()))
    for name, cell in cells.items():
        state["fields"][name] = cell.closed()


class _Cell:
    """One field while entries are folded into it: heads by entry id, and the ids named as a base and not seen yet."""

    def __init__(self, closed: dict[str, Any] | None) -> None:
        self._heads: dict[str, list[Any]] = {} if closed is None else {head[0]: head for head in closed["heads"]}
        self._waiting: set[str] = set() if closed is None else set(closed["waiting"])

    def write(self, entry_id: str, eff: str, value: Any, bases: Iterable[str]) -> None:
        for base in set(bases):
            # One that no longer is a head may have been here before: then it never comes again, and waiting harms nobody.
            if self._heads.pop(base, None) is None:
                self._waiting.add(base)
        if entry_id in self._waiting:
            self._waiting.discard(entry_id)
        else:
            self._heads[entry_id] = [entry_id, eff, value]

    def closed(self) -> dict[str, Any]:
        heads = sorted(self._heads.values(), key=lambda head: (head[1], head[0]))
        return {"heads": heads, "waiting": sorted(self._waiting)}


def winners(state: State, merges: Mapping[str, str] | None = None, since: Mapping[str, str] | None = None) -> dict[str, Any]:
    """
    The value of each field.

    Args:
        state: a record's state.
        merges: how fields merge of which not the latest head stands (`fieldlog/records/fields.py` says what the words mean).
        since: fields that end what another begins: {field: that other}.
    """
    merges = merges or {}
    values = {name: _standing(cell["heads"], merges.get(name)) for name, cell in state["fields"].items() if cell["heads"]}
    return values | dict.fromkeys(_begun_again(state, values, since)) if since else values


def _begun_again(state: State, values: Mapping[str, Any], since: Mapping[str, str]) -> list[str]:
    """
    The fields whose end no longer stands: after the newest write of it somebody wrote that it began later than it ends.

    Both are asked. Whoever has seen an end and writes another after it has a later stamp, whatever a clock says; and a beginning
    that is only corrected is no later than its end. What ends something and is no time ends it when it is written.
    """
    found = []
    for name, begins in since.items():
        if values.get(name) is None or values.get(begins) is None:
            continue
        entry_id, eff, _ = state["fields"][name]["heads"][-1]
        ended = values[name] if name.endswith("_at") else written(datetime.fromtimestamp(int(eff[:12], 16) / 1000, UTC))
        if any(head[2] is not None and (head[1], head[0]) > (eff, entry_id) and head[2] > ended for head in state["fields"][begins]["heads"]):
            found.append(name)
    return found


def _standing(heads: list[list[Any]], way: str | None) -> Any:
    """The value that stands of a field's heads, one at least."""
    value = heads[-1][2]
    return value if way is None or len(heads) < 2 else _RULES[way]([head[2] for head in heads], value)


def _careful(way: str, values: list[Any], latest: Any) -> Any:
    """The careful one of values that stand against each other. Of yes and no, not known is more careful than the bold one."""
    if any(isinstance(value, bool) for value in values):
        careful = way == "higher"
        return careful if careful in values else None if None in values else latest
    numbers = [value for value in values if isinstance(value, int | float)]
    return latest if not numbers else min(numbers) if way == "lower" else max(numbers)


def _earliest(values: list[Any], latest: Any) -> Any:
    times = [value for value in values if value is not None]
    return min(times, default=latest)


def _latest(values: list[Any], _latest_write: Any) -> Any:
    """Nothing is a time that has not come yet: who took a time back, or never gave one, is still out."""
    return None if None in values else max(values)


def _either(values: list[Any], latest: Any) -> Any:
    return True if any(value is True for value in values) else latest


_RULES: dict[str, Callable[[list[Any], Any], Any]] = {
    LOWER: partial(_careful, LOWER), HIGHER: partial(_careful, HIGHER), EARLIEST: _earliest, LATEST: _latest, EITHER: _either,
}  # fmt: skip
SETTLING = (EARLIEST, LATEST, EITHER)
"""Ways to merge that ask nobody."""


def disagreements(
    state: State, merges: Mapping[str, str] | None = None, since: Mapping[str, str] | None = None
) -> dict[str, tuple[list[str], list[Any]]]:
    """
    The fields with heads of more than one value that people are asked about.

    Args:
        state: a record's state.
        merges: as `winners` takes it. The value that stands by it comes first.
        since: as `winners` takes it. An end that no longer stands asks nobody.

    Returns:
        {field: (entry ids, values)}, the winner first, then the others in order of (eff, id), a value once.
    """
    found = {}
    open_again = _begun_again(state, winners(state, merges), since) if since else ()
    for name, cell in state["fields"].items():
        way = merges.get(name) if merges else None
        if len(cell["heads"]) < 2 or way in SETTLING or name in open_again:
            continue
        ids: list[str] = []
        values: list[Any] = []
        seen: set[str] = set()
        for entry_id, _eff, value in reversed(cell["heads"]):
            said = same(value)
            if said not in seen:
                seen.add(said)
                ids.append(entry_id)
                values.append(value)
        if len(ids) > 1:
            first = list(map(same, values)).index(same(_standing(cell["heads"], way)))
            found[name] = (ids[first : first + 1] + ids[:first] + ids[first + 1 :], [values[first], *values[:first], *values[first + 1 :]])
    return found


def same(value: Any) -> str:
    """A text that is equal for equal JSON values; numbers are equal by value (3 and 3.0 are one number)."""
    return json.dumps(_as_one_number(value), sort_keys=True)


def _as_one_number(value: Any) -> Any:
    if isinstance(value, float) and value.is_integer() and abs(value) < 2**53:
        return int(value)
    if isinstance(value, list):
        return [_as_one_number(item) for item in value]
    return {name: _as_one_number(item) for name, item in value.items()} if isinstance(value, dict) else value
