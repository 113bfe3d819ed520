"""
Flags from tables: for the subjects that a change touched, their flags are computed anew, and what differs is written.

What comes out depends on the merged tables alone, never on the order in which entries arrived.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

from sqlite_utils import Database

from fieldlog.flags import surveys
from fieldlog.flags.changes import Change
from fieldlog.flags.doubt import Disagreement, RecordSeen
from fieldlog.flags.flag import Found, Rule, flag_id, moment_of, record_rule, unit_rule
from fieldlog.flags.histories import binds, check_histories, full_histories, place_histories
from fieldlog.flags.subjects import Touched, touched_by
from fieldlog.flags.survey_rows import doubts_of_marks
from fieldlog.flags.told import stamps_of_times
from fieldlog.flags.trying import NOT_JUDGED, Failed, all_tried, tried
from fieldlog.flags.unit_history import UnitHistory
from fieldlog.questions.checks import which_are_checks
from fieldlog.questions.flags import Subject, decisions_on, flags_about
from fieldlog.questions.records import disagreements_on, page_of, rows_of_ids, sites_of_records
from fieldlog.questions.sites import zones_of
from fieldlog.questions.units import all_unit_ids, tags_of
from fieldlog.records.catalogue import CATALOGUE, Kind

NOT_TOLD = ("leader", "medical")
"""Flags travel to crew phones, so what only leads may read raises none."""

Row = dict[str, Any]
Rows = list[Row]

_INSERT = """INSERT OR REPLACE INTO flag VALUES (:flag_id, :rule, :severity, :subject_kind, :subject_id, :site_id, :sentence, :evidence,
    :raised_at, :raised_by_record, :state, :settled_at, :settled_by, :settled_reason)"""


def raise_flags(db: Database, changes: Sequence[Change]) -> None:
    """Compute anew the flags that these changes may have changed."""
    touched = touched_by(db, changes)
    said = surveys.keep(db, changes)
    touched.placed |= said.units
    touched.records |= {("control_mark", mark_id) for mark_id in said.marks}
    subjects = {*touched.records, *(("unit", unit_id) for unit_id in touched.units)}
    stored = [((row["subject_kind"], row["subject_id"]), _rule_of(row), row) for row in flags_about(db, subjects)]
    over = _settled_before(db, stored, touched)
    may_change = {(subject, rule) for subject, rule, row in stored if row["flag_id"] not in over}
    asked = {
        unit_id: [rule for rule in unit_rule.rules if touched.asks(rule, unit_id, (("unit", unit_id), rule.name) in may_change)]
        for unit_id in touched.units
    }
    anew = {(("unit", unit_id), rule.name) for unit_id, rules in asked.items() for rule in rules}
    of_records = {rule.name for rule in record_rule.rules}
    before = [row for subject, rule, row in stored if (subject, rule) in anew or (subject in touched.records and rule in of_records)]
    _replace(db, before, [*_flags_of_units(db, asked), *_flags_of_records(db, touched.records)])


def _settled_before(db: Database, stored: Iterable[tuple[Subject, str, Row]], touched: Touched) -> set[str]:
    """
    The flags of units that a check settled before all that are new of the unit.

    Of each measure the first check after the newest that raised it counts, so one that comes after and does not raise changes nothing.
    What a lead settled may still be said in other words: the measures that it names have checks of their own to come.
    """
    settled = [
        row for (kind, unit_id), _, row in stored
        if kind == "unit" and row["state"] == "settled" and unit_id in touched.first_checked and row["settled_at"] < touched.first_checked[unit_id]
    ]  # fmt: skip
    by_checks = which_are_checks(db, [row["settled_by"] for row in settled])
    return {row["flag_id"] for row in settled if row["settled_by"] in by_checks}


def raise_all(db: Database, names: Iterable[str], page: int) -> None:
    """
    Compute every flag from the tables alone; the flag table is empty.

    Args:
        names: the kinds that have a table.
        page: units or records at a time.
    """
    kinds = [CATALOGUE.kinds[name] for name in names if name in CATALOGUE.kinds]
    has_units = any(kind.name == "unit" for kind in kinds)
    ids = all_unit_ids(db) if has_units else []
    if has_units:
        surveys.keep_all(db)
    for first in range(0, len(ids), page):
        _insert(db, [*_flags_of_units(db, dict.fromkeys(ids[first : first + page], unit_rule.rules))])
    for kind in kinds:
        last: int | None = 0 if kind.privacy not in NOT_TOLD else None
        while last is not None:
            rows, last = page_of(db, kind.name, last, page)
            _insert(db, [flag for seen in _records_seen(db, kind, rows) for flag in record_flags(seen)])


def _flags_of_units(db: Database, asked: Mapping[str, Sequence[Rule]]) -> Iterator[Row]:
    """What rules find in these units, of each what is asked of it; a rule is given as much of a history as it looks at."""
    for history, rules in check_histories(db, _asking(asked, lambda rule: rule.says is not None)):
        yield from unit_flags(history, rules)
    places = _asking(asked, lambda rule: not rule.reads_checks)
    whole = _asking(asked, lambda rule: rule.says is None and rule.reads_checks)
    for some, read in ((places, place_histories), (whole, full_histories)):
        for history in read(db, sorted(some)):
            yield from unit_flags(history, some[history.unit["record_id"]])


def _asking(asked: Mapping[str, Sequence[Rule]], is_one: Callable[[Rule], bool]) -> dict[str, list[Rule]]:
    """The units of which rules of one sort are asked, with those."""
    some = {unit_id: [rule for rule in rules if is_one(rule)] for unit_id, rules in asked.items()}
    return {unit_id: rules for unit_id, rules in some.items() if rules}


def unit_flags(history: UnitHistory, rules: Iterable[Rule]) -> Iterator[Row]:
    """What these rules find in a unit's history, as rows of the flag table before any decision."""
    if history.is_retired:
        return
    unit = history.unit
    for rule in rules:
        found = tried(rule.name, rule.find, history)
        if isinstance(found, Failed):
            found = found.found(history.tag, moment_of(unit["changed_eff"]), unit["record_id"])
            yield _not_judged(("unit", unit["record_id"]), unit["site_id"], found)
        elif found is not None:
            yield flag_row(rule.name, ("unit", unit["record_id"]), unit["site_id"], history.since, found)


def record_flags(seen: RecordSeen) -> Iterator[Row]:
    """What the rules about records find in one, as rows of the flag table before any decision."""
    for rule, told in all_tried(record_rule.rules, seen):
        subject = (seen.kind.name, str(seen.row["record_id"]))
        # What a site's own record says belongs to that site, whatever its envelope names.
        site_id = seen.row["record_id" if seen.kind.name == "site" else "site_id"]
        if isinstance(told, Failed):
            yield _not_judged(subject, site_id, told.found(seen.called, moment_of(seen.row["changed_eff"]), subject[1]))
            continue
        for found in told:
            yield flag_row(rule.name, subject, site_id, found.part, found)


def _flags_of_records(db: Database, subjects: set[Subject]) -> Iterator[Row]:
    by_kind: dict[str, list[str]] = defaultdict(list)
    for kind, record_id in subjects:
        if kind in CATALOGUE.kinds and CATALOGUE.kinds[kind].privacy not in NOT_TOLD:
            by_kind[kind].append(record_id)
    for name, ids in by_kind.items():
        for seen in _records_seen(db, CATALOGUE.kinds[name], rows_of_ids(db, name, ids)):
            yield from record_flags(seen)


def _records_seen(db: Database, kind: Kind, rows: Rows) -> Iterator[RecordSeen]:
    differing: dict[str, list[Disagreement]] = defaultdict(list)
    for record_id, name, values in disagreements_on(db, kind.name, [row["record_id"] for row in rows]):
        differing[record_id].append(Disagreement(name, json.loads(values)))
    parents = [_parents(kind, row) for row in rows]
    doubted = doubts_of_marks(db, [row["record_id"] for row in rows]) if kind.name == "control_mark" else {}
    units = _units_of(db, rows, parents)
    here = _sites_of(db, {parent for named in parents for parent in named.values()})
    stamps = stamps_of_times(db, kind, rows)
    zones = zones_of(db, {row["site_id"] for row in rows if row["site_id"]})
    for row, named in zip(rows, parents, strict=True):
        absent = {
            name: parent
            for name, parent in named.items()
            if parent not in here or not (name in kind.across or binds(row["site_id"], here[parent]))
        }
        one = row["record_id"]
        yield RecordSeen(kind, row, differing[one], absent, doubted.get(one), units.get(one), stamps.get(one, {}), zones.get(row["site_id"]))


def _units_of(db: Database, rows: Rows, parents: Sequence[Mapping[str, Subject]]) -> dict[str, Row]:
    """The unit that each of these records names, by the record's id, where one of its own site is on record."""
    named = {row["record_id"]: record_id for row, of in zip(rows, parents, strict=True) for kind, record_id in of.values() if kind == "unit"}
    units = tags_of(db, {*named.values()})
    found = {row["record_id"]: units.get(named.get(row["record_id"], "")) for row in rows}
    return {row["record_id"]: unit for row in rows if (unit := found[row["record_id"]]) is not None and binds(row["site_id"], unit["site_id"])}


def _parents(kind: Kind, row: Row) -> dict[str, Subject]:
    found = {}
    for name, to in kind.refs.items():
        of = row[to] if to in kind.fields else to
        if row[name] is not None and of in CATALOGUE.kinds:
            found[name] = (of, row[name])
    return found


def _sites_of(db: Database, parents: Iterable[Subject]) -> dict[Subject, str | None]:
    """The site of each of these records that is on record at all."""
    by_kind: dict[str, list[str]] = defaultdict(list)
    for kind, record_id in parents:
        by_kind[kind].append(record_id)
    return {
        (kind, record_id): site_id
        for kind, ids in by_kind.items()
        for record_id, site_id in sites_of_records(db, kind, ids)
    }


def flag_row(rule: str, subject: Subject, site_id: str | None, since: str, found: Found) -> Row:
    """The row of the flag table that a finding amounts to before any decision."""
    return {
        "flag_id": flag_id(rule, *subject, since), "rule": rule, "severity": found.severity, "subject_kind": subject[0],
        "subject_id": subject[1], "site_id": site_id, "sentence": found.sentence,
        "evidence": json.dumps(found.evidence, ensure_ascii=False), "raised_at": found.raised_at,
        "raised_by_record": found.record_id, "state": "settled" if found.settled_by else "open",
        "settled_at": found.settled_at, "settled_by": found.settled_by, "settled_reason": found.settled_reason,
    }  # fmt: skip


def _not_judged(subject: Subject, site_id: str | None, found: Found) -> Row:
    return flag_row(NOT_JUDGED, subject, site_id, found.part, found)


def _rule_of(row: Row) -> str:
    """The rule that a flag is about, also where that one could not be judged."""
    return str(row["rule"] if row["rule"] != NOT_JUDGED else json.loads(row["evidence"])["rule"])


def _replace(db: Database, before: Rows, found: Rows) -> None:
    """Put what rules found in the place of what they had found before; what is the same is left alone."""
    had = {row["flag_id"]: row for row in before}
    has = {row["flag_id"]: row for row in _decided_on(db, found)}
    db.conn.executemany("DELETE FROM flag WHERE flag_id = ?", [(gone,) for gone in had.keys() - has.keys()])
    db.conn.executemany(_INSERT, [row for key, row in has.items() if had.get(key) != row])


def _insert(db: Database, rows: Rows) -> None:
    db.conn.executemany(_INSERT, _decided_on(db, rows))


def _decided_on(db: Database, rows: Rows) -> Rows:
    """These rows with the newest decision about each, by a lead of its own site."""
    newest = {(row["flag_id"], row["site_id"]): row for row in decisions_on(db, [row["flag_id"] for row in rows])}
    return [_decide(row, newest.get((row["flag_id"], row["site_id"]))) for row in rows]


def _decide(row: dict[str, Any], decision: dict[str, Any] | None) -> dict[str, Any]:
    """
    A lead's word over the rule's finding. "Settled" holds until a newer observation raises the flag again; "accepted"
    holds as long as the flag; "reopened" holds until a newer observation settles it.
    """
    if decision is None or decision["decision"] is None:
        return row
    decided_at = decision["decided_at"] or ""
    said = {"settled_at": decision["decided_at"], "settled_by": decision["record_id"], "settled_reason": decision["reason"]}
    if decision["decision"] == "accepted" and row["state"] == "open":
        return row | said | {"state": "accepted"}
    if decision["decision"] == "settled" and row["raised_at"] <= decided_at:
        return row | said | {"state": "settled"}
    if decision["decision"] == "reopened" and (row["settled_at"] or "") <= decided_at:
        return row | said | {"state": "reopened"}
    return row
