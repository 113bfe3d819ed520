"""
The numbers of the window rule as the phone is told them, so that they stand once.

Each one's reason and source stands where the server uses it; `static/tides/constants.js` reads them from the pack.
"""

from __future__ import annotations

from typing import Any

from fieldlog.windows.access import MARGIN
from fieldlog.windows.exposures import HALF_DAY_S
from fieldlog.windows.ranking import ENOUGH_MARGIN_M, ENOUGH_MIN, POINTS
from fieldlog.windows.rules import ALLOWANCE_M, TRAVEL_MIN, WALK_OUT_FACTOR
from fieldlog.windows.water import JOIN_S, REACH_S

CONSTANTS: dict[str, Any] = {
    "allowance_m": ALLOWANCE_M,
    "walk_out_factor": WALK_OUT_FACTOR,
    "travel_min": TRAVEL_MIN,
    "reach_s": REACH_S,
    "join_s": JOIN_S,
    "light_reach_s": HALF_DAY_S,
    "margin_s": round(MARGIN.total_seconds()),
    "enough_min": ENOUGH_MIN,
    "enough_margin_m": ENOUGH_MARGIN_M,
    "points": POINTS,
}
"""
`reach_s`: how far from a low its crossings are looked for; `join_s`: lows nearer than this may share one window; `light_reach_s`: a
low without light within this is in the polar night; `margin_s`: how far beyond the lows asked for the curve is read; `enough_*`
and `points`: what a window is ranked by.
"""
