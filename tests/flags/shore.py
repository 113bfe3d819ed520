"""A small shore for tests of flags: one site, marks, a row, units; entries go through `receive` as from a phone."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.flags.reading import list_flags
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.sync.receive import receive
from tests.sync.lines import Lane, record_id

SITE, ROW, DESIGN = (record_id(name) for name in ("Alder Spit", "row A", "step block"))
UNIT, OTHER = record_id("A010"), record_id("A029")
MARKS = {"M1": (0.0, 0.0), "M2": (24.0, 0.0), "M3": (2.0, 34.0)}
LEAD = Device("lead-device", "lead", None, None, False)
SITE_FIELDS = {
    "name": "Alder Spit", "lat_deg": 32.03, "lon_deg": -80.92, "zone": "America/New_York", "check_every_days": 60,
    "tide_station": "noaa/8670870", "level_datum": "MLLW", "work_level_m": 0.5, "route_low_level_m": 0.9,
    "walk_out_min": 12, "muster_min": 10, "least_usable_min": 45,
}  # fmt: skip
PLACED = "2026-06-01T10:00:00.000Z"
NOW = datetime(2026, 9, 20, tzinfo=UTC)


class Shore:
    """Writes entries, sends them at once, and reads the flags."""

    def __init__(self, db: Database) -> None:
        self.db = db
        self.lane = Lane("lead", SITE)
        self.sent = 0
        self.made = 0
        self.heads: dict[tuple[str, str], str] = {}
        db.execute("INSERT INTO device(device_id, token_sha256, role, sites, name, made_at) VALUES (?, ?, 'lead', NULL, 'a phone', 0)", [LEAD.device_id] * 2)

    def set_up(self) -> None:
        self.write("site", SITE, **SITE_FIELDS)
        self.write("row", ROW, name="A", order_number=1, bed_level_m=0.3, level_datum="MLLW")
        self.write("unit_design", DESIGN, name="Step block", height_mm=450, footprint_mm=500)
        for label, (east_m, north_m) in MARKS.items():
            self.write("control_mark", record_id(label), label=label, east_m=east_m, north_m=north_m, sigma_m=0.01)
        for unit, tag, slot in ((UNIT, "A010", 1), (OTHER, "A029", 2)):
            place = {"planned_east_m": 12.0, "planned_north_m": 15.0}
            self.write("unit", unit, tag=tag, row_id=ROW, slot_number=slot, design_id=DESIGN, **place)
        self.event("placed", PLACED)

    def write(self, kind: str, record: str | None = None, *, bases: dict[str, list[str]] | None = None, visit: str | None = None, **fields: Any) -> str:
        """Write and send an entry. Returns the record's id."""
        self.made += 1
        record = record or record_id(f"made {self.made}")
        private = {"k": "ab" * 16} if kind.endswith("_private") else {}
        known = {name: [self.heads[record, name]] for name in fields if (record, name) in self.heads}
        entry = self.lane.write(kind, record, fields, b=known if bases is None else bases, y=visit, **private)
        self.heads |= {(record, name): entry for name in fields}
        reply = receive(self.db, self.lane.body(self.sent + 1), CATALOGUE, lambda: LEAD, lambda: self.lane.now_ms)
        assert [ack[2] for ack in reply["acks"]] == ["ok"] * len(reply["acks"]), reply["acks"]
        self.sent = len(self.lane.texts)
        return record

    def check(self, at: str, unit: str = UNIT, visit: str | None = None, **fields: Any) -> str:
        return self.write("unit_check", visit=visit, **{"unit_id": unit, "checked_at": at, "found_state": "seen", **fields})

    def event(self, event: str, at: str, unit: str = UNIT) -> str:
        return self.write("unit_event", unit_id=unit, event=event, event_at=at)

    def tapes(self, at: str, east_m: float, north_m: float, unit: str = UNIT, sigma_m: float = 0.03) -> str:
        ranges = {}
        for n, (label, (mark_east_m, mark_north_m)) in enumerate(MARKS.items(), 1):
            ranges[f"mark_{n}_id"] = record_id(label)
            ranges[f"range_{n}_m"] = round(((east_m - mark_east_m) ** 2 + (north_m - mark_north_m) ** 2) ** 0.5, 3)
        return self.write("position_fix", of_kind="unit", of_id=unit, fixed_at=at, method="tapes", tape_sigma_m=sigma_m, **ranges)

    def typed(self, at: str, east_m: float, north_m: float, sigma_m: float | None = 0.03, method: str = "typed", **more: Any) -> str:
        told = {} if sigma_m is None else {"sigma_m": sigma_m}
        return self.write("position_fix", of_kind="unit", of_id=UNIT, fixed_at=at, method=method, east_m=east_m, north_m=north_m, **told, **more)

    def decide(self, flag_id: str, decision: str, at: str, reason: str = "Seen on site with the crew.") -> str:
        return self.write("flag_decision", flag_id=flag_id, decision=decision, reason=reason, decided_at=at)

    def flags(self, rule: str | None = None, now: datetime = NOW) -> list[dict[str, Any]]:
        """All flags but what is overdue, or those of one rule."""
        found = list_flags(self.db, SITE, now, all=True)
        return [flag for flag in found if (flag["rule"] == rule if rule else flag["rule"] != "overdue")]

    def flag(self, rule: str) -> dict[str, Any]:
        (found,) = self.flags(rule)
        return found

    def stored(self) -> list[str]:
        return sorted(json.dumps(row, sort_keys=True) for row in self.db.query("SELECT * FROM flag"))
