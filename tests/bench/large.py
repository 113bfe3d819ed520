"""A large programme under the shipped server: phones that go on in their lanes, and floors in copies of the same file."""

from __future__ import annotations

import gzip
import json
import shutil
import sqlite3
import statistics
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

from fieldlog.access.devices import device_of_token, scope_of
from fieldlog.store import Programme
from fieldlog.sync.send import cursor_mark
from tests.bench.bench_server import Server
from tests.bench.lanes import BenchLane, Written, body, new_id
from tests.bench.story import iso

MOST_TRIES_S = 300.0
BUSY_WAIT_S = 0.2
"""How long a phone waits that was told 503, where the answer names no time."""

QUIET_S = 1.5
"""After the start the server makes its first backup; what is measured waits for the disk to be quiet."""



@dataclass(frozen=True)
class Reply:
    """What a phone waited for, seconds, and what it was told."""

    took_s: float
    status: int
    said: dict[str, Any]


class Phone:
    """A crew phone or the lead's, of a written programme, that goes on where the programme ends."""

    def __init__(self, server: Server, kept: dict[str, Any], site: dict[str, Any], dice: Random) -> None:
        # The bench never asks what the server thinks of the device: it has the token.
        self.lane = BenchLane(kept["key"], None, kept["token"], kept["person_id"], site["site_id"])
        self.server, self.units, self.dice = server, site["units"], dice
        self.cursor: list[Any] | None = None
        self.refusals = 0
        self.cookie = f"fieldlog={kept['token']}"
        file = sqlite3.connect(f"file:{server.folder / 'fieldlog.sqlite'}?mode=ro", uri=True)
        found = file.execute(
            """SELECT number, ch FROM (SELECT number, ch FROM log WHERE lane_id = :lane UNION ALL
               SELECT number, ch FROM tray WHERE lane_id = :lane) ORDER BY number DESC LIMIT 1""",
            {"lane": self.lane.lane_id},
        ).fetchone()
        file.close()
        self.lane.number, self.lane.ch = found or (0, "")
        self.before = self.lane.ch

    def checks(self, count: int) -> None:
        """So many checks of units drawn at random, written now, waiting to be sent."""
        at_ms = int(time.time() * 1000)
        for unit_id in self._drawn(count):
            self.lane.write(at_ms, "unit_check", new_id(at_ms, self.dice), {
                "unit_id": unit_id, "checked_at": iso(at_ms), "found_state": "seen", "body_grade": 0, "stance_grade": 0, "toe_grade": 0,
                "cover_grade": 1, "exposed_height_mm": self.dice.randint(200, 400), "tilt_deg": self.dice.randint(0, 4),
                "scour_depth_mm": 10, "crack_width_mm": 0, "rocking": False,
            })  # fmt: skip

    def sightings(self, count: int) -> None:
        """So many sightings, the same way."""
        at_ms = int(time.time() * 1000)
        for unit_id in self._drawn(count):
            self.lane.write(at_ms, "sighting", new_id(at_ms, self.dice), {
                "taxon": "Ribbed mussel", "found": "seen", "count": self.dice.randint(1, 200), "life_stage": "adult",
                "sureness": "sure", "near_unit_id": unit_id, "seen_at": iso(at_ms),
            })  # fmt: skip

    def _drawn(self, count: int) -> list[str]:
        drawn: list[str] = []
        while len(drawn) < count:
            drawn += self.dice.sample(self.units, min(len(self.units), count - len(drawn)))
        return drawn

    def ask(self, lines: list[Written], want: int = 500) -> Reply:
        """One request with these lines."""
        sent = body(self.lane, lines, self.before, int(time.time() * 1000), cursor=self.cursor, want=want)
        began = time.perf_counter()
        status, _, said = self.post(sent)
        return Reply(time.perf_counter() - began, status, said)

    def post(self, sent: bytes) -> tuple[int, dict[str, str], dict[str, Any]]:
        """(status, headers, what it says) of the answer to a sync body."""
        status, headers, data = self.server.call("POST", "/api/sync", sent, Cookie=self.cookie, **{"Accept-Encoding": "gzip"})
        return status, headers, unpacked(data, headers)

    def push(self, want: int = 500) -> tuple[float, list[Written]]:
        """
        Send what waits until the last receipt, as often as it takes.

        Returns:
            Seconds, and the lines, all of them taken.
        """
        lines = left = self.lane.taken_over()
        began = time.perf_counter()
        while left:
            reply = self.ask(left, want)
            if reply.status == 503:
                self.refusals += 1
                time.sleep(BUSY_WAIT_S)
            else:
                assert reply.status == 200 and reply.said["err"] is None, (reply.status, str(reply.said)[:300])
                assert all(ack[2] == "ok" for ack in reply.said["acks"]), reply.said["acks"][0]
                taken = len(reply.said["acks"])
                self.before = left[taken - 1].ch if taken else self.before
                left = left[taken:]
                self.cursor = reply.said["cursor"]
            assert time.perf_counter() - began < MOST_TRIES_S, "the server does not take the lines"
        return time.perf_counter() - began, lines

    def nothing(self) -> Reply:
        """A sync with nothing to send; the cursor moves on."""
        reply = self.ask([])
        assert reply.status == 200, reply.said
        self.cursor = reply.said["cursor"]
        return reply

    def stand_at_the_end(self) -> None:
        """Be a phone that has everything: its cursor is the end of the log. A lead would pull a million entries for it."""
        programme = Programme(self.server.folder)
        db = programme.db()
        device = device_of_token(db, self.lane.token)
        assert device is not None
        (top,) = db.conn.execute("SELECT max(seq) FROM log").fetchone()
        self.cursor = [top, cursor_mark(db, top, scope_of(device), None)]
        programme.close()

    def catch_up(self) -> tuple[int, int]:
        """Pull until there is no more: (entries, bytes unpacked)."""
        entries = size = 0
        more = True
        while more:
            reply = self.ask([], 2000)
            assert reply.status == 200, reply.said
            self.cursor, more = reply.said["cursor"], reply.said["more"]
            entries += len(reply.said["pull"])
            size += len(json.dumps(reply.said["pull"]))
        return entries, size

    def get(self, path: str, **headers: str) -> tuple[float, int, bytes, dict[str, str]]:
        """(seconds, status, body as it travels, headers) of a page, gzip asked for."""
        began = time.perf_counter()
        status, told, data = self.server.call("GET", path, Cookie=self.cookie, **{"Accept-Encoding": "gzip", **headers})
        return time.perf_counter() - began, status, data, told


def unpacked(data: bytes, headers: dict[str, str]) -> Any:
    """The JSON of an answer."""
    return json.loads(gzip.decompress(data) if headers.get("content-encoding") == "gzip" else data)


class Floor:
    """
    Bare SQLite on a copy of the same file: the same rows of log and record table into the same tables and indexes,
    synchronous FULL, as many commits.
    """

    def __init__(self, folder: Path, copy: Path) -> None:
        self.source = folder / "fieldlog.sqlite"
        copy_database(self.source, copy)
        self.db = sqlite3.connect(copy, isolation_level=None)
        self.db.execute("PRAGMA journal_mode=WAL")
        self.db.execute("PRAGMA synchronous=FULL")
        for (name,) in self.db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            self.db.execute(f'DROP TRIGGER "{name}"')

    def seconds(self, lines: list[Written], commits: int = 1) -> float:
        """Put in what the server made of these lines."""
        kind = lines[0].entry.kind
        log, records = self._rows("log", "entry_id", [one.entry.entry_id for one in lines]), self._rows(kind, "record_id", [one.entry.record_id for one in lines])
        log_marks, record_marks = ", ".join("?" * len(log[0])), ", ".join("?" * len(records[0]))
        each = -(-len(log) // commits)
        began = time.perf_counter()
        for start in range(0, len(log), each):
            self.db.execute("BEGIN IMMEDIATE")
            self.db.executemany(f"INSERT INTO log VALUES ({log_marks})", log[start : start + each])
            self.db.executemany(f'INSERT OR REPLACE INTO "{kind}" VALUES ({record_marks})', records[start : start + each])
            self.db.execute("COMMIT")
        return time.perf_counter() - began

    def _rows(self, table: str, column: str, ids: list[str]) -> list[tuple[Any, ...]]:
        source = sqlite3.connect(f"file:{self.source}?mode=ro", uri=True)
        rows = source.execute(
            f'SELECT * FROM "{table}" WHERE {column} IN (SELECT value FROM json_each(?)) ORDER BY rowid', (json.dumps(ids),)
        ).fetchall()
        source.close()
        assert len(rows) == len(set(ids)), (table, len(rows), len(ids))
        return rows

    def close(self) -> None:
        self.db.close()


def copy_database(source: Path, target: Path) -> None:
    """The database file and what stands beside it, while nobody writes."""
    target.parent.mkdir(parents=True, exist_ok=True)
    for end in ("", "-wal"):
        if Path(f"{source}{end}").exists():
            shutil.copyfile(f"{source}{end}", f"{target}{end}")


@contextmanager
def served(folder: Path) -> Iterator[tuple[Server, dict[str, Any]]]:
    """The shipped server over a written programme, and who is who in it."""
    told = json.loads((folder / "bench.json").read_text())
    server = Server(folder, told["sites"][0]["site_id"])
    try:
        yield server, told
    finally:
        server.stop()


def phone_of(server: Server, told: dict[str, Any], site: int, place: int) -> Phone:
    """A site's crew phone."""
    here = told["sites"][site]
    return Phone(server, here["phones"][place], here, Random(site * 100 + place))


def lead_of(server: Server, told: dict[str, Any], site: int = 0) -> Phone:
    """The lead of the whole programme, writing about one of its sites."""
    return Phone(server, told["lead"], told["sites"][site], Random(7))


def median_ms(work: Callable[[], float], runs: int) -> float:
    """The median of so many runs of a work that tells its own seconds, in milliseconds."""
    return statistics.median(work() for _ in range(runs)) * 1000


def wait_for_backup(server: Server) -> None:
    """Until the backup that a server makes at its start stands, or none comes."""
    began = time.perf_counter()
    folder = server.folder / "backups"
    size = -1
    while time.perf_counter() - began < 120:
        time.sleep(QUIET_S)
        now = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
        if now == size:
            return
        size = now


@contextmanager
def log_kept(path: Path) -> Iterator[None]:
    """Meanwhile the write-ahead log only grows, since a reader looks at its beginning: every commit can be counted."""
    reader = sqlite3.connect(f"file:{path}?mode=ro", uri=True, isolation_level=None)
    reader.execute("BEGIN")
    reader.execute("SELECT count(*) FROM lane").fetchone()
    yield
    reader.close()
