"""
How a unit was found: seen or not, what was measured, and the grade the observer gave to each axis.

The grade of an axis is also computed from the measurements; both are shown. Cover is good or bad news only
for the sediment, never for the unit. Plausible limits are common practice, no source.
"""

from __future__ import annotations

from fieldlog.records.fields import Choice, Instant, Number, Ref, Text, Whole, YesNo
from fieldlog.records.kind import Kind, Record
from fieldlog.records.on_visit import in_visit
from fieldlog.records.times import time_known

FOUND_STATES = {
    "seen": "Seen",
    "probed": "Felt with the probe",
    "not_found_dry": "Not found, dry",
    "not_found_under_water": "Not found, under water",
    "not_visited": "Not visited",
}
FOUND = ("seen", "probed")
MISSED = "not_found_dry"
LOOKED = (*FOUND, MISSED)
"""Somebody was at the unit's place on dry ground. Under water or from afar nobody looked."""

BODY = {
    "0": "As cast", "1": "Fine crack or small chip", "2": "Wide crack or large chip", "3": "Piece broken off",
    "4": "Broken through",
}  # fmt: skip
STANCE = {
    "0": "Upright, under 5°", "1": "Leaning 5° to 15°", "2": "Leaning 15° to 30°", "3": "Leaning 30° to 60°",
    "4": "On its side, over 60°",
}  # fmt: skip
TOE = {
    "0": "No scour", "1": "Scour under 10 % of height", "2": "Scour 10 to 25 % of height",
    "3": "Scour over 25 % of height", "4": "Undermined or rocking",
}  # fmt: skip
COVER = {
    "0": "Up to 10 % buried", "1": "10 to 25 % buried", "2": "25 to 50 % buried", "3": "50 to 90 % buried",
    "4": "Over 90 %, or only felt",
}  # fmt: skip


class UnitCheck(Record):
    unit_id = Ref("Unit", "unit", required=True)
    checked_at = Instant("Checked at", required=True)
    time_known = time_known()
    found_state = Choice("Found", FOUND_STATES, required=True)
    body_grade = Whole("Body", least=0, most=4, labels=BODY, last=True)
    stance_grade = Whole("Stance", least=0, most=4, labels=STANCE, last=True)
    toe_grade = Whole("Toe", least=0, most=4, labels=TOE, last=True)
    cover_grade = Whole("Cover", least=0, most=4, labels=COVER, last=True)
    exposed_height_mm = Number(
        "Exposed height", unit="mm", least=0, most=3000, plausible=(0, 1500), last=True
    )
    tilt_deg = Number(
        "Tilt", unit="°", least=0, most=180, plausible=(0, 90), last=True, description="From upright"
    )
    crack_width_mm = Number("Widest crack", unit="mm", least=0, most=1000, plausible=(0, 20), last=True)
    chip_depth_mm = Number("Chip depth", unit="mm", least=0, most=3000, plausible=(0, 200), last=True)
    chip_across_mm = Number("Chip across", unit="mm", least=0, most=5000, plausible=(0, 600), last=True)
    scaling_depth_mm = Number("Scaling depth", unit="mm", least=0, most=1000, plausible=(0, 60), last=True)
    lost_volume_pct = Number("Volume lost", unit="%", least=0, most=100, last=True)
    scour_depth_mm = Number(
        "Scour depth at the toe", unit="mm", least=0, most=3000, plausible=(0, 600), last=True
    )
    rocking = YesNo("Rocks when pushed", last=True)
    probe_depth_mm = Number(
        "Probe depth to the top", unit="mm", least=0, most=5000, plausible=(0, 1500), last=True
    )
    water_depth_m = Number("Water depth", unit="m", least=0, most=20, plausible=(0, 1.5))
    crest_level_mm = Number(
        "Crest level", unit="mm", least=-20_000, most=20_000, plausible=(-5000, 6000), last=True, description="By rod and level",
        **{"x-datum": "crest_datum"},
    )  # fmt: skip
    crest_datum = Text("Crest level is above", 40, least=1, last=True, description="Such as mark M2: the same one each time")
    looked_only = YesNo("Looked at only", description="It looked unchanged and nothing was measured")
    note = Text("Note", 2000)
    in_visit = in_visit()


UNIT_CHECK = Kind("unit_check", "Unit check", UnitCheck, writers={"crew", "lead"}, plural="checks")
