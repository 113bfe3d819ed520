"""A survey receiver's position that was written in degrees only, put on the site grid, so that it is used as one in metres is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from fieldlog.survey.grid import SiteGrid

RECEIVER = "rtk"
RADIUS_95 = math.sqrt(-2 * math.log(0.05))
"""A circle's 95 % radius in its sigmas of an axis: 2.45, of a normal distribution in the plane."""


def on_grid(fix: Mapping[str, Any], site: Mapping[str, Any]) -> dict[str, Any]:
    """
    The same fix, with east and north in metres where a receiver gave only degrees.

    Its sigma of an axis follows from its 95 % radius where it gave no sigma. A phone's degrees stay degrees: they find a row, never a shift.
    """
    row = dict(fix)
    placed = row["east_m"] is not None and row["north_m"] is not None
    if row["method"] != RECEIVER or placed or None in (row["lat_deg"], row["lon_deg"], site.get("lat_deg"), site.get("lon_deg")):
        return row
    grid = SiteGrid(site["lat_deg"], site["lon_deg"], site["grid_azimuth_deg"] or 0.0)
    row["east_m"], row["north_m"] = grid.from_degrees(row["lat_deg"], row["lon_deg"])
    if row["sigma_m"] is None and row["accuracy_m"]:
        row["sigma_m"] = row["accuracy_m"] / RADIUS_95
    return row
