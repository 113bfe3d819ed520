"""The stored flags, and what leads decided about them."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import Any

from sqlite_utils import Database

from fieldlog.questions.of_ids import of_ids, query

Row = dict[str, Any]
Subject = tuple[str, str]
"""(kind, record id). A unit is a subject twice over: of the rules about units and of those about records."""

OPEN_STATES = ("open", "reopened")

SEVERITY_NUMBER = "CASE severity WHEN 'act' THEN 0 WHEN 'look' THEN 1 ELSE 2 END"
"""The gravest first, as the index `flag_place` has it."""

_OF_KINDS = "(? IS NULL OR subject_kind IN (SELECT value FROM json_each(?)))"
_SETTLED = f"site_id = ? AND settled_at >= ? AND state NOT IN {OPEN_STATES}"


Kinds = Collection[str] | None
"""Flags of subjects of these kinds alone are asked for; None is all."""


def _names(kinds: Kinds) -> tuple[str | None, str | None]:
    """What a statement with `_OF_KINDS` takes."""
    told = None if kinds is None else json.dumps(sorted(kinds))
    return told, told


def flags_of_site(db: Database, site_id: str) -> list[Row]:
    """A site's flags, and those of its own record."""
    return list(db.query("SELECT * FROM flag WHERE site_id = ? OR (subject_kind = 'site' AND subject_id = ?)", [site_id, site_id]))


def flags_of_its_record(db: Database, site_id: str) -> list[Row]:
    """The flags of a site's own record that stand under another site, or none."""
    return list(db.query("SELECT * FROM flag WHERE subject_kind = 'site' AND subject_id = ? AND site_id IS NOT ?", [site_id, site_id]))


def gravest_flags(db: Database, site_id: str, state: str, kinds: Kinds, most: int) -> list[Row]:
    """A site's flags in one state, the gravest and newest of them first."""
    return list(db.query(
        f"SELECT * FROM flag WHERE site_id = ? AND state = ? AND {_OF_KINDS} ORDER BY {SEVERITY_NUMBER}, raised_at DESC LIMIT ?",
        [site_id, state, *_names(kinds), most],
    ))  # fmt: skip


def flags_of_marks(db: Database, site_id: str, rule: str, state: str) -> list[Row]:
    """A site's flags of one rule about control marks, in one state."""
    return list(db.query(
        "SELECT * FROM flag INDEXED BY flag_subject WHERE subject_kind = 'control_mark' AND rule = ? AND site_id = ? AND state = ?", [rule, site_id, state]
    ))  # fmt: skip


def latest_settled(db: Database, site_id: str, since: str, kinds: Kinds, most: int) -> list[Row]:
    """A site's flags that were settled or accepted since a time, the latest first."""
    return list(db.query(f"SELECT * FROM flag WHERE {_SETTLED} AND {_OF_KINDS} ORDER BY settled_at DESC LIMIT ?", [site_id, since, *_names(kinds), most]))


def count_of_open(db: Database, site_id: str, kinds: Kinds) -> int:
    """How many flags of a site are open."""
    return _count(db, f"site_id = ? AND state IN {OPEN_STATES} AND {_OF_KINDS}", [site_id, *_names(kinds)])


def count_of_settled(db: Database, site_id: str, since: str, kinds: Kinds) -> int:
    """How many flags of a site `latest_settled` would give without a limit."""
    return _count(db, f"{_SETTLED} AND {_OF_KINDS}", [site_id, since, *_names(kinds)])


def count_of_rule(db: Database, rule: str) -> int:
    """How many flags of all sites are of one rule."""
    return _count(db, "rule = ?", [rule])


def _count(db: Database, where: str, values: Sequence[str | None]) -> int:
    return int(db.conn.execute(f"SELECT count(*) FROM flag WHERE {where}", values).fetchone()[0])


def flags_about(db: Database, subjects: Iterable[Subject]) -> list[Row]:
    """The flags of these subjects: a seek a subject."""
    found = db.conn.execute(
        """SELECT flag.* FROM json_each(?) AS one CROSS JOIN flag
           ON flag.subject_kind = json_extract(one.value, '$[0]') AND flag.subject_id = json_extract(one.value, '$[1]')""",
        (json.dumps(list(subjects)),),
    )
    names = [column[0] for column in found.description]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


def flag_id_of(db: Database, rule: str, subject_id: str) -> str | None:
    """The id of the flag of one rule and subject; None where it was not raised."""
    row = db.conn.execute("SELECT flag_id FROM flag WHERE rule = ? AND subject_id = ?", (rule, subject_id)).fetchone()
    return str(row[0]) if row else None


def waiting_for(db: Database, ids: list[str]) -> Iterator[Subject]:
    """The records with a flag that says that one of these is not here."""
    yield from of_ids(db, "SELECT subject_kind, subject_id FROM flag WHERE rule = 'orphan' AND json_extract(evidence, '$.parent_id')", ids)


def flagged_by_time(db: Database, site_ids: list[str]) -> Iterator[Subject]:
    """The records of these sites with a flag that may say a time as a site's clock has it."""
    yield from of_ids(db, "SELECT subject_kind, subject_id FROM flag WHERE rule IN ('clock_off', 'disagreement') AND site_id", site_ids)


def subjects_of(db: Database, flag_ids: list[str]) -> Iterator[Subject]:
    """The subjects of these flags."""
    yield from of_ids(db, "SELECT subject_kind, subject_id FROM flag WHERE flag_id", flag_ids)


def decisions_on(db: Database, flag_ids: list[str]) -> list[Row]:
    """What leads decided about these flags, in the order of the decisions."""
    decisions = query(db, "SELECT * FROM flag_decision WHERE deleted = 0 AND flag_id", flag_ids)
    return sorted(decisions, key=lambda row: (row["decided_at"] or "", row["record_id"]))
