"""
A survey's readings out of the tables, by seeks: its own fixes, each unit's zero epoch, and the site's tapes up to it.

How many rows are read depends on how many units the survey measured, never on the years before it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from fieldlog.flags.histories import of_ids, query
from fieldlog.flags.readings import Measured, events_until, least_shift_m, measured, zero_of
from fieldlog.flags.receiver import on_grid
from fieldlog.flags.verdicts import FIXED_AT, SPARE_TAPES
from fieldlog.instants import in_order
from fieldlog.survey.movement import PHONE, started_at
from fieldlog.survey.position import Point
from fieldlog.survey.tape_scale import MOST_DOF

Row = dict[str, Any]
READ = f"deleted = 0 AND of_kind = 'unit' AND fixed_at IS NOT NULL AND method <> '{PHONE}'"
"""The fixes that say where a unit is."""

ZERO_MOST = 12
"""Readings of a unit since it was placed among which its zero epoch is looked for."""


@dataclass(frozen=True)
class SurveyRead:
    """
    One survey of a site.

    Attributes:
        key: its visit, as "visit <id>", or its local day, as "day 2026-06-01".
        ended_at: the time of its newest reading.
        compared: (unit, zero epoch, epoch of this survey) of each unit that has both, in the order of unit ids.
        taped: the site's epochs by tapes up to it, in time order, as many as count.
    """

    key: str
    ended_at: str
    site: Row
    units: dict[str, Row]
    compared: Sequence[tuple[Row, Measured, Measured]]
    measured: int
    taped: Sequence[Measured]
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

    @cached_property
    def marks(self) -> dict[str, Row]:
        """Its control marks by id."""
        return {row["record_id"]: row for row in query(self.db, "SELECT * FROM control_mark WHERE deleted = 0 AND site_id", [self.site_id])}

    def key_of(self, fix: Mapping[str, Any]) -> str:
        """The survey of a fix."""
        visit_id: str | None = fix["visit_id"]
        if visit_id is not None:
            return f"visit {self.root_of(visit_id)}"
        return f"day {datetime.fromisoformat(fix['fixed_at']).astimezone(self.zone):%Y-%m-%d}"

    def root_of(self, visit_id: str) -> str:
        """The visit that a visit was joined to, itself where it was joined to none; of a ring the least."""
        if visit_id not in self.root:
            seen, at = [visit_id], visit_id
            while (to := self._joined_to(at)) is not None and to not in seen:
                seen.append(to)
                at = to
            self.root[visit_id] = at if to is None else min(seen[seen.index(to) :])
        return self.root[visit_id]

    def _joined_to(self, visit_id: str) -> str | None:
        row = self.db.conn.execute(
            "SELECT joined_to FROM visit WHERE record_id = ? AND site_id = ? AND deleted = 0 AND joined_to IS NOT record_id", (visit_id, self.site_id)
        ).fetchone()
        return row[0] if row else None

    def keys_since(self, since: str) -> list[str]:
        """The surveys with a reading at or after a time, the earliest first."""
        rows = self._fixes(f"site_id = ? AND {FIXED_AT} >= ? ORDER BY {FIXED_AT}, record_id", (self.site_id, since))
        return list(dict.fromkeys(self.key_of(row) for row in rows))

    def _fixes(self, where: str, values: tuple[Any, ...], by: str = "") -> list[Row]:
        found = self.db.conn.execute(f"SELECT * FROM position_fix {by} WHERE {READ} AND {where}", values)
        names = [column[0] for column in found.description]
        return [on_grid(dict(zip(names, row, strict=True)), self.site) for row in found.fetchall()]

    def fixes_of(self, key: str) -> list[Row]:
        """The readings of a survey."""
        sort, _, name = key.partition(" ")
        if sort == "visit":
            rows = [row for visit_id in visits_of(self.db, name) for row in self._fixes("site_id = ? AND visit_id = ?", (self.site_id, visit_id))]
            return [row for row in rows if self.key_of(row) == key]
        begin = datetime.fromisoformat(name).replace(tzinfo=self.zone)
        # Two days more on either side than the longest offset moves a day's bounds; what is of another day is left out by its key.
        low, high = (datetime.fromtimestamp(begin.timestamp() + hours * 3600, UTC).strftime("%Y-%m-%dT%H:%M:%S") for hours in (-2, 28))
        rows = self._fixes(f"site_id = ? AND visit_id IS NULL AND {FIXED_AT} BETWEEN ? AND ?", (self.site_id, low, high))
        return [row for row in rows if self.key_of(row) == key]

    def survey(self, key: str) -> SurveyRead | None:
        """One survey; None where it has no readings."""
        fixes = self.fixes_of(key)
        if not fixes:
            return None
        ended_at = max(in_order(fix["fixed_at"]) for fix in fixes)
        by_unit: dict[str, list[Row]] = defaultdict(list)
        for fix in fixes:
            by_unit[fix["of_id"]].append(fix)
        units = self._units(sorted(by_unit))
        compared, count = [], 0
        for unit_id, unit in units.items():
            now = measured(by_unit[unit_id], self.key_of, self.marks, planned_of(unit))
            count += bool(now)
            zero = self._zero(unit, now[0].at) if now else None
            if zero is not None and zero.survey != key and zero.at < now[0].at:
                compared.append((unit, zero, min(now, key=_spread)))
        return SurveyRead(key, ended_at, self.site, units, compared, count, self._taped(ended_at), self._is_over(key))

    def _units(self, unit_ids: list[str]) -> dict[str, Row]:
        rows = query(
            self.db,
            """SELECT u.*, d.footprint_mm FROM unit u LEFT JOIN unit_design d ON d.record_id = u.design_id AND d.deleted = 0
               AND (d.site_id IS NULL OR d.site_id = u.site_id) WHERE u.deleted = 0 AND u.record_id""",
            unit_ids,
        )
        return {row["record_id"]: row for row in sorted(rows, key=lambda row: row["record_id"]) if row["site_id"] == self.site_id}

    def _zero(self, unit: Row, until: str) -> Measured | None:
        """The zero epoch of a unit for a reading of `until`."""
        asked = (unit["record_id"], self.site_id)
        found = self.db.conn.execute(
            "SELECT event, event_at FROM unit_event WHERE deleted = 0 AND unit_id = ? AND site_id = ? AND event_at IS NOT NULL", asked
        ).fetchall()
        events = [{"event": event, "event_at": event_at} for event, event_at in found]
        first = self._fixes(
            f"of_id = ? AND site_id = ? AND {FIXED_AT} BETWEEN ? AND ? ORDER BY {FIXED_AT}, record_id LIMIT {ZERO_MOST}",
            (*asked, started_at(events_until(events, until)), until),
        )
        return zero_of(measured(first, self.key_of, self.marks, planned_of(unit)), events, until)

    def _taped(self, until: str) -> list[Measured]:
        """The newest epochs by tapes with more of them than a place takes, up to a time."""
        rows = self._fixes(
            f"site_id = ? AND {FIXED_AT} <= ? AND {SPARE_TAPES} ORDER BY {FIXED_AT} DESC, record_id DESC LIMIT {MOST_DOF}",
            (self.site_id, until),
            "INDEXED BY position_fix_tapes",
        )
        by_unit: dict[str, list[Row]] = defaultdict(list)
        for row in rows:
            by_unit[row["of_id"]].append(row)
        units = self._units(sorted(by_unit))
        epochs = [one for unit_id, unit in units.items() for one in measured(by_unit[unit_id], self.key_of, self.marks, planned_of(unit))]
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
        ended = of_ids(self.db, "SELECT ended_at FROM visit WHERE deleted = 0 AND record_id", visits)
        ended += of_ids(self.db, "SELECT until_at FROM visit_part WHERE deleted = 0 AND of_visit_id", visits) if ended else []
        return bool(ended) and all(row[0] is not None for row in ended)


def _spread(one: Measured) -> tuple[float, str]:
    """Of several methods the one with the smallest uncertainty speaks: tapes say theirs each."""
    sigma_m = one.epoch.sigma_m or min(mark_tape.tape.sigma_m for mark_tape in one.epoch.tapes)
    return sigma_m, one.last_id


def planned_of(unit: Row) -> Point | None:
    """Where a unit should stand, where both numbers are known."""
    planned = unit["planned_east_m"], unit["planned_north_m"]
    return None if None in planned else planned


def visits_of(db: Database, root: str) -> list[str]:
    """A visit and all that were joined to it."""
    found, new = [root], [root]
    while new:
        joined = [row[0] for row in of_ids(db, "SELECT record_id FROM visit WHERE deleted = 0 AND joined_to", new)]
        new = [visit_id for visit_id in joined if visit_id not in found]
        found += new
    return found


def sites_of(db: Database, site_ids: Iterable[str]) -> Iterator[Row]:
    """These sites' rows."""
    yield from query(db, "SELECT * FROM site WHERE deleted = 0 AND record_id", sorted(site_ids))
