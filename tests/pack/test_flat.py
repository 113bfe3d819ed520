"""What a sync with nothing new costs does not grow with the past, and neither do the tag, the newest looks and the gravest flags."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from sqlite_utils import Database

from a_phone import Phone
from fieldlog.access.devices import device_of_id
from fieldlog.flags.histories import last_looks
from fieldlog.flags.reading import packed_flags
from fieldlog.pack.marks import pack_tag
from fieldlog.pack.parts import day_of
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import write
from tests.sync.lines import record_id

SITE, UNITS = record_id("site"), [record_id(f"unit {n}") for n in range(5)]
GROWS = ("log", "tray", "flag", "unit_check")
"""The tables that grow with the years."""

NEARLY = 1.02
"""Steps differ a little by the depth of an index's tree."""


class Cost:
    """Statements and steps of SQLite's machine that a piece of work took on one connection."""

    def __init__(self, db: Database, work: Callable[[], object]) -> None:
        self.statements: list[str] = []
        self.steps = 0
        db.conn.set_trace_callback(self.statements.append)
        db.conn.set_progress_handler(self._step, 1)
        try:
            work()
        finally:
            db.conn.set_trace_callback(None)
            db.conn.set_progress_handler(None, 0)
        self.plans = [
            (statement, row[3])
            for statement in self.statements
            if re.match(r"\s*(SELECT|INSERT|UPDATE|DELETE)", statement)
            for row in db.conn.execute(f"EXPLAIN QUERY PLAN {statement}").fetchall()
        ]

    def _step(self) -> int:
        self.steps += 1
        return 0

    def scans(self) -> list[tuple[str, str]]:
        return [(statement, plan) for statement, plan in self.plans if re.match(rf"SCAN ({'|'.join(GROWS)})\b", plan)]


def add_years(db: Database, count: int, begin: int) -> None:
    """Rows as years of work leave them: lines of the log, held lines, checks of the same units, settled and open flags."""
    (top,) = db.conn.execute("SELECT coalesce(max(seq), 0) FROM log").fetchone()
    lane, numbers = "f" * 32, range(begin, begin + count)
    with write(db):
        db.conn.execute("INSERT OR IGNORE INTO device(device_id, token_sha256, role, name, made_at) VALUES ('old', 'x', 'crew', 'x', 0)")
        db.conn.execute("INSERT OR IGNORE INTO lane(lane_id, device_id, top, top_id) VALUES (?, 'old', 0, '')", (lane,))
        db.conn.executemany(
            """INSERT INTO log(seq, entry_id, lane_id, number, eff, line, kind, record_id, site_id, privacy, h, ch, received_at)
               VALUES (?, ?, ?, ?, '0001', x'7b7d', 'unit_check', ?, ?, 'crew', ?, '', 0)""",
            [(top + 1 + n - begin, f"{n:032x}", lane, n, record_id(f"check {n}"), SITE, f"{n:032x}") for n in numbers],
        )
        db.conn.executemany(
            "INSERT INTO tray(lane_id, number, entry_id, line, why, sentence, ch, received_at) VALUES (?, ?, ?, '', 'x', 'x', '', 0)",
            [(lane, 10**6 + n, f"t{n:031x}") for n in numbers],
        )
        db.conn.executemany(
            "INSERT INTO unit_check(record_id, site_id, unit_id, found_state, checked_at) VALUES (?, ?, ?, 'seen', ?)",
            [(record_id(f"check {n}"), SITE, UNITS[n % len(UNITS)], f"{2000 + n % 25}-03-01T06:00:00Z") for n in numbers],
        )
        db.conn.executemany(
            "INSERT INTO flag VALUES (?, 'leaning', ?, 'unit', ?, ?, 'A1: leaning.', '{}', '2020-01-01T06:00:00Z', NULL, ?, ?, NULL, NULL)",
            [
                (f"{n:032x}", ("act", "look")[n % 2], UNITS[0], SITE, *(("open", None) if n % 3 else ("settled", "2020-02-01T06:00:00Z")))
                for n in numbers
            ],
        )


@pytest.fixture(params=["lead", "crew"])
def phone(request, client_of, now, programme) -> Phone:
    lead = Phone(client_of("lead"), int(now().timestamp() * 1000))
    for n in range(20):
        site = SITE if n == 0 else record_id(f"site {n}")
        lead.note("site", site, site, name=f"Site {n}", lat_deg=42.0, lon_deg=-71.0, check_every_days=30)
    for n, unit in enumerate(UNITS):
        lead.note("unit", unit, SITE, tag=f"A{n}")
    lead.sync()
    return Phone(client_of(request.param, None if request.param == "lead" else SITE), lead.now_ms)


def nothing_new(phone: Phone, db: Database) -> Cost:
    phone.purges = True  # as today's app says; one of before is asked for the count of purges too
    while phone.sync().json["more"]:
        pass
    return Cost(db, phone.sync)


def test_a_sync_with_nothing_new_costs_the_same_after_years(phone, app) -> None:
    db = app.extensions["programme"].db()
    add_years(db, 300, 0)
    early = nothing_new(phone, db)
    add_years(db, 6000, 300)
    late = nothing_new(phone, db)
    assert early.scans() == late.scans() == []
    assert len(late.statements) == len(early.statements) <= 25
    assert early.steps > 100, "the steps are counted"
    assert late.steps <= early.steps * NEARLY


@pytest.mark.parametrize("what", ["tag", "newest looks", "flags"])
def test_what_a_pack_reads_costs_the_same_after_years(phone, app, now, what: str) -> None:
    db = app.extensions["programme"].db()
    device = device_of_id(db, phone.client.device_id)
    work = {
        "tag": lambda: pack_tag(db, CATALOGUE, device, day_of(now())),
        "newest looks": lambda: list(last_looks(db, SITE)),
        "flags": lambda: packed_flags(db, SITE, datetime(2026, 11, 25, tzinfo=UTC)),
    }[what]
    add_years(db, 600, 0)
    early = Cost(db, work)
    add_years(db, 6000, 600)
    late = Cost(db, work)
    assert early.scans() == late.scans() == []
    assert len(late.statements) == len(early.statements)
    counted = 10 * 4000 if what == "flags" else 0
    assert late.steps <= early.steps * NEARLY + counted, "open flags are counted on the index, the gravest of them alone are read"
