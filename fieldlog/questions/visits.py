"""Visits, joined ones, and who signed in on them."""

from __future__ import annotations

from typing import Any

from sqlite_utils import Database

Row = dict[str, Any]


def visits_begun(db: Database, site_id: str) -> list[Row]:
    """A site's visits that say when they began: record_id, started_at, purpose, joined_to."""
    return list(db.query(
        "SELECT record_id, started_at, purpose, joined_to FROM visit WHERE site_id = ? AND deleted = 0 AND started_at IS NOT NULL", [site_id]
    ))  # fmt: skip


def turns_on_shore(db: Database, site_id: str, mistaken: str) -> list[tuple[str | None, str, str, str | None]]:
    """A site's sign-ins but those whose reason for no sign-out is `mistaken`: visit, person, time in, time out."""
    return db.conn.execute(
        """SELECT visit_id, person_id, in_at, out_at FROM sign_in
           WHERE site_id = ? AND deleted = 0 AND in_at IS NOT NULL AND coalesce(no_out_reason, '') <> ?""",
        (site_id, mistaken),
    ).fetchall()


def levels_read(db: Database, site_id: str, chart_datum: str) -> list[tuple[str, float]]:
    """What a site's visits read of the water's level above the chart datum, metres, by time; one that names no datum means that one."""
    return db.conn.execute(
        """SELECT observed_at, observed_level_m FROM visit WHERE site_id = ? AND deleted = 0 AND observed_at IS NOT NULL
           AND observed_level_m IS NOT NULL AND coalesce(level_datum, ?) = ? ORDER BY observed_at""",
        (site_id, chart_datum, chart_datum),
    ).fetchall()
