"""How many visits would tell a rate from its threshold: years tell more than visits, and where stakes differ most only stakes help."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fieldlog.outcomes.intervals import t_quantile
from fieldlog.outcomes.results import CannotTell, Method, Why
from fieldlog.outcomes.stakes import BedRate

MOST_YEARS = 10.0
CHANCE = 0.80

MORE = Method("more-visits", "1", "evenly spaced visits, a chance of 80 in 100: our suggestion", "visit")


@dataclass(frozen=True, slots=True)
class MoreVisits:
    """
    Visits that would tell.

    Attributes:
        visits: in all. more: beyond those made.
        years: from the first to the last of them.
        half_width_per_year: of the interval then, in the unit of the rate.
    """

    method: Method
    visits: int
    more: int
    years: float
    half_width_per_year: float


def more_visits(rate: float, threshold: float, spread: float, visits_a_year: float, visits: int) -> MoreVisits | CannotTell:
    """
    The least number of evenly spaced visits that tells `rate` from `threshold` with a chance of 80 in 100, within 10 years.

    Args:
        spread: of the visits about the line, in the unit of the readings; above 0.
        visits: made so far.

    Raises:
        ValueError: a spread or a pace that is not above 0.
    """
    if not (spread > 0 and visits_a_year > 0):
        raise ValueError(f"spread {spread}, pace {visits_a_year} a year; both have to be above 0")
    n = np.arange(max(visits, 3), math.floor(MOST_YEARS * visits_a_year + 1e-9) + 2, dtype=float)
    root = np.sqrt(n * (n**2 - 1) / 12) / visits_a_year
    need = (t_quantile(n - 2) + t_quantile(n - 2, 2 * CHANCE - 1)) * spread / root
    enough = np.flatnonzero(abs(rate - threshold) >= need)
    if not len(enough):
        return CannotTell(MORE, Why.NOT_WITHIN_TEN_YEARS, visits)
    first = int(enough[0])
    told = int(n[first])
    half = float(t_quantile(told - 2) * spread / root[first])
    return MoreVisits(MORE, told, told - visits, (told - 1) / visits_a_year, half)


def more_visits_for(rate: BedRate, threshold_mm_y: float) -> MoreVisits | CannotTell:
    """
    The same for a rate of the bed, at the pace of its visits so far.

    Why MORE_STAKES: the stakes differ more than the visits scatter, so further visits would hardly help.
    """
    if rate.more_of == "stakes":
        return CannotTell(MORE, Why.MORE_STAKES, rate.stakes)
    return more_visits(rate.rate_mm_y, threshold_mm_y, rate.visit_spread_mm, (rate.visits - 1) / rate.years, rate.visits)
