"""
Who may do what, written by hand from the rules and not from the code: the tests hold the product to it, cell by cell.

A kind that stands in the catalogue and not here fails. `makes` names the roles that write it on their own site, `reads` those whose
phones get its text. A device is of one site, or, as "lead-all" and its like, of the whole programme: then every site is its own.
"""

from __future__ import annotations

from dataclasses import dataclass

ROLES = ("lead", "crew", "desk", "reader", "lead-all", "crew-all", "desk-all", "reader-all")
SITES = ("own", "other", "null")
EVERYBODY = "lead crew desk reader"
CREW_READ = "lead crew desk"
LEADS = "lead"


@dataclass(frozen=True)
class Rights:
    """One kind: who makes and changes its records, who reads them, and whether the whole programme may have one (site null)."""

    makes: str
    reads: str
    of_programme: bool = False
    own: bool = False
    """Whether only leads change what another device made."""


KINDS = {
    "site": Rights(LEADS, EVERYBODY),
    "closure": Rights(LEADS, EVERYBODY),
    "datum_offset": Rights(LEADS, EVERYBODY),
    "row": Rights(LEADS, EVERYBODY),
    "control_mark": Rights(LEADS, EVERYBODY),
    "unit_design": Rights(LEADS, EVERYBODY, of_programme=True),
    "casting_batch": Rights(LEADS, EVERYBODY),
    "unit": Rights(LEADS, EVERYBODY),
    "plot": Rights(LEADS, EVERYBODY),
    "species": Rights(LEADS, EVERYBODY, of_programme=True),
    "person": Rights("lead crew desk", CREW_READ, of_programme=True),
    "person_private": Rights("lead desk", LEADS),
    "sign_in_private": Rights("lead desk", LEADS),
    "visit": Rights("lead crew", CREW_READ),
    "visit_part": Rights("lead crew", CREW_READ, own=True),
    "sign_in": Rights("lead crew desk", CREW_READ),
    "unit_check": Rights("lead crew", EVERYBODY),
    "position_fix": Rights("lead crew", EVERYBODY),
    "unit_event": Rights("lead crew", EVERYBODY),
    "sighting": Rights("lead crew", EVERYBODY),
    "photo": Rights("lead crew", EVERYBODY),
    "people_photo": Rights("lead crew", CREW_READ),
    "flag_decision": Rights(LEADS, EVERYBODY),
    "level_word": Rights(LEADS, EVERYBODY),
    "import": Rights(LEADS, EVERYBODY, of_programme=True),
    "visit_plan": Rights(LEADS, EVERYBODY),
    "instrument": Rights(LEADS, EVERYBODY),
    "own_field": Rights(LEADS, EVERYBODY),
    "plot_event": Rights("lead crew", EVERYBODY),
    "stake_reading": Rights("lead crew", EVERYBODY),
    "table_reading": Rights("lead crew", EVERYBODY),
    "horizon_reading": Rights("lead crew", EVERYBODY),
    "level_run": Rights("lead crew", EVERYBODY),
    "rod_profile": Rights("lead crew", EVERYBODY),
    "cover_reading": Rights("lead crew", EVERYBODY),
    "edge_reading": Rights("lead crew", EVERYBODY),
    "settlement_count": Rights("lead crew", EVERYBODY),
    "water_reading": Rights("lead crew", EVERYBODY),
    "preparation": Rights("lead crew desk", CREW_READ, own=True),
    "mileage": Rights("lead crew desk", CREW_READ, own=True),
    "award": Rights(LEADS, CREW_READ),
    "award_hours": Rights(LEADS, CREW_READ),
    "rate": Rights(LEADS, CREW_READ),
    "hours_signed": Rights(LEADS, CREW_READ),
    "method_note": Rights(LEADS, EVERYBODY),
    "season_closing": Rights(LEADS, CREW_READ),
    "waiver": Rights(LEADS, CREW_READ),
    "waiver_signed": Rights("lead desk", LEADS),
    "head_count": Rights("lead crew desk", CREW_READ),
    "contact_look": Rights("lead desk", LEADS, own=True),
}

OF_LEADS = {
    "person": ["left_on"],
    "visit": ["joined_to"],
    "sign_in": ["in_visit"],
    "unit_check": ["in_visit"],
    "position_fix": ["in_visit"],
    "unit_event": ["in_visit"],
    "sighting": ["in_visit"],
    "photo": ["in_visit"],
    "stake_reading": ["in_visit"],
    "table_reading": ["in_visit"],
    "horizon_reading": ["in_visit"],
    "level_run": ["in_visit"],
    "rod_profile": ["in_visit"],
    "cover_reading": ["in_visit"],
    "edge_reading": ["in_visit"],
    "settlement_count": ["in_visit"],
    "water_reading": ["in_visit"],
    "plot_event": ["in_visit"],
    "people_photo": ["in_visit", "consent"],
}
"""The fields that nobody but a lead writes, neither of a record of others nor of one that they make."""


def of(role: str) -> tuple[str, bool]:
    """The role of a device, and whether it is of the whole programme."""
    return role.removesuffix("-all"), role.endswith("-all")


def said_of_making(kind: str, role: str, site: str) -> str:
    """The word for a first entry of a new record; `site` is the site it names, seen from the device."""
    rights, (word, everywhere) = KINDS[kind], of(role)
    if site == "null" and kind == "site":
        return "other-site" if word == "lead" else "not-permitted"
    if site == "null" and not rights.of_programme:
        return "bad-envelope"
    if word not in rights.makes.split():
        return "not-permitted"
    if site == "null" or kind == "site":
        # Nobody but a lead of the whole programme makes a site, or what belongs to all sites.
        return "taken" if role == "lead-all" else "not-permitted"
    return "taken" if site == "own" or everywhere else "not-permitted"


def said_of_changing(kind: str, role: str, site: str) -> str:
    """The word for a change of a field that anybody who writes the kind may change, of a record that a lead made."""
    if kind == "site" and role == "lead":
        return {"own": "taken", "other": "not-permitted", "null": "other-site"}[site]
    word = said_of_making(kind, role, site)
    return "not-yours" if word == "taken" and KINDS[kind].own and of(role)[0] != "lead" else word


def said_of_removing(kind: str, role: str, site: str) -> str:
    """The word for removing, or bringing back, what a lead made."""
    word = said_of_changing(kind, role, site)
    return "not-yours" if word == "taken" and of(role)[0] != "lead" else word


def said_of_moving(kind: str, role: str) -> str:
    """The word for a change of another site's record by an entry that names the device's own site."""
    return "other-site" if of(role)[0] in KINDS[kind].makes.split() else "not-permitted"


def reads(kind: str, role: str, site: str) -> bool:
    """Whether the text of a record travels down to a device; "null" is a record of the whole programme, old private ones too."""
    rights, (word, everywhere) = KINDS[kind], of(role)
    if word not in rights.reads.split():
        return False
    if site == "null":
        return everywhere or rights.reads != LEADS
    return site == "own" or everywhere


def said_of_ingesting(kind: str, site: str) -> str:
    """The word for a line of a file that proves nothing, taken in for the device's own site: it writes as that site's crew."""
    return said_of_making(kind, "crew", site)


PHOTO_UPLOAD = {"lead": 201, "crew": 201, "desk": 403, "reader": 403}
PHOTO_READ = {(role, site): 200 if site == "own" or of(role)[1] else 404 for role in ROLES for site in ("own", "other")}
"""404 stands for any refusal."""
PEOPLE_PHOTO_READ = {cell: 404 if of(cell[0])[0] == "reader" else said for cell, said in PHOTO_READ.items()}
PRIVATE_ROUTE = {
    **{(role, site): "refused" for role in ROLES for site in SITES},
    ("lead-all", "own"): "told", ("lead-all", "other"): "told", ("lead", "own"): "told", ("lead", "other"): "nothing",
    ("lead-all", "null"): "told", ("lead", "null"): "nothing",
}  # fmt: skip
PACK_OF_SITE = {(role, site): 200 if site == "own" or of(role)[1] else 403 for role in ROLES for site in ("own", "other")}
VISIT_SUMS_KNOW = {"visits": {"day", "purpose", "people"}, "visit_years": {"year", "visits", "hours"}}
"""All that a reader is told of visits and sign-ins: no name, no id, no time of day, and hours of a year together."""
TRAY = {"lead": 200, "crew": 403, "desk": 403, "reader": 403}
TRAY_LINES = {
    **{("lead-all", device, line): True for device in (*SITES, "moved") for line in (*SITES, "unreadable")},
    **{("lead", device, line): device in ("own", "moved") and line == "own" for device in (*SITES, "moved") for line in (*SITES, "unreadable")},
}
"""Whether a lead reads, and hides, a held line: by the site of its device ("moved": from the other one to this) and by the one that it names."""
CALENDAR = {(role, site): site == "own" or of(role)[1] for role in ROLES for site in ("own", "other")}
FIXES = {
    ("lead-all", "own"): True, ("lead-all", "other"): True, ("lead", "own"): True, ("lead", "other"): False,
    ("crew", "own"): False, ("crew", "other"): False, ("crew-all", "own"): False,
}  # fmt: skip
"""Whether an entry hides the held line of another device of that site; its own it always may."""
