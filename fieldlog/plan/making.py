"""From a site's records to the plan of its next visit: window, stops with their ground's times, order, what does not fit."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
from sqlite_utils import Database

from fieldlog.child import Tell, run
from fieldlog.errors import NoWindow
from fieldlog.plan.due import Due, to_bring, what_is_due
from fieldlog.plan.minutes import learned_minutes
from fieldlog.plan.problem import WALK_M_PER_MIN, Problem, Route, Stop, Visit
from fieldlog.plan.simple import simple_order
from fieldlog.questions.sites import of_site_and_removed
from fieldlog.shown_names import counted, named
from fieldlog.windows.access import Window
from fieldlog.windows.beds import Ground, ground_of
from fieldlog.windows.exposures import Exposures
from fieldlog.windows.rows import told, window_row
from fieldlog.windows.season import Season, season

MODULE = "fieldlog.plan.solving"
DAYS_AHEAD = 60
MOST_TIDES = 40
MOST_LIST_BYTES = 60_000
"""A line of the log holds 64 KB, what stands about a list included; a longer list is told by the texts alone."""

SPACING_M = (2.5, 6.0)
"""Between slots and between rows where units have no planned place; our own guess, told."""


@dataclass(frozen=True)
class Asked:
    """What a plan is asked for: which window (counted from 1, or by its id), how many teams, plots and units not yet due too."""

    window: int | str = 1
    teams: int = 1
    samples: bool = False
    everything: bool = False


def make_plan(db: Database, site: Mapping[str, Any], asked: Asked, now: datetime, tell: Tell = lambda _step: None) -> dict[str, Any]:
    """
    The plan of a visit.

    Args:
        site: its row.
        now: aware; the first window that has not ended by then is number 1, and nobody sets out before it.

    Returns:
        `window` (a window row), `teams`, `stops` in walking order (team, tag, stop_id, kind, begins_at, ends_at, minutes, reasons, remarks,
        `until`: when its ground floods, or when to turn back, whichever is first), `left_out` (tag, stop_id, why), `bring`, `tides_needed`, `basis` (sentences),
        `walk_min`, `simple_stops`: how many the simple order reaches.

    Raises:
        NoWindow: there is no such window.
        SiteNotReady: numbers are missing.
        WorkFailed: the solver stopped.
    """
    ground = ground_of(db, site)
    span = season(ground.station, ground.rules, now - timedelta(days=1), now + timedelta(days=DAYS_AHEAD))
    windows = [window for window in span.windows() if window.safe and window.usable_until and window.usable_until > now]
    place = _chosen(windows, asked, named(site["name"]))
    learned = learned_minutes(db, site["record_id"])
    begun = windows[place].usable_from
    due = what_is_due(db, site["record_id"], now, learned, samples=asked.samples, everything=asked.everything, begun=begun)
    shore = _Shore(db, site, ground, span, due, now)
    problem = shore.problem(windows[place], asked.teams, range(len(due)))
    answer = run(MODULE, _job(problem), tell)
    routes = [tuple(Visit(stop, begins) for stop, begins in route) for route in answer["routes"]]
    visited = {visit.stop for route in routes for visit in route}
    left = sorted((n for n in range(len(due)) if n not in visited), key=lambda n: (due[n].kind == "plot", due[n].tag))
    return {
        "window": window_row(windows[place], named(site["name"]), ground.rules),
        "teams": asked.teams,
        "stops": [shore.row(problem, windows[place], team, visit) for team, route in enumerate(routes, 1) for visit in route],
        "left_out": [{"tag": due[n].tag, "stop_id": due[n].stop_id, "kind": due[n].kind, "why": shore.why(problem, n)} for n in left],
        "bring": to_bring(due[n] for n in sorted(visited)),
        "tides_needed": shore.tides_needed(windows[place:], asked.teams, left),
        "walk_min": round(sum(_walked_s(problem, route) for route in routes) / 60),
        "simple_stops": sum(len(route) for route in simple_order(problem)),
        "basis": [learned.basis, f"Walking {WALK_M_PER_MIN:g} m a minute along and across the rows", *ground.doubts, *shore.doubts],
    }


def _chosen(windows: Sequence[Window], asked: Asked, name: str) -> int:
    if isinstance(asked.window, str):
        found = next((n for n, window in enumerate(windows) if window.window_id == asked.window), None)
        if found is not None:
            return found
        raise NoWindow(f"That low tide of {name} is over, or no longer usable. Choose another.")
    if not windows:
        raise NoWindow(f"{name} has no usable low in the next {DAYS_AHEAD} days. To see why: fieldlog windows")
    if not 1 <= asked.window <= len(windows):
        raise NoWindow(f"{name} has {counted(len(windows), 'usable low')} in the next {DAYS_AHEAD} days; there is no number {asked.window}.")
    return asked.window - 1


def _job(problem: Problem) -> dict[str, Any]:
    return {**asdict(problem), "stops": [asdict(stop) for stop in problem.stops]}


def _walked_s(problem: Problem, route: Route) -> int:
    stops = [-1, *(visit.stop for visit in route)]
    return sum(problem.walk_s(one, other) for one, other in pairwise(stops))


class _Shore:
    """Where the stops are and when their ground is out of the water, low by low."""

    def __init__(self, db: Database, site: Mapping[str, Any], ground: Ground, span: Season, due: Sequence[Due], now: datetime) -> None:
        self.due, self.ground, self.now = due, ground, now
        self.doubts: list[str] = []
        beds = {bed.record_id: bed for bed in ground.units} | {bed.record_id: bed for bed in ground.rows}
        rows = {bed.record_id: n for n, bed in enumerate(ground.rows)}
        # What is due was read before, so it may have been removed by now.
        units, plots = (of_site_and_removed(db, kind, site["record_id"]) for kind in ("unit", "plot"))
        self.place = _places(units, plots, due, rows, self.doubts)
        self.bed_m = [self._bed(one, beds, plots) for one in due]
        levels = sorted(set(self.bed_m))
        self.level = {bed_m: n for n, bed_m in enumerate(levels)}
        low, high = (levels[0], levels[-1]) if levels else (0.0, 0.0)
        self.lowness = [(high - bed_m) / (high - low) if high > low else 0.0 for bed_m in self.bed_m]
        self.out: Exposures | None = span.exposures(levels) if levels else None
        self.access_m = _access(site, self.place, self.bed_m)

    def _bed(self, one: Due, beds: Mapping[str, Any], plots: Mapping[str, Mapping[str, Any]]) -> float:
        bed = beds.get(one.stop_id) or (beds.get(plots[one.stop_id]["row_id"]) if one.stop_id in plots else None)
        return bed.bed_level_m if bed else self.ground.rules.work_level_m

    def problem(self, window: Window, teams: int, which: Sequence[int]) -> Problem:
        """The problem of some of the stops in a window."""
        stops = []
        for n in which:
            from_s, until_s = self._times(window, n)
            stops.append(
                Stop(
                    self.due[n].stop_id, *self.place[n], from_s, until_s, round(self.due[n].minutes * 60), self.due[n].weight, self.lowness[n]
                )
            )
        # People walk out to be there as the window's minutes begin, and all turn back together, whatever ground is dry longer.
        assert window.usable_from and window.turn_back_at
        start_s = math.ceil((max(window.usable_from, self.now) - window.low_at).total_seconds())
        return Problem(tuple(stops), teams, start_s, math.floor((window.turn_back_at - window.low_at).total_seconds()), self.access_m)

    def _times(self, window: Window, n: int) -> tuple[int, int]:
        """When a stop's ground can be worked, seconds after the low; an empty stretch where it cannot."""
        assert self.out is not None
        at = int(np.argmin(np.abs(self.out.low_s - window.low_at.timestamp())))
        row = self.level[self.bed_m[n]]
        from_s, until_s = self.out.from_s[row, at], self.out.until_s[row, at]
        if np.isnan(from_s):
            return 0, -1
        low_s = window.low_at.timestamp()
        return math.ceil(from_s - low_s), math.floor(until_s - low_s)

    def row(self, problem: Problem, window: Window, team: int, visit: Visit) -> dict[str, Any]:
        """A stop of the plan as JSON."""
        due, stop = self.due[visit.stop], problem.stops[visit.stop]
        begins = window.low_at + timedelta(seconds=visit.begins_s)
        return {
            "team": team, "tag": due.tag, "stop_id": due.stop_id, "kind": due.kind, "begins_at": told(begins),
            "ends_at": told(begins + timedelta(seconds=stop.minutes_s)), "after_low_min": round(visit.begins_s / 60, 2),
            "minutes": round(due.minutes, 1), "weight": due.weight, "reasons": list(due.reasons), "remarks": list(due.remarks),
            "until": told(window.low_at + timedelta(seconds=stop.until_s)),
        }  # fmt: skip

    def why(self, problem: Problem, n: int) -> str:
        """Why a stop is left out."""
        stop = problem.stops[n]
        if stop.until_s <= stop.from_s:
            return "stays under water, or in the dark, on this low tide"
        if stop.until_s - stop.from_s < stop.minutes_s:
            return f"its ground is dry for {(stop.until_s - stop.from_s) // 60} min; the work takes {stop.minutes_s // 60}"
        return "no time is left for it"

    def tides_needed(self, windows: Sequence[Window], teams: int, left: Sequence[int]) -> int | None:
        """How many windows all stops take, this one included, by the simple order on what is left; None where 40 are too few."""
        count = 1
        for window in windows[1:MOST_TIDES]:
            if not left:
                break
            problem = self.problem(window, teams, left)
            reached = {visit.stop for route in simple_order(problem) for visit in route}
            left = [n for k, n in enumerate(left) if k not in reached]
            count += 1
        return None if left else count


def _places(
    units: Mapping[str, Mapping[str, Any]], plots: Mapping[str, Mapping[str, Any]], due: Sequence[Due], rows: Mapping[str, int], doubts: list[str]
) -> list[tuple[float, float]]:
    found, guessed = [], 0
    for one in due:
        record = units.get(one.stop_id) or plots[one.stop_id]
        east, north = ("planned_east_m", "planned_north_m") if one.stop_id in units else ("east_m", "north_m")
        if record[east] is not None and record[north] is not None:
            found.append((float(record[east]), float(record[north])))
        else:
            guessed += 1
            slot = record.get("slot_number") or 0
            found.append((slot * SPACING_M[0], rows.get(record["row_id"], 0) * SPACING_M[1]))
    if guessed:
        doubts.append(f"{counted(guessed, 'stop has', 'stops have')} no position on the grid: {SPACING_M[0]:g} m between slots and"
                      f" {SPACING_M[1]:g} m between rows are assumed")
    return found


def _access(site: Mapping[str, Any], place: Sequence[tuple[float, float]], bed_m: Sequence[float]) -> tuple[float, float]:
    """Where the path reaches the site: as the site says, else at the highest ground's nearest end."""
    if site["access_east_m"] is not None and site["access_north_m"] is not None:
        return site["access_east_m"], site["access_north_m"]
    if not place:
        return 0.0, 0.0
    top = max(bed_m)
    return min(where for where, level in zip(place, bed_m, strict=True) if level == top)


def as_text(plan: Mapping[str, Any]) -> dict[str, Any]:
    """A plan as the fields of the entry that makes a visit_plan record, but when it was made; apps up to 0.3.0 write no other."""
    low = datetime.fromisoformat(plan["window"]["low_at"])
    left: dict[str, list[str]] = {}
    for one in plan["left_out"]:
        left.setdefault(one["why"], []).append(one["stop_id"])
    return {
        "window_id": plan["window"]["window_id"],
        "low_at": told(low.astimezone(UTC)),
        "teams": plan["teams"],
        "stops": "\n".join(f"{one['team']} {one['stop_id']} {one['after_low_min']:g} {one['minutes']:g} {one['weight']}" for one in plan["stops"]),
        "left_out": "\n".join(f"{','.join(ids)} {why}" for why, ids in left.items()) or None,
        "bring": "\n".join(plan["bring"]),
        "tides_needed": plan["tides_needed"],
    }


def as_lists(plan: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The same plan's lists as the fields of further entries of that record, one a list; only what fits into an entry."""
    lists: list[dict[str, list[dict[str, Any]]]] = [
        {"planned_stops": [
            {"team": one["team"], "stop_kind": one["kind"], "stop_id": one["stop_id"], "after_low_min": one["after_low_min"],
             "takes_min": one["minutes"], "weight": one["weight"]}
            for one in plan["stops"]
        ]},
        {"left_out_stops": [{"stop_kind": one["kind"], "stop_id": one["stop_id"], "why": one["why"]} for one in plan["left_out"]]},
    ]  # fmt: skip
    return [fields for fields in lists if len(json.dumps(fields)) <= MOST_LIST_BYTES]
