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
)
from fieldlog.questions.names import names_of
from fieldlog.survey.grid import SiteGrid


class Words:
    """The names and clocks of a programme as one state of its file has them."""

    def __init__(self, db: Database) -> None:
        self._db = db
        self._names: dict[str, Mapping[str, str | None]] = {}

    def name(self, kind: str | None, record_id: str | None) -> str | None:
        """What a record is called; None where it has no name, or its kind has none."""
        if kind is None or record_id is None:
            return None
        if kind not in self._names:
            self._names[kind] = names_of(self._db, kind)
        return self._names[kind].get(record_id)

    def names(self, kind: str) -> Mapping[str, str | None]:
        """The names of all records of a kind."""
        self.name(kind, "")
        return self._names[kind]

    @cached_property
    def numbers(self) -> dict[str, int]:
        """The number of each record of a person, by the order in which they were made; removed ones keep theirs."""
        return {person_id: number for number, person_id in enumerate(sorted(self.names(PERSON)), 1)}

    @cached_property
    def rows_of_units(self) -> dict[str, str | None]:
        """The name of each unit's row."""
        names = self.names("row")
        return {unit_id: names.get(row_id or "") for unit_id, row_id in rows_of_units(self._db).items()}

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
        return Computing(heights_of_units(db), placings(db, PLACED), grids, marks_on_record(db), planned_places(db))
