"""What happens to the demo's units: most settle a little, a few do not stay well."""

from __future__ import annotations

from collections.abc import Callable

STORM_DAY = -121
SHIFTS = {("B", 7): (0.47, -0.22), ("C", 5): (1.21, -0.64), ("C", 6): (0.19, -0.13)}
"""Metres east and north in the storm."""

NOT_FOUND_DRY = {("D", 7)}
RARELY_REACHED = {("D", 3), ("D", 5), ("C", 12)}
HEIGHT_MM = {"A": 450, "B": 450, "C": 350, "D": 350}

Fields = dict[str, object]


def state_on(day: int, row: str, slot: int, normal: Callable[[float], float]) -> Fields:
    """The fields of a check of one unit on a day, `normal(sigma)` giving the measurement's scatter."""
    if (row, slot) in NOT_FOUND_DRY and day > STORM_DAY:
        return {"found_state": "not_found_dry", "note": "Bed dry, probed every 20 cm within 1.5 m of its place; nothing."}
    if (row, slot) == ("A", 10):
        return _buried(day, normal)
    years = (day + 541) / 365
    sunk_mm = 18 * years + (12 if row in "CD" else 5)
    fields: Fields = {
        "found_state": "seen",
        "exposed_height_mm": _step(HEIGHT_MM[row] - sunk_mm + normal(4), 5),
        "tilt_deg": max(0, round(2 + (slot * 7) % 3 + normal(0.7))),
        "body_grade": 0, "stance_grade": 0, "toe_grade": 0, "cover_grade": 0,
    }  # fmt: skip
    fields |= _cracked(row, slot, day, normal) | _struck(row, slot, day) | _leaning(row, slot, day)
    fields |= _scoured(row, slot, day, normal)
    buried_share = 1 - float(str(fields["exposed_height_mm"])) / HEIGHT_MM[row]
    return fields | {"cover_grade": sum(buried_share > limit for limit in (0.1, 0.25, 0.5, 0.9))}


def _buried(day: int, normal: Callable[[float], float]) -> Fields:
    """A10 is behind the widest gap and gathers sand: by the end only the probe finds it."""
    exposed_mm = _step(430 - 430 * (day + 541) / 420 + normal(6), 5)
    if exposed_mm < 15:
        depth_mm = _step(35 + 90 * (day + 121) / 120 + normal(8), 5)
        return {"found_state": "probed", "probe_depth_mm": max(20, depth_mm), "cover_grade": 4, "note": "Sand over it, firm"}
    share = 1 - exposed_mm / HEIGHT_MM["A"]
    grade = sum(share > limit for limit in (0.1, 0.25, 0.5, 0.9))
    return {
        "found_state": "seen", "exposed_height_mm": exposed_mm, "tilt_deg": 3, "body_grade": 0, "stance_grade": 0,
        "toe_grade": 0, "cover_grade": grade,
    }  # fmt: skip


def _cracked(row: str, slot: int, day: int, normal: Callable[[float], float]) -> Fields:
    """A04 has a crack that widens; C02 and B11 have fine ones that stay."""
    if (row, slot) == ("A", 4):
        width_mm = round(0.2 + 1.6 * (day + 541) / 541 + normal(0.03), 1)
        return {"crack_width_mm": width_mm, "body_grade": 0 if width_mm < 0.3 else 1 if width_mm <= 1.3 else 2}
    if (row, slot) in {("C", 2), ("B", 11)} and day > -420:
        return {"crack_width_mm": 0.4, "body_grade": 1}
    return {}


def _struck(row: str, slot: int, day: int) -> Fields:
    """Driftwood in the storm: a spall on C09, a corner off D02."""
    if day > STORM_DAY and (row, slot) == ("C", 9):
        return {"chip_depth_mm": 34, "chip_across_mm": 185, "body_grade": 2}
    if day > STORM_DAY and (row, slot) == ("D", 2):
        return {"lost_volume_pct": 12, "chip_depth_mm": 120, "chip_across_mm": 260, "body_grade": 3,
                "note": "Seaward corner broken off, found 2 m east"}  # fmt: skip
    return {}


def _leaning(row: str, slot: int, day: int) -> Fields:
    """B03 was set on a slope; the storm tipped B07 and, until it was righted, C05."""
    if (row, slot) == ("B", 3):
        return {"tilt_deg": 17, "stance_grade": 2}
    if day > STORM_DAY and (row, slot) == ("B", 7):
        return {"tilt_deg": 19, "stance_grade": 2}
    if day > STORM_DAY and (row, slot) == ("C", 5) and day < -97:
        return {"tilt_deg": 34, "stance_grade": 3}
    return {}


def _scoured(row: str, slot: int, day: int, normal: Callable[[float], float]) -> Fields:
    """The reef's end, D11 and D12, loses bed at its toe."""
    if (row, slot) == ("D", 11) and day > -250:
        depth_mm = _step(40 + 0.35 * (day + 250) + normal(4), 5)
        if day > STORM_DAY:
            return {"scour_depth_mm": depth_mm, "rocking": True, "toe_grade": 4, "note": "Rocks by hand"}
        return {"scour_depth_mm": depth_mm, "toe_grade": 2}
    if (row, slot) == ("D", 12) and day > STORM_DAY:
        return {"scour_depth_mm": 30, "toe_grade": 1}
    return {}


def _step(value: float, step: int) -> int:
    """Read to the nearest mark of the rule, never below nothing."""
    return max(0, round(value / step) * step)
