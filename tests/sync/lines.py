"""Writing lines as a phone does, for tests: a lane that numbers, stamps and chains what it is told."""

from __future__ import annotations

import json
import uuid
from typing import Any

from tests.sync.model_phone import link, short_hash, to_json

START_MS = 1_790_000_000_000


REQUIRED = {
    "site": {
        "name": "Alder Spit", "lat_deg": 32.03, "lon_deg": -80.92, "zone": "America/New_York", "tide_station": "noaa/8670870",
        "level_datum": "MLLW", "work_level_m": 0.5, "route_low_level_m": 0.9, "walk_out_min": 12, "muster_min": 10,
        "least_usable_min": 45,
    },
    "unit": {"tag": "A018", "row_id": "00000000-0000-4000-8000-0000000000aa", "slot_number": 1},
    "row": {"name": "A", "order_number": 1, "bed_level_m": 0.3, "level_datum": "MLLW"},
    "person": {"display_name": "Ines Calder"},
    "sighting": {"found": "seen", "seen_at": "2026-09-22T06:12:00Z"},
}  # fmt: skip
"""What a record of a kind must have when it is made, for tests that care for something else of it."""


def record_id(name: str) -> str:
    """A record's id, the same for the same name."""
    return str(uuid.uuid5(uuid.NAMESPACE_URL, name))


class Lane:
    """One device's numbered lines."""

    def __init__(self, name: str = "lane", site_id: str | None = None, person_id: str | None = None) -> None:
        self.lane_id = short_hash(name.encode())
        self.site_id, self.person_id = site_id, person_id
        self.key: str | None = None
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
            "mine": len(self.texts), "cursor": None, "want": 500, "now": self.now_ms,
            **({} if self.key is None else {"key": self.key}), **header,
        }  # fmt: skip
        return b"".join(text + b"\n" for text in [json.dumps(said).encode(), *self.texts[first - 1 :]])


def keyed_lane(name: str, site_id: str | None = None, person_id: str | None = None) -> Lane:
    """A lane whose name is the hash of its key, as phones make them now."""
    lane = Lane(name, site_id, person_id)
    lane.key = short_hash(f"key of {name}".encode())
    lane.lane_id = "k-" + short_hash(f"fieldlog lane {lane.key}".encode())
    return lane
