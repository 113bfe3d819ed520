"""
What two phones disagree about, for whoever may read all of a site: of whom or what, on which visit, both values, who wrote each and when.

A stored flag travels in packs, also to readers, so it names no person. This is made when it is read; a phone makes the same of its
own rows (`static/views/difference.js`).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from fieldlog.days import day_words
from fieldlog.flags.doubt import OWN_NAMES, VALUES_TOLD, both_sides, shortened
from fieldlog.flags.flag import moment_of
from fieldlog.flags.histories import binds
from fieldlog.flags.values import moment_words, value_words
from fieldlog.questions.entries import written_by
from fieldlog.questions.flags import OPEN_STATES
from fieldlog.questions.records import disagreement_about, row_or_removed
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.fields import Declared, Ref
from fieldlog.shown_names import named

Row = Mapping[str, Any]

NAMED_BY = OWN_NAMES | {"person": ("", "display_name"), "site": ("", "name"), "unit_design": ("", "name")}
"""Kinds that people know by name, those too whose names no stored flag may say."""


def with_both_sides(db: Database, site: Row, flags: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """
    A site's flags, the open ones about a disagreement with all that is known of it in their sentence; others of people's and visits'
    records begin with whose they are.

    Args:
        site: its row.
        flags: as `list_flags` has them.
    """
    differing = _Differing(db, site)
    return [flag | {"sentence": differing.sentence(flag)} for flag in flags]


class _Differing:
    """Reads what a site's records, entries and people say. A reference binds within one site only."""

    def __init__(self, db: Database, site: Row) -> None:
        self.db = db
        self.site_id: str = site["record_id"]
        self.zone: str | None = site["zone"]

    def sentence(self, flag: Mapping[str, Any]) -> str:
        """The flag's sentence; as it is stored where its record or its values are not here."""
        if flag["rule"] == "disagreement" and flag["state"] in OPEN_STATES:
            return self._both_sides(flag)
        kind = CATALOGUE.kinds.get(flag["subject"]["kind"])
        before, _, said = str(flag["sentence"]).partition(": ")
        if kind is None or kind.privacy == "open" or before != kind.title:
            return str(flag["sentence"])
        row = self._row(kind.name, flag["subject"]["id"])
        return str(flag["sentence"]) if row is None else f"{self._whose(kind.name, row)}: {said}"

    def _both_sides(self, flag: Mapping[str, Any]) -> str:
        kind, record_id, field = flag["subject"]["kind"], flag["subject"]["id"], flag["evidence"]["field"]
        row = self._row(kind, record_id)
        told = disagreement_about(self.db, kind, record_id, field)
        if row is None or told is None:
            return str(flag["sentence"])
        declared = CATALOGUE.kinds[kind].fields.get(field)
        ids, values = json.loads(told[0])[:VALUES_TOLD], json.loads(told[1])
        written = written_by(self.db, ids)
        said = [self._value(declared, row, value) for value in values[:VALUES_TOLD]]
        both = [f"{value} ({self._written(written.get(entry_id))})" for entry_id, value in zip(ids, said, strict=True)]
        title = "removed or not" if declared is None else declared.title
        sides = both_sides([*both, *(["others"] if len(values) > VALUES_TOLD else [])], said[0], title)
        return f"{self._whose(kind, row)}: {sides}"

    def _whose(self, kind: str, row: Row) -> str:
        visit = self._visit(kind, row)
        return f"{visit[:1].upper()}{visit[1:]}" if kind == "visit" else f"{self._subject(kind, row)}, {visit}"

    def _row(self, kind: str | None, record_id: str | None) -> Row | None:
        """A record that is of this site or of the whole programme."""
        if kind not in CATALOGUE.kinds or record_id is None:
            return None
        row = row_or_removed(self.db, kind, record_id)
        return row if row is not None and (binds(self.site_id, row["site_id"]) or record_id == self.site_id) else None

    def _value(self, declared: Declared | None, row: Row, value: Any) -> str:
        if not isinstance(declared, Ref) or value is None:
            return value_words(declared, shortened(value, declared, self.zone), self.zone)
        to = str(declared.metadata["x-ref"])
        kind = row.get(to, to)
        found = self._row(kind, value)
        return f"a {self._title(str(kind))} that is not here" if found is None else self._subject(str(kind), found)

    def _written(self, entry: Row | None) -> str:
        if entry is None:
            return "nobody knows by whom and when"
        person = self._row("person", entry["made_by"])
        who = "a phone with nobody chosen" if entry["made_by"] is None else "somebody not on record here" if person is None else named(person["display_name"])
        return f"{who}, {moment_words(datetime.fromisoformat(moment_of(entry['eff'])), self.zone)}"

    def _subject(self, kind: str, row: Row) -> str:
        """The unit, person or species that a record tells of, else the name that people know it by, else its kind."""
        of_kind = row.get("of_kind")
        about = row if of_kind in (None, "unit") else self._row(of_kind, row["of_id"]) or row
        unit_id = about.get("unit_id") or (row.get("of_id") if of_kind == "unit" else None)
        for to, record_id in (("unit", unit_id), ("person", row.get("person_id")), ("species", row.get("species_id"))):
            if record_id is not None:
                named_row = self._row(to, record_id)
                return f"A {self._title(to)} that is not here" if named_row is None else self._name(to, named_row)
        return self._name(kind, row)

    def _title(self, kind: str) -> str:
        return CATALOGUE.kinds[kind].title.lower() if kind in CATALOGUE.kinds else "record"

    def _name(self, kind: str, row: Row) -> str:
        title = CATALOGUE.kinds[kind].title
        if kind == "species":
            return named(row["common_name"], named(row["scientific_name"]))
        if kind not in NAMED_BY:
            return title
        before, column = NAMED_BY[kind]
        name = named(row[column], "")
        return f"{before}{name}" if name else f"{title} without a name"

    def _visit(self, kind: str, row: Row) -> str:
        if kind != "visit" and row["visit_id"] is None:
            return "no visit"
        visit = row if kind == "visit" else self._row("visit", row["visit_id"])
        if visit is None or visit["started_at"] is None:
            return "a visit that is not here" if visit is None else "a visit without a start"
        started = datetime.fromisoformat(visit["started_at"]).astimezone(ZoneInfo(self.zone or "UTC"))
        return f"visit of {day_words(started, year=True)}"
