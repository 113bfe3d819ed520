"""What is said of an allowance: what the record showed, what was added, and what it is meant for; never more."""

from __future__ import annotations

import math
from typing import Any

from fieldlog.rounding import rounded
from fieldlog.shown_names import counted
from fieldlog.tides.allowance import LEAST_DAYS, LEAST_DAYS_WITHOUT_SEASON, MADE_YEARS, YEAR_DAYS, Allowance
from fieldlog.tides.residuals import Residuals


def record_basis(allowance: Allowance, residuals: Residuals, days: float) -> str:
    """Where an allowance of a record comes from, as a site's record keeps it."""
    return f"{_meant_for(allowance)} From {counted(residuals.whole.count, 'low')} in {rounded(days, 0)} days, {residuals.years}"


def readings_basis(residuals: Residuals, months: int) -> str:
    """The same of the crew's own readings, which no made year was held against."""
    seen = f"{counted(residuals.whole.count, 'reading')} on fair days in {counted(months, 'month')}"
    return f"meant for at most 1 low in 20; how often years exceed it was not tried. From {seen}, {residuals.years}"


def _meant_for(allowance: Allowance) -> str:
    mean, worst = MADE_YEARS[allowance.is_season_known]
    return (
        f"meant for at most 1 low in 20. In simulated years, {mean} lows in 100 went over it on average, {worst} at worst (not this site's weather)."
    )


def allowance_parts(allowance: Allowance, days: float) -> dict[str, Any]:
    """An allowance as JSON, with what it is made of."""
    return {
        "shown_m": round(allowance.shown_m, 2), "more_m": round(allowance.more_m, 2), "days": round(days), "is_floor": allowance.is_floor,
        "is_season_known": allowance.is_season_known, "is_year": round(days) >= YEAR_DAYS,
    }  # fmt: skip


def asks_for(days: float, is_season_known: bool) -> str:
    """What a record that is too short for an allowance asks for."""
    held = rounded(math.floor(10 * days) / 10, 1)
    if is_season_known:
        return f"{held} days are too few for an allowance. Leave the logger out until it has {rounded(LEAST_DAYS, 0)}."
    return (
        f"No allowance is proposed. How the sea level changes over the year is not known at this reference port, and {held} days "
        f"do not show it. Leave the logger out until it has {rounded(LEAST_DAYS_WITHOUT_SEASON, 0)} days, or choose a port whose yearly cycle is known."
    )
