"""Units, their designs, and what was done to them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlite_utils import Database

from fieldlog.questions.of_ids import of_ids, query

Row = dict[str, Any]


def unit_ids(db: Database, site_id: str) -> list[str]:
    """The units of a site that were not removed."""
    return [row[0] for row in db.conn.execute("SELECT record_id FROM unit WHERE deleted = 0 AND site_id = ?", (site_id,)).fetchall()]


def all_unit_ids(db: Database) -> list[str]:
    """The units of every site that were not removed."""
    return [row[0] for row in db.conn.execute("SELECT record_id FROM unit WHERE deleted = 0").fetchall()]


def all_unit_ids_and_removed(db: Database) -> list[str]:
    """Every unit on record."""
    return [row[0] for row in db.conn.execute("SELECT record_id FROM unit").fetchall()]


def count_of_units(db: Database, site_id: str) -> int:
    """How many units a site has."""
    return int(db.conn.execute("SELECT count(*) FROM unit WHERE site_id = ? AND deleted = 0", (site_id,)).fetchone()[0])


def units_of_designs(db: Database, ids: list[str]) -> list[str]:
    """The units of these designs, removed ones too."""
    return [row[0] for row in of_ids(db, "SELECT record_id FROM unit WHERE design_id", ids)]


def units_of_sites(db: Database, ids: list[str]) -> list[str]:
    """The units of these sites, removed ones too."""
    return [row[0] for row in of_ids(db, "SELECT record_id FROM unit WHERE site_id", ids)]


def tags_of(db: Database, ids: Iterable[str]) -> dict[str, Row]:
    """Those of these units that are on record: record_id, site_id, tag."""
    return {row["record_id"]: row for row in query(db, "SELECT record_id, site_id, tag FROM unit WHERE record_id", sorted(ids))}


def designs_of(db: Database, ids: Iterable[str]) -> dict[str, Row]:
    """Those of these designs that are on record, removed ones too, by id."""
    return {row["record_id"]: row for row in query(db, "SELECT * FROM unit_design WHERE record_id", sorted(ids))}


def held_against(db: Database, ids: Iterable[str]) -> list[tuple[str, str | None, float | None, float | None]]:
    """What the checks of these units are held against: unit, site, height of its design (mm), lean from which its site wants a look (degrees)."""
    return of_ids(
        db,
        """SELECT u.record_id, u.site_id, d.height_mm, s.lean_look_deg FROM unit u
           LEFT JOIN unit_design d ON d.record_id = u.design_id AND (d.site_id IS NULL OR d.site_id = u.site_id)
           LEFT JOIN site s ON s.record_id = u.site_id WHERE u.record_id""",
        list(ids),
    )


OF_A_PLACE = ("record_id", "site_id", "planned_east_m", "planned_north_m", "footprint_mm")


def places_of(db: Database, ids: list[str]) -> list[Row]:
    """Those of these units that were not removed: where each should stand (metres on the site's grid), and the footprint of its design."""
    rows = of_ids(
        db,
        f"""SELECT {", ".join(f"u.{name}" for name in OF_A_PLACE[:-1])}, d.footprint_mm
           FROM unit u LEFT JOIN unit_design d ON d.record_id = u.design_id AND d.deleted = 0
           AND (d.site_id IS NULL OR d.site_id = u.site_id) WHERE u.deleted = 0 AND u.record_id""",
        ids,
    )
    return [dict(zip(OF_A_PLACE, row, strict=True)) for row in rows]


def events_of(db: Database, ids: list[str]) -> list[Row]:
    """What was done to these units."""
    return query(db, "SELECT * FROM unit_event WHERE deleted = 0 AND event IS NOT NULL AND unit_id", ids)


def lasting_events(db: Database, unit_id: str, site_id: str | None) -> Iterable[tuple[str, str, str]]:
    """What was done to a unit of a site but cleanings, the newest first, read as far as it is asked for: record id, event, instant."""
    return db.conn.execute(f"SELECT record_id, event, event_at FROM unit_event WHERE {_LASTING}", (unit_id, site_id))


_LASTING = "unit_id = ? AND site_id = ? AND deleted = 0 AND event_at IS NOT NULL AND event <> 'cleaned' ORDER BY event_at DESC, record_id DESC"


def works_on(db: Database, ids: list[str]) -> list[tuple[str, str | None, str, str]]:
    """What was done to these units and when: unit, site, event, instant."""
    return of_ids(db, "SELECT unit_id, site_id, event, event_at FROM unit_event WHERE deleted = 0 AND event_at IS NOT NULL AND unit_id", ids)
