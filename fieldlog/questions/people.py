"""What people are called, and what only leads read of them."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from sqlite_utils import Database

from fieldlog.questions.of_ids import of_ids

Row = dict[str, Any]
Sites = frozenset[str] | None
"""The sites of whoever asks; None is all."""


def people_known(db: Database, ids: Iterable[str | None], sites: Sites) -> dict[str, str | None]:
    """The names of those of these people that are of one of these sites or of the whole programme, by id."""
    known = of_ids(db, "SELECT record_id, site_id, display_name FROM person WHERE record_id", sorted({one for one in ids if one is not None}))
    return {person_id: name for person_id, site_id, name in known if sites is None or site_id is None or site_id in sites}


_HERE = "(:sites IS NULL OR one.site_id IN (SELECT value FROM json_each(:sites)))"
_THEIRS = "EXISTS (SELECT 1 FROM person p WHERE p.record_id = :person AND (p.site_id IS NULL OR p.site_id = {0}.site_id))"


def contacts_of(db: Database, person_id: str, sites: Sites) -> list[Row]:
    """
    A person's contact records at these sites, each of the person's own site or of a person of the whole programme. One without a site,
    such as the app wrote up to 0.2.0, is for whoever may read all sites only.
    """
    return list(db.query(
        f"""SELECT one.* FROM person_private one WHERE one.deleted = 0 AND one.person_id = :person AND {_HERE}
            AND (one.site_id IS NULL OR {_THEIRS.format("one")})""",
        _asked(person_id, sites),
    ))  # fmt: skip


def medical_notes_of(db: Database, person_id: str, sites: Sites) -> list[Row]:
    """The medical notes of a person's sign-ins at these sites: each of a sign-in of its own site, that of a person of the same or of all."""
    return list(db.query(
        f"""SELECT one.* FROM sign_in_private one JOIN sign_in s ON s.record_id = one.sign_in_id AND s.site_id = one.site_id
            WHERE one.deleted = 0 AND s.person_id = :person AND {_HERE} AND {_THEIRS.format("s")}""",
        _asked(person_id, sites),
    ))  # fmt: skip


def roster_of(db: Database, site_id: str, since: str) -> list[Row]:
    """
    Whom a desk may expect at a site, by name: who signed in there since a moment, and who is on its roster and never did. The program's own
    people are of each site.

    Args:
        since: an instant as rows have it.
    """
    return list(db.query(
        """SELECT p.record_id, p.display_name, p.role, p.minor, p.waiver_valid, p.waiver_version FROM person p
           WHERE p.deleted = 0 AND (p.site_id = :site OR p.site_id IS NULL) AND (
               EXISTS (SELECT 1 FROM sign_in s WHERE s.person_id = p.record_id AND s.site_id = :site AND s.in_at >= :since)
               OR (p.site_id = :site AND NOT EXISTS (SELECT 1 FROM sign_in s WHERE s.person_id = p.record_id AND s.site_id = :site)))
           ORDER BY p.display_name COLLATE NOCASE, p.record_id""",
        {"site": site_id, "since": since},
    ))  # fmt: skip


def waiver_in_use(db: Database, site_id: str, now: str) -> str | None:
    """The version of a site's waiver that was put in use last, as `static/records/waivers.js` says it; None where there is none."""
    row = db.conn.execute(
        "SELECT version FROM waiver WHERE deleted = 0 AND site_id = ? AND used_from_at <= ? ORDER BY used_from_at DESC, record_id LIMIT 1", (site_id, now)
    ).fetchone()
    return None if row is None else str(row[0])


def _asked(person_id: str, sites: Sites) -> dict[str, str | None]:
    return {"person": person_id, "sites": None if sites is None else json.dumps(sorted(sites))}
