"""
Reading the histories of units from the tables: a handful of queries, however many units.

A reference binds only within one site, or to a record of the whole programme. A line cannot be held for what it names, since
that may come later, so each join here is one on the site too: whoever writes for one site changes no history of another.
"""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterator
from typing import Any

from sqlite_utils import Database

from fieldlog.flags.unit_history import LOOKED, UnitHistory, text_of
from fieldlog.survey.grades import Damage

AT_ONCE = 6
"""Units read at a time: years of checks of all of them would fill the server's memory."""

CHECK_COLUMNS = ", ".join((
    "record_id", "site_id", "unit_id", "visit_id", "checked_at", "found_state", "body_grade", "stance_grade", "toe_grade", "tilt_deg",
    "scour_depth_mm", "rocking", *Damage.__dataclass_fields__,
))  # fmt: skip
Grouped = defaultdict[tuple[str, str | None], list[dict[str, Any]]]
_A_LOOK = f"deleted = 0 AND checked_at IS NOT NULL AND found_state IN {LOOKED}"
_WHEN = "rtrim(checked_at, 'Z')"
NO_SITE = {"zone": None, "lean_look_deg": None, "check_every_days": None, "grid_azimuth_deg": None}


def of_ids(db: Database, select: str, ids: list[str]) -> list[tuple[Any, ...]]:
    """The rows of a statement that ends before `IN (these ids)`."""
    if not ids:
        return []
    return db.conn.execute(f"{select} IN (SELECT value FROM json_each(?))", (json.dumps(ids),)).fetchall()


def query(db: Database, select: str, ids: list[str]) -> list[dict[str, Any]]:
    """The same as dicts."""
    if not ids:
        return []
    found = db.conn.execute(f"{select} IN (SELECT value FROM json_each(?))", (json.dumps(ids),))
    names = [column[0] for column in found.description]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


def histories(db: Database, unit_ids: list[str]) -> Iterator[UnitHistory]:
    """The histories of those of these units that are on record and not removed."""
    for first in range(0, len(unit_ids), AT_ONCE):
        yield from _read(db, unit_ids[first : first + AT_ONCE])


def _read(db: Database, unit_ids: list[str]) -> Iterator[UnitHistory]:
    units = query(db, "SELECT * FROM unit WHERE deleted = 0 AND record_id", unit_ids)
    ids = [unit["record_id"] for unit in units]
    sites = _by_id(query(db, "SELECT * FROM site WHERE record_id", _named(units, "site_id")))
    designs = _by_id(query(db, "SELECT * FROM unit_design WHERE record_id", _named(units, "design_id")))
    marks: defaultdict[str, dict[str, dict[str, Any]]] = defaultdict(dict)
    for mark in query(db, "SELECT * FROM control_mark WHERE deleted = 0 AND site_id", list(sites)):
        marks[mark["site_id"]][mark["record_id"]] = mark
    checks = _grouped(query(db, f"SELECT {CHECK_COLUMNS} FROM unit_check WHERE deleted = 0 AND unit_id", ids), "unit_id", "checked_at")
    fixes = query(db, "SELECT * FROM position_fix WHERE deleted = 0 AND of_kind = 'unit' AND of_id", ids)
    fixes_of = _grouped(fixes, "of_id", "fixed_at")
    events = _events(db, ids)
    for unit in units:
        site_id = unit["site_id"]
        key = (unit["record_id"], site_id)
        yield UnitHistory(
            unit, sites.get(site_id, NO_SITE), _bound(designs.get(unit["design_id"]), site_id), checks[key], fixes_of[key],
            events[key], marks[site_id], _photos(db, site_id, checks[key]),
        )  # fmt: skip


def binds(site_id: str | None, to_site_id: str | None) -> bool:
    """Whether a record of `site_id` may refer to one of `to_site_id`: its own site's, or the whole programme's (None)."""
    return to_site_id is None or site_id == to_site_id


def _bound(row: dict[str, Any] | None, site_id: str) -> dict[str, Any]:
    return row if row is not None and binds(site_id, row["site_id"]) else {}


def _photos(db: Database, site_id: str, checks: list[dict[str, Any]]) -> Counter[str]:
    """How many photos each of these checks has."""
    ids = [check["record_id"] for check in checks]
    rows = of_ids(db, "SELECT of_id, site_id FROM photo WHERE deleted = 0 AND of_kind = 'unit_check' AND of_id", ids)
    return Counter(of_id for of_id, of_site in rows if of_site == site_id)


def lay_looks(db: Database) -> None:
    """See that a unit's newest look is found by one seek, however many years of checks there are."""
    db.conn.execute(f"CREATE INDEX IF NOT EXISTS unit_check_look ON unit_check(unit_id, {_WHEN}, record_id) WHERE {_A_LOOK}")


def last_looks(db: Database, site_id: str) -> Iterator[UnitHistory]:
    """The histories of a site's units with no more than what tells when each was last looked at: its newest look and events."""
    units = list(db.query("SELECT * FROM unit WHERE deleted = 0 AND site_id = ?", [site_id]))
    ids = [unit["record_id"] for unit in units]
    site = next(iter(query(db, "SELECT * FROM site WHERE record_id", [site_id])), NO_SITE)
    events = _events(db, ids)
    newest = db.query(
        f"""SELECT c.record_id, c.unit_id, c.found_state, c.checked_at FROM unit u JOIN unit_check c ON c.record_id =
            (SELECT record_id FROM unit_check WHERE unit_id = u.record_id AND site_id = u.site_id AND {_A_LOOK}
             ORDER BY {_WHEN} DESC, record_id DESC LIMIT 1) WHERE u.site_id = ? AND u.deleted = 0""",
        [site_id],
    )
    looks = {check["unit_id"]: check for check in newest}
    for unit in units:
        key = unit["record_id"]
        done = [looks[key]] if key in looks else []
        yield UnitHistory(unit, site, {}, done, [], events[key, site_id], {}, {})


def _events(db: Database, unit_ids: list[str]) -> Grouped:
    return _grouped(query(db, "SELECT * FROM unit_event WHERE deleted = 0 AND event IS NOT NULL AND unit_id", unit_ids), "unit_id", "event_at")


def _named(rows: list[dict[str, Any]], column: str) -> list[str]:
    return sorted({row[column] for row in rows if row[column] is not None})


def _by_id(rows: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    return {row["record_id"]: row for row in rows}


def _grouped(rows: list[dict[str, Any]], column: str, when: str) -> Grouped:
    """Rows by what they belong to and their site, in time order; one without its time says nothing about order and is left out."""
    found: Grouped = defaultdict(list)
    timed = [row for row in rows if row[when] is not None]
    for row in sorted(timed, key=lambda row: (text_of(row[when]), row["record_id"])):
        found[row[column], row["site_id"]].append(row)
    return found
