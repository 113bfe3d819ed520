"""
What a large programme writes in its years: sites of numbered units, each checked at every visit by five phones.

Half of the units get a fault that stays, as on a shore where few are mended; some values are unlikely; three in a
hundred entries are corrected. Every share is our own proposal, no source.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from random import Random
from typing import Any

from fieldlog.records.tags import tag_for
from tests.bench.lanes import BenchLane, new_id

DAY_MS = 86_400_000
MONTH_MS = 30 * DAY_MS
STATION = "noaa/8443970"
ROWS = "ABCDE"
PHONES = 5
"""Crew phones a site."""

PEOPLE = 20
LASTING, CORRECTED, APART, PICTURED, NOTED = 0.5, 0.03, 0.02, 0.04, 0.05
"""Shares: of units with a fault that stays, of checks and sightings corrected later, of those corrections that another phone
makes without having seen what it corrects, of checks with a photo, of checks with a note."""

FAULTS = ("lean", "body", "toe", "gone", "moved")
POSITIONS_EVERY = 6
"""Months between two measurements of every unit's position."""


@dataclass(frozen=True)
class Shape:
    """
    How large a programme is. 20 sites of 250 units write about 9,000 entries a month.

    Args:
        visits: visits a site and month; each checks every unit.
        sightings: sightings a visit.
        odd_share: checks with an unlikely value, which raises a flag that stays.
        held_share: checks that are followed by one with an impossible value, which is held.
    """

    sites: int = 20
    units: int = 250
    months: int = 120
    visits: int = 1
    sightings: int = 100
    odd_share: float = 0.009
    held_share: float = 0.0
    seed: int = 5


@dataclass
class BenchSite:
    """A site, its phones, and its units: (record id, planned east, planned north, fault or "", the month it begins)."""

    site_id: str
    people: list[str]
    units: list[tuple[str, float, float, str, int]]
    phones: list[BenchLane]


def iso(at_ms: int) -> str:
    """A moment as the app writes it."""
    return time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(at_ms / 1000))


def begin_ms(shape: Shape, now_ms: int) -> int:
    """When a programme of this shape began, so that its last visit lies within the last month."""
    return now_ms - shape.months * MONTH_MS - 10 * DAY_MS


def set_up(shape: Shape, lead: BenchLane, at_ms: int, dice: Random) -> Iterator[BenchSite]:
    """The lead enters site after site; what a site is made of waits in the lead's lane when it is given."""
    design_id = new_id(at_ms, dice)
    lead.write(at_ms, "unit_design", design_id, {"name": "Dome", "height_mm": 400, "footprint_mm": 600, "mass_kg": 120}, everywhere=True)
    for number in range(shape.sites):
        at_ms += 1000
        lead.site_id = new_id(at_ms, dice)
        lead.write(at_ms, "site", lead.site_id, {
            "name": f"Shore {number + 1}", "lat_deg": 41.5 + number * 0.01, "lon_deg": -71.3, "zone": "America/New_York",
            "grid_azimuth_deg": 0, "tide_station": STATION, "level_datum": "MLLW", "work_level_m": 0.4, "route_low_level_m": 0.6,
            "allowance_m": 0.2, "walk_out_min": 10, "muster_min": 10, "least_usable_min": 30, "check_every_days": 60,
        })  # fmt: skip
        people = [new_id(at_ms, dice) for _ in range(PEOPLE)]
        for place, person_id in enumerate(people):
            lead.write(at_ms, "person", person_id, {"display_name": f"Person {number + 1}-{place + 1}", "role": "volunteer", "minor": False})
        yield BenchSite(lead.site_id, people, _units(shape, lead, design_id, at_ms, dice), [])


def _units(shape: Shape, lead: BenchLane, design_id: str, at_ms: int, dice: Random) -> list[tuple[str, float, float, str, int]]:
    row_ids = [new_id(at_ms, dice) for _ in ROWS]
    for place, (name, row_id) in enumerate(zip(ROWS, row_ids, strict=True)):
        lead.write(at_ms, "row", row_id, {"name": name, "order_number": place, "bed_level_m": -0.1 * place, "level_datum": "MLLW"})
    units = []
    for place in range(shape.units):
        unit_id, row, slot = new_id(at_ms, dice), place % len(ROWS), place // len(ROWS) + 1
        east_m, north_m = slot * 2.0, row * 4.0
        lead.write(at_ms, "unit", unit_id, {
            "tag": tag_for(ROWS[row], slot), "design_id": design_id, "row_id": row_ids[row], "slot_number": slot,
            "planned_east_m": east_m, "planned_north_m": north_m,
        })  # fmt: skip
        lead.write(at_ms, "unit_event", new_id(at_ms, dice), {"unit_id": unit_id, "event": "placed", "event_at": iso(at_ms)})
        fault = dice.choice(FAULTS) if dice.random() < LASTING else ""
        units.append((unit_id, east_m, north_m, fault, dice.randrange(shape.months)))
    return units


def years(shape: Shape, sites: list[BenchSite], begun_ms: int, dice: Random) -> Iterator[BenchLane]:
    """Visit after visit; a phone is given when it has written what it saw on one, which waits in its lane."""
    for month in range(shape.months):
        for visit in range(shape.visits):
            at_ms = begun_ms + (month + 1) * MONTH_MS + visit * MONTH_MS // shape.visits
            for site in sites:
                yield from _Visit(shape, site, month, at_ms, dice).phones(measured=month % POSITIONS_EVERY == 0 and visit == 0)


class _Visit:
    """One visit of a site's five phones, each with every fifth unit."""

    def __init__(self, shape: Shape, site: BenchSite, month: int, at_ms: int, dice: Random) -> None:
        self.shape, self.site, self.month, self.at_ms, self.dice = shape, site, month, at_ms, dice
        self.visit_id = new_id(at_ms, dice)
        self.by_another: list[tuple[str, str, dict[str, Any]]] = []

    def phones(self, *, measured: bool) -> Iterator[BenchLane]:
        self.site.phones[0].write(
            self.at_ms, "visit", self.visit_id, {"purpose": "monitoring", "started_at": iso(self.at_ms), "briefing_done": True},
            self.visit_id,
        )  # fmt: skip
        for place, lane in enumerate(self.site.phones):
            for kind, record_id, fields in self.by_another:
                lane.write(self.at_ms + 9_000_000, kind, record_id, fields, self.visit_id)
            self.by_another.clear()
            self._phone(place, lane, measured=measured)
            yield lane

    def _phone(self, place: int, lane: BenchLane, *, measured: bool) -> None:
        at_ms, write = self.at_ms, lane.write
        part_id = self._id(at_ms)
        part = {"of_visit_id": self.visit_id, "device": lane.lane_id.removeprefix("k-"), "from_at": iso(at_ms), "leader_id": lane.person_id}
        write(at_ms, "visit_part", part_id, part, self.visit_id)
        turns = [(self._id(at_ms), person_id) for person_id in self.site.people[place * 2 : place * 2 + 2]]
        for turn_id, person_id in turns:
            turn = {"person_id": person_id, "sign_in_role": "volunteer", "briefing_heard": True, "in_at": iso(at_ms), "task": "checking"}
            write(at_ms, "sign_in", turn_id, turn, self.visit_id)
        corrections: list[tuple[str, str, dict[str, Any], dict[str, list[str]]]] = []
        for unit in self.site.units[place::PHONES]:
            at_ms += 150_000
            self._check(lane, at_ms, unit, corrections)
            if measured:
                self._position(lane, at_ms + 5000, unit)
        for _ in range(place, self.shape.sightings, PHONES):
            at_ms += 60_000
            self._sighting(lane, at_ms, corrections)
        for kind, record_id, fields, bases in corrections:
            at_ms += 1000
            write(at_ms, kind, record_id, fields, self.visit_id, bases)
        for turn_id, _ in turns:
            write(at_ms + 60_000, "sign_in", turn_id, {"out_at": iso(at_ms + 60_000)}, self.visit_id)
        ended = iso(at_ms + 120_000)
        write(at_ms + 120_000, "visit_part", part_id, {"until_at": ended}, self.visit_id)
        write(at_ms + 120_000, "visit", self.visit_id, {"ended_at": ended}, self.visit_id)

    def _id(self, at_ms: int) -> str:
        return new_id(at_ms, self.dice)

    def _check(self, lane: BenchLane, at_ms: int, unit: tuple[str, float, float, str, int], corrections: list[Any]) -> None:
        dice, check_id = self.dice, self._id(at_ms)
        fields = self._seen(unit, at_ms)
        if dice.random() < NOTED:
            fields["note"] = "as last time, barnacles on the seaward face"
        entry_id = lane.write(at_ms, "unit_check", check_id, fields, self.visit_id)
        if "exposed_height_mm" in fields:
            self._corrected("unit_check", check_id, "exposed_height_mm", dice.randint(200, 400), entry_id, corrections)
        if dice.random() < PICTURED:
            shot = {
                "of_kind": "unit_check", "of_id": check_id, "sha256": f"{dice.getrandbits(256):064x}", "bytes": 300_000,
                "media_type": "image/jpeg", "taken_at": iso(at_ms),
            }  # fmt: skip
            lane.write(at_ms + 1000, "photo", self._id(at_ms), shot, self.visit_id)
        if dice.random() < self.shape.held_share:
            lane.write(at_ms + 2000, "unit_check", self._id(at_ms), {**fields, "tilt_deg": 400}, self.visit_id, held=True)

    def _seen(self, unit: tuple[str, float, float, str, int], at_ms: int) -> dict[str, Any]:
        dice, (unit_id, _, _, fault, since) = self.dice, unit
        fault = fault if self.month >= since else ""
        fields: dict[str, Any] = {"unit_id": unit_id, "checked_at": iso(at_ms)}
        if fault == "gone":
            return fields | {"found_state": "not_found_dry"}
        fields |= {
            "found_state": "seen", "body_grade": 0, "stance_grade": 0, "toe_grade": 0, "cover_grade": dice.choice((0, 0, 1, 1, 2)),
            "exposed_height_mm": dice.randint(200, 400), "tilt_deg": dice.randint(0, 4), "scour_depth_mm": dice.choice((0, 0, 10, 20)),
            "crack_width_mm": 0, "rocking": False,
        }  # fmt: skip
        if fault == "lean":
            fields |= {"tilt_deg": 17 + dice.randint(0, 3), "stance_grade": 2}
        elif fault == "body":
            fields |= {"body_grade": 2, "crack_width_mm": 12}
        elif fault == "toe":
            fields |= {"toe_grade": 2, "scour_depth_mm": 60}
        if dice.random() < self.shape.odd_share:
            fields["exposed_height_mm"] = 1700
        return fields

    def _position(self, lane: BenchLane, at_ms: int, unit: tuple[str, float, float, str, int]) -> None:
        unit_id, east_m, north_m, fault, since = unit
        moved_m = 0.6 if fault == "moved" and self.month >= since and self.month > 0 else 0.0
        lane.write(at_ms, "position_fix", self._id(at_ms), {
            "of_kind": "unit", "of_id": unit_id, "fixed_at": iso(at_ms), "method": "typed",
            "east_m": round(east_m + moved_m + self.dice.gauss(0, 0.02), 3), "north_m": round(north_m + self.dice.gauss(0, 0.02), 3),
            "sigma_m": 0.05,
        }, self.visit_id)  # fmt: skip

    def _sighting(self, lane: BenchLane, at_ms: int, corrections: list[Any]) -> None:
        dice, sighting_id = self.dice, self._id(at_ms)
        entry_id = lane.write(at_ms, "sighting", sighting_id, {
            "taxon": dice.choice(("Eastern oyster", "Ribbed mussel", "Blue crab", "Cordgrass")), "found": "seen",
            "count": dice.randint(1, 200), "life_stage": "adult", "sureness": "sure",
            "near_unit_id": dice.choice(self.site.units)[0], "seen_at": iso(at_ms),
        }, self.visit_id)  # fmt: skip
        self._corrected("sighting", sighting_id, "count", dice.randint(1, 200), entry_id, corrections)

    def _corrected(self, kind: str, record_id: str, name: str, value: int, entry_id: str, corrections: list[Any]) -> None:
        if self.dice.random() >= CORRECTED:
            return
        if self.dice.random() < APART:
            self.by_another.append((kind, record_id, {name: value}))
        else:
            corrections.append((kind, record_id, {name: value}, {name: [entry_id]}))
