"""Visits, joined ones, and who signed in on them."""

from __future__ import annotations

from typing import Any

from sqlite_utils import Database

from fieldlog.questions.of_ids import of_ids

Row = dict[str, Any]


def visits_begun(db: Database, site_id: str) -> list[Row]:
    """A site's visits that say when they began: record_id, started_at, purpose, joined_to."""
    return list(db.query(
        "SELECT record_id, started_at, purpose, joined_to FROM visit WHERE site_id = ? AND deleted = 0 AND started_at IS NOT NULL", [site_id]
    ))  # fmt: skip


def sign_ins_begun(db: Database, site_id: str) -> list[Row]:
    """A site's sign-ins that say when they began: what says whose they are, on which visit, and how long (`fieldlog/hours/length.py`)."""
    return list(db.query(
        """SELECT record_id, visit_id, person_id, in_at, out_at, no_out_reason, time_known FROM sign_in
           WHERE site_id = ? AND deleted = 0 AND in_at IS NOT NULL""",
        [site_id],
    ))  # fmt: skip


def levels_read(db: Database, site_id: str, chart_datum: str) -> list[tuple[str, float]]:
    """What a site's visits read of the water's level above the chart datum, metres, by time; one that names no datum means that one."""
    return db.conn.execute(
        """SELECT observed_at, observed_level_m FROM visit WHERE site_id = ? AND deleted = 0 AND observed_at IS NOT NULL
           AND observed_level_m IS NOT NULL AND coalesce(level_datum, ?) = ? AND coalesce(time_known, 1) ORDER BY observed_at""",
        (site_id, chart_datum, chart_datum),
    ).fetchall()


def joined_to(db: Database, visit_id: str, site_id: str | None) -> str | None:
    """The visit that a visit of a site was joined to; None where to no other."""
    row = db.conn.execute(
        "SELECT joined_to FROM visit WHERE record_id = ? AND site_id = ? AND deleted = 0 AND joined_to IS NOT record_id", (visit_id, site_id)
    ).fetchone()
    return row[0] if row else None


def visits_joined_to(db: Database, ids: list[str]) -> list[str]:
    """The visits that were joined to one of these."""
    return [row[0] for row in of_ids(db, "SELECT record_id FROM visit WHERE deleted = 0 AND joined_to", ids)]


def ends_of_visits(db: Database, ids: list[str]) -> list[str | None]:
    """When each of these visits ended; None where it has not."""
    return [row[0] for row in of_ids(db, "SELECT ended_at FROM visit WHERE deleted = 0 AND record_id", ids)]


def ends_of_parts(db: Database, ids: list[str]) -> list[str | None]:
    """When each phone's part in these visits ended; None where it has not."""
    return [row[0] for row in of_ids(db, "SELECT until_at FROM visit_part WHERE deleted = 0 AND of_visit_id", ids)]


def never_signed_out(db: Database, site_id: str) -> list[tuple[str, str | None, str, str | None, str | None]]:
    """
    Who of a site has neither a time out nor a reason for none, the longest first: sign-in, name, time in, the site's zone, and when the
    visit was started. Of whom only the day is known nobody knows that they are out.
    """
    return db.conn.execute(
        """SELECT s.record_id, p.display_name, s.in_at, site.zone, v.started_at
           FROM sign_in s LEFT JOIN site ON site.record_id = s.site_id
           LEFT JOIN person p ON p.record_id = s.person_id AND (p.site_id IS NULL OR p.site_id = s.site_id)
           LEFT JOIN visit v ON v.record_id = s.visit_id AND v.site_id = s.site_id AND v.deleted = 0
           WHERE s.site_id = ? AND s.deleted = 0 AND s.in_at IS NOT NULL AND s.out_at IS NULL AND coalesce(s.no_out_reason, '') = ''
           AND coalesce(s.time_known, 1)
           ORDER BY s.in_at, s.record_id""",
        (site_id,),
    ).fetchall()


def without_end(db: Database, site_id: str) -> list[str]:
    """When each visit of a site began that nobody has ended, the oldest first; of joined ones the one that counts."""
    rows = db.conn.execute(
        """SELECT started_at FROM visit WHERE site_id = ? AND deleted = 0 AND started_at IS NOT NULL AND ended_at IS NULL AND joined_to IS NULL
           AND coalesce(time_known, 1) ORDER BY started_at, record_id""",
        (site_id,),
    )
    return [row[0] for row in rows.fetchall()]
