"""
The plan solved by OR-tools' routing with time windows, starting from the simple order; run as a child process.

Each stop may be left out at a penalty above any walk's. The better of what it finds and the simple order is the answer, so that
the plan is never worse.
"""

from __future__ import annotations

from typing import Any

from ortools.constraint_solver import pywrapcp, routing_enums_pb2

from fieldlog.child import Tell, answer
from fieldlog.plan.problem import (
    LEFT_OUT_S,
    TEAM_PART,
    TURN_FREE_S,
    TURN_PART,
    Problem,
    Route,
    Stop,
    Visit,
    cost,
    faults,
    timed,
)
from fieldlog.plan.simple import simple_order
from fieldlog.shown_names import counted

SEARCH_S = 0.5
"""OR-tools takes up to twice as long: it searches, then improves."""
TURN_SCALE = 100


def work(job: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """
    Solve a problem.

    Args:
        job: `stops` (Stop's fields), `teams`, `start_s`, `end_s`, `access_m`, and perhaps `search_s`.

    Returns:
        `routes`: lists of [stop's index, seconds after the low] by team; `cost`, `simple_cost`.
    """
    problem = Problem(
        tuple(Stop(**stop) for stop in job["stops"]), job["teams"], job["start_s"], job["end_s"], (job["access_m"][0], job["access_m"][1])
    )
    tell("the simple order")
    simple = simple_order(problem)
    tell(f"a better order of {counted(len(problem.stops), 'stop')} for {counted(problem.teams, 'team')}")
    routes = best_of(problem, simple, solve(problem, simple, job.get("search_s", SEARCH_S)))
    return {
        "routes": [[[visit.stop, visit.begins_s] for visit in route] for route in routes],
        "cost": cost(problem, routes),
        "simple_cost": cost(problem, simple),
    }


def best_of(problem: Problem, *plans: list[Route] | None) -> list[Route]:
    """The cheapest of some plans that are sound, each also walked as early as can be."""
    tried = []
    for plan in plans:
        if plan is None:
            continue
        early = [timed(problem, [visit.stop for visit in route]) for route in plan]
        tried += [plan] if None in early else [plan, [route for route in early if route is not None]]
    sound = [plan for plan in tried if not faults(problem, plan)]
    return min(sound, key=lambda plan: cost(problem, plan))


def solve(problem: Problem, first: list[Route], search_s: float = SEARCH_S) -> list[Route] | None:
    """OR-tools' plan, begun from another; None where it finds none."""
    count = len(problem.stops)
    if count == 0:
        return [() for _ in range(problem.teams)]
    # Node 0 is the access; routes end where their last stop does, so the way back to it costs nothing.
    manager = pywrapcp.RoutingIndexManager(count + 1, problem.teams, 0)
    routing = pywrapcp.RoutingModel(manager)

    def seconds(from_index: int, to_index: int) -> int:
        one, other = manager.IndexToNode(from_index) - 1, manager.IndexToNode(to_index) - 1
        work_s = problem.stops[one].minutes_s if one >= 0 else 0
        return work_s if other < 0 else work_s + problem.walk_s(one, other)

    transit = routing.RegisterTransitCallback(seconds)
    routing.SetArcCostEvaluatorOfAllVehicles(routing.RegisterTransitCallback(lambda _one, _other: 0))
    span = problem.end_s - problem.start_s
    routing.AddDimension(transit, span, span, False, "time")
    time = routing.GetDimensionOrDie("time")
    for number, stop in enumerate(problem.stops):
        _add_stop(manager, routing, time, problem, number, stop)
    for team in range(problem.teams):
        time.SetSpanCostCoefficientForVehicle(TURN_SCALE // TEAM_PART, team)
        routing.AddVariableMaximizedByFinalizer(time.CumulVar(routing.Start(team)))
        routing.AddVariableMinimizedByFinalizer(time.CumulVar(routing.End(team)))
    time.SetGlobalSpanCostCoefficient(TURN_SCALE)
    parameters = pywrapcp.DefaultRoutingSearchParameters()
    parameters.local_search_metaheuristic = routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    parameters.time_limit.seconds, parameters.time_limit.nanos = int(search_s), int(search_s % 1 * 1e9)
    routing.CloseModelWithParameters(parameters)
    begun = routing.ReadAssignmentFromRoutes([[visit.stop + 1 for visit in route] for route in first], True)
    found = routing.SolveFromAssignmentWithParameters(begun, parameters) if begun else routing.SolveWithParameters(parameters)
    return None if found is None else _routes(manager, routing, time, problem, found)


def _add_stop(manager: Any, routing: Any, time: Any, problem: Problem, number: int, stop: Stop) -> None:
    index = manager.NodeToIndex(number + 1)
    routing.AddDisjunction([index], stop.weight * LEFT_OUT_S * TURN_SCALE)
    earliest = max(0, stop.from_s - problem.start_s)
    latest = min(stop.until_s, problem.end_s) - stop.minutes_s - problem.start_s
    if latest < earliest:
        # Its ground is never out for long enough: no team may visit it.
        routing.VehicleVar(index).SetValues([-1])
        return
    time.CumulVar(index).SetRange(earliest, latest)
    rate = round(stop.lowness * TURN_SCALE / TURN_PART)
    middle = -problem.start_s - stop.minutes_s // 2
    if rate:
        time.SetCumulVarSoftUpperBound(index, max(0, middle + TURN_FREE_S), rate)
        time.SetCumulVarSoftLowerBound(index, max(0, middle - TURN_FREE_S), rate)


def _routes(manager: Any, routing: Any, time: Any, problem: Problem, found: Any) -> list[Route]:
    routes = []
    for team in range(problem.teams):
        index = found.Value(routing.NextVar(routing.Start(team)))
        route = []
        while not routing.IsEnd(index):
            route.append(Visit(manager.IndexToNode(index) - 1, found.Min(time.CumulVar(index)) + problem.start_s))
            index = found.Value(routing.NextVar(index))
        routes.append(tuple(route))
    return routes


if __name__ == "__main__":
    answer(work)
