"""Checks of units, by seeks: how long a history is does not matter."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from sqlite_utils import Database

from fieldlog.instants import half_a_day_after, half_a_day_before, latest_of
from fieldlog.questions.of_ids import of_ids, query
from fieldlog.records.unit_check import FOUND, MISSED

Row = dict[str, Any]

QUIET, RAISES, FAILED = 0, 1, 2
"""A check's verdict for a rule: looked at and does not raise; raises; the rule failed on it. Null: it says nothing."""

LOOKED_AT = "was_looked_at"
"""The column that says of a check for which somebody looked at the unit's place on dry ground how far that went; else it is null."""

CHECKED, LOOKED_ONLY = 1, 2
"""How far: checked, or looked at and no more ("Looks unchanged")."""


def checks_in_turn(db: Database, site_id: str) -> Iterator[Row]:
    """
    A site's checks on visits whose times are known, by visit, by who wrote them and by time, each with the planned place of its unit: visit_id, created_by,
    checked_at, looked_only, east_m, north_m (metres on the site's grid, or None).
    """
    yield from db.query(
        """SELECT c.visit_id, c.created_by, c.checked_at, c.looked_only, u.planned_east_m AS east_m, u.planned_north_m AS north_m
           FROM unit_check c JOIN unit u ON u.record_id = c.unit_id AND u.site_id = c.site_id
           WHERE c.site_id = ? AND c.deleted = 0 AND c.visit_id IS NOT NULL AND c.checked_at IS NOT NULL AND coalesce(c.time_known, 1)
           ORDER BY c.visit_id, c.created_by, c.checked_at, c.record_id""",
        [site_id],
    )


def checks_of_units(db: Database, columns: Sequence[str], unit_ids: list[str]) -> list[Row]:
    """Every check of these units that was not removed."""
    return query(db, f"SELECT {', '.join(columns)} FROM unit_check WHERE deleted = 0 AND unit_id", unit_ids)


def checks_of_ids(db: Database, columns: Sequence[str], ids: list[str]) -> dict[str, Row]:
    """Those of these checks that are on record, by id."""
    return {row["record_id"]: row for row in query(db, f"SELECT {', '.join(columns)} FROM unit_check WHERE record_id", ids)}


def all_of_units(db: Database, columns: Sequence[str], unit_ids: Sequence[str]) -> list[tuple[Any, ...]]:
    """Every check of these units, removed ones too."""
    return of_ids(db, f"SELECT {', '.join(columns)} FROM unit_check WHERE unit_id", list(unit_ids))


def newest_look(db: Database, unit_id: str, how_far: int) -> list[Row]:
    """The newest check of a unit for which somebody looked at its place so far, where there is one: record_id, checked_at, found_state, looked_only."""
    columns = ("record_id", "checked_at", "found_state", "looked_only")
    rows = db.conn.execute(
        f"""SELECT {", ".join(columns)} FROM unit_check WHERE unit_id = ? AND {LOOKED_AT} = ? AND checked_at IS NOT NULL
            ORDER BY checked_at DESC, record_id DESC LIMIT 1""",
        (unit_id, how_far),
    )
    return [dict(zip(columns, row, strict=True)) for row in rows]


At = tuple[str, str]
"""Where a check lies in its unit's time: its instant and its id."""


def any_failing(db: Database, unit_id: str, verdict: str, since: str) -> At | None:
    """A check since a time on which a rule failed; `verdict` names the column of its verdicts, here and below."""
    return _one(db, f"unit_id = ? AND {verdict} = {FAILED} AND checked_at >= ? LIMIT 1", unit_id, since)


def newest_raising(db: Database, unit_id: str, verdict: str, since: str) -> At | None:
    """The newest check since a time that raises; of a day the one whose time is not known, which may have been last."""
    where = f"unit_id = ? AND {verdict} = {RAISES} AND checked_at >= ?"
    newest = _one(db, f"{where} ORDER BY checked_at DESC, record_id DESC LIMIT 1", unit_id, since)
    if newest is None:
        return None
    from_at = half_a_day_before(newest[0])
    return _one(db, f"{where} AND checked_at > ? AND time_known = 0 ORDER BY checked_at DESC, record_id DESC LIMIT 1", unit_id, since, from_at) or newest


def first_quiet_after(db: Database, unit_id: str, verdict: str, after: At) -> At | None:
    """The first check certainly after another (`fieldlog/flags/standing.py` is_after) that was looked at and does not raise."""
    where = f"""unit_id = ? AND {verdict} = {QUIET} AND checked_at >= ? AND (checked_at > ? OR record_id > ?)
        AND (coalesce(time_known, 1) OR checked_at > ?) ORDER BY checked_at, record_id LIMIT 1"""
    is_day_alone = _one(db, "record_id = ? AND time_known = 0", after[1]) is not None
    latest = latest_of(after[0], not is_day_alone)
    return _one(db, where, unit_id, latest, latest, after[1], half_a_day_after(latest))


def newest_quiet_before(db: Database, unit_id: str, verdict: str, before: At) -> At | None:
    """The newest check before another that was looked at and does not raise."""
    where = f"unit_id = ? AND {verdict} = {QUIET} AND checked_at <= ? AND (checked_at < ? OR record_id < ?) ORDER BY checked_at DESC, record_id DESC LIMIT 1"
    return _one(db, where, unit_id, before[0], *before)


def raising_after(db: Database, unit_id: str, verdict: str, after: At, most: int) -> list[At]:
    """The newest checks after a time and id that raise."""
    where = f"unit_id = ? AND {verdict} = {RAISES} AND checked_at >= ? AND (checked_at > ? OR record_id > ?) ORDER BY checked_at DESC, record_id DESC LIMIT {most}"
    return db.conn.execute(f"{_AT} {where}", (unit_id, after[0], *after)).fetchall()


_AT = "SELECT checked_at, record_id FROM unit_check WHERE"


def _one(db: Database, where: str, *values: str) -> At | None:
    found: At | None = db.conn.execute(f"{_AT} {where}", values).fetchone()
    return found


def which_are_checks(db: Database, ids: list[str]) -> set[str]:
    """Those of these records that are checks."""
    return {record_id for (record_id,) in of_ids(db, "SELECT record_id FROM unit_check WHERE record_id", ids)}


def units_of_checks(db: Database, ids: list[str]) -> set[str]:
    """The units of these checks."""
    return {unit_id for (unit_id,) in of_ids(db, "SELECT unit_id FROM unit_check WHERE record_id", ids) if unit_id is not None}


def units_missed_on(db: Database, site_id: str, visit_id: str) -> set[str]:
    """The units of a site that were searched for in vain on a visit."""
    asked = (site_id, visit_id, MISSED)
    rows = db.conn.execute("SELECT unit_id FROM unit_check WHERE site_id = ? AND visit_id = ? AND found_state = ? AND unit_id IS NOT NULL", asked)
    return {row[0] for row in rows}


def newest_heights(db: Database, unit_id: str, site_id: str, since: str) -> list[tuple[float | None, float | None, str | None]]:
    """What the newest two checks of a unit since a time that read its height or its crest say: height, crest (millimetres), the crest's datum."""
    return db.conn.execute(
        f"""SELECT exposed_height_mm, crest_level_mm, crest_datum FROM unit_check
            WHERE unit_id = ? AND site_id = ? AND deleted = 0 AND checked_at IS NOT NULL AND checked_at >= ?
            AND found_state IN {FOUND} AND coalesce(looked_only, 0) = 0 AND (exposed_height_mm IS NOT NULL OR crest_level_mm IS NOT NULL)
            ORDER BY checked_at DESC, record_id DESC LIMIT 2""",
        (unit_id, site_id, since),
    ).fetchall()
