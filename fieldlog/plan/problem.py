"""
The plan as numbers: stops with their ground's times, teams, walking times, and what an order is worth.

Times are whole seconds after the low. A stop is visited while its ground is exposed, or not at all. Worth is told by a cost:
first what is left out, by weight; then how long people are out; then how far from the turn of the tide the low ground is worked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

WALK_M_PER_MIN = 30.0
"""On mud and between units, with tools: half a metre a second; common practice, no source."""

LEFT_OUT_S = 100_000
"""Leaving out a stop of weight 1 costs more than any walk saves."""

TEAM_PART = 10
"""From the first out to the last back counts whole, each team's own time a tenth: nobody is kept longer than needed."""

TURN_FREE_S = 20 * 60
TURN_PART = 4
"""Low ground worked more than 20 minutes from the low costs a quarter of the rest; our own choice."""


@dataclass(frozen=True)
class Stop:
    """
    One unit or plot to visit: where, when its ground can be worked, for how long, and how much it matters.

    `lowness` is 1 for the lowest ground of the plan and 0 for the highest.
    """

    stop_id: str
    east_m: float
    north_m: float
    from_s: int
    until_s: int
    minutes_s: int
    weight: int
    lowness: float = 0.0


@dataclass(frozen=True)
class Problem:
    """What is to be planned. Teams start from the access at `start_s` at the earliest; every check ends by `end_s`."""

    stops: tuple[Stop, ...]
    teams: int
    start_s: int
    end_s: int
    access_m: tuple[float, float]

    def walk_s(self, one: int, other: int) -> int:
        """Seconds from one stop to another; -1 is the access. Along the rows and across them, as people walk."""
        (e1, n1), (e2, n2) = self._place(one), self._place(other)
        return round((abs(e1 - e2) + abs(n1 - n2)) / WALK_M_PER_MIN * 60)

    def _place(self, index: int) -> tuple[float, float]:
        if index < 0:
            return self.access_m
        return self.stops[index].east_m, self.stops[index].north_m


@dataclass(frozen=True)
class Visit:
    """A stop's index and when its work begins, seconds after the low."""

    stop: int
    begins_s: int


Route = tuple[Visit, ...]


def timed(problem: Problem, order: Sequence[int]) -> Route | None:
    """
    One team's route in a given order; None where a stop cannot be done in time.

    The last stop is begun as early as can be, and the ones before it as late as that allows: nobody waits on the shore who can
    set out later.
    """
    at_s, before = problem.start_s, -1
    found: list[Visit] = []
    for index in order:
        stop = problem.stops[index]
        begins = max(at_s + problem.walk_s(before, index), stop.from_s)
        if begins + stop.minutes_s > min(stop.until_s, problem.end_s):
            return None
        found.append(Visit(index, begins))
        at_s, before = begins + stop.minutes_s, index
    for place in range(len(found) - 2, -1, -1):
        stop, after = problem.stops[found[place].stop], found[place + 1]
        latest = after.begins_s - problem.walk_s(found[place].stop, after.stop)
        found[place] = Visit(found[place].stop, min(latest, stop.until_s, problem.end_s) - stop.minutes_s)
    return tuple(found)


def cost(problem: Problem, routes: Sequence[Route]) -> float:
    """What a plan costs: less is better. It must be sound (`faults`)."""
    visited = {visit.stop for route in routes for visit in route}
    total = 0.0 + sum(stop.weight * LEFT_OUT_S for n, stop in enumerate(problem.stops) if n not in visited)
    spans = [
        (route[0].begins_s - problem.walk_s(-1, route[0].stop), route[-1].begins_s + problem.stops[route[-1].stop].minutes_s)
        for route in routes
        if route
    ]
    if spans:
        total += max(end for _, end in spans) - min(start for start, _ in spans)
    total += sum(end - start for start, end in spans) / TEAM_PART
    return total + sum(turn_cost(problem.stops[visit.stop], visit.begins_s) for route in routes for visit in route)


def turn_cost(stop: Stop, begins_s: int) -> float:
    """What it costs to work low ground away from the low."""
    off_s = abs(begins_s + stop.minutes_s / 2)
    return stop.lowness * max(0.0, off_s - TURN_FREE_S) / TURN_PART


def faults(problem: Problem, routes: Sequence[Route]) -> list[str]:
    """What makes a plan impossible, in words; empty for a sound one."""
    found = []
    seen: set[int] = set()
    if len(routes) > problem.teams:
        found.append(f"{len(routes)} routes for {problem.teams} teams")
    for route in routes:
        previous = Visit(-1, problem.start_s)
        for before, visit in pairwise((previous, *route)):
            stop = problem.stops[visit.stop]
            work_s = problem.stops[before.stop].minutes_s if before.stop >= 0 else 0
            if visit.begins_s < before.begins_s + work_s + problem.walk_s(before.stop, visit.stop):
                found.append(f"no time to walk to {stop.stop_id}")
            if visit.begins_s < stop.from_s or visit.begins_s + stop.minutes_s > min(stop.until_s, problem.end_s):
                found.append(f"{stop.stop_id} is under water")
            if visit.stop in seen:
                found.append(f"{stop.stop_id} is visited twice")
            seen.add(visit.stop)
    return found
