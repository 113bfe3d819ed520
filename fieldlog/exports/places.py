"""Where each row of a table is on the earth: by its own degrees, by the site grid, or by the place of its unit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from sqlite_utils import Database

from fieldlog.exports.columns import Table
from fieldlog.exports.words import Words
from fieldlog.questions.export_rows import newest_places, planned_places, sites_of_kind

Place = tuple[float, float]
"""Longitude and latitude, degrees of WGS 84."""

OWN, PLANNED, NEWEST, NOWHERE = "own", "unit's planned place", "unit's newest position", None
DEGREES = (("computed_lat_deg", "computed_lon_deg"), ("lat_deg", "lon_deg"))


class Places:
    """The places of a programme's units, read once."""

    def __init__(self, db: Database, words: Words) -> None:
        sites = sites_of_kind(db, "unit")
        self._sites = sites
        self._units: dict[str, tuple[Place, str]] = {}
        for unit_id, at in newest_places(db).items():
            if at["lat_deg"] is not None:
                self._units[unit_id] = ((at["lon_deg"], at["lat_deg"]), NEWEST)
            else:
                self._put(words, unit_id, sites.get(unit_id), (at["east_m"], at["north_m"]), NEWEST)
        for unit_id, place in planned_places(db).items():
            self._put(words, unit_id, sites.get(unit_id), place, PLANNED)

    def _put(self, words: Words, unit_id: str, site_id: str | None, place: Place, said_by: str) -> None:
        lat_deg, lon_deg = words.computing.on_earth(site_id, *place)
        if lat_deg is not None and lon_deg is not None:
            self._units[unit_id] = ((lon_deg, lat_deg), said_by)

    def of_unit(self, unit_id: str | None, site_id: str | None) -> tuple[Place | None, str | None]:
        """Where a unit of a site is, and what says so."""
        return self._units.get(unit_id or "", (None, NOWHERE)) if self._sites.get(unit_id or "") == site_id else (None, NOWHERE)

    def finder(self, table: Table) -> Callable[[Mapping[str, Any]], tuple[Place | None, str | None]] | None:
        """What finds the place of a row, and what said it; None for a table whose rows are nowhere."""
        names = {column.name for column in table.columns}
        degrees = next((pair for pair in DEGREES if names >= set(pair)), None)
        unit = next((column.name for column in table.columns if column.refers_to == "unit"), "record_id" if table.kind == "unit" else None)
        if table.list_of or (degrees is None and unit is None):
            return None

        def place_of(row: Mapping[str, Any]) -> tuple[Place | None, str | None]:
            if degrees is not None and None not in (row[degrees[0]], row[degrees[1]]):
                return (row[degrees[1]], row[degrees[0]]), OWN
            return (None, NOWHERE) if unit is None else self.of_unit(row[unit], row["site_id"])

        return place_of
