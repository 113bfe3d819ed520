"""
Five axes, each graded 0 to 4 from measurements, each with its reason: body, place, stance, toe, cover.

Cover asks for no work: burial by new sediment is what the work is for.

Sources of the limits: crack widths 0.012 and 0.05 in (0.30, 1.27 mm; here 0.3 and 1.3), AASHTO Manual for Bridge Element
Inspection, 2nd ed. 2019; chips of 1 in and 6 in (25, 150 mm), the same, from memory; scaling of 5 and 10 mm, ACI 201.1R,
from memory. The limits of place, stance, toe, cover and lost volume, and the order of the grades, are our own proposal;
place 4, out of its place in the row, begins at three widths of the footprint.
"""

from __future__ import annotations

from dataclasses import dataclass

from fieldlog.rounding import rounded, shortest

CRACK_MM = (0.3, 1.3)
CHIP_DEPTH_MM = 25.0
CHIP_ACROSS_MM = 150.0
SCALING_MM = (5.0, 10.0)
LOST_PCT = 25.0
STANCE_DEG = (5.0, 15.0, 30.0, 60.0)
TOE_PCT = (10.0, 25.0)
COVER_PCT = (10.0, 25.0, 50.0, 90.0)
PLACE_WIDTHS = (0.25, 1.0, 3.0)
UNDER_ONE = "under 1"


@dataclass(frozen=True, slots=True)
class Grade:
    """A grade 0 to 4 of one axis, None where nothing was measured, and the reason in words."""

    axis: str
    value: int | None
    reason: str


@dataclass(frozen=True, slots=True)
class Damage:
    """What was measured of a unit's body; None: not measured."""

    crack_width_mm: float | None = None
    chip_depth_mm: float | None = None
    chip_across_mm: float | None = None
    scaling_depth_mm: float | None = None
    lost_volume_pct: float | None = None


def body_parts(damage: Damage) -> list[tuple[int, str]]:
    """What was measured of a unit's body, each with its own grade and in words, the loss of a piece first."""
    parts = (
        _lost(damage.lost_volume_pct), _scaling(damage.scaling_depth_mm),
        _chip(damage.chip_depth_mm, damage.chip_across_mm), _crack(damage.crack_width_mm),
    )  # fmt: skip
    return [part for part in parts if part is not None]


def body_grade(damage: Damage) -> Grade:
    """How whole a unit is: the worst of crack, chip, scaling and lost volume."""
    found = body_parts(damage)
    if not found:
        return Grade("body", None, "No damage was measured.")
    value, reason = max(found, key=lambda part: part[0])
    return Grade("body", value, reason if value else "As cast.")


def whole(value: float) -> str:
    """A measure above nought in whole units; what would round to none of it is never told as 0."""
    text = shortest(value, 0)
    return UNDER_ONE if text == "0" else text


def _crack(width_mm: float | None) -> tuple[int, str] | None:
    if width_mm is None:
        return None
    value = 0 if width_mm < CRACK_MM[0] else 1 if width_mm <= CRACK_MM[1] else 2
    return value, f"A crack of {shortest(width_mm, 2)} mm."


def _chip(depth_mm: float | None, across_mm: float | None) -> tuple[int, str] | None:
    if depth_mm is None and across_mm is None:
        return None
    depth, across = depth_mm or 0.0, across_mm or 0.0
    if depth == 0 and across == 0:
        return 0, ""
    sizes = [f"{whole(mm)} mm {word}" for mm, word in ((depth, "deep"), (across, "across")) if mm > 0]
    return 2 if depth > CHIP_DEPTH_MM or across > CHIP_ACROSS_MM else 1, f"A chip {' and '.join(sizes)}."


def _scaling(depth_mm: float | None) -> tuple[int, str] | None:
    if depth_mm is None:
        return None
    value = 0 if depth_mm == 0 else 1 if depth_mm < SCALING_MM[0] else 2 if depth_mm <= SCALING_MM[1] else 3
    loose = ", so that stones come loose" if value == 3 else ""
    return value, f"The surface is worn {whole(depth_mm)} mm deep{loose}."


def _lost(volume_pct: float | None) -> tuple[int, str] | None:
    if volume_pct is None:
        return None
    value = 0 if volume_pct == 0 else 3 if volume_pct <= LOST_PCT else 4
    part = whole(volume_pct)
    return value, f"A piece broken off, {'' if part == UNDER_ONE else 'about '}{part} % of the unit."


def place_grade(moved_m: float | None, footprint_mm: float | None) -> Grade:
    """How far a unit moved, in widths of its footprint; None where no survey says that it did."""
    if moved_m is None:
        return Grade("place", None, "No survey shows that it moved.")
    shift = f"Moved {rounded(moved_m, 2)} m"
    if footprint_mm is None:
        return Grade("place", 1, f"{shift}; the width of its footprint is not known.")
    widths = moved_m * 1000 / footprint_mm
    value = 1 + sum(widths >= limit for limit in PLACE_WIDTHS[:1]) + sum(widths > limit for limit in PLACE_WIDTHS[1:])
    return Grade("place", value, f"{shift}, {shortest(widths, 2)} of its width.")


def stance_grade(tilt_deg: float | None) -> Grade:
    """How far a unit leans from upright."""
    if tilt_deg is None:
        return Grade("stance", None, "No tilt was measured.")
    value = sum(tilt_deg >= limit for limit in STANCE_DEG[:3]) + (tilt_deg > STANCE_DEG[3])
    return Grade("stance", value, f"Leaning {shortest(tilt_deg, 1)}°.")


def toe_grade(scour_depth_mm: float | None, height_mm: float | None, rocking: bool | None) -> Grade:
    """How far the bed is washed out at the toe, in parts of the unit's height."""
    if rocking:
        return Grade("toe", 4, "It rocks when pushed.")
    if scour_depth_mm is None:
        value = None if rocking is None else 0
        return Grade("toe", value, "No scour was measured." if value is None else "It does not rock.")
    if scour_depth_mm == 0:
        return Grade("toe", 0, "No scour.")
    hollow = f"Scour {whole(scour_depth_mm)} mm deep"
    if height_mm is None:
        return Grade("toe", None, f"{hollow}; the unit's height is not known.")
    part_pct = 100 * scour_depth_mm / height_mm
    value = 1 if part_pct < TOE_PCT[0] else 2 if part_pct <= TOE_PCT[1] else 3
    return Grade("toe", value, f"{hollow}, {whole(part_pct)} % of the height.")


def cover_grade(exposed_height_mm: float | None, height_mm: float | None, probed: bool) -> Grade:
    """How far sediment covers a unit. Good news or none, never an alarm."""
    if probed:
        return Grade("cover", 4, "Felt with the probe only: covered.")
    if exposed_height_mm is None or height_mm is None:
        return Grade("cover", None, "No exposed height was measured.")
    buried = burial_pct(height_mm, exposed_height_mm)
    return Grade("cover", sum(buried > limit for limit in COVER_PCT), f"{shortest(buried, 1)} % buried.")


def burial_pct(height_mm: float, exposed_height_mm: float) -> float:
    """How much of a unit's height is under sediment, 0 to 100 %."""
    return min(100.0, max(0.0, 100 * (1 - exposed_height_mm / height_mm)))
