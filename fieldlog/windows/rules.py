"""The plain numbers that a site's windows are made from."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fieldlog.errors import SiteNotReady

ALLOWANCE_M = 0.20
"""Added to every predicted level until a site's own residuals say better; our own proposal, no source."""

WALK_OUT_FACTOR = 1.5
"""The measured walk-out is stretched by this before it is kept free; common practice, no source."""

_NEEDED = ("zone", "lat_deg", "lon_deg", "work_level_m", "route_low_level_m", "walk_out_min", "muster_min", "least_usable_min")


@dataclass(frozen=True)
class SiteRules:
    """
    What one site asks of a window.

    Levels are metres above the chart datum of the site's tide station; `latest_after_low_min` None sets no limit.
    """

    site_id: str
    zone: str
    lat_deg: float
    lon_deg: float
    work_level_m: float
    route_low_level_m: float
    allowance_m: float
    walk_out_min: float
    muster_min: float
    latest_after_low_min: float | None
    least_usable_min: float

    @property
    def walk_s(self) -> int:
        """Whole seconds kept free for walking out."""
        return math.ceil(WALK_OUT_FACTOR * self.walk_out_min * 60)


def site_rules(site: Mapping[str, Any], chart_datum: str) -> SiteRules:
    """
    The rules in a `site` record.

    Args:
        site: its row, `record_id` included.
        chart_datum: the name of the datum that the site's tide station measures from.

    Raises:
        SiteNotReady: a number is missing, or the site's levels are on another datum than the station's.
    """
    name = site.get("name") or "This site"
    missing = [field for field in _NEEDED if site.get(field) is None]
    if missing:
        raise SiteNotReady(
            f"{name} has no {', '.join(missing)} yet, so its windows cannot be computed. Fill them in under Set-up.",
            dict.fromkeys(missing, "missing"),
        )
    datum = site.get("level_datum")
    if datum != chart_datum:
        raise SiteNotReady(
            f"Site levels of {name} are on {datum or 'no datum'} but the tide station speaks {chart_datum}. "
            f"Turn the levels into metres above {chart_datum} and set the chart datum to {chart_datum} under Set-up.",
            {"level_datum": f"is {datum}, the station's is {chart_datum}"},
        )
    allowance_m = site.get("allowance_m")
    return SiteRules(
        site_id=site["record_id"],
        allowance_m=ALLOWANCE_M if allowance_m is None else allowance_m,
        latest_after_low_min=site.get("latest_after_low_min"),
        **{field: site[field] for field in _NEEDED},
    )
