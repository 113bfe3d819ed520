"""Checks of units, by seeks: how long a history is does not matter."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlite_utils import Database


def checks_in_turn(db: Database, site_id: str) -> Iterator[dict[str, Any]]:
    """
    A site's checks on visits, by visit, by who wrote them and by time, each with the planned place of its unit: visit_id, created_by,
    checked_at, looked_only, east_m, north_m (metres on the site's grid, or None).
    """
    yield from db.query(
        """SELECT c.visit_id, c.created_by, c.checked_at, c.looked_only, u.planned_east_m AS east_m, u.planned_north_m AS north_m
           FROM unit_check c JOIN unit u ON u.record_id = c.unit_id AND u.site_id = c.site_id
           WHERE c.site_id = ? AND c.deleted = 0 AND c.visit_id IS NOT NULL AND c.checked_at IS NOT NULL
           ORDER BY c.visit_id, c.created_by, c.checked_at, c.record_id""",
        [site_id],
    )
