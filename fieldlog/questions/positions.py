"""
Readings of where units are, by seeks: how many rows are read depends on what is asked for, never on the years before it.

A reading is a tuple of the columns of `FIX`.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from sqlite_utils import Database

from fieldlog.questions.of_ids import of_ids
from fieldlog.survey.movement import PHONE

Fix = tuple[Any, ...]

FIX = (
    "record_id", "visit_id", "of_id", "fixed_at", "method", "lat_deg", "lon_deg", "accuracy_m", "east_m", "north_m", "sigma_m", "tape_sigma_m",
    "mark_1_id", "range_1_m", "mark_2_id", "range_2_m", "mark_3_id", "range_3_m", "mark_4_id", "range_4_m",
)  # fmt: skip
"""What of a reading says where a unit is."""

OF_A_MARK = ("record_id", "label", "east_m", "north_m", "sigma_m")

SPARE_TAPES = "method = 'tapes' AND range_3_m IS NOT NULL"
"""Of a reading with more tapes than a place takes: what they leave over tells how sure tapes are at the site. The index `position_fix_tapes` has these."""

_READ = f"deleted = 0 AND of_kind = 'unit' AND +of_id IS NOT NULL AND fixed_at IS NOT NULL AND method <> '{PHONE}'"
"""The readings that say where a unit is."""


def fixes_on_visit(db: Database, site_id: str, visit_id: str) -> list[Fix]:
    """The readings of a site on a visit."""
    return _fixes(db, "site_id = ? AND visit_id = ?", site_id, visit_id)


def fixes_without_visit(db: Database, site_id: str, from_at: str, until_at: str) -> list[Fix]:
    """The readings of a site on no visit from one time to another, both in."""
    return _fixes(db, "site_id = ? AND visit_id IS NULL AND fixed_at BETWEEN ? AND ?", site_id, from_at, until_at)


def newest_spare_tapes(db: Database, site_id: str, until: str, most: int) -> list[Fix]:
    """The newest readings of a site up to a time with more tapes than a place takes."""
    where = f"site_id = ? AND fixed_at <= ? AND {SPARE_TAPES} ORDER BY fixed_at DESC, record_id DESC LIMIT {most}"
    return _fixes(db, where, site_id, until, by="INDEXED BY position_fix_tapes")


def _fixes(db: Database, where: str, *values: str, by: str = "") -> list[Fix]:
    return db.conn.execute(f"SELECT {', '.join(FIX)} FROM position_fix {by} WHERE {_READ} AND {where}", values).fetchall()


def first_fixes(db: Database, site_id: str, spans: Sequence[tuple[str, str, str]], most: int) -> list[Fix]:
    """The first readings of many units of a site, each from one time to another (unit, from, until), both in: a seek a unit."""
    return db.conn.execute(
        f"""SELECT {", ".join(FIX)} FROM json_each(?) AS one CROSS JOIN position_fix AS fix WHERE fix.rowid IN (
            SELECT rowid FROM position_fix WHERE {_READ} AND of_id = json_extract(one.value, '$[0]') AND site_id = ?
            AND fixed_at BETWEEN json_extract(one.value, '$[1]') AND json_extract(one.value, '$[2]') ORDER BY fixed_at, record_id LIMIT {most})""",
        (json.dumps(spans), site_id),
    ).fetchall()


def visits_with_fixes(db: Database, site_id: str, since: str) -> list[tuple[str | None, str]]:
    """The visits of a site on which something was read at or after a time, the earliest first, each with its first reading's time; without a visit each reading is one."""
    return db.conn.execute(
        f"""SELECT visit_id, min(fixed_at) AS first FROM position_fix WHERE {_READ} AND site_id = ? AND fixed_at >= ?
            GROUP BY visit_id, CASE WHEN visit_id IS NULL THEN fixed_at END ORDER BY first""",
        (site_id, since),
    ).fetchall()


def newest_fix_at(db: Database, site_id: str) -> str | None:
    """The time of a site's newest reading; None where it has none."""
    row = db.conn.execute(f"SELECT fixed_at FROM position_fix WHERE {_READ} AND site_id = ? ORDER BY fixed_at DESC LIMIT 1", (site_id,)).fetchone()
    return row[0] if row else None


def first_fix_on_visit(db: Database, site_id: str, visit_id: str) -> str | None:
    """The time of the first reading of a site on a visit."""
    return _first(db, "site_id = ? AND visit_id = ?", site_id, visit_id)


def first_fix_of_unit(db: Database, unit_id: str, since: str | None = None) -> str | None:
    """The time of the first reading of a unit, or of the first since a time."""
    return _first(db, "of_id = ?", unit_id) if since is None else _first(db, "of_id = ? AND fixed_at >= ?", unit_id, since)


def first_fix_from_mark(db: Database, slot: int, mark_id: str) -> str | None:
    """The time of the first reading whose tape of one number (1 to 4) was read from a mark."""
    return _first(db, f"mark_{slot}_id = ?", mark_id)


def _first(db: Database, where: str, *values: str) -> str | None:
    at: str | None = db.conn.execute(f"SELECT min(fixed_at) FROM position_fix WHERE {_READ} AND {where}", values).fetchone()[0]
    return at


def first_fixes_of_design(db: Database, design_id: str) -> list[tuple[str, str]]:
    """The time of the first reading of units of a design, by site."""
    return db.conn.execute(
        """SELECT unit.site_id, min(fixed_at) FROM unit JOIN position_fix ON of_id = unit.record_id
            WHERE unit.design_id = ? AND fixed_at IS NOT NULL GROUP BY unit.site_id""",
        (design_id,),
    ).fetchall()


def marks_of_site(db: Database, site_id: str) -> list[tuple[Any, ...]]:
    """A site's control marks: the columns of `OF_A_MARK`."""
    return of_ids(db, f"SELECT {', '.join(OF_A_MARK)} FROM control_mark WHERE deleted = 0 AND site_id", [site_id])
