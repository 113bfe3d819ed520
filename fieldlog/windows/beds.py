"""A site as its windows need it: its rules, and the ground of each row and unit above the chart datum."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from fieldlog.errors import SiteNotReady
from fieldlog.questions.sites import of_site
from fieldlog.shown_names import named
from fieldlog.stations import station_of
from fieldlog.tides.station import Station
from fieldlog.windows.levels import above_chart_datum, zeros
from fieldlog.windows.rules import SiteRules, site_rules


@dataclass(frozen=True)
class Bed:
    """The ground of a row or a unit, metres above the chart datum; `own` where the unit's was levelled itself."""

    record_id: str
    name: str
    bed_level_m: float
    row_id: str
    own: bool = True


@dataclass(frozen=True, eq=False)
class Ground:
    """What windows of a site are made from, and sentences about levels that could not be used."""

    station: Station
    rules: SiteRules
    rows: tuple[Bed, ...]
    units: tuple[Bed, ...]
    doubts: tuple[str, ...]


def ground_of(db: Database, site: Mapping[str, Any]) -> Ground:
    """
    Read a site's levels, each turned to the chart datum.

    Args:
        site: its row.

    Raises:
        SiteNotReady, StationUnknown: the site's own numbers or its tide are missing; a row's or unit's only make a doubt.
    """
    site_id, station = site["record_id"], station_of(db, site)
    rules = site_rules(site, station.chart_datum, of_site(db, "closure", site_id, "from_day"))
    known = zeros(station, of_site(db, "datum_offset", site_id, "datum"))
    doubts: list[str] = []

    def ground(record: Mapping[str, Any], what: str) -> float | None:
        try:
            return above_chart_datum(record["bed_level_m"], record["level_datum"], known, station.chart_datum)
        except SiteNotReady as fault:
            doubts.append(f"{what}: {fault.sentence}")
            return None

    rows = {}
    for row in of_site(db, "row", site_id, "order_number"):
        level_m = None if row["bed_level_m"] is None else ground(row, f"Row {named(row['name'], 'without a name')}")
        if level_m is not None:
            rows[row["record_id"]] = Bed(row["record_id"], named(row["name"], "?"), level_m, row["record_id"])
    units = []
    for unit in of_site(db, "unit", site_id, "slot_number"):
        own_m = None if unit["bed_level_m"] is None else ground(unit, f"Unit {named(unit['tag'], 'without a tag')}")
        of_row = rows.get(unit["row_id"])
        level_m = own_m if own_m is not None else of_row.bed_level_m if of_row else None
        if level_m is not None:
            units.append(Bed(unit["record_id"], named(unit["tag"], "?"), level_m, unit["row_id"], own_m is not None))
    place = {row_id: n for n, row_id in enumerate(rows)}
    units.sort(key=lambda bed: place.get(bed.row_id, len(place)))
    return Ground(station, rules, tuple(rows.values()), tuple(units), tuple(doubts))
