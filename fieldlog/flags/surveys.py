"""
Surveys judged and kept: what each says of every unit that it compared, as rows beside the record tables.

A verdict hangs on all units of its survey, so it is worked out for a survey at once, and a unit's flags read their own rows.
It hangs on what the site's tapes had shown by then, never on later ones: June's tapes do not unsay March's verdict. So what is new today
has today's survey judged anew; a reading that comes late has those since judged anew as well.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from operator import itemgetter
from typing import Any

from sqlite_utils import Database

from fieldlog.flags.changes import Change
from fieldlog.flags.joined import root_of, visits_of
from fieldlog.flags.survey_reading import SiteReadings, SurveyRead
from fieldlog.questions.positions import (
    first_fix_from_mark,
    first_fix_of_unit,
    first_fix_on_visit,
    first_fixes_of_design,
    newest_fix_at,
)
from fieldlog.questions.sites import sites, sites_of
from fieldlog.questions.surveys import (
    SURVEY,
    VERDICT,
    survey_of,
    surveys_not_over,
    surveys_since,
    tapes_of_site,
    verdicts_of,
)
from fieldlog.questions.units import count_of_units
from fieldlog.survey.movement import STARTS_ANEW
from fieldlog.survey.tape_scale import STATED, TapeScale
from fieldlog.survey.verdict import Pair, Verdict, doubted_mark, judge

OF_A_MARK = ("site_id", "east_m", "north_m", "sigma_m", "label", "deleted")
OF_A_UNIT = ("site_id", "planned_east_m", "planned_north_m", "design_id", "deleted")
OF_A_DESIGN = ("site_id", "footprint_mm", "deleted")
OF_A_SITE = ("zone", "least_shift_m", "lat_deg", "lon_deg", "grid_azimuth_deg", "deleted")
OF_A_VISIT = ("site_id", "joined_to", "ended_at", "deleted")

_IN_ORDER: Callable[[dict[str, Any]], tuple[Any, ...]] = itemgetter(*VERDICT)
FLAGGED = (Verdict.MOVED.value, Verdict.AGAIN.value)
"""The verdicts that a flag tells of."""


@dataclass
class Anew:
    """Of a site, from which time on its surveys are judged anew, and single ones beside; None: from no time on."""

    since: str | None = None
    keys: set[str] = field(default_factory=set)
    is_counted_anew: bool = False
    """Whether the site has more or fewer units: surveys that are not over say how many."""

    def reach(self, since: str | None) -> None:
        """Judge from a time on too."""
        if since is not None and (self.since is None or since < self.since):
            self.since = since


@dataclass
class Said:
    """The units and marks of which surveys that were judged anew said something, before or now."""

    units: set[str] = field(default_factory=set)
    marks: set[str] = field(default_factory=set)


def keep(db: Database, changes: Sequence[Change]) -> Said:
    """Judge anew the surveys that these changes may have changed, and keep what they say."""
    of_sites: dict[str, Anew] = defaultdict(Anew)
    for change in changes:
        for site_id in _sites_of(change):
            _reach(db, change, of_sites[site_id])
        if change.kind == "unit_design" and change.differs_in(*OF_A_DESIGN):
            _reach_design(db, change.record_id, of_sites)
    said = Said()
    wanted = {site_id: anew for site_id, anew in of_sites.items() if anew.since is not None or anew.keys or anew.is_counted_anew}
    for site in sites_of(db, wanted):
        readings, anew = SiteReadings(db, site), wanted[site["record_id"]]
        keys = {f"visit {readings.root_of(key[6:])}" if key.startswith("visit ") else key for key in anew.keys} | anew.keys
        if anew.since is not None:
            keys |= {*readings.keys_since(anew.since), *surveys_since(db, readings.site_id, anew.since)}
        if anew.is_counted_anew:
            keys |= {*surveys_not_over(db, readings.site_id)}
        for key in sorted(keys):
            _judge_anew(db, readings, key, said)
        _keep_tapes(db, readings)
    return said


def keep_all(db: Database) -> None:
    """Judge every survey; none is kept yet."""
    for site in sites(db):
        readings = SiteReadings(db, site)
        for key in readings.keys_since(""):
            _judge_anew(db, readings, key, Said())
        _keep_tapes(db, readings)


def _sites_of(change: Change) -> set[str]:
    if change.kind == "site":
        return {change.record_id}
    if change.kind == "unit_design":
        return set()
    return {str(site_id) for site_id in change.values("site_id")}


def _reach(db: Database, change: Change, anew: Anew) -> None:
    """From when on a change has the surveys of a site judged anew."""
    kind, record_id = change.kind, change.record_id
    if kind == "position_fix":
        for fixed_at in change.values("fixed_at"):
            anew.reach(fixed_at)
        anew.keys |= {f"visit {visit_id}" for visit_id in change.values("visit_id")}
    elif kind == "site" and change.differs_in(*OF_A_SITE):
        anew.reach("")
    elif kind == "control_mark" and change.differs_in(*OF_A_MARK):
        for n in (1, 2, 3, 4):
            anew.reach(first_fix_from_mark(db, n, record_id))
    elif kind == "unit" and change.differs_in(*OF_A_UNIT):
        anew.reach(first_fix_of_unit(db, record_id))
        if change.differs_in("site_id", "deleted"):
            anew.is_counted_anew = True
    elif kind == "unit_event":
        for row in (change.before, change.after):
            if row is not None and row["event"] in STARTS_ANEW and row["event_at"] is not None:
                anew.reach(first_fix_of_unit(db, row["unit_id"], row["event_at"]))
    elif kind == "visit_part" and change.differs_in("of_visit_id", "until_at", "deleted"):
        anew.keys |= _measured_on(db, change.after["site_id"], change.values("of_visit_id"))
    elif kind == "visit" and change.differs_in(*OF_A_VISIT):
        _reach_visit(db, change, anew)


def _reach_design(db: Database, design_id: str, of_sites: dict[str, Anew]) -> None:
    for site_id, first in first_fixes_of_design(db, design_id):
        of_sites[site_id].reach(first)


def _reach_visit(db: Database, change: Change, anew: Anew) -> None:
    times = [
        at
        for site_id in change.values("site_id")
        for visit_id in visits_of(db, change.record_id)
        if (at := first_fix_on_visit(db, site_id, visit_id)) is not None
    ]
    if times and change.differs_in("site_id", "joined_to", "deleted"):
        anew.reach(min(times))
    # Its end counts for the survey of the visits that it is joined to, or was, also where nothing was read on itself.
    for site_id in change.values("site_id"):
        anew.keys |= _measured_on(db, site_id, (change.record_id, *change.values("joined_to")))


def _measured_on(db: Database, site_id: str, visit_ids: Iterable[str]) -> set[str]:
    """The surveys of those of these visits on which, or on one joined with it, something was read."""
    groups = {visit_id: visits_of(db, root_of(db, visit_id, site_id)) for visit_id in visit_ids}
    return {f"visit {visit_id}" for visit_id, group in groups.items() if any(first_fix_on_visit(db, site_id, one) for one in group)}


def _judge_anew(db: Database, readings: SiteReadings, key: str, said: Said) -> None:
    where = (readings.site_id, key)
    had, before = verdicts_of(db, *where), survey_of(db, *where)
    read = readings.survey(key)
    row, verdicts = judged(read) if read is not None and read.compared else (None, [])
    has = {verdict["unit_id"]: _IN_ORDER(verdict) for verdict in verdicts}
    changed = {unit_id for unit_id in had.keys() | has.keys() if had.get(unit_id) != has.get(unit_id)}
    if row is not None:
        row["of_units"] = count_of_units(db, readings.site_id)
    after = None if row is None else tuple(row[name] for name in SURVEY)
    if before != after:
        # A flag tells of its survey how much of it there is so far.
        changed |= {verdict["unit_id"] for verdict in verdicts if verdict["verdict"] in FLAGGED}
    if changed or before != after:
        _write(db, where, after, [(*where, unit_id) for unit_id in had.keys() - has.keys()], [has[unit_id] for unit_id in changed if unit_id in has])
    said.units |= changed
    # A survey that finds a mark where it was may settle what an earlier one said of it.
    for one in (before, after):
        if one is not None:
            doubted, told = one[SURVEY.index("doubted_mark")], one[SURVEY.index("told_marks")]
            said.marks |= {*(json.loads(told) if one is after else ()), *([doubted] if doubted else ())}


def _write(
    db: Database, where: tuple[str, str], survey: tuple[Any, ...] | None, gone: Sequence[tuple[str, ...]], verdicts: Sequence[tuple[Any, ...]]
) -> None:  # fmt: skip
    """Put what a survey says in the place of what it said. Its own row is written anew with any of them: by it a pack knows of both."""
    db.conn.execute("DELETE FROM survey WHERE site_id = ? AND survey = ?", where)
    if survey is not None:
        _insert(db, "survey", SURVEY, [survey])
    db.conn.executemany("DELETE FROM survey_verdict WHERE site_id = ? AND survey = ? AND unit_id = ?", gone)
    _insert(db, "survey_verdict", VERDICT, verdicts)


def _keep_tapes(db: Database, readings: SiteReadings) -> None:
    """What the site's tapes show by now: a phone asks for a second set by it."""
    newest_at = newest_fix_at(db, readings.site_id)
    scale = STATED if newest_at is None else readings.scale_until(newest_at)
    row = (readings.site_id, scale.factor, scale.dof, scale.tapes)
    if tapes_of_site(db, readings.site_id) != row:
        db.conn.execute("INSERT OR REPLACE INTO site_tapes VALUES (?, ?, ?, ?)", row)


def judged(read: SurveyRead) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """What a survey says: its own row, without how many units the site has, and one of each unit that it compared."""
    scale = read.scale
    pairs = [Pair(zero.epoch, now.epoch, read.least_shift_m(unit)) for unit, zero, now in read.compared]
    mark_id = doubted_mark(pairs, scale)
    verdicts = [
        {
            "unit_id": unit["record_id"], "site_id": unit["site_id"], "survey": read.key, "at": now.at, "verdict": one.verdict.value,
            "east_m": one.east_m, "north_m": one.north_m, "p": one.p, "t2": one.t2, "shows_m": one.shows_m, "least_shift_m": pair.least_shift_m,
            "misread": None if one.misread is None else now.epoch.tapes[one.misread].tape.label, "doubts": json.dumps(one.doubts) if one.doubts else "[]",
            "by_marks": int(one.by_marks), "method": now.epoch.method, "zero_method": zero.epoch.method, "zero_at": zero.at,
            "zero_id": zero.last_id, "fixed_at": now.last_at, "fix_id": now.last_id,
        }
        for (unit, zero, now), pair, one in zip(read.compared, pairs, judge(pairs, scale, mark_id), strict=True)
    ]  # fmt: skip
    return _row_of(read, pairs, scale, mark_id), verdicts


def _row_of(read: SurveyRead, pairs: Sequence[Pair], scale: TapeScale, mark_id: str | None) -> dict[str, Any]:
    alike = (pair.now.mark_ids for pair in pairs if pair.now.mark_ids == pair.zero.mark_ids)
    return {
        "site_id": read.site["record_id"], "survey": read.key, "ended_at": read.ended_at, "doubted_mark": mark_id,
        "told_marks": json.dumps(sorted({one for mark_ids in alike for one in mark_ids})), "measured": read.measured,
        "is_over": int(read.is_over), "tape_factor": scale.factor, "tape_dof": scale.dof, "tapes": scale.tapes,
    }  # fmt: skip


def _insert(db: Database, table: str, names: Sequence[str], rows: Iterable[tuple[Any, ...]]) -> None:
    db.conn.executemany(f"INSERT OR REPLACE INTO {table}({', '.join(names)}) VALUES ({', '.join('?' * len(names))})", rows)
