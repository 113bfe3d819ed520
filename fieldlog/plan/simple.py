"""
The simple order, as a leader without a computer walks it: out with the ebb row by row, the lowest at the turn, then home.

Stops that matter more come first where the time is short. It is what the solver starts from and must never fall below.
"""

from __future__ import annotations

from fieldlog.plan.problem import Problem, Route, cost, timed


def simple_order(problem: Problem) -> list[Route]:
    """The better of two walks: by ground from high to low, and by what floods first."""
    ways = (
        lambda n: (problem.stops[n].from_s, problem.stops[n].north_m, problem.stops[n].east_m),
        lambda n: (problem.stops[n].until_s, problem.stops[n].from_s, problem.stops[n].east_m),
    )
    plans = [_walked(problem, sorted(range(len(problem.stops)), key=way)) for way in ways]
    return min(plans, key=lambda plan: cost(problem, plan))


def _walked(problem: Problem, order: list[int]) -> list[Route]:
    """Each stop to the team that can begin it first; the heavier ones are placed before the lighter ones."""
    place = {index: n for n, index in enumerate(order)}
    teams: list[list[int]] = [[] for _ in range(problem.teams)]
    for weight in sorted({stop.weight for stop in problem.stops}, reverse=True):
        for index in order:
            if problem.stops[index].weight != weight:
                continue
            best: tuple[int, int, list[int]] | None = None
            for number, team in enumerate(teams):
                tried = sorted([*team, index], key=place.__getitem__)
                route = timed(problem, tried)
                if route is not None:
                    begins = next(visit.begins_s for visit in route if visit.stop == index)
                    if best is None or begins < best[0]:
                        best = begins, number, tried
            if best is not None:
                teams[best[1]] = best[2]
    return [timed(problem, team) or () for team in teams]
