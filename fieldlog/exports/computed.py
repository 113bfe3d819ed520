"""Columns that are worked out of a row when it is exported: grades, burial, days since the unit was placed, places on the site grid."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import lru_cache
from typing import Any

from fieldlog.exports.columns import NUMBER, WHOLE, Column, computed
from fieldlog.exports.grading import SOURCES
from fieldlog.flags.readings import epoch_of
from fieldlog.records.unit_check import BODY, COVER, STANCE, TOE
from fieldlog.survey.grades import Damage, body_grade, burial_pct, cover_grade, stance_grade, toe_grade
from fieldlog.survey.grid import SiteGrid

FOUND = ("seen", "probed")
PLACED = ("placed", "replaced")
"""What begins a unit's time in its slot."""

KEPT = 1 << 16
"""So many answers of an axis are kept: most checks say what some other said."""

DAY_S = 86400


def _grade(axis: str, title: str, labels: dict[str, str]) -> Column:
    said = Column(f"{axis}_grade", title, WHOLE, least=0, most=4, choices=labels, source=SOURCES[axis], description="From what was measured")
    return computed(said)


def _degrees(of: str) -> tuple[Column, Column]:
    said = f"WGS 84, {of}"
    return computed(Column("lat_deg", "Latitude", NUMBER, unit="°", description=said)), computed(
        Column("lon_deg", "Longitude", NUMBER, unit="°", description=said)
    )


_ON_GRID = tuple(
    computed(Column(name, title, NUMBER, unit="m", description="On the site grid, from what was read"))
    for name, title in (("east_m", "East"), ("north_m", "North"))
)

COMPUTED: dict[str, tuple[Column, ...]] = {
    "unit_check": (
        _grade("body", "Body", BODY), _grade("stance", "Stance", STANCE), _grade("toe", "Toe", TOE), _grade("cover", "Cover", COVER),
        computed(Column("buried_pct", "Buried", NUMBER, unit="%", least=0, most=100, description="Part of the unit's height under sediment")),
        computed(Column("since_placed_days", "Since placed", NUMBER, unit="d", least=0, description="From the last time it was placed or replaced to this check")),
    ),
    "unit": _degrees("the planned place"),
    "plot": _degrees("from the site grid"),
    "control_mark": _degrees("from the site grid"),
    "position_fix": (*_ON_GRID, *_degrees("from what was read")),
}  # fmt: skip
"""By kind its computed columns, in the order in which `Computing` gives their values."""

NOT_FOUND = (None,) * 5


@lru_cache(KEPT)
def _body(*measures: float | None) -> int | None:
    return body_grade(Damage(*measures)).value


@lru_cache(KEPT)
def _stance(tilt_deg: float | None) -> int | None:
    return stance_grade(tilt_deg).value


@lru_cache(KEPT)
def _toe(scour_depth_mm: float | None, height_mm: float | None, rocking: int | None) -> int | None:
    return toe_grade(scour_depth_mm, height_mm, None if rocking is None else bool(rocking)).value


@lru_cache(KEPT)
def _cover(exposed_height_mm: float | None, height_mm: float | None, probed: bool) -> tuple[int | None, float | None]:
    grade = cover_grade(exposed_height_mm, height_mm, probed).value
    return grade, None if exposed_height_mm is None or height_mm is None else burial_pct(height_mm, exposed_height_mm)


class Computing:
    """
    The values of computed columns.

    Args:
        sites: {unit id: its site}: a check of another site says nothing of the unit.
        heights_mm: {unit id: its design's height}.
        placings: {unit id: when it was placed or replaced, in order}.
        grids: {site id: its grid}.
        marks: {mark id: its row}, for tapes.
        planned: {unit id: its planned east and north}, which tells the two places apart that two tapes allow.
    """

    def __init__(
        self, sites: Mapping[str, str | None], heights_mm: Mapping[str, float | None], placings: Mapping[str, Sequence[str]], grids: Mapping[str, SiteGrid],
        marks: Mapping[str, Mapping[str, Any]], planned: Mapping[str, tuple[float, float]],
    ) -> None:  # fmt: skip
        self._sites, self._heights_mm, self._placings, self._grids, self._marks, self._planned = sites, heights_mm, placings, grids, marks, planned

    def of_check(
        self, unit_id: str, checked_at: str | None, found_state: str | None, looked_only: int | None, crack_width_mm: float | None,
        chip_depth_mm: float | None, chip_across_mm: float | None, scaling_depth_mm: float | None, lost_volume_pct: float | None,
        tilt_deg: float | None, scour_depth_mm: float | None, rocking: int | None, exposed_height_mm: float | None, site_id: str | None,
    ) -> tuple[Any, ...]:  # fmt: skip
        """Grades of a check that measured something of a unit that was found, and the days since the unit was placed."""
        if self._sites.get(unit_id) != site_id:
            return *NOT_FOUND, None
        days = self._days(unit_id, checked_at)
        if looked_only or found_state not in FOUND:
            return *NOT_FOUND, days
        height_mm = self._heights_mm.get(unit_id)
        body = _body(crack_width_mm, chip_depth_mm, chip_across_mm, scaling_depth_mm, lost_volume_pct)
        cover, buried = _cover(exposed_height_mm, height_mm, found_state == "probed")
        return body, _stance(tilt_deg), _toe(scour_depth_mm, height_mm, rocking), cover, buried, days

    def _days(self, unit_id: str, checked_at: str | None) -> float | None:
        times = self._placings.get(unit_id)
        if times is None or checked_at is None:
            return None
        place = bisect_right(times, checked_at)
        return _days_between(times[place - 1], checked_at) if place else None

    def on_earth(self, site_id: str | None, east_m: float | None, north_m: float | None) -> tuple[float | None, float | None]:
        """Latitude and longitude of a place on the site grid, degrees of WGS 84; None where the site says no grid."""
        grid = self._grids.get(site_id or "")
        if grid is None or east_m is None or north_m is None:
            return None, None
        lat_deg, lon_deg = grid.to_degrees(east_m, north_m)
        return round(lat_deg, 9), round(lon_deg, 9)

    def of_fix(self, site_id: str | None, fix: Mapping[str, Any]) -> tuple[Any, ...]:
        """East and north on the site grid, latitude and longitude of a reading, as far as it says them."""
        if fix["lat_deg"] is not None and fix["lon_deg"] is not None:
            grid = self._grids.get(site_id or "")
            on_grid = (None, None) if grid is None else grid.from_degrees(fix["lat_deg"], fix["lon_deg"])
            return *(None if metres is None else round(metres, 4) for metres in on_grid), fix["lat_deg"], fix["lon_deg"]
        epoch = epoch_of([fix], self._marks, self._planned.get(fix["of_id"]))
        if epoch is None:
            return None, None, None, None
        east_m, north_m = round(epoch.east_m, 4), round(epoch.north_m, 4)
        return east_m, north_m, *self.on_earth(site_id, east_m, north_m)


def _days_between(start: str, end: str) -> float:
    return round((datetime.fromisoformat(end) - datetime.fromisoformat(start)).total_seconds() / DAY_S, 3)
