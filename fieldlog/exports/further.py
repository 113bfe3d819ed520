"""The rows of the tables that are no kind's: flags, disagreements, movements by survey, and every value ever written."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from itertools import groupby
from operator import itemgetter
from typing import Any

from sqlite_utils import Database

from fieldlog.exports.columns import PERSON, Table
from fieldlog.exports.making import Row, beside_values
from fieldlog.exports.tables import NAMES, Wanted
from fieldlog.exports.within import Days
from fieldlog.exports.words import Words
from fieldlog.flags.flag import about_of, moment_of
from fieldlog.instants import normal
from fieldlog.questions.entries import written_by
from fieldlog.questions.export_rows import entries_of, movements_of
from fieldlog.questions.whole_tables import disagreements_of, flags_of
from fieldlog.records.catalogue import Catalogue, Kind
from fieldlog.records.kind import DELETED
from fieldlog.records.sentences import number_text
from fieldlog.sync import merge
from fieldlog.sync.log import Entry
from fieldlog.sync.states import entry_in_log

_VERDICT = (
    "unit_id", "site_id", "survey", "at", "verdict", "east_m", "north_m", "p", "t2", "shows_m", "least_shift_m", "misread", "doubts", "by_marks",
    "method", "zero_method", "zero_at", "zero_id", "fixed_at", "fix_id",
)  # fmt: skip


def further_rows(db: Database, catalogue: Catalogue, wanted: Wanted, words: Words, table: Table) -> Iterator[Row]:
    """The rows of a table that is no kind's."""
    reading = _Reading(db, catalogue, wanted, words)
    rows = {"flag": reading.flags, "disagreement": reading.disagreements, "unit_movement": reading.movements, "history": reading.history}[table.name]()
    return (tuple(beside_values(table.columns, row, words)) for row in rows)


class _Reading:
    """The same as rows by names; a person is named by an id here, and only where names are wanted in what is told of."""

    def __init__(self, db: Database, catalogue: Catalogue, wanted: Wanted, words: Words) -> None:
        self._db, self._wanted, self._words = db, wanted, words
        self._kinds = {name: kind for name, kind in catalogue.kinds.items() if kind.privacy in wanted.classes}
        self._days = Days(wanted, words.zones) if wanted.from_day or wanted.to_day else None

    def flags(self) -> Iterator[dict[str, Any]]:
        """Flags about what the export may tell of."""
        for row in flags_of(self._db, self._wanted.sites):
            if row["subject_kind"] not in self._kinds or not self._is_wanted_day(row["raised_at"], row["site_id"]):
                continue
            about = about_of(row["rule"])
            names_people = self._kinds[row["subject_kind"]].privacy != "open" and not self._wanted.names
            # What is said of people beside the sentence, which names none, would say who they are.
            hidden: dict[str, Any] = {"evidence": None, "raised_by_record": None, "settled_by": None} if names_people else {"evidence": _json(row["evidence"])}
            yield row | hidden | self._told(row["subject_kind"], row["subject_id"], "subject_id") | {
                "rule_title": about and about.title, "subject_name": self._name(row["subject_kind"], row["subject_id"], row["site_id"]),
            }  # fmt: skip

    def disagreements(self) -> Iterator[dict[str, Any]]:
        """A row a value that stands against another."""
        for row in disagreements_of(self._db, self._wanted.sites):
            kind = self._kinds.get(row["kind"])
            if kind is None or not self._may_tell(kind, row["field"]):
                continue
            entries = written_by(self._db, row["entry_ids"])
            for place, (entry_id, value) in enumerate(zip(row["entry_ids"], row["values"], strict=True)):
                entry = entries[entry_id]
                yield self._value_of(kind, row["record_id"], row["site_id"], row["field"], value) | {
                    "stands": int(place == 0), "observer_id": entry["made_by"], "written_at": moment_of(entry["eff"]), "entry_id": entry_id,
                }  # fmt: skip

    def movements(self) -> Iterator[dict[str, Any]]:
        """What surveys say of units."""
        for values in movements_of(self._db, _VERDICT, self._wanted.sites):
            row = dict(zip(_VERDICT, values, strict=True))
            if self._is_wanted_day(row["at"], row["site_id"]):
                yield row | {"moved_m": math.hypot(row["east_m"], row["north_m"])}

    def history(self) -> Iterator[dict[str, Any]]:
        """A row a value of a field that an entry wrote, removals among them, each with whether it is what its record says now."""
        for (name, record_id), entries in groupby(entries_of(self._db, self._kinds, self._wanted.sites), key=itemgetter(0, 1)):
            kind = self._kinds[name]
            own = [
                (site_id, author, eff, entry_in_log(name, record_id, entry_id, lane_id, number, line, author, site_id, visit_id))
                for _, _, site_id, author, eff, entry_id, line, lane_id, number, visit_id in entries
            ]
            stand = _standing(kind, [(entry, eff) for _, _, eff, entry in own])
            for site_id, author, eff, entry in own:
                written_at = moment_of(eff)
                if not self._is_wanted_day(written_at, site_id) or (site_id is None and kind.privacy == "leader" and self._wanted.sites is not None):
                    continue
                for field, value in entry.fields.items():
                    if self._may_tell(kind, field):
                        yield self._value_of(kind, record_id, site_id, field, normal(field, value)) | {
                            "stands": int((entry.entry_id, field) in stand), "observer_id": author, "written_at": written_at, "entry_id": entry.entry_id,
                        }  # fmt: skip

    def _is_wanted_day(self, instant: str, site_id: str | None) -> bool:
        return self._days is None or self._days.has(instant, site_id)

    def _may_tell(self, kind: Kind, field: str) -> bool:
        return self._wanted.names or (kind.name, field) not in NAMES

    def _value_of(self, kind: Kind, record_id: str, site_id: str | None, field: str, value: Any) -> dict[str, Any]:
        declared = kind.fields.get(field)
        title = "Removed" if field == DELETED else declared.title if declared else field
        if kind.refs.get(field) == PERSON and not self._wanted.names:
            value = self._words.numbers.get(value or "")
        told = {"kind": kind.name, "site_id": site_id, "field": field, "field_title": title, "value": _written(value)}
        return told | self._told(kind.name, record_id, "record_id")

    def _told(self, kind: str, record_id: str, column: str) -> dict[str, Any]:
        """A record by its id; a person's by a number where names are not wanted."""
        if kind == PERSON and not self._wanted.names:
            number = self._words.numbers.get(record_id)
            return {column: None if number is None else f"person {number}"}
        return {column: record_id}

    def _name(self, kind: str, record_id: str, site_id: str | None) -> str | None:
        return None if kind == PERSON and not self._wanted.names else self._words.name(kind, record_id, site_id)


def _standing(kind: Kind, entries: list[tuple[Entry, str]]) -> set[tuple[str, str]]:
    """Of a record's entries, each with its stamp, those whose value of a field stands: (entry id, field)."""
    state = merge.empty()
    merge.fold(state, entries)
    values = {name: merge.same(value) for name, value in merge.winners(state, kind.merges, kind.since).items()}
    agreeing = ((head[0], name) for name, cell in state["fields"].items() for head in cell["heads"] if merge.same(head[2]) == values[name])
    # Of several that wrote the same value each wrote what stands.
    return set(agreeing)


def _written(value: Any) -> str | None:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return number_text(value)
    return value if value is None or isinstance(value, str) else _json(value)


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)
