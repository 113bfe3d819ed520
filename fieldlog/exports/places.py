"""Where each row of a table is on the earth: by its own degrees, by the site grid, or by the place of its unit or plot."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from sqlite_utils import Database

from fieldlog.exports.columns import Table
from fieldlog.exports.words import Words
from fieldlog.questions.export_rows import newest_places, places_of_plots, planned_places, sites_of_kind
from fieldlog.questions.photos import unit_of
from fieldlog.records.people_photo import PHOTO_KINDS

Place = tuple[float, float]
"""Longitude and latitude, degrees of WGS 84."""

OWN, PLANNED, NEWEST, PLOTS, NOWHERE = "own", "unit's planned place", "unit's newest position", "plot's place", None
DEGREES = (("computed_lat_deg", "computed_lon_deg"), ("lat_deg", "lon_deg"))


class Places:
    """The places of a programme's units and plots, read once; a unit or plot of another site gives none."""

    def __init__(self, db: Database, words: Words) -> None:
        self._db = db
        sites = {**sites_of_kind(db, "unit"), **sites_of_kind(db, "plot")}
        self._sites = sites
        self._found: dict[str, tuple[Place, str]] = {}
        for unit_id, at in newest_places(db).items():
            if at["lat_deg"] is not None:
                self._found[unit_id] = ((at["lon_deg"], at["lat_deg"]), NEWEST)
            else:
                self._put(words, unit_id, sites.get(unit_id), (at["east_m"], at["north_m"]), NEWEST)
        for unit_id, place in planned_places(db).items():
            self._put(words, unit_id, sites.get(unit_id), place, PLANNED)
        for plot_id, place in places_of_plots(db).items():
            self._put(words, plot_id, sites.get(plot_id), place, PLOTS)

    def _put(self, words: Words, record_id: str, site_id: str | None, place: Place, said_by: str) -> None:
        lat_deg, lon_deg = words.computing.on_earth(site_id, *place)
        if lat_deg is not None and lon_deg is not None:
            self._found[record_id] = ((lon_deg, lat_deg), said_by)

    def of_record(self, record_id: str | None, site_id: str | None) -> tuple[Place | None, str | None]:
        """Where a unit or plot of a site is, and what says so."""
        return self._found.get(record_id or "", (None, NOWHERE)) if self._sites.get(record_id or "") == site_id else (None, NOWHERE)

    def of_photo(self, row: Mapping[str, Any]) -> tuple[Place | None, str | None]:
        """Where a photo was taken by its own degrees; else where the plot is that it is of, or the unit."""
        if row["lat_deg"] is not None and row["lon_deg"] is not None:
            return (row["lon_deg"], row["lat_deg"]), OWN
        plot_id = row["of_id"] if row["of_kind"] == "plot" else None
        return self.of_record(plot_id or unit_of(self._db, row["of_kind"], row["of_id"]), row["site_id"])

    def finder(self, table: Table) -> Callable[[Mapping[str, Any]], tuple[Place | None, str | None]] | None:
        """What finds the place of a row, and what said it; None for a table whose rows are nowhere."""
        names = {column.name for column in table.columns}
        degrees = next((pair for pair in DEGREES if names >= set(pair)), None)
        at = next((column.name for column in table.columns if column.refers_to in ("unit", "plot")), "record_id" if table.kind in ("unit", "plot") else None)
        if table.list_of or (degrees is None and at is None):
            return None
        if table.kind in PHOTO_KINDS:
            return self.of_photo

        def place_of(row: Mapping[str, Any]) -> tuple[Place | None, str | None]:
            if degrees is not None and None not in (row[degrees[0]], row[degrees[1]]):
                return (row[degrees[1]], row[degrees[0]]), OWN
            return (None, NOWHERE) if at is None else self.of_record(row[at], row["site_id"])

        return place_of
