"""Residuals from the crew's own readings at a staff or a mark: what the site says where it has no logger."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import numpy as np
from sqlite_utils import Database

from fieldlog.errors import FieldlogError
from fieldlog.stations import station_of
from fieldlog.tides.predict import predict_levels
from fieldlog.tides.residuals import LEAST_READINGS, Residuals, of_readings


def residuals_of_readings(db: Database, site: Mapping[str, Any]) -> Residuals | None:
    """Observed less predicted of every visit's reading; None where there is none, or no tide to compare with."""
    try:
        station = station_of(db, site)
    except FieldlogError:
        return None
    rows = db.conn.execute(
        """SELECT observed_at, observed_level_m FROM visit WHERE site_id = ? AND deleted = 0 AND observed_at IS NOT NULL
           AND observed_level_m IS NOT NULL AND coalesce(level_datum, ?) = ? ORDER BY observed_at""",
        (site["record_id"], station.chart_datum, station.chart_datum),
    ).fetchall()
    if not rows:
        return None
    at_s = np.array([datetime.fromisoformat(at).timestamp() for at, _ in rows])
    predicted = predict_levels(station, (at_s * 1000).astype("datetime64[ms]"))
    left = np.array([level for _, level in rows]) - predicted
    return of_readings(at_s.tolist(), left.tolist(), site["lat_deg"])


def shown(found: Residuals | None) -> dict[str, Any] | None:
    """The same as JSON, with how many readings an allowance takes."""
    if found is None:
        return None
    return {
        "count": found.whole.count, "least": LEAST_READINGS, **{f"p{p}": round(value, 3) for p, value in found.whole.metres.items()},
        "allowance_m": found.allowance_m, "basis": found.basis,
    }  # fmt: skip
