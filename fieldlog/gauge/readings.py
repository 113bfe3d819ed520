"""Residuals from the crew's own readings at a staff or a mark: what the site says where it has no logger."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from sqlite_utils import Database

from fieldlog.errors import FieldlogError
from fieldlog.gauge.allowances import allowance_parts, readings_basis
from fieldlog.questions.visits import levels_read
from fieldlog.stations import station_of
from fieldlog.tides.allowance import MONTH_DAYS, Allowance, allowance_of
from fieldlog.tides.predict import predict_levels
from fieldlog.tides.residuals import Residuals, of_readings
from fieldlog.tides.yearly import has_season

MOST_MONTHS = 11
"""
Single readings on fair days are no year's record, from however many months they are: no more than these count, so that no less than
the floor of a record of under a year is proposed, and no yearly wave is taken as shown. Our own choice.
"""

LEAST_READINGS = 20
"""Fewer say nothing of the one in twenty; our own choice."""


@dataclass(frozen=True)
class OfReadings:
    """What the readings leave of the prediction; in how many months there were any; whether the tide has its yearly wave."""

    residuals: Residuals
    months: int
    is_season_known: bool

    @property
    def allowance(self) -> Allowance | None:
        """None where the readings are too few, or from too few months."""
        is_enough = self.residuals.whole.count >= LEAST_READINGS
        return allowance_of(self.residuals.left_m, self.days, self.is_season_known) if is_enough else None

    @property
    def days(self) -> float:
        """The days that so many months stand for: a level is asked of the months that were seen."""
        return min(self.months, MOST_MONTHS) * MONTH_DAYS


def residuals_of_readings(db: Database, site: Mapping[str, Any]) -> OfReadings | None:
    """Observed less predicted of every visit's reading; None where there is none, or no tide to compare with."""
    try:
        station = station_of(db, site)
    except FieldlogError:
        return None
    rows = levels_read(db, site["record_id"], station.chart_datum)
    if not rows:
        return None
    at_s = np.array([datetime.fromisoformat(at).timestamp() for at, _ in rows])
    predicted = predict_levels(station, (at_s * 1000).astype("datetime64[ms]"))
    left = np.array([level for _, level in rows]) - predicted
    found = of_readings(at_s.tolist(), left.tolist(), site["lat_deg"])
    if found is None:
        return None
    return OfReadings(found, len({at[:7] for at, _ in rows}), has_season(station))


def shown(found: OfReadings | None) -> dict[str, Any] | None:
    """The same as JSON, with how many readings an allowance takes."""
    if found is None:
        return None
    whole, allowance = found.residuals.whole, found.allowance
    return {
        "count": whole.count, "months": found.months, "least": LEAST_READINGS, **{f"p{p}": round(value, 3) for p, value in whole.metres.items()},
        "allowance_m": None if allowance is None else allowance.metres,
        "allowance": None if allowance is None else allowance_parts(allowance, found.days),
        "basis": None if allowance is None else readings_basis(found.residuals, found.months),
    }  # fmt: skip
