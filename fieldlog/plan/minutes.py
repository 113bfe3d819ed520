"""How long a check takes here, learned from past visits: the time from one check to the next, less the walk between them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby, pairwise
from statistics import median
from typing import Any

from sqlite_utils import Database

from fieldlog.plan.problem import WALK_M_PER_MIN
from fieldlog.questions.checks import checks_in_turn

USUAL_MIN = 4.0
"""Where too few checks are on record; our own proposal."""

LEAST_COUNT = 20
LONGEST_MIN, SHORTEST_MIN = 20.0, 1.0
"""A longer break is lunch or rain, a shorter one a check filled in afterwards; neither tells how long a check takes."""

SAMPLE_MIN = 6.0
"""A stake or a quadrat; our own proposal."""


@dataclass(frozen=True)
class Learned:
    """Minutes of a plain check, and from how many it was learned (0: the usual ones)."""

    minutes: float
    count: int

    @property
    def basis(self) -> str:
        """Where it comes from, in words."""
        if not self.count:
            return f"{self.minutes:g} min a check, our suggestion: too few checks are on record"
        return f"{self.minutes:g} min a check, typical of {self.count} on past visits"


def learned_minutes(db: Database, site_id: str) -> Learned:
    """The median of a site's checks; people who work at once are told apart by who wrote the check."""
    found = [
        minutes
        for _, checks in groupby(checks_in_turn(db, site_id), key=lambda row: (row["visit_id"], row["created_by"]))
        for minutes in _between(checks)
        if SHORTEST_MIN <= minutes <= LONGEST_MIN
    ]
    if len(found) < LEAST_COUNT:
        return Learned(USUAL_MIN, 0)
    return Learned(round(median(found) * 2) / 2, len(found))


def _between(checks: Iterable[Mapping[str, Any]]) -> list[float]:
    found = []
    for before, after in pairwise(checks):
        # A look is over sooner than a check, so it says nothing of how long one takes.
        if after["looked_only"]:
            continue
        minutes = (datetime.fromisoformat(after["checked_at"]) - datetime.fromisoformat(before["checked_at"])).total_seconds() / 60
        if None not in (before["east_m"], before["north_m"], after["east_m"], after["north_m"]):
            minutes -= (abs(before["east_m"] - after["east_m"]) + abs(before["north_m"] - after["north_m"])) / WALK_M_PER_MIN
        found.append(minutes)
    return found
