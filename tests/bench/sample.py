"""The same lines written directly and sent through `receive`: what differs in the tables."""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path

from sqlite_utils import Database

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme, create_programme
from fieldlog.sync.opening import open_programme
from fieldlog.sync.receive import receive
from tests.bench.lanes import BenchLane, body
from tests.bench.story import Shape, begin_ms
from tests.bench.write_programme import Cast, write_programme

MOST_LINES = 500
"""Lines a phone sends at once."""

NOW_MS = 1_790_000_000_000


@dataclass(frozen=True)
class Sample:
    """`differing`: {table: rows that stand in one and not in the other}; `received_s`: seconds in `receive`."""

    entries: int
    held: int
    flags: int
    differing: dict[str, int]
    received_s: float


def rows_that_differ(folder: Path, shape: Shape) -> Sample:
    """Write a programme of this shape into two folders, by both ways, and compare."""
    folder.mkdir(exist_ok=True)
    write_programme(folder / "direct", shape, NOW_MS)
    create_programme(folder / "received", "Ten years").close()
    received = open_programme(folder / "received", CATALOGUE, NOW_MS)
    began = time.perf_counter()
    _send(received.db(), shape)
    took = time.perf_counter() - began
    direct = Programme(folder / "direct")
    tables = ["log", "tray", "disagreement", "flag", *CATALOGUE.kinds]
    differing = {table: len(_rows(direct.db(), table) ^ _rows(received.db(), table)) for table in tables}
    entries, held, flags = (
        received.db().conn.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in ("log", "tray", "flag")
    )
    direct.close()
    received.close()
    return Sample(entries, held, flags, {table: count for table, count in differing.items() if count}, took)


def _send(db: Database, shape: Shape) -> None:
    chains: dict[str, str] = {}
    for lane in Cast(db, shape, begin_ms(shape, NOW_MS)).story():
        lines = lane.taken_over()
        for start in range(0, len(lines), MOST_LINES):
            part = lines[start : start + MOST_LINES]
            reply = receive(db, body(lane, part, chains.get(lane.lane_id, ""), part[-1].at_ms), CATALOGUE, lambda lane=lane: lane.device, lambda part=part: part[-1].at_ms)
            chains[lane.lane_id] = part[-1].ch
            _all_answered(lane, reply, len(part))


def _all_answered(lane: BenchLane, reply: dict[str, object], count: int) -> None:
    acks = reply["acks"]
    assert reply["err"] is None and isinstance(acks, list) and len(acks) == count, (lane.lane_id, reply["err"])


def _rows(db: Database, table: str) -> set[tuple[object, ...]]:
    """A table's rows; when the server got a line is its own affair."""
    names = [row[1] for row in db.conn.execute(f'PRAGMA table_info("{table}")').fetchall() if row[1] != "received_at"]
    quoted = ", ".join(f'"{name}"' for name in names)
    return set(db.conn.execute(f'SELECT {quoted} FROM "{table}"').fetchall())
