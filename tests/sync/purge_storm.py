"""Storms in which records are purged: for ever, up to a moment, or down to one entry."""

from __future__ import annotations

import random
from typing import Any

from fieldlog.store import write
from fieldlog.sync.carried_purges import carry_purges, own_lanes
from fieldlog.sync.forgetting import write_purge
from fieldlog.sync.own_lane import Own, write_own
from fieldlog.sync.purges import purged_record
from fieldlog.sync.replay import replay
from tests.sync.storm import Storm, StormServer, random_ops

PURGES = 4
"""So many are drawn into a schedule."""


class PurgingServer(StormServer):
    """A restore carries over what was purged, as the product's does."""

    def restore(self, now_ms: int) -> None:
        if self.snapshot is None:
            return
        lanes = own_lanes(self.db.conn)
        super().restore(now_ms)
        with write(self.db):
            carry_purges(self.db, self.catalogue, lanes, now_ms)
            replay(self.db, self.catalogue)


class PurgingStorm(Storm):
    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        self.server = PurgingServer()

    def purge(self, kind: str, record: int, way: str) -> None:
        db, record_id, keeps = self.server.db, f"r{record}", None
        with write(db):
            if way == "keep one" and purged_record(db, kind, record_id) is None:
                (keeps,) = write_own(db, self.server.catalogue, [Own(kind, record_id, self.phones[0].site, {"note": "kept"})], self.now_ms)
            write_purge(db, self.server.catalogue, [(kind, record_id, keeps)], "person", None, self.now_ms, is_for_ever=way != "until now")


def purging_ops(seed: int, length: int) -> list[tuple[Any, ...]]:
    ops, rnd = random_ops(seed, length), random.Random(f"purges {seed}")
    for _ in range(PURGES):
        purge = ("purge", rnd.choice(["quadrat", "private_note"]), rnd.randrange(3), rnd.choice(["for ever", "until now", "keep one"]))
        ops.insert(rnd.randrange(len(ops)), purge)
    return ops
