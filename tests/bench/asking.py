"""A phone of a written programme that asks in this process, and what a request of its costs in SQLite's own counts."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from random import Random
from typing import Any

from fieldlog.access.devices import device_of_token
from fieldlog.pack.marks import pack_tag
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.sync.opening import open_programme
from fieldlog.sync.receive import receive
from tests.bench.lanes import BenchLane, body, new_id
from tests.bench.story import iso

STEP = 20
"""Instructions of SQLite's machine a count."""


@dataclass(frozen=True)
class Cost:
    steps: int
    statements: int


class Asking:
    """A phone of a written programme, asking in this process."""

    def __init__(self, folder: Path, role: str) -> None:
        told: dict[str, Any] = json.loads((folder / "bench.json").read_text())
        site = told["sites"][0]
        kept = told["lead"] if role == "lead" else site["phones"][0]
        self.now_ms, self.units, self.dice, self.cursor = told["now_ms"], site["units"], Random(1), None
        self.db = open_programme(folder, CATALOGUE, self.now_ms).db()
        self.device = device_of_token(self.db, kept["token"])
        self.lane = BenchLane(kept["key"], self.device, kept["token"], kept["person_id"], site["site_id"])
        self.lane.number, self.lane.ch = self.db.conn.execute(
            "SELECT number, ch FROM log WHERE lane_id = ? ORDER BY number DESC LIMIT 1", (self.lane.lane_id,)
        ).fetchone()
        while self.sync(want=2000)["more"]:
            pass

    def check(self, count: int) -> None:
        for unit_id in self.units[:count]:
            self.now_ms += 1000
            fields = {"unit_id": unit_id, "checked_at": iso(self.now_ms), "found_state": "seen", "body_grade": 0, "tilt_deg": 2}
            self.lane.write(self.now_ms, "unit_check", new_id(self.now_ms, self.dice), fields)

    def fix(self, count: int) -> None:
        """Positions as typed, on a visit of their own."""
        visit_id = new_id(self.now_ms, self.dice)
        self.lane.write(self.now_ms, "visit", visit_id, {"purpose": "monitoring", "started_at": iso(self.now_ms)}, visit_id)
        for unit_id in self.units[:count]:
            self.now_ms += 1000
            fields = {"of_kind": "unit", "of_id": unit_id, "fixed_at": iso(self.now_ms), "method": "typed", "east_m": 1.0, "north_m": 2.0, "sigma_m": 0.05}
            self.lane.write(self.now_ms, "position_fix", new_id(self.now_ms, self.dice), fields, visit_id)

    def sync(self, want: int = 500) -> dict[str, Any]:
        lines = self.lane.taken_over()
        before = self.before if lines else self.lane.ch
        reply = receive(self.db, body(self.lane, lines, before, self.now_ms, cursor=self.cursor, want=want), CATALOGUE, lambda: self.device, lambda: self.now_ms)
        assert reply["err"] is None and all(ack[2] == "ok" for ack in reply["acks"])
        self.cursor, self.before = reply["cursor"], self.lane.ch
        pack_tag(self.db, CATALOGUE, self.device, datetime.fromtimestamp(self.now_ms / 1000, UTC).date())
        return reply

    def cost(self, work: Callable[[], object]) -> Cost:
        """Of a work that has been done once before, so that nothing is prepared for the first time."""
        steps, statements = [0], [0]

        def step() -> int:
            steps[0] += STEP
            return 0

        def stated(_text: str) -> None:
            statements[0] += 1

        self.db.conn.set_progress_handler(step, STEP)
        self.db.conn.set_trace_callback(stated)
        work()
        self.db.conn.set_progress_handler(None, 0)
        self.db.conn.set_trace_callback(None)
        return Cost(steps[0], statements[0])

    def tables_scanned(self, work: Callable[[], object]) -> set[str]:
        """The tables that a work reads from end to end, by SQLite's own plan of each statement."""
        said: list[str] = []
        self.db.conn.set_trace_callback(said.append)
        work()
        self.db.conn.set_trace_callback(None)
        # The newest of a table in the order of its key is one row.
        queries = {text for text in said if text.lstrip().upper().startswith(("SELECT", "UPDATE", "DELETE")) and not text.endswith("LIMIT 1")}
        steps = [row[3] for text in queries for row in self.db.conn.execute(f"EXPLAIN QUERY PLAN {text}")]
        return {step.split()[1] for step in steps if step.startswith("SCAN ") and " INDEX " not in step and "(" not in step}
