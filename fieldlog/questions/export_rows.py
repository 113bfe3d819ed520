"""What an export asks beside whole tables: rows of units, when units were placed, what surveys found, and every line of the log."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from typing import Any

from sqlite_utils import Database

ROWS_AT_ONCE = 500


def rows_of_units(db: Database) -> dict[str, str | None]:
    """The row of each unit: {unit id: row id}."""
    return dict(db.conn.execute("SELECT record_id, row_id FROM unit").fetchall())


def heights_of_units(db: Database) -> dict[str, float | None]:
    """The height that each unit's design has, mm: {unit id: height}; a design of another site gives none."""
    rows = db.conn.execute(
        """SELECT u.record_id, d.height_mm FROM unit u
           LEFT JOIN unit_design d ON d.record_id = u.design_id AND d.deleted = 0 AND (d.site_id IS NULL OR d.site_id = u.site_id)"""
    )
    return dict(rows.fetchall())


def placings(db: Database, events: Iterable[str]) -> dict[str, list[str]]:
    """When each unit had one of these events, in order: {unit id: UTC texts}."""
    found: dict[str, list[str]] = {}
    rows = db.conn.execute(
        """SELECT e.unit_id, e.event_at FROM unit_event e JOIN unit u ON u.record_id = e.unit_id AND u.site_id = e.site_id
           WHERE e.deleted = 0 AND e.event_at IS NOT NULL AND e.event IN (SELECT value FROM json_each(?)) ORDER BY e.event_at""",
        (json.dumps(sorted(events)),),
    )
    for unit_id, at in rows:
        found.setdefault(unit_id, []).append(at)
    return found


def movements_of(db: Database, columns: Iterable[str], sites: frozenset[str] | None = None) -> Iterator[tuple[Any, ...]]:
    """What surveys say of units on record, these columns of `survey_verdict`, by site, survey time and unit."""
    named = ", ".join(f'v."{name}"' for name in columns)
    found = db.conn.execute(
        f"""SELECT {named} FROM survey_verdict v JOIN unit u ON u.record_id = v.unit_id AND u.deleted = 0
            WHERE :sites IS NULL OR v.site_id IN (SELECT value FROM json_each(:sites)) ORDER BY v.site_id, v.at, v.survey, v.unit_id""",
        {"sites": None if sites is None else json.dumps(sorted(sites))},
    )
    while rows := found.fetchmany(ROWS_AT_ONCE):
        yield from rows


def entries_of(db: Database, kinds: Iterable[str], sites: frozenset[str] | None = None) -> Iterator[tuple[Any, ...]]:
    """
    Every taken entry of these kinds, by record and in the order in which its values stand.

    Yields:
        (kind, record id, site id, author, effective stamp, entry id, line, lane id, number in it, visit id).
    """
    found = db.conn.execute(
        """SELECT kind, record_id, site_id, made_by, eff, entry_id, line, lane_id, number, visit_id FROM log WHERE kind IN (SELECT value FROM json_each(:kinds))
           AND (:sites IS NULL OR site_id IS NULL OR site_id IN (SELECT value FROM json_each(:sites))) ORDER BY kind, record_id, eff, entry_id""",
        {"kinds": json.dumps(sorted(kinds)), "sites": None if sites is None else json.dumps(sorted(sites))},
    )
    while rows := found.fetchmany(ROWS_AT_ONCE):
        yield from rows


def grounds_of_sites(db: Database) -> dict[str, dict[str, Any]]:
    """Zone, position and grid of each site: {site id: {"zone", "lat_deg", "lon_deg", "grid_azimuth_deg"}}; removed sites too, since records stay."""
    return {row.pop("record_id"): row for row in db.query("SELECT record_id, zone, lat_deg, lon_deg, grid_azimuth_deg FROM site")}


def marks_on_record(db: Database) -> dict[str, dict[str, Any]]:
    """The marks from which tapes are read: {mark id: {"site_id", "label", "east_m", "north_m", "sigma_m"}}."""
    found = db.query("SELECT record_id, site_id, label, east_m, north_m, sigma_m FROM control_mark WHERE deleted = 0")
    return {row.pop("record_id"): row for row in found}


def planned_places(db: Database) -> dict[str, tuple[float, float]]:
    """Where each unit was planned to stand, metres on the site grid: {unit id: (east, north)}."""
    rows = db.conn.execute("SELECT record_id, planned_east_m, planned_north_m FROM unit WHERE planned_east_m + planned_north_m IS NOT NULL")
    return {unit_id: (east_m, north_m) for unit_id, east_m, north_m in rows}


def places_of_plots(db: Database) -> dict[str, tuple[float, float]]:
    """Where each plot is, metres on the site grid: {plot id: (east, north)}."""
    rows = db.conn.execute("SELECT record_id, east_m, north_m FROM plot WHERE east_m + north_m IS NOT NULL")
    return {plot_id: (east_m, north_m) for plot_id, east_m, north_m in rows}


def sites_of_kind(db: Database, kind: str) -> dict[str, str | None]:
    """The site of each record of a kind, removed ones too: {record id: site id}."""
    return dict(db.conn.execute(f'SELECT record_id, site_id FROM "{kind}"').fetchall())


def newest_places(db: Database) -> dict[str, dict[str, Any]]:
    """Where the newest reading that says a place by itself has each unit: {unit id: {"lat_deg", "lon_deg", "east_m", "north_m"}}."""
    found = db.query(
        """SELECT f.of_id, f.lat_deg, f.lon_deg, f.east_m, f.north_m, max(f.fixed_at) FROM position_fix f
           JOIN unit u ON u.record_id = f.of_id AND u.site_id = f.site_id
           WHERE f.deleted = 0 AND f.of_kind = 'unit' AND (f.lat_deg + f.lon_deg IS NOT NULL OR f.east_m + f.north_m IS NOT NULL) GROUP BY f.of_id"""
    )
    return {row["of_id"]: row for row in found}
