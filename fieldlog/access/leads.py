"""How many people lead a programme: one who leaves, or loses a phone, must not take its keys along."""

from __future__ import annotations

import json

from sqlite_utils import Database

LEADS_WANTED = 2
"""Our own proposal."""


def count_leads(db: Database, sites: frozenset[str] | None) -> int:
    """
    How many people have joined as leads of at least these sites (None is all), by their devices.

    Devices on which one person is chosen count once; one on which nobody is chosen yet counts as a person of its own. Devices that left,
    whose access ended or that wait to be confirmed do not count.
    """
    rows = db.conn.execute(
        """SELECT device_id, sites, person_id FROM device WHERE role = 'lead' AND revoked_at IS NULL AND unconfirmed = 0
           AND token_sha256 NOT LIKE 'left %'"""
    ).fetchall()
    covering = [(device_id, person_id) for device_id, own, person_id in rows if own is None or (sites is not None and sites <= set(json.loads(own)))]
    return len({person_id or device_id for device_id, person_id in covering})
