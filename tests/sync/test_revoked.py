"""What a phone whose access was ended may still leave: five megabytes in all, however it parts them."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import create_programme
from fieldlog.sync.opening import open_programme
from fieldlog.sync.receive import receive
from tests.sync.lines import START_MS, Lane, record_id

FIVE_MB = 5 * 1024 * 1024
SITE = record_id("Alder Spit")
LOST = Device("lost-device", "crew", frozenset({SITE}), None, True)


@pytest.fixture
def db(tmp_path: Path) -> Database:
    create_programme(tmp_path, "Alder Spit").close()
    db = open_programme(tmp_path, CATALOGUE, START_MS).db()
    db.execute("INSERT INTO device(device_id, token_sha256, role, sites, name, made_at, revoked_at) VALUES (?, '', 'crew', ?, 'a phone', 0, 1)", [LOST.device_id, f'["{SITE}"]'])
    return db


def kept_bytes(db: Database) -> int:
    return db.execute("SELECT coalesce(sum(length(line)), 0) FROM tray").fetchone()[0]


def full_lane(name: str, lines: int) -> Lane:
    lane = Lane(name, SITE)
    for number in range(lines):
        lane.write("unit_check", record_id(f"{name} {number}"), {"unit_id": record_id("unit"), "note": "x" * 60_000})
    return lane


def test_the_limit_of_a_revoked_phone_counts_over_all_its_requests(db: Database) -> None:
    lane = full_lane("lost", 95)
    first = 1
    for _ in range(6):
        body = lane.body(first).split(b"\n")
        reply = receive(db, b"\n".join([*body[:21], b""]), CATALOGUE, lambda: LOST, lambda lane=lane: lane.now_ms)
        first = reply["top"][0] + 1
    assert FIVE_MB - 61_000 < kept_bytes(db) <= FIVE_MB


def test_a_new_lane_does_not_give_a_revoked_phone_new_room(db: Database) -> None:
    for name in ("lost", "again", "and again"):
        lane = full_lane(name, 45)
        receive(db, lane.body(), CATALOGUE, lambda: LOST, lambda lane=lane: lane.now_ms)
    assert FIVE_MB - 61_000 < kept_bytes(db) <= FIVE_MB
