"""The pack that the cardboard phone shows: real forms, tide and windows; invented flags, tray and devices."""

from __future__ import annotations

from datetime import date
from typing import Any

import segno

from fieldlog.flags.reading import words_of
from fieldlog.flags.signed_out import NOT_SIGNED_OUT
from fieldlog.pack.site_part import site_levels, site_windows
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.forms import forms
from fieldlog.stations import find
from fieldlog.windows.beds import Bed, Ground
from fieldlog.windows.rules import site_rules

SITE_ID = "01900000-0000-7000-8000-000000000001"
VISIT, PAST_VISIT, OLD_VISIT = (f"01900000-0000-7000-8000-00000000000{n}" for n in (2, 3, 4))
"""One that runs, one of two weeks ago and one of the year before, whose tide is not in the pack."""

NOW = "2026-11-28T11:44:00Z"
"""Half an hour into a morning window of the site below."""

SITE = {
    "record_id": SITE_ID, "name": "Alder Spit", "lat_deg": 42.3512, "lon_deg": -71.0512, "zone": "America/New_York",
    "grid_azimuth_deg": 0, "tide_station": "noaa/8443970", "level_datum": "MLLW", "work_level_m": 0.6,
    "route_low_level_m": 0.9, "allowance_m": 0.2, "walk_out_min": 15, "muster_min": 10, "latest_after_low_min": None,
    "least_usable_min": 45, "check_every_days": 45, "lean_look_deg": 15,
    "emergency_card": "Call the harbour office first, then the emergency number.\n"
    "The way in is the north ramp; its gate code is on the key ring.",
}  # fmt: skip
BEDS_M = {"A": 0.75, "B": 0.6, "C": 0.45, "D": 0.3}


def row_id(place: int) -> str:
    """The id of a row, A being 0."""
    return f"01900002-0000-7000-8000-{place:012d}"


def unit_id(place: int) -> str:
    """The id of a unit, twelve to a row."""
    return f"01900001-0000-7000-8000-{place:012d}"


def plot_id(place: int) -> str:
    """The id of a plot: ten stakes, a marsh plot, a transect, a photo point."""
    return f"01900020-0000-7000-8000-{place:012d}"


def person_id(place: int) -> str:
    """The id of somebody on the roster, the lead being 0."""
    return f"01900006-0000-7000-8000-{place:012d}"


def _flag(number: int, unit: int, rule: str, sentence: str, evidence: dict[str, Any], **more: str) -> dict[str, Any]:
    return {
        "flag_id": str(number) * 32, "rule": rule, "severity": more.pop("severity", "look"),
        "subject": {"kind": "unit", "id": unit_id(unit)}, "sentence": sentence, "evidence": evidence,
        "raised_at": "2026-11-11T13:10:00Z", "state": "open", **more,
    }  # fmt: skip


FLAGS = [
    _flag(
        1, 34, "damaged", "C113: a piece broken off (about 15 % of the unit), seen Nov 11, 2026, on two photos.",
        {"lost_volume_pct": 15, "chip_depth_mm": 60, "grade": 3}, severity="act",
    ),
    _flag(
        2, 18, "displaced", "B075: moved 0.32 m east since Oct 31, 2025, measured Nov 14, 2026 by typed coordinates.",
        {"displacement_m": 0.32, "bearing_deg": 75.5, "p": 1.2e-14, "shows_m": 0.11, "least_shift_m": 0.125, "method": "typed"}, severity="act",
    ),
    _flag(3, 39, "leaning", "D040: leaning 17° (flagged from 15°), seen Nov 12, 2026.", {"tilt_deg": 17, "limit_deg": 15}),
    _flag(4, 40, "not_found", "D057: searched dry on two visits and not found.", {"searches": 2, "searches_needed": 2}),
    _flag(
        5, 5, "undermined", "A066: scour at the toe, 12 % of its height.", {"scour_depth_mm": 54}, state="settled",
        settled_reason="Filled in by itself; measured again on Nov 11, 2026.",
    ),
    _flag(
        6, 18, "damaged", "B075: a chip 12 mm deep, seen Nov 8, 2026.", {"chip_depth_mm": 12}, state="accepted", title="Damaged",
        settled_at="2026-11-20T15:00:00Z", settled_by="01900012-0000-7000-8000-000000000001", settled_reason="The chip is old and does no harm",
    ),
]  # fmt: skip
SMALL = "Moved 0.08 m north-east of its first position, less than matters here (0.13 m)."
VISIT_SUMS = {
    "visits": [
        {"day": "2026-11-14", "purpose": "storm_check", "people": 8}, {"day": "2026-10-31", "purpose": "monitoring", "people": 11},
        {"day": "2025-10-24", "purpose": "deployment", "people": 1},
    ],
    "visit_count": 3, "visit_years": [{"year": 2026, "visits": 2, "hours": 38.5}, {"year": 2025, "visits": 1, "hours": 2.0}],
}  # fmt: skip
TRAY = {
    "lane_id": "a" * 32, "number": 4, "entry_id": "4" * 32, "why": "beyond-limit:exposed_height_mm",
    "sentence": "Exposed height is 5000 mm; it must be between 0 and 3000 mm. Was the decimal point left out?",
    "received_at": 1795600000000, "line": '{"v":1,"d":"' + "a" * 32 + '","n":4,"t":"unit_check"}',
}  # fmt: skip
INCIDENTS = [
    {
        "device_id": "d2", "device_name": "Phone, blue case", "role": "crew", "person_id": None, "person_name": None, "whose": "other",
        "holder_name": "Office laptop", "what": "lane", "first_at": 1795500000000, "last_at": 1795520000000, "times": 3,
    },
    {
        "device_id": "d3", "device_name": "Old phone", "role": "crew", "person_id": "p", "person_name": "Ines Calder", "whose": "own",
        "holder_name": None, "what": "lane", "first_at": 1795500000000, "last_at": 1795500000000, "times": 1,
    },
]  # fmt: skip
DEVICES = [
    {"device_id": "d1", "name": "Office laptop", "role": "lead", "sites": None, "seen_at": 1795609000000, "unsent": 0},
    {
        "device_id": "d2", "name": "Phone, blue case", "role": "crew", "sites": None, "seen_at": 1795520000000,
        "unsent": 14, "skew_ms": 400000, "person_id": "p1", "person_name": "Tobias Wren",
        "authors": [
            {"person_id": "p1", "person_name": "Tobias Wren", "entries": 212, "last_at": 1795520000000},
            {"person_id": "p2", "person_name": "Ines Calder", "entries": 3, "last_at": 1795520000000},
        ],
    },
    {"device_id": "d3", "name": "Old phone", "role": "crew", "seen_at": 1794600000000, "revoked_at": 1795000000000},
]  # fmt: skip


HELD_ABOUT = {
    "person_id": person_id(5), "name": "Jonah Okafor", "initials": "J. O.", "is_forgotten": False, "tag": "0" * 32,
    "sites": [{"site_id": SITE_ID, "name": "Alder Spit"}],
    "holdings": [
        {"kind": "person", "title": "Person", "count": 1, "first_ms": 1_760_000_000_000, "last_ms": 1_790_000_000_000, "seen_by": ["crew", "desk", "lead"],
         "fate": "initials", "sentence": "The name becomes J. O.; role and hours stay."},
        {"kind": "person_private", "title": "Contacts", "count": 1, "first_ms": 1_760_000_000_000, "last_ms": 1_760_000_000_000, "seen_by": ["lead"],
         "fate": "deleted", "sentence": "Deleted for good."},
        {"kind": "sign_in", "title": "Sign-in", "count": 14, "first_ms": 1_760_000_000_000, "last_ms": 1_790_000_000_000,
         "seen_by": ["crew", "desk", "lead"], "fate": "stays", "sentence": "Stays, with the initials in place of the name."},
    ],
    "named": [{"what": "Visit: Note", "kind": "visit", "record_id": PAST_VISIT, "site_id": SITE_ID, "text": "Jonah slipped at the ladder, no harm done.",
               "hit": "Jonah", "is_former": False}],
    "copies": [{"what": "backup", "where": "fieldlog-000012-20261124T020000.zip", "sentence": "Deleted by itself when there are newer ones from 7 days."}],
    "phones": [{"name": "Desk phone", "role": "desk", "seen_at": 1_790_000_000_000, "app": "0.4.0"}],
    "warnings": ["This cannot be undone."],
}  # fmt: skip


def stage_pack() -> dict[str, Any]:
    """The whole pack, as a lead's phone gets it, and the drawing of a join link beside it."""
    rows = tuple(Bed(row_id(place), name, bed, row_id(place)) for place, (name, bed) in enumerate(BEDS_M.items()))
    ground = Ground(find(SITE["tide_station"]), site_rules(SITE, "MLLW"), rows, (), ())
    site = {
        **site_windows(ground, date(2026, 11, 27)), **site_levels(ground), "flags": FLAGS,
        "remarks": {unit_id(20): SMALL}, "tape_scale": {"factor": 1.52, "dof": 96, "tapes": 312},
        "flag_counts": {"open": 4, "settled": 1}, "not_signed_out": words_of(NOT_SIGNED_OUT), "calendar": "/calendar/secret.ics", **VISIT_SUMS,
    }  # fmt: skip
    return {
        "etag": "1", "programme": {"name": "Skein Bay living shoreline"}, "forms": forms(CATALOGUE),
        "attribution": ["Harmonic constants: NOAA CO-OPS, public domain. Not for navigation."],
        "sites": {SITE_ID: site}, "tray": [TRAY], "devices": DEVICES, "incidents": INCIDENTS, "held_about": HELD_ABOUT, "site_record": SITE, "now": NOW,
        "qr_svg": segno.make("http://localhost/#join=K7QM3XDP").svg_inline(scale=4),
    }  # fmt: skip
