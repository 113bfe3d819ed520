"""A phone's lane for the bench: it numbers, stamps and chains what it writes, fast enough for a million entries."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from random import Random
from typing import Any

from fieldlog.access.devices import Device
from fieldlog.sync.log import Entry

COUNTERS = 0x7FFF
_COMPACT = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode


@dataclass
class Written:
    """One line, what it says, and the lane's chain after it. `held`: the server will not take it."""

    entry: Entry
    line: bytes
    ch: str
    at_ms: int
    held: bool


@dataclass
class BenchLane:
    """
    One device's numbered lines.

    Args:
        key: 32 hex digits that only the phone knows; they name the lane.
        site_id: the site its entries name where they name no other.
    """

    key: str
    device: Device | None
    token: str
    person_id: str | None
    site_id: str | None
    number: int = 0
    ch: str = ""
    top_id: str = ""
    pending: list[Written] = field(default_factory=list)
    lane_id: str = ""
    _ticks: int = 0

    def __post_init__(self) -> None:
        self.lane_id = "k-" + hashlib.sha256(f"fieldlog lane {self.key}".encode()).hexdigest()[:32]

    def write(
        self, at_ms: int, kind: str, record_id: str, fields: dict[str, Any], visit_id: str | None = None,
        bases: dict[str, list[str]] | None = None, *, everywhere: bool = False, held: bool = False,
    ) -> str:  # fmt: skip
        """
        An entry as the next line, stamped `at_ms`, milliseconds since 1970 UTC. Returns its entry id.

        `everywhere`: it belongs to the whole programme, to no site.
        """
        self.number += 1
        self._ticks = (self._ticks + 1) % COUNTERS
        stamp = f"{at_ms:012x}{self._ticks:04x}"
        site_id = None if everywhere else self.site_id
        line = _COMPACT({
            "v": 1, "d": self.lane_id, "n": self.number, "s": stamp, "u": self.person_id, "t": kind, "r": record_id, "g": site_id,
            "y": visit_id, "f": fields, "b": bases or {}, "o": [0, "UTC", 0],
        }).encode()  # fmt: skip
        self.top_id = hashlib.sha256(line).hexdigest()[:32]
        self.ch = hashlib.sha256((self.ch + self.top_id).encode()).hexdigest()[:32]
        entry = Entry(
            self.top_id, self.lane_id, self.number, stamp, kind, record_id, fields, bases or {}, self.person_id, site_id, visit_id,
            None, None,
        )  # fmt: skip
        self.pending.append(Written(entry, line, self.ch, at_ms, held))
        return self.top_id

    def taken_over(self) -> list[Written]:
        """What waits to be sent; none waits after."""
        lines, self.pending = self.pending, []
        return lines


def body(lane: BenchLane, lines: list[Written], before: str, now_ms: int, **header: Any) -> bytes:
    """A sync body with these lines; `before` is the lane's chain before the first of them."""
    first = lines[0].entry.number if lines else lane.number + 1
    said = {
        "p": 1, "rid": f"r{now_ms}", "d": lane.lane_id, "key": lane.key, "from": first, "prev": before,
        "mine": first + len(lines) - 1, "cursor": None, "want": 1, "now": now_ms, **header,
    }  # fmt: skip
    return b"".join(text + b"\n" for text in [_COMPACT(said).encode(), *(one.line for one in lines)])


def new_id(at_ms: int, dice: Random) -> str:
    """A UUIDv7 as the app's: ordered by time, and otherwise drawn."""
    when, drawn = f"{at_ms:012x}", f"{dice.getrandbits(72):018x}"
    return f"{when[:8]}-{when[8:]}-7{drawn[:3]}-{'89ab'[dice.getrandbits(2)]}{drawn[3:6]}-{drawn[6:]}"
