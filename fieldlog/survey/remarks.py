"""
Remarks on a unit's place that are no flag: a movement too small to matter, and how far its first position lies from the planned one.

The phone says the same in `static/survey/movement.js`, but for what a whole survey says; both are held to tests/vectors/survey_remarks.json.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fieldlog.rounding import rounded
from fieldlog.survey.movement import compass_word


@dataclass(frozen=True, slots=True)
class Remark:
    """What is worth knowing of a unit though nobody need act; `matters`: whether it is told with a plan too."""

    sentence: str
    matters: bool = True


def small_movement(east_m: float, north_m: float, grid_azimuth_deg: float, least_shift_m: float) -> Remark:
    """A movement that was found, and is less than the least shift that matters, metres on the site grid."""
    return Remark(f"Moved {_off(east_m, north_m, grid_azimuth_deg)} its first position{_less(least_shift_m)}.")


def off_plan(east_m: float, north_m: float, grid_azimuth_deg: float, least_shift_m: float) -> Remark:
    """How far the first position since a unit was placed lies from where it was planned, metres on the site grid."""
    matters = math.hypot(east_m, north_m) >= least_shift_m
    return Remark(f"First position {_off(east_m, north_m, grid_azimuth_deg)} its planned place{'' if matters else _less(least_shift_m)}.", matters)


def _off(east_m: float, north_m: float, grid_azimuth_deg: float) -> str:
    shift_m = rounded(math.hypot(east_m, north_m), 2)
    if float(shift_m) == 0:
        return f"{shift_m} m from"
    return f"{shift_m} m {compass_word((math.degrees(math.atan2(east_m, north_m)) + grid_azimuth_deg) % 360)} of"


def _less(least_shift_m: float) -> str:
    return f", less than matters here ({rounded(least_shift_m, 2)} m)"
