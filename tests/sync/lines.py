"""Writing lines as a phone does, for tests: a lane that numbers, stamps and chains what it is told."""

from __future__ import annotations

import json
import uuid
from typing import Any

from tests.sync.model_phone import link, short_hash, to_json

START_MS = 1_790_000_000_000


def record_id(name: str) -> str:
    """A record's id, the same for the same name."""
    return str(uuid.uuid5(uuid.NAMESPACE_URL, name))


class Lane:
    """One device's numbered lines."""

    def __init__(self, name: str = "lane", site_id: str | None = None, person_id: str | None = None) -> None:
        self.lane_id = short_hash(name.encode())
        self.site_id, self.person_id = site_id, person_id
        self.texts: list[bytes] = []
        self.chain = [""]
        self.now_ms = START_MS

    def add(self, text: bytes) -> str:
        """Any text as the next line. Returns its entry id."""
        self.texts.append(text)
        self.chain.append(link(self.chain[-1], short_hash(text)))
        return short_hash(text)

    def write(self, kind: str, record: str, fields: dict[str, Any], **envelope: Any) -> str:
        """An entry as the next line; `envelope` overrides any member of it. Returns its entry id."""
        self.now_ms += 1000
        said = {
            "v": 1, "d": self.lane_id, "n": len(self.texts) + 1, "s": f"{self.now_ms:012x}0000", "u": self.person_id,
            "t": kind, "r": record, "g": self.site_id, "y": None, "f": fields, "b": {}, "o": [0, "UTC", 0], **envelope,
        }  # fmt: skip
        return self.add(to_json(said))

    def body(self, first: int = 1, **header: Any) -> bytes:
        """A sync body with all lines from number `first` on."""
        said = {
            "p": 1, "rid": "r1", "d": self.lane_id, "from": first, "prev": self.chain[first - 1],
            "mine": len(self.texts), "cursor": None, "want": 500, "now": self.now_ms, **header,
        }  # fmt: skip
        return b"".join(text + b"\n" for text in [json.dumps(said).encode(), *self.texts[first - 1 :]])
