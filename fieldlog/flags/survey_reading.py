"""
A survey's readings out of the tables, by seeks: its own fixes, each unit's zero epoch, and the site's tapes up to it.

How many rows are read depends on how many units the survey measured, never on the years before it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property, lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from fieldlog.flags.joined import root_of, visits_of
from fieldlog.flags.readings import (
    Measured,
    least_shift_m,
    measured,
    measured_in_turn,
    zero_of,
)
from fieldlog.flags.receiver import RECEIVER, on_grid
from fieldlog.instants import written
from fieldlog.questions.positions import (
    FIX,
    OF_A_MARK,
    Fix,
    first_fixes,
    fixes_on_visit,
    fixes_without_visit,
    marks_of_site,
    newest_spare_tapes,
    visits_with_fixes,
)
from fieldlog.questions.units import places_of, works_on
from fieldlog.questions.visits import ends_of_parts, ends_of_visits
from fieldlog.survey.movement import started_at
from fieldlog.survey.position import Point
from fieldlog.survey.tape_scale import MOST_DOF, TapeScale, scale_of

Row = dict[str, Any]

ZERO_MOST = 12
"""Readings of a unit since it was placed among which its zero epoch is looked for."""

ANY_TIME = "9999"
"""After every instant."""

_ID, _VISIT, _OF, _AT = (FIX.index(name) for name in ("record_id", "visit_id", "of_id", "fixed_at"))

@dataclass(frozen=True)
class SurveyRead:
    """
    One survey of a site.

    Attributes:
        key: its visit, as "visit <id>", or its local day, as "day 2026-06-01".
        ended_at: the time of its newest reading.
        compared: (unit, zero epoch, epoch of this survey) of each unit that has both, in the order of unit ids.
        scale: what the site's tapes up to it show.
    """

    key: str
    ended_at: str
    site: Row
    units: dict[str, Row]
    compared: Sequence[tuple[Row, Measured, Measured]]
    measured: int
    scale: TapeScale
    is_over: bool

    def least_shift_m(self, unit: Row) -> float:
        """The least shift of a unit that matters, metres."""
        return least_shift_m(self.site, unit["footprint_mm"])


class SiteReadings:
    """The readings of one site; visits, marks and units are read once."""

    def __init__(self, db: Database, site: Row) -> None:
        self.db = db
        self.site = site
        self.site_id: str = site["record_id"]
        self.zone = ZoneInfo(site["zone"] or "UTC")
        self.root: dict[str, str] = {}
        self.scales: dict[str, TapeScale] = {}
        self._units: dict[str, Row | None] = {}
        self._keys: dict[str, str] = {}

    @cached_property
    def ground(self) -> Ground:
        """What a reading is turned into a place by."""
        return _ground(tuple(sorted(marks_of_site(self.db, self.site_id))), *(self.site[name] for name in ("lat_deg", "lon_deg", "grid_azimuth_deg")))

    def key_of(self, visit_id: str | None, fixed_at: str) -> str:
        """The survey of a reading."""
        if visit_id is not None:
            return self._keys.setdefault(visit_id, f"visit {self.root_of(visit_id)}")
        return f"day {datetime.fromisoformat(fixed_at).astimezone(self.zone):%Y-%m-%d}"

    def root_of(self, visit_id: str) -> str:
        """The visit that a visit was joined to, itself where it was joined to none; of a ring the least."""
        if visit_id not in self.root:
            self.root[visit_id] = root_of(self.db, visit_id, self.site_id)
        return self.root[visit_id]

    def keys_since(self, since: str) -> list[str]:
        """The surveys with a reading at or after a time, the earliest first."""
        return list(dict.fromkeys(self.key_of(*row) for row in visits_with_fixes(self.db, self.site_id, since)))

    def _keys_of(self, fixes: Sequence[Fix]) -> tuple[str, ...]:
        known = self._keys
        return tuple([known.get(fix[_VISIT]) or self.key_of(fix[_VISIT], fix[_AT]) for fix in fixes])

    def fixes_of(self, key: str) -> list[Fix]:
        """The readings of a survey."""
        sort, _, name = key.partition(" ")
        if sort == "visit":
            visits = [visit_id for visit_id in visits_of(self.db, name) if f"visit {self.root_of(visit_id)}" == key]
            return [row for visit_id in visits for row in fixes_on_visit(self.db, self.site_id, visit_id)]
        begin = datetime.fromisoformat(name).replace(tzinfo=self.zone)
        # Two days more on either side than the longest offset moves a day's bounds; what is of another day is left out by its key.
        low, high = (written(datetime.fromtimestamp(begin.timestamp() + hours * 3600, UTC)) for hours in (-2, 28))
        return [row for row in fixes_without_visit(self.db, self.site_id, low, high) if self.key_of(None, row[_AT]) == key]

    def survey(self, key: str) -> SurveyRead | None:
        """One survey; None where it has no readings."""
        fixes = self.fixes_of(key)
        if not fixes:
            return None
        ended_at = max(fix[_AT] for fix in fixes)
        by_unit = _by_unit(fixes)
        units = self.units(sorted(by_unit))
        nows = {unit_id: self._measured(by_unit[unit_id], unit) for unit_id, unit in units.items()}
        count = sum(map(bool, nows.values()))
        zeros = self.zeros([(units[unit_id], now[0].at) for unit_id, now in nows.items() if now])
        compared = [
            (units[unit_id], zero, min(nows[unit_id], key=_spread))
            for unit_id, zero in zeros.items()
            if zero.survey != key and zero.at < nows[unit_id][0].at
        ]
        return SurveyRead(key, ended_at, self.site, units, compared, count, self.scale_until(ended_at), self._is_over(key))

    def units(self, unit_ids: list[str]) -> dict[str, Row]:
        """Those of these units that are the site's, in the order of their ids: where each should stand, and the footprint of its design."""
        new = [unit_id for unit_id in unit_ids if unit_id not in self._units]
        self._units |= dict.fromkeys(new)
        self._units |= {unit["record_id"]: unit for unit in places_of(self.db, new) if unit["site_id"] == self.site_id}
        return {unit_id: unit for unit_id in sorted(unit_ids) if (unit := self._units[unit_id]) is not None}

    def _measured(self, fixes: list[Fix], unit: Row) -> Sequence[Measured]:
        return _epochs(tuple(fixes), self._keys_of(fixes), planned_of(unit), self.ground)

    def placed_at(self, unit_id: str) -> str:
        """When a unit was last placed, set, righted or replaced; empty where that is not on record."""
        return started_at(self._events([unit_id])[unit_id])

    def _events(self, unit_ids: list[str]) -> Mapping[str, list[tuple[str, str]]]:
        """What was done to these units, as (instant, event)."""
        found: dict[str, list[tuple[str, str]]] = defaultdict(list)
        for unit_id, site_id, event, event_at in works_on(self.db, unit_ids):
            if site_id == self.site_id:
                found[unit_id].append((event_at, event))
        return found

    def zeros(self, asked: Sequence[tuple[Mapping[str, Any], str]]) -> dict[str, Measured]:
        """The zero epochs of these units, each for a reading of a time, by the unit's id; one without any is left out."""
        events = self._events(sorted(unit["record_id"] for unit, _ in asked))
        since = [(unit["record_id"], started_at([one for one in events[unit["record_id"]] if one[0] <= until]), until) for unit, until in asked]
        first = _by_unit(first_fixes(self.db, self.site_id, since, ZERO_MOST))
        zeros = {}
        for unit, until in asked:
            unit_id = unit["record_id"]
            fixes = first.get(unit_id, [])
            zero = _zero(tuple(fixes), self._keys_of(fixes), planned_of(unit), self.ground, tuple(events[unit_id]), until)
            if zero is not None:
                zeros[unit_id] = zero
        return zeros

    def scale_until(self, until: str) -> TapeScale:
        """What the site's newest tapes up to a time show."""
        if until not in self.scales:
            self.scales[until] = scale_of([one.epoch for one in self._taped(until)])
        return self.scales[until]

    def _taped(self, until: str) -> list[Measured]:
        """The newest epochs by tapes with more of them than a place takes, up to a time."""
        by_unit = _by_unit(newest_spare_tapes(self.db, self.site_id, until, MOST_DOF))
        units = self.units(sorted(by_unit))
        epochs = [one for unit_id, unit in units.items() for one in self._measured(by_unit[unit_id], unit)]
        return sorted(epochs, key=lambda one: (one.last_at, one.last_id))

    def _is_over(self, key: str) -> bool:
        """
        Whether no more of it is to come: its visit ended, and so did each phone's part, with which all came that was before it in
        that phone's lane. A day without a visit says nothing of its end.
        """
        sort, _, name = key.partition(" ")
        if sort != "visit":
            return True
        visits = visits_of(self.db, name)
        ended = ends_of_visits(self.db, visits)
        ended += ends_of_parts(self.db, visits) if ended else []
        return bool(ended) and None not in ended


@dataclass(frozen=True, eq=False)
class Ground:
    """
    What readings of a site are turned into places by: its marks, and where its grid lies. The same things are the same ground.

    Attributes:
        marks: by id.
        site: where the grid lies.
    """

    marks: Mapping[str, Row]
    site: Row


@lru_cache(64)
def _ground(marks: tuple[Fix, ...], lat_deg: float | None, lon_deg: float | None, azimuth_deg: float | None) -> Ground:
    site = {"lat_deg": lat_deg, "lon_deg": lon_deg, "grid_azimuth_deg": azimuth_deg}
    return Ground({row[0]: dict(zip(OF_A_MARK, row, strict=True)) for row in marks}, site)


def _by_unit(fixes: Iterable[Fix]) -> dict[str, list[Fix]]:
    found: dict[str, list[Fix]] = defaultdict(list)
    for fix in fixes:
        found[fix[_OF]].append(fix)
    return found


# A survey of many units is read again with each of its readings that comes; all but that one unit's then say what they said before.
KEPT = 2048
"""Units whose readings are kept as told, twice the largest survey that is planned for: some 4 KB each, measured."""


@lru_cache(KEPT)
def _epochs(fixes: tuple[Fix, ...], keys: tuple[str, ...], planned: Point | None, ground: Ground) -> tuple[Measured, ...]:
    """The epochs of one unit's readings, each with the key of its survey."""
    return tuple(measured(_told(fixes, ground), _survey_of(fixes, keys), ground.marks, planned))


@lru_cache(KEPT)
def _zero(
    fixes: tuple[Fix, ...], keys: tuple[str, ...], planned: Point | None, ground: Ground, done: tuple[tuple[str, str], ...], until: str
) -> Measured | None:  # fmt: skip
    """The zero epoch among a unit's first readings; `done` is what was done to it, as (instant, event)."""
    events = [{"event_at": at, "event": event} for at, event in done]
    return zero_of(measured_in_turn(_told(fixes, ground), _survey_of(fixes, keys), ground.marks, planned), events, until)


def _told(fixes: tuple[Fix, ...], ground: Ground) -> list[Row]:
    rows = [dict(zip(FIX, fix, strict=True)) for fix in fixes]
    return [on_grid(row, ground.site) if row["method"] == RECEIVER else row for row in rows]


def _survey_of(fixes: tuple[Fix, ...], keys: tuple[str, ...]) -> Callable[[Mapping[str, Any]], str]:
    by_id = {fix[_ID]: key for fix, key in zip(fixes, keys, strict=True)}
    return lambda fix: by_id[fix["record_id"]]


def _spread(one: Measured) -> tuple[float, str]:
    """Of several methods the one with the smallest uncertainty speaks: tapes say theirs each."""
    sigma_m = one.epoch.sigma_m or min(mark_tape.tape.sigma_m for mark_tape in one.epoch.tapes)
    return sigma_m, one.last_id


def planned_of(unit: Mapping[str, Any]) -> Point | None:
    """Where a unit should stand, where both numbers are known."""
    planned = unit["planned_east_m"], unit["planned_north_m"]
    return None if None in planned else planned
