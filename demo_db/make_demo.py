"""
Writes the demo programme's entries: the same random numbers give the same files.

    python demo_db/make_demo.py

Everything in it is invented, but for the tide station and the names of species.
"""

from __future__ import annotations

import json
import math
import random
from pathlib import Path

from fieldlog.records.tags import tag_for
from people import PEOPLE, PRIVATE
from place import (
    BATCHES,
    CONDITIONS,
    DESIGNS,
    EMERGENCY_CARD,
    MARKS,
    PLOTS,
    ROWS,
    SIGHTINGS,
    SITE,
    SLOTS,
    SPECIES,
    VISITS,
    unit_key,
    unit_place,
)  # fmt: skip
from troubles import NOT_FOUND_DRY, RARELY_REACHED, state_on

HERE = Path(__file__).parent
LEAD = "ines"
CREW = ("tobias", "ruth", "sam", "amara")
"""Each carries the phone of the same name."""

UNITS = [(row, slot) for row in "ABCD" for slot in range(1, SLOTS + 1)]
RTK_SIGMA_M = 0.02
TAPE_SIGMA_M = 0.03


class Story:
    """The evenings in order, each with the entries that were written on its visit."""

    def __init__(self) -> None:
        self.dice = random.Random(20_240_601)
        self.evenings: list[dict] = []

    def evening(self, day: int, visit: str | None, leader: str | None = None) -> None:
        self.evenings.append({"day": day, "visit": visit, "leader": leader, "entries": []})

    def write(self, phone: str, kind: str, name: str, minute: float, fields: dict, **marks: bool) -> None:
        """One entry: which phone wrote it, minutes after the visit's start, and its fields in the short form."""
        entry = [phone, kind, name, round(minute), {key: value for key, value in fields.items() if value is not None}]
        self.evenings[-1]["entries"].append([*entry, *marks])

    def clear(self, phone: str, kind: str, name: str, minute: float, field: str) -> None:
        """One entry that takes a value away."""
        self.evenings[-1]["entries"].append([phone, kind, name, minute, {field: None}])

    def normal(self, sigma: float) -> float:
        return self.dice.gauss(0, sigma)


def set_up(story: Story) -> None:
    story.evening(-560, None)
    story.write(LEAD, "site", "site", 0, SITE | {"emergency_card": EMERGENCY_CARD})
    for person, (name, role, is_minor) in PEOPLE.items():
        story.write(LEAD, "person", person, 1, {"display_name": name, "role": role, "minor": is_minor, "waiver_valid": True})
    for person, fields in PRIVATE.items():
        story.write(LEAD, "person_private", f"private/{person}", 1, {"person_id": person, **fields})
    closure = {
        "name": "Tern nesting", "from_day": -225, "to_day": -118, "every_year": True, "closure": "care",
        "source": "Invented permit SB-7, condition 4",
    }  # fmt: skip
    story.write(LEAD, "closure", "closure/terns", 2, closure)
    for order, (row, bed_level_m) in enumerate(reversed(ROWS.items()), 1):
        story.write(LEAD, "row", f"row/{row}", 2, {"name": row, "order_number": order, "bed_level_m": bed_level_m, "level_datum": SITE["level_datum"]})
    for label, (east_m, north_m, level_m) in MARKS.items():
        place = {"east_m": east_m, "north_m": north_m, "level_m": level_m, "level_datum": SITE["level_datum"], "sigma_m": 0.01}
        story.write(LEAD, "control_mark", f"mark/{label}", 3, {"label": label, **place})
    for design, fields in DESIGNS.items():
        story.write(LEAD, "unit_design", f"design/{design}", 4, {"name": design, **fields})
    for label, fields in BATCHES.items():
        story.write(LEAD, "casting_batch", f"batch/{label}", 5, {"label": label, **fields})
    for row, slot in UNITS:
        east_m, north_m = unit_place(row, slot)
        early = row in "AB"
        story.write(LEAD, "unit", unit_key(row, slot), 6, {
            "tag": tag_for(row, slot), "row_id": f"row/{row}", "slot_number": slot,
            "design_id": f"design/{'Step block 450' if early else 'Step block 350'}",
            "batch_id": f"batch/{'B1' if early else 'B2'}", "planned_east_m": east_m, "planned_north_m": north_m,
        })  # fmt: skip
    for label, (treatment, row, east_m, north_m) in PLOTS.items():
        story.write(LEAD, "plot", f"plot/{label}", 7, {
            "label": label, "plot_type": "stake", "treatment": treatment, "row_id": row and f"row/{row}",
            "east_m": east_m, "north_m": north_m,
        })  # fmt: skip
    for scientific, (common, group) in SPECIES.items():
        rank = "species" if " " in scientific else "genus"
        story.write(LEAD, "species", f"species/{scientific}", 8, {
            "scientific_name": scientific, "common_name": common, "group": group, "taxon_rank": rank,
        })  # fmt: skip


def open_visit(story: Story, number: int, day: int, purpose: str, residual_m: float) -> list[str]:
    """The visit's own record, written by its leader, and the people who came; their keys."""
    visit, leader = f"v{number:02d}", CREW[number % len(CREW)]
    story.evening(day, visit, leader)
    story.write(leader, "visit", visit, 0, {
        "purpose": purpose, "window_id": "window", "started_at": 0, "leader_id": leader, "briefing_done": True,
        "conditions": story.dice.choice(CONDITIONS),
    })  # fmt: skip
    others = [person for person in PEOPLE if person not in (leader, LEAD)]
    came = [leader, *story.dice.sample(others, story.dice.randint(7, 12))]
    task = {"deployment": "placing", "monitoring": "monitoring"}.get(purpose, "checking")
    for minute, person in enumerate(came):
        story.write(leader, "sign_in", f"{person}/1", minute * 0.5, {
            "person_id": person, "sign_in_role": PEOPLE[person][1], "briefing_heard": True, "in_at": minute * 0.5,
            "waiver_version": "2025-2", "task": task,
        })  # fmt: skip
    story.write(leader, "visit", visit, 12, {"observed_level_m": {"predicted_plus": residual_m}, "observed_at": 12, "level_datum": SITE["level_datum"]})
    return came


def close_visit(story: Story, came: list[str], end: int) -> None:
    leader, visit = story.evenings[-1]["leader"], story.evenings[-1]["visit"]
    for number, person in enumerate(came):
        story.write(leader, "sign_in", f"{person}/1", end - 6 + number * 0.25, {"out_at": end - 6 + number * 0.25})
    for phone in begin_parts(story):
        if phone != leader:
            story.write(phone, "visit_part", f"part/{visit}/{phone}", end - 2, {"until_at": end - 2})
            story.write(phone, "visit", visit, end - 2, {"ended_at": end - 2})
    story.write(leader, "visit_part", f"part/{visit}/{leader}", end, {"until_at": end})
    story.write(leader, "visit", visit, end, {"ended_at": end})


ON_A_VISIT = {"visit", "sign_in", "unit_check", "position_fix", "sighting"}
"""Kinds whose first entry on a visit makes a phone's part of it."""


def begin_parts(story: Story) -> list[str]:
    """Each phone that wrote on the visit writes its part beside its first entry; the phones."""
    evening = story.evenings[-1]
    visit, leader, entries = evening["visit"], evening["leader"], evening["entries"]
    begun: dict[str, int] = {}
    for place, (phone, kind, *_) in enumerate(entries):
        if kind in ON_A_VISIT:
            begun.setdefault(phone, place)
    for phone, place in sorted(begun.items(), key=lambda one: -one[1]):
        minute = entries[place][3]
        fields = {"of_visit_id": visit, "device": phone, "from_at": minute, "leader_id": phone if phone == leader else None}
        said = {key: value for key, value in fields.items() if value is not None}
        entries.insert(place + 1, [phone, "visit_part", f"part/{visit}/{phone}", minute, said])
    return list(begun)


def go_on(story: Story, came: list[str], end: int) -> None:
    """The visit had ended when its leader and one more went out again, for a tool that was left on the reef."""
    leader, visit = story.evenings[-1]["leader"], story.evenings[-1]["visit"]
    start, last = end + 4, end + 16
    story.clear(leader, "visit", visit, start, "ended_at")
    story.clear(leader, "visit_part", f"part/{visit}/{leader}", start, "until_at")
    for person in came[:2]:
        story.write(leader, "sign_in", f"{person}/2", start, {
            "person_id": person, "sign_in_role": PEOPLE[person][1], "briefing_heard": True, "in_at": start, "waiver_version": "2025-2",
            "task": "other",
        })  # fmt: skip
    story.write(leader, "sighting", f"sighting/{visit}/again", start + 6, {
        "taxon": "Hermit crab in a mussel bag", "found": "seen", "count": 1, "sureness": "likely", "seen_at": start + 6,
    })  # fmt: skip
    for person in came[:2]:
        story.write(leader, "sign_in", f"{person}/2", last - 1, {"out_at": last - 1})
    story.write(leader, "visit_part", f"part/{visit}/{leader}", last, {"until_at": last})
    story.write(leader, "visit", visit, last, {"ended_at": last})


def check_units(story: Story, number: int, day: int, units: list[tuple[str, int]], end: int) -> None:
    """Two phones share the rows; what a unit is like follows from its troubles and the day."""
    leader = story.evenings[-1]["leader"]
    second = CREW[(number + 1) % len(CREW)]
    for place, (row, slot) in enumerate(units):
        minute = 14 + place * (end - 26) / max(1, len(units))
        fields = state_on(day, row, slot, story.normal)
        phone = leader if place % 2 else second
        story.write(phone, "unit_check", f"check/{number:02d}/{row}{slot:02d}", minute, {
            "unit_id": unit_key(row, slot), "checked_at": minute, **fields,
        })  # fmt: skip


def sight(story: Story, number: int, end: int) -> None:
    for place, (scientific, found, most, stage, behaviour) in enumerate(story.dice.sample(SIGHTINGS, 4)):
        minute = 20 + place * 9
        count = story.dice.randint(1, most) if found == "seen" else None
        row, slot = story.dice.choice(UNITS)
        story.write(CREW[(number + place) % 2 + 1], "sighting", f"sighting/{number:02d}/{place}", min(minute, end - 8), {
            "species_id": f"species/{scientific}", "found": found, "count": count, "life_stage": stage,
            "behaviour": behaviour, "sureness": "sure" if place else "likely", "seen_at": minute,
            "near_unit_id": unit_key(row, slot) if found == "seen" else None,
        })  # fmt: skip


def survey(story: Story, number: int, day: int, units: list[tuple[str, int]]) -> None:
    """Positions by survey receiver, on the site grid."""
    for place, (row, slot) in enumerate(units):
        east_m, north_m = unit_place(row, slot, day)
        story.write(LEAD, "position_fix", f"fix/{number:02d}/{row}{slot:02d}", 15 + place * 0.8, {
            "of_kind": "unit", "of_id": unit_key(row, slot), "fixed_at": 15 + place * 0.8, "method": "rtk",
            "east_m": round(east_m + story.normal(RTK_SIGMA_M), 3), "north_m": round(north_m + story.normal(RTK_SIGMA_M), 3),
            "sigma_m": RTK_SIGMA_M, "platform": "Survey receiver",
        })  # fmt: skip


def tape(story: Story, number: int, day: int, phone: str, units: list[tuple[str, int]]) -> None:
    """Positions by three tapes from the nearest control marks."""
    for place, (row, slot) in enumerate(units):
        east_m, north_m = unit_place(row, slot, day)
        far = {label: math.hypot(east_m - mark[0], north_m - mark[1]) for label, mark in MARKS.items()}
        tapes = {}
        for turn, label in enumerate(sorted(far, key=far.__getitem__)[:3], 1):
            tapes[f"mark_{turn}_id"] = f"mark/{label}"
            tapes[f"range_{turn}_m"] = round(far[label] + story.normal(TAPE_SIGMA_M), 2)
        story.write(phone, "position_fix", f"tapes/{number:02d}/{row}{slot:02d}", 30 + place * 4, {
            "of_kind": "unit", "of_id": unit_key(row, slot), "fixed_at": 30 + place * 4, "method": "tapes", **tapes,
            "tape_sigma_m": TAPE_SIGMA_M,
        })  # fmt: skip


def phone_fix(story: Story, number: int, phone: str, units: list[tuple[str, int]]) -> None:
    """Positions as a phone says them: good for the row, never for a shift."""
    for place, (row, slot) in enumerate(units):
        east_m, north_m = unit_place(row, slot)
        story.write(phone, "position_fix", f"phone/{number:02d}/{row}{slot:02d}", 40 + place * 3, {
            "of_kind": "unit", "of_id": unit_key(row, slot), "fixed_at": 40 + place * 3, "method": "phone_gnss",
            "lat_deg": {"north_m": round(north_m + story.normal(2.0), 1), "east_m": round(east_m + story.normal(2.0), 1)},
            "accuracy_m": 4.9, "platform": "Phone",
        })  # fmt: skip


def photograph(story: Story, number: int, phone: str, units: list[tuple[str, int]]) -> None:
    for place, (row, slot) in enumerate(units):
        story.write(phone, "photo", f"photo/{number:02d}/{row}{slot:02d}", 25 + place * 4, {
            "of_kind": "unit_check", "of_id": f"check/{number:02d}/{row}{slot:02d}", "taken_at": 25 + place * 4,
            "shows": f"{row}{slot:02d} from the landward side", "picture": {"row": row, "slot": slot},
        })  # fmt: skip


def placed(story: Story, phone: str, rows: str) -> None:
    for place, (row, slot) in enumerate(unit for unit in UNITS if unit[0] in rows):
        story.write(phone, "unit_event", f"placed/{row}{slot:02d}", 15 + place * 2, {
            "unit_id": unit_key(row, slot), "event": "placed", "event_at": 15 + place * 2,
        })  # fmt: skip


def reached(story: Story, number: int, purpose: str) -> list[tuple[str, int]]:
    """The units that a visit gets to, seaward row first: all of them at each third monitoring, else a part."""
    every = [unit for row in "DCBA" for unit in UNITS if unit[0] == row]
    if purpose == "storm_check":
        return every
    skipped = set() if number in (3, 8, 13) else {u for u in every if story.dice.random() < 0.5}
    if number > 14:
        skipped |= RARELY_REACHED
    return [unit for unit in every if unit not in skipped or (unit in NOT_FOUND_DRY and number > 14)]


def main() -> None:
    story = Story()
    set_up(story)
    for number, (day, purpose, end, extra) in enumerate(VISITS, 1):
        came = open_visit(story, number, day, purpose, round(story.normal(0.04), 2))
        leader = story.evenings[-1]["leader"]
        if purpose == "deployment":
            placed(story, leader, extra["rows"])
        else:
            units = reached(story, number, purpose)
            check_units(story, number, day, units, end)
            sight(story, number, end)
            photograph(story, number, leader, [unit for unit in extra.get("photos", ()) if unit in units])
        if extra.get("survey"):
            survey(story, number, day, UNITS)
        tape(story, number, day, leader, extra.get("tapes", []))
        phone_fix(story, number, leader, extra.get("phone_fixes", []))
        for entry in extra.get("entries", ()):
            story.write(*entry[:5], **dict.fromkeys(entry[5:], True))
        close_visit(story, came, end)
        if extra.get("goes_on"):
            go_on(story, came, end)
    text = "".join(json.dumps(evening, ensure_ascii=False, separators=(",", ":")) + "\n" for evening in story.evenings)
    (HERE / "evenings.ndjson").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
