"""One site, a device of each role, and a lane's body given to `receive`."""

from __future__ import annotations

from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.sync.receive import receive
from tests.sync.lines import Lane, record_id

SITE, OTHER_SITE = record_id("Alder Spit"), record_id("Heron Bar")
INES, UNIT, ROW = record_id("Ines"), record_id("unit"), record_id("row")
LEAD = Device("lead-device", "lead", None, None, False)
CREW = Device("crew-device", "crew", frozenset({SITE}), None, False)
DESK = Device("desk-device", "desk", frozenset({SITE}), None, False)
READER = Device("reader-device", "reader", frozenset({SITE}), None, False)
YEAR_MS = 365 * 86_400_000


def take(db: Database, lane: Lane, device: Device = CREW, first: int = 1, **header: Any) -> dict[str, Any]:
    return receive(db, lane.body(first, **header), CATALOGUE, lambda: device, lambda: lane.now_ms)


def verdicts(reply: dict[str, Any]) -> list[str]:
    return ["taken" if ack[2] == "ok" else ack[4] for ack in reply["acks"]]


def check_of(**fields: Any) -> dict[str, Any]:
    return {"unit_id": UNIT, "checked_at": "2026-09-22T06:12:00Z", "found_state": "seen", **fields}
