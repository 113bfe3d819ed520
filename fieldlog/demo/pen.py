"""A phone that writes: entries as lines of its lane, and the body that sends them."""

from __future__ import annotations

import json
import uuid
from dataclasses import dataclass, field
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.records.catalogue import Catalogue
from fieldlog.sync.clock import START, tick
from fieldlog.sync.log import chain, line_id
from fieldlog.sync.receive import receive

Heads = dict[tuple[str, str, str], list[str]]
"""(kind, record id, field): the ids of the writes that the next one there has seen."""


@dataclass
class Pen:
    """One device's lane as the phone keeps it; `unsent` are the lines since the last sync."""

    device: Device
    person_id: str | None
    lane_id: str
    skew_ms: int = 0
    number: int = 0
    ch: str = ""
    stamp: str = START
    unsent: list[bytes] = field(default_factory=list)

    def write(
        self, catalogue: Catalogue, kind: str, record_id: str, fields: dict[str, Any], heads: Heads, at_ms: int,
        offset: tuple[int, str], site_id: str | None, visit_id: str | None,
    ) -> str:  # fmt: skip
        """
        Write one entry.

        Args:
            heads: what this phone has seen; a field without one gets no base.
            at_ms: the true time; the phone's own clock is `skew_ms` ahead of it.
            offset: minutes east of UTC, and the zone's name.

        Returns:
            The entry's id.
        """
        self.number += 1
        self.stamp = tick(at_ms + self.skew_ms, self.stamp)
        bases = {name: heads[kind, record_id, name] for name in fields if (kind, record_id, name) in heads}
        line = {
            "v": 1, "d": self.lane_id, "n": self.number, "s": self.stamp, "u": self.person_id, "t": kind, "r": record_id,
            "g": site_id, "y": visit_id, "f": fields, "b": bases, "o": [*offset, self.skew_ms],
        }  # fmt: skip
        if catalogue.kinds[kind].salted:
            line["k"] = uuid.uuid5(uuid.NAMESPACE_OID, f"{self.lane_id}|{self.number}").hex
        text = json.dumps(line, ensure_ascii=False, separators=(",", ":")).encode()
        self.unsent.append(text)
        return line_id(text)

    def sync(self, db: Database, catalogue: Catalogue, now_ms: int) -> None:
        """Send what is unsent, as the phone does in the evening; must be taken whole."""
        first = self.number - len(self.unsent) + 1
        header = {
            "p": 1, "rid": f"demo-{self.number}", "d": self.lane_id, "from": first, "prev": self.ch, "mine": self.number,
            "cursor": None, "want": 1, "now": now_ms + self.skew_ms, "app": None,
        }  # fmt: skip
        body = b"".join(line + b"\n" for line in (json.dumps(header).encode(), *self.unsent))
        reply = receive(db, body, catalogue, lambda: self.device, lambda: now_ms)
        if reply["err"] is not None:
            raise ValueError(f"The demo's lane {self.lane_id} was answered {reply['err']}.")
        for line in self.unsent:
            self.ch = chain(self.ch, line_id(line))
        self.unsent.clear()
