"""The stops of a saved plan, as whoever follows it needs them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from fieldlog.records.listed import items_of
from fieldlog.records.visit_plan import VISIT_PLAN


@dataclass(frozen=True)
class PlannedStop:
    """A team's stop: the unit's or plot's id, and when its turn begins."""

    team: int
    stop_id: str
    begins_at: datetime


def stops_of(plan: Mapping[str, Any]) -> list[PlannedStop]:
    """The stops of a visit_plan's row in walking order, team by team, to the second as a phone has them; `low_at` must be there."""
    low_at = datetime.fromisoformat(plan["low_at"])
    return [
        PlannedStop(stop["team"], stop["stop_id"], low_at + timedelta(seconds=round(stop["after_low_min"] * 60)))
        for stop in items_of(VISIT_PLAN.lists["planned_stops"], "planned_stops", plan)
    ]  # fmt: skip
