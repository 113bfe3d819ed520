"""The stops of a saved plan, as whoever follows it needs them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any


@dataclass(frozen=True)
class PlannedStop:
    """A team's stop: the unit's or plot's id, and when its turn begins."""

    team: int
    stop_id: str
    begins_at: datetime


def stops_of(plan: Mapping[str, Any]) -> list[PlannedStop]:
    """The stops of a visit_plan's row in walking order, team by team; lines that are none are left out."""
    low_at = datetime.fromisoformat(plan["low_at"])
    found = []
    for line in (plan["stops"] or "").splitlines():
        said = line.split(" ")
        try:
            found.append(PlannedStop(int(said[0]), said[1], low_at + timedelta(minutes=float(said[2]))))
        except (ValueError, IndexError, OverflowError):
            continue
    return found
