"""
The allowance that a record asks for: how much higher than predicted the water may stand, in the year to come as well.

The mean level of a record is not that of the next year, and nothing in the record shows it: the percentile of what was left over,
taken as the allowance, was exceeded on 8 to 14 % of the next year's lows in the mean and on 74 % at worst, where it said 5 %
(tests/tides/made_ports.py). So residuals are held back, months of weather are laid over them, and the level's own doubt is
added. The estimator and every number in it are our own, chosen on made weather; no real gauge was used.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

ANOMALY_M = 0.06
"""Standard deviation of a month's mean level about the tide with its seasonal wave."""

MONTHS_ALIKE = 0.5
"""Correlation of one month's mean level with the next one's."""

LEVEL_SIGMAS, LEVEL_SIGMAS_WITHOUT_SEASON = 1.645, 2.0
FLOOR_M = 0.20
"""No less is proposed from under a year."""

SHARE = 0.95
MONTH_DAYS, SEASON_DAYS, YEAR_DAYS = 30.4, 350.0, 365.0
"""A month; from how many days on a record shows its own seasonal wave; a whole year."""

LEAST_DAYS, LEAST_DAYS_WITHOUT_SEASON = 28.0, 60.0
"""From shorter records no allowance is proposed; under 60 days, one without the season was exceeded on up to 21 %."""

SEASON_SIGMAS_M = ((90.0, 0.06), (SEASON_DAYS, 0.03))
"""Under so many days, the doubt that an unknown seasonal wave leaves."""

MADE_YEARS = {True: (2, 15), False: (1, 13)}
"""By whether the season is known: on how many of 100 lows made years exceeded it, in the mean and at worst (made_ports.py)."""

BLOCKS = ((30.0, 60.0, 180.0, 365.0), (5, 6, 9, 12))
"""How many blocks of days are left out in turn, by the record's days."""


@dataclass(frozen=True)
class Allowance:
    """
    What is proposed, and what it is made of: ``shown_m``, under which the water stood on 95 of 100 lows of the record, and the rest,
    which the record cannot show. ``is_floor``: less would have come out than is proposed from under a year.
    """

    metres: float
    shown_m: float
    is_season_known: bool
    is_floor: bool

    @property
    def more_m(self) -> float:
        """What is added to what the record showed."""
        return self.metres - round(self.shown_m, 2)


def allowance_of(left_m: Sequence[float] | np.ndarray, days: float, is_season_known: bool) -> Allowance | None:
    """
    The allowance out of held-back residuals at lows; None where the record is too short for one.

    Args:
        left_m: by low, the highest hourly mean of observed less predicted within two hours, metres, of fits without that block.
        days: the record's length.
        is_season_known: whether the prediction has the year's wave, from the reference port or from the record.
    """
    if days < (LEAST_DAYS if is_season_known else LEAST_DAYS_WITHOUT_SEASON):
        return None
    is_known = is_season_known or days >= SEASON_DAYS
    sigmas = LEVEL_SIGMAS if is_known else LEVEL_SIGMAS_WITHOUT_SEASON
    asked_m = laid_over_percentile(left_m, ANOMALY_M, SHARE) + sigmas * level_sigma_m(days, is_season_known)
    floor_m = FLOOR_M if round(days) < YEAR_DAYS else 0.0
    metres = math.ceil(round(max(asked_m, floor_m) * 100, 6)) / 100
    return Allowance(metres, float(np.percentile(left_m, 100 * SHARE)), is_known, asked_m < floor_m)


def mean_variance_m2(months: float) -> float:
    """Variance of the mean level of so many months in line, each like the last by MONTHS_ALIKE, square metres."""
    n = max(1, round(months))
    return ANOMALY_M**2 * (n + 2 * sum((n - j) * MONTHS_ALIKE**j for j in range(1, n))) / n**2


def level_sigma_m(days: float, is_season_known: bool) -> float:
    """Standard deviation of the mean level of the year to come less that of a record of so many days, metres."""
    lacking_m = 0.0 if is_season_known else next((sigma_m for under, sigma_m in SEASON_SIGMAS_M if days < under), 0.0)
    return math.sqrt(mean_variance_m2(days / MONTH_DAYS) + mean_variance_m2(12) + lacking_m**2)


def laid_over_percentile(left_m: Sequence[float] | np.ndarray, sigma_m: float, share: float) -> float:
    """The a with mean of Phi((a - left) / sigma) = share: the percentile of values with a normal of that sigma laid over each."""
    values = np.asarray(left_m, dtype=float)
    low, high = float(values.min()) - 5 * sigma_m, float(values.max()) + 5 * sigma_m
    for _ in range(60):
        middle = (low + high) / 2
        parts = [math.erf(one) for one in ((middle - values) / (sigma_m * math.sqrt(2))).tolist()]
        if (1 + sum(parts) / len(parts)) / 2 < share:
            low = middle
        else:
            high = middle
    return high


def blocks_of(days: float) -> int:
    """How many blocks a record of so many days is cut into."""
    return round(float(np.interp(days, *BLOCKS)))
