"""Readings at fixed places: when each place was last read, and what became of it."""

from __future__ import annotations

from sqlite_utils import Database

OF_PLOTS = (
    "stake_reading", "table_reading", "horizon_reading", "level_run", "rod_profile", "cover_reading", "edge_reading", "water_reading",
)  # fmt: skip
"""The kinds of which each record is a reading of a plot."""


def last_read(db: Database, site_id: str) -> dict[str, str]:
    """When each plot of a site was last read: {plot id: UTC text}. A photo of it counts, since a photo point is read by taking one."""
    readings = " UNION ALL ".join(f'SELECT plot_id, read_at FROM "{kind}" WHERE site_id = :site AND deleted = 0' for kind in OF_PLOTS)
    photos = "SELECT of_id, taken_at FROM photo WHERE site_id = :site AND deleted = 0 AND of_kind = 'plot'"
    rows = db.conn.execute(f"SELECT plot_id, max(read_at) FROM ({readings} UNION ALL {photos}) WHERE plot_id IS NOT NULL GROUP BY plot_id", {"site": site_id})
    return {plot_id: at for plot_id, at in rows.fetchall() if at is not None}


def last_events(db: Database, site_id: str) -> dict[str, str]:
    """What last happened to each plot of a site that anything happened to: {plot id: event}."""
    rows = db.conn.execute("SELECT plot_id, event FROM plot_event WHERE site_id = ? AND deleted = 0 ORDER BY event_at, created_eff, record_id", [site_id])
    return dict(rows.fetchall())
