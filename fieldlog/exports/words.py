"""What stands beside ids: names, the rows of units, numbers of people, and clocks of sites. Read once for an export."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from fieldlog.exports.columns import PERSON
from fieldlog.exports.computed import PLACED, Computing
from fieldlog.instants import on_the_clock
from fieldlog.questions.export_rows import (
    grounds_of_sites,
    heights_of_units,
    marks_on_record,
    placings,
    planned_places,
    rows_of_units,
    sites_of_kind,
)
from fieldlog.questions.names import names_of
from fieldlog.survey.grid import SiteGrid

Said = tuple[str | None, str | None]
"""What a record is called, and its site; None for one of the whole programme."""


class Words:
    """
    The names and clocks of a programme as one state of its file has them.

    A reference binds within one site, so an id that names a record of another site has no words beside it.
    """

    def __init__(self, db: Database) -> None:
        self._db = db
        self._names: dict[str, Mapping[str, Said]] = {}

    def name(self, kind: str | None, record_id: str | None, site_id: str | None) -> str | None:
        """What a record is called by one of a site; None where it has no name, its kind has none, or it is another site's."""
        return None if kind is None or record_id is None else bound(self.names(kind).get(record_id), site_id)

    def names(self, kind: str) -> Mapping[str, Said]:
        """What all records of a kind are called, and their sites; a site itself is of no other."""
        if kind not in self._names:
            sites = {} if kind == "site" else sites_of_kind(self._db, kind)
            self._names[kind] = {record_id: (name, sites.get(record_id)) for record_id, name in names_of(self._db, kind).items()}
        return self._names[kind]

    @cached_property
    def numbers(self) -> dict[str, int]:
        """The number of each record of a person, by the order in which they were made; removed ones keep theirs."""
        return {person_id: number for number, person_id in enumerate(sorted(self.names(PERSON)), 1)}

    @cached_property
    def rows_of_units(self) -> dict[str, Said]:
        """The name of each unit's row, and the unit's site."""
        sites = sites_of_kind(self._db, "unit")
        return {unit_id: (self.name("row", row_id, sites[unit_id]), sites[unit_id]) for unit_id, row_id in rows_of_units(self._db).items()}

    @cached_property
    def _grounds(self) -> dict[str, dict[str, Any]]:
        return grounds_of_sites(self._db)

    @cached_property
    def zones(self) -> dict[str, ZoneInfo]:
        """The zone of each site that says one."""
        return {site_id: ZoneInfo(ground["zone"]) for site_id, ground in self._grounds.items() if ground["zone"]}

    def local(self, site_id: str | None, instant: str | None) -> str | None:
        """A moment on a site's clock; None where the record is of no site."""
        zone = self.zones.get(site_id or "")
        return None if zone is None or instant is None else on_the_clock(instant, zone)

    @cached_property
    def computing(self) -> Computing:
        """What computed columns are made from."""
        grids = {
            site_id: SiteGrid(ground["lat_deg"], ground["lon_deg"], ground["grid_azimuth_deg"] or 0.0)
            for site_id, ground in self._grounds.items()
            if ground["lat_deg"] is not None and ground["lon_deg"] is not None
        }
        db = self._db
        return Computing(sites_of_kind(db, "unit"), heights_of_units(db), placings(db, PLACED), grids, marks_on_record(db), planned_places(db))


def bound(said: Said | None, site_id: str | None) -> str | None:
    """A word that was looked up for a record of a site; None where it is another site's."""
    return said[0] if said is not None and (said[1] is None or said[1] == site_id) else None
