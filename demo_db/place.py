"""The demo's site: where things are, what lives there, and when people went."""

from __future__ import annotations

from troubles import SHIFTS, STORM_DAY

SITE = {
    "name": "Alder Spit", "lat_deg": 32.0288, "lon_deg": -80.9214, "zone": "America/New_York", "grid_azimuth_deg": 24,
    "tide_station": "noaa/8670870", "level_datum": "MLLW", "work_level_m": 0.48, "route_low_level_m": 0.95,
    "allowance_m": 0.2, "walk_out_min": 12, "muster_min": 10, "latest_after_low_min": 75, "least_usable_min": 45,
    "check_every_days": 110, "lean_look_deg": 15, "travel_min": 35, "access_east_m": 14, "access_north_m": -5,
}  # fmt: skip
EMERGENCY_CARD = (
    "Emergency: 911. Say: Alder Spit, Skein Bay, by the shore path at the old boat ramp.\n"
    "Nearest road: the ramp's car park, 12 min on foot from the far row.\n"
    "First aid kit and throw line: in the red barrel at mark M1. The lead on call: 555-0100."
)
ROWS = {"A": 0.75, "B": 0.6, "C": 0.48, "D": 0.36}
"""Bed levels in metres above chart datum, the landward row first."""

SLOTS = 12
MARKS = {
    "M1": (-4.0, -9.0, 1.92), "M2": (31.0, -9.0, 1.88), "M3": (-7.0, 12.0, 0.84), "M4": (35.0, 13.0, 0.79),
}  # fmt: skip
"""label: (east_m, north_m, level_m)"""

DESIGNS = {
    "Step block 450": {"height_mm": 450, "footprint_mm": 600, "mass_kg": 118},
    "Step block 350": {"height_mm": 350, "footprint_mm": 500, "mass_kg": 74},
}
BATCHES = {
    "B1": {"cast_on": -655, "design_id": "design/Step block 450", "mix_note": "Cement 1, sand 2, shell grit 2; water 0.45"},
    "B2": {"cast_on": -622, "design_id": "design/Step block 350", "mix_note": "Cement 1, sand 2, gravel 1, shell grit 1; water 0.42"},
}
PLOTS = {
    **{f"S{n}": ("treatment", "ABCD"[(n - 1) // 2], 6.0 + 15.0 * ((n - 1) % 2), 6.0 * ((n - 1) // 2) - 2.5) for n in range(1, 9)},
    "S9": ("control", None, -42.0, 3.0),
    "S10": ("control", None, 74.0, 3.0),
}
"""label: (treatment, row, east_m, north_m)"""

SPECIES = {
    "Crassostrea virginica": ("Eastern oyster", "invertebrate"),
    "Geukensia demissa": ("Ribbed mussel", "invertebrate"),
    "Callinectes sapidus": ("Blue crab", "invertebrate"),
    "Minuca pugnax": ("Mud fiddler crab", "invertebrate"),
    "Littoraria irrorata": ("Marsh periwinkle", "invertebrate"),
    "Amphibalanus eburneus": ("Ivory barnacle", "invertebrate"),
    "Panopeus herbstii": ("Common mud crab", "invertebrate"),
    "Palaemon pugio": ("Grass shrimp", "invertebrate"),
    "Fundulus heteroclitus": ("Mummichog", "fish"),
    "Archosargus probatocephalus": ("Sheepshead", "fish"),
    "Haematopus palliatus": ("American oystercatcher", "bird"),
    "Tringa semipalmata": ("Willet", "bird"),
    "Egretta thula": ("Snowy egret", "bird"),
    "Malaclemys terrapin": ("Diamondback terrapin", "other"),
    "Sporobolus alterniflorus": ("Smooth cordgrass", "plant"),
    "Ulva": ("Sea lettuce", "alga"),
}
SIGHTINGS = [
    ("Crassostrea virginica", "seen", 60, "juvenile", None),
    ("Geukensia demissa", "seen", 25, "adult", None),
    ("Callinectes sapidus", "seen", 4, "adult", "Sheltering between two units"),
    ("Minuca pugnax", "seen", 80, "adult", None),
    ("Haematopus palliatus", "seen", 3, "adult", "Feeding along the reef's edge"),
    ("Haematopus palliatus", "looked_for_none", 0, None, None),
    ("Malaclemys terrapin", "looked_for_none", 0, None, None),
    ("Malaclemys terrapin", "seen", 1, "adult", "Swimming in the channel"),
    ("Egretta thula", "seen", 5, "adult", "Hunting in the pool"),
    ("Tringa semipalmata", "seen", 6, "adult", "Calling"),
    ("Fundulus heteroclitus", "seen", 40, "juvenile", None),
    ("Sporobolus alterniflorus", "seen", 30, "seedling", None),
    ("Amphibalanus eburneus", "seen", 200, "adult", None),
]
"""(species, found, most counted, life stage, behaviour)"""

CONDITIONS = [
    "Light wind from the south-west, clear", "Overcast, wind 4 to 5 m/s onshore, small chop", "Calm, haze, good visibility",
    "Wind along the shore, a few showers", "Cold, clear, light offshore wind", "Warm, gusty, cumulus inland",
]  # fmt: skip


def unit_key(row: str, slot: int) -> str:
    return f"unit/{row}{slot:02d}"


def unit_place(row: str, slot: int, day: int = -1000) -> tuple[float, float]:
    """East and north of a unit on a day, metres on the site grid."""
    east_m, north_m = 2.4 * (slot - 1), 6.0 * "ABCD".index(row)
    if day > STORM_DAY and (row, slot) in SHIFTS:
        shift_east_m, shift_north_m = SHIFTS[row, slot]
        return round(east_m + shift_east_m, 2), round(north_m + shift_north_m, 2)
    return round(east_m, 2), north_m


VISITS = [
    (-541, "deployment", 82, {"rows": "CD"}),
    (-527, "deployment", 90, {"rows": "AB"}),
    (-512, "monitoring", 75, {"survey": True, "photos": [("A", 1), ("B", 6), ("C", 6), ("D", 6)]}),
    (-482, "walk", 62, {"photos": [("B", 3)]}),
    (-453, "walk", 66, {"photos": [("C", 9)], "phone_fixes": [("C", 9), ("C", 10)]}),
    (-422, "walk", 64, {"photos": [("A", 4)]}),
    (-393, "walk", 60, {}),
    (-364, "monitoring", 75, {"survey": True, "photos": [("A", 4), ("A", 10)]}),
    (-335, "walk", 65, {"photos": [("D", 7)]}),
    (-305, "walk", 61, {"photos": [("A", 10)]}),
    (-276, "walk", 63, {"phone_fixes": [("A", 2)]}),
    (-246, "walk", 62, {"photos": [("A", 4)]}),
    (-217, "monitoring", 75, {"photos": [("A", 10), ("B", 7), ("C", 5), ("D", 2)]}),
    (-187, "walk", 66, {"photos": [("C", 2)]}),
    (-158, "walk", 64, {"photos": [("A", 4)]}),
    (STORM_DAY + 3, "storm_check", 80, {
        "photos": [("B", 7), ("C", 5), ("C", 9), ("D", 2), ("D", 11)],
        "tapes": [("B", 7), ("C", 5), ("C", 6), ("B", 3)],
        "entries": [["ruth", "sighting", "sighting/wrack", 55, {
            "taxon": "Wrack line, reed and planks", "found": "seen", "seen_at": 55, "sureness": "sure",
            "note": "Highest debris 0.6 m above the upper edge of the grass.",
        }]],
    }),
    (-98, "walk", 68, {
        "photos": [("D", 2), ("A", 10)], "tapes": [("B", 7), ("D", 9)],
        "entries": [
            ["tobias", "unit_event", "righted/C05", 50, {"unit_id": "unit/C05", "event": "righted", "event_at": 50,
                                                       "note": "Four people, level bed made under it"}],
            ["ines", "flag_decision", "decided/B03", 66, {
                "flag_id": {"rule": "leaning", "subject": "unit/B03"}, "decision": "accepted", "decided_at": 66,
                "reason": "Set on a slope on purpose; the tilt has not changed since placing."}],
        ],
    }),
    (-68, "walk", 64, {"photos": [("A", 4), ("D", 11)], "tapes": [("C", 5)], "goes_on": True}),
    (-38, "walk", 66, {
        "photos": [("A", 4), ("D", 2)],
        "entries": [
            ["sam", "unit_check", "check/19/A06", 48, {"unit_id": "unit/A06", "checked_at": 48, "found_state": "seen",
                                                     "exposed_height_mm": 402, "tilt_deg": 4, "crack_width_mm": 2600}],
        ],
    }),
    (-9, "walk", 70, {
        "photos": [("A", 4), ("A", 10), ("D", 11)], "tapes": [("B", 7)],
        "entries": [
            ["sam", "unit_check", "check/both/C02", 44, {"unit_id": "unit/C02", "checked_at": 44, "found_state": "seen",
                                                       "exposed_height_mm": 291, "tilt_deg": 3, "toe_grade": 0}],
            ["tobias", "unit_check", "check/both/C02", 47, {"exposed_height_mm": 244, "toe_grade": 1}, "unseen"],
        ],
    }),
]  # fmt: skip
"""(day, purpose, minutes, what else happened); days before the anchor"""
