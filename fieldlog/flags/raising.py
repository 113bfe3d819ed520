"""
Flags from tables: for the subjects that a change touched, all their flags are computed anew and replaced.

What comes out depends on the merged tables alone, never on the order in which entries arrived.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import Any

from sqlite_utils import Database

from fieldlog.flags import condition, doubt, position, search  # noqa: F401  (their rules register themselves)
from fieldlog.flags.doubt import Disagreement, RecordSeen
from fieldlog.flags.flag import Found, flag_id, record_rule, unit_rule
from fieldlog.flags.histories import binds, histories, of_ids, query
from fieldlog.records.catalogue import CATALOGUE, Kind

Subject = tuple[str, str]
"""(kind, record id). A unit is a subject twice over: of the rules about units and of those about records."""

NOT_TOLD = ("leader", "medical")
"""Flags travel to crew phones, so what only leads may read raises none."""

UNIT_OF = {"unit_check": "unit_id", "unit_event": "unit_id", "position_fix": "of_id"}


def subjects_of(db: Database, touched: set[Subject], moved: set[Subject]) -> set[Subject]:
    """
    Whose flags may change with these records: their own, their units', and those of what waited for them.

    Args:
        touched: the records with new entries.
        moved: those of them that lie at another site than before, so that what refers to them binds no more, or does now.
    """
    by_kind: dict[str, list[str]] = defaultdict(list)
    for kind, record_id in touched:
        by_kind[kind].append(record_id)
    subjects = {subject for subject in touched if subject[0] in CATALOGUE.kinds}
    subjects |= {("unit", unit_id) for unit_id in _units_of(db, by_kind)}
    subjects |= set(_waiting_for(db, [record_id for _, record_id in touched]))
    subjects |= set(_decided(db, by_kind["flag_decision"]))
    subjects |= set(_naming(db, moved))
    return subjects


def _units_of(db: Database, by_kind: dict[str, list[str]]) -> Iterator[str]:
    yield from by_kind["unit"]
    for kind, column in UNIT_OF.items():
        yield from _ever_named(db, kind, column, by_kind[kind])
    checks = _ever_named(db, "photo", "of_id", by_kind["photo"])
    yield from _ids(db, "SELECT DISTINCT unit_id FROM unit_check WHERE record_id", checks)
    yield from _ids(db, "SELECT record_id FROM unit WHERE design_id", by_kind["unit_design"])
    yield from _ids(db, "SELECT record_id FROM unit WHERE site_id", by_kind["site"])
    sites = _ids(db, "SELECT DISTINCT site_id FROM control_mark WHERE record_id", by_kind["control_mark"])
    yield from _ids(db, "SELECT record_id FROM unit WHERE site_id", list(sites))


def _ever_named(db: Database, kind: str, column: str, ids: list[str]) -> list[str]:
    """What these records name and ever named: one that is moved changes the flags of what it was of as well."""
    return _ids(db, f"SELECT DISTINCT json_extract(CAST(line AS TEXT), '$.f.{column}') FROM log WHERE kind = '{kind}' AND record_id", ids)


def _ids(db: Database, select: str, ids: list[str]) -> list[str]:
    return [row[0] for row in of_ids(db, select, ids) if row[0] is not None]


def _waiting_for(db: Database, ids: list[str]) -> Iterator[Subject]:
    yield from of_ids(
        db, "SELECT subject_kind, subject_id FROM flag WHERE rule = 'orphan' AND json_extract(evidence, '$.parent_id')", ids
    )


def _naming(db: Database, moved: set[Subject]) -> Iterator[Subject]:
    """The records that refer to one of these."""
    for of_kind, record_id in moved:
        for kind in CATALOGUE.kinds.values():
            for name, to in kind.refs.items():
                if to == of_kind or to in kind.fields:
                    rows = db.conn.execute(f'SELECT record_id FROM "{kind.name}" WHERE "{name}" = ?', (record_id,)).fetchall()
                    yield from ((kind.name, row[0]) for row in rows)


def _decided(db: Database, decision_ids: list[str]) -> Iterator[Subject]:
    flag_ids = _ids(db, "SELECT flag_id FROM flag_decision WHERE record_id", decision_ids)
    yield from of_ids(db, "SELECT subject_kind, subject_id FROM flag WHERE flag_id", flag_ids)


def raise_flags(db: Database, subjects: set[Subject]) -> None:
    """Compute the flags of these subjects anew and put them in the place of the old ones."""
    rows = [*_unit_flags(db, [key for kind, key in subjects if kind == "unit"]), *_record_flags(db, subjects)]
    decisions = _decisions(db, [row["flag_id"] for row in rows])
    # A lead decides about the flags of their own site: the word is looked up under flag and site.
    db.conn.executemany("DELETE FROM flag WHERE subject_kind = ? AND subject_id = ?", list(subjects))
    db.conn.executemany(
        """INSERT INTO flag VALUES (:flag_id, :rule, :severity, :subject_kind, :subject_id, :site_id, :sentence, :evidence,
           :raised_at, :raised_by_record, :state, :settled_at, :settled_by, :settled_reason)""",
        [_decide(row, decisions.get((row["flag_id"], row["site_id"]))) for row in rows],
    )


def _unit_flags(db: Database, unit_ids: list[str]) -> Iterator[dict[str, Any]]:
    for history in histories(db, unit_ids):
        if history.is_retired:
            continue
        for rule in unit_rule.rules:
            found = rule.find(history)
            if found is not None:
                yield flag_row(rule.name, ("unit", history.unit["record_id"]), history.unit["site_id"], history.since, found)


def _record_flags(db: Database, subjects: set[Subject]) -> Iterator[dict[str, Any]]:
    by_kind: dict[str, list[str]] = defaultdict(list)
    for kind, record_id in subjects:
        if kind in CATALOGUE.kinds and CATALOGUE.kinds[kind].privacy not in NOT_TOLD:
            by_kind[kind].append(record_id)
    for name, ids in by_kind.items():
        for seen in _records_seen(db, CATALOGUE.kinds[name], ids):
            for rule in record_rule.rules:
                for found in rule.find(seen):
                    # What a site's own record says belongs to that site, whatever its envelope names.
                    site_id = seen.row["record_id" if name == "site" else "site_id"]
                    yield flag_row(rule.name, (name, seen.row["record_id"]), site_id, found.part, found)


def _records_seen(db: Database, kind: Kind, ids: list[str]) -> Iterator[RecordSeen]:
    rows = query(db, f'SELECT * FROM "{kind.name}" WHERE deleted = 0 AND record_id', ids)
    differing: dict[str, list[Disagreement]] = defaultdict(list)
    for record_id, name, values in of_ids(
        db, f"SELECT record_id, field, values_json FROM disagreement WHERE kind = '{kind.name}' AND record_id", ids
    ):
        differing[record_id].append(Disagreement(name, json.loads(values)))
    parents = {row["record_id"]: _parents(kind, row) for row in rows}
    here = _sites_of(db, [parent for named in parents.values() for parent in named.values()])
    for row in rows:
        absent = {
            name: parent
            for name, parent in parents[row["record_id"]].items()
            if parent not in here or not (name in kind.across or binds(row["site_id"], here[parent]))
        }
        yield RecordSeen(kind, row, differing[row["record_id"]], absent)


def _parents(kind: Kind, row: dict[str, Any]) -> dict[str, Subject]:
    found = {}
    for name, to in kind.refs.items():
        of = row[to] if to in kind.fields else to
        if row[name] is not None and of in CATALOGUE.kinds:
            found[name] = (of, row[name])
    return found


def _sites_of(db: Database, parents: Iterable[Subject]) -> dict[Subject, str | None]:
    """The site of each of these records that is on record at all."""
    by_kind: dict[str, set[str]] = defaultdict(set)
    for kind, record_id in parents:
        by_kind[kind].add(record_id)
    return {
        (kind, record_id): site_id
        for kind, ids in by_kind.items()
        for record_id, site_id in of_ids(db, f'SELECT record_id, site_id FROM "{kind}" WHERE record_id', list(ids))
    }


def flag_row(rule: str, subject: Subject, site_id: str | None, since: str, found: Found) -> dict[str, Any]:
    """The row of the flag table that a finding amounts to before any decision."""
    return {
        "flag_id": flag_id(rule, *subject, since), "rule": rule, "severity": found.severity, "subject_kind": subject[0],
        "subject_id": subject[1], "site_id": site_id, "sentence": found.sentence,
        "evidence": json.dumps(found.evidence, ensure_ascii=False), "raised_at": found.raised_at,
        "raised_by_record": found.record_id, "state": "settled" if found.settled_by else "open",
        "settled_at": found.settled_at, "settled_by": found.settled_by, "settled_reason": found.settled_reason,
    }  # fmt: skip


def _decisions(db: Database, flag_ids: list[str]) -> dict[tuple[str, str], dict[str, Any]]:
    """The newest decision about each flag at each site: {(flag id, site id): its row}."""
    rows = query(db, "SELECT * FROM flag_decision WHERE deleted = 0 AND flag_id", flag_ids)
    rows.sort(key=lambda row: ((row["decided_at"] or "").removesuffix("Z"), row["record_id"]))
    return {(row["flag_id"], row["site_id"]): row for row in rows}


def _decide(row: dict[str, Any], decision: dict[str, Any] | None) -> dict[str, Any]:
    """
    A lead's word over the rule's finding. "Settled" holds until a newer observation raises the flag again; "accepted"
    holds as long as the flag; "reopened" holds until a newer observation settles it.
    """
    if decision is None or decision["decision"] is None:
        return row
    decided_at = (decision["decided_at"] or "").removesuffix("Z")
    said = {"settled_at": decision["decided_at"], "settled_by": decision["record_id"], "settled_reason": decision["reason"]}
    if decision["decision"] == "accepted" and row["state"] == "open":
        return row | said | {"state": "accepted"}
    if decision["decision"] == "settled" and row["raised_at"].removesuffix("Z") <= decided_at:
        return row | said | {"state": "settled"}
    if decision["decision"] == "reopened" and (row["settled_at"] or "").removesuffix("Z") <= decided_at:
        return row | said | {"state": "reopened"}
    return row
