"""
A joined device that lies in every member of header and line.

It holds a valid token and knows, as the worst case, every line, number, id and hash that the server ever held, private ones
too; not the others' tokens, nor the keys of their lanes, nor an older phone's lane before its first line was sent.
"""

from __future__ import annotations

import json
import random
from typing import Any

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.names import site_check
from tests.sync.model_phone import link, short_hash

A, B = "aaaaaaaa-0000-4000-8000-00000000000a", "bbbbbbbb-0000-4000-8000-00000000000b"
PERSON = "cccccccc-0000-4000-8000-00000000000c"
WHOLE: dict[str, dict[str, Any]] = {
    "sighting": {"found": "seen", "seen_at": "2026-09-22T06:12:00Z"},
    "person": {"display_name": "Ines Calder"},
    "sign_in_private": {"sign_in_id": PERSON},
    "person_private": {"person_id": PERSON},
    "species": {"scientific_name": "Ostrea"},
    "unit": {"tag": "A018", "row_id": PERSON, "slot_number": 1},
    "unit_check": {"unit_id": PERSON, "checked_at": "2026-09-22T06:12:00Z", "found_state": "seen"},
    "site": {
        "name": "Alder Spit", "lat_deg": 32.03, "lon_deg": -80.92, "zone": "UTC", "tide_station": "noaa/8670870",
        "level_datum": "MLLW", "work_level_m": 0.5, "route_low_level_m": 0.9, "walk_out_min": 12, "muster_min": 10,
        "least_usable_min": 45,
    },
    "flag_decision": {"flag_id": "0" * 32, "decision": "settled", "reason": "forged", "decided_at": "2026-09-22T06:12:00Z"},
}  # fmt: skip
"""What makes a record of each kind that the storm writes."""

FORGED: dict[str, dict[str, Any]] = {
    "sighting": {"note": "forged"}, "person": {"minor": False, "waiver_valid": True, "display_name": "forged"},
    "sign_in_private": {"medical_note": "forged"}, "person_private": {"phone": "forged"}, "species": {"common_name": "forged"},
    "unit": {"tag": "X"}, "unit_check": {"tilt_deg": 80}, "site": {"allowance_m": 0, "walk_out_min": 0},
    "flag_decision": {"reason": "forged again"},
}  # fmt: skip


def named(site: str | None, number: int) -> str:
    """A record's name that says of which site it is."""
    rest = f"{number:012x}800080000000"
    digits = rest + site_check(site, rest)
    return f"{digits[:8]}-{digits[8:12]}-{digits[12:16]}-{digits[16:20]}-{digits[20:]}"


class Hostile:
    """One hostile device; `lanes` are its own."""

    def __init__(self, rnd: random.Random, role: str, sites: list[str] | None) -> None:
        self.rnd, self.role, self.sites = rnd, role, sites
        self.key = f"{rnd.getrandbits(128):032x}"
        self.keyed = "k-" + short_hash(f"fieldlog lane {self.key}".encode())
        self.plain = f"{rnd.getrandbits(128):032x}"
        self.lanes = {self.keyed, self.plain}
        self.cursor: Any = None

    def body(self, storm: Any) -> tuple[bytes, str]:
        """A body and the lane that it names."""
        rnd, db = self.rnd, storm.db
        strange = sorted(lane for lane in storm.told if lane not in self.lanes)
        lane = rnd.choice([self.keyed] * 4 + [self.plain] * 4 + strange + [f"{rnd.getrandbits(128):032x}"])
        if lane not in storm.owner:
            self.lanes.add(lane)
            storm.owner[lane] = self
        stored = [line for _, line in sorted(db.execute(
            "SELECT number, line FROM log WHERE lane_id = ? UNION ALL SELECT number, line FROM tray WHERE lane_id = ?", (lane, lane)
        ).fetchall())]  # fmt: skip
        known = stored or [line for (of, _), line in sorted(storm.ever.items()) if of == lane]
        chains = [""]
        for line in known:
            chains.append(link(chains[-1], short_hash(line)))
        number = rnd.choice([1] + [len(stored) + 1] * 5 + [rnd.randrange(1, len(stored) + 3)])
        lines = known[number - 1 :] if number <= len(known) and rnd.random() < 0.7 else []
        for _ in range(rnd.choice([0, 1, 2, 3])):
            lines = [*lines, self.forged(storm, lane, number + len(lines))]
        is_right = number - 1 < len(chains) and rnd.random() < 0.9
        last = db.execute("SELECT seq, h FROM log ORDER BY seq DESC LIMIT 1").fetchone()
        header = {
            "p": 1, "rid": "x", "d": lane, "from": number,
            "prev": chains[number - 1] if is_right else rnd.choice(["", f"{rnd.getrandbits(128):032x}"]),
            "mine": rnd.choice([0, 0, len(known), 10**6]), "want": rnd.choice([1, 500, 2000]), "now": 0,
            "cursor": rnd.choice([None, None, [0, ""], self.cursor, list(last) if last else None]),
            "person": rnd.choice(["x", None]), "season": rnd.choice([True, False]),
        }  # fmt: skip
        key = rnd.choice([None, self.key, f"{rnd.getrandbits(128):032x}"] + [self.key] * (20 if lane == self.keyed else 0))
        if key:
            header["key"] = key
        return b"".join(line + b"\n" for line in [json.dumps(header).encode(), *lines]), lane

    def forged(self, storm: Any, lane: str, number: int) -> bytes:
        rnd, db = self.rnd, storm.db
        kind = rnd.choice(["sighting", "sighting", "unit_check", *WHOLE])
        names = sorted({(row[0], row[1]) for row in db.execute("SELECT kind, record_id FROM log")} | storm.guessable)
        same = [name for name in names if name[0] == kind] or names
        record = rnd.choice(same)[1] if same and rnd.random() < 0.8 else rnd.choice([named(rnd.choice([A, B]), 999), named(None, 998)])
        if kind == "site":
            record = rnd.choice([A, B])
        fields = dict(rnd.choice([WHOLE[kind], FORGED[kind], WHOLE[kind] | FORGED[kind], {"_deleted": rnd.choice([True, False])}]))
        for name in fields:
            if rnd.random() < 0.1:
                fields[name] = None
            elif name == "unit_id" and rnd.random() < 0.8:
                fields[name] = rnd.choice([other for of, other in names if of == "unit"] or [PERSON])
            elif name == "flag_id":
                fields[name] = rnd.choice([row[0] for row in db.execute("SELECT flag_id FROM flag")] or ["0" * 32])
        heads = [row[0] for row in db.execute("SELECT entry_id FROM log WHERE kind = ? AND record_id = ?", (kind, record))]
        tray = [row[0] for row in db.execute("SELECT entry_id FROM tray")]
        of = [row[0] for row in db.execute("SELECT site_id FROM log WHERE kind = ? AND record_id = ? LIMIT 1", (kind, record))]
        said = {
            "v": 1, "d": rnd.choice([lane] * 30 + ["another-lane"]), "n": rnd.choice([number] * 30 + [number + 1, 1]),
            "s": rnd.choice(["0" * 15 + "1", f"{storm.now_ms:012x}{rnd.randrange(100):04x}", f"{storm.now_ms + 10**12:012x}0000", "0" * 16]),
            "u": rnd.choice([None, None, None, PERSON]), "t": kind, "r": record, "g": rnd.choice([A, B, None, *of * 4]), "f": fields,
            "b": dict.fromkeys(fields, heads[-60:]) if rnd.random() < 0.5 else {},
        }  # fmt: skip
        if rnd.random() < (0.8 if CATALOGUE.kinds[kind].privacy in ("leader", "medical") else 0.1):
            said["k"] = f"{rnd.getrandbits(128):032x}"
        if tray and rnd.random() < 0.3:
            said["fixes"] = rnd.choice(tray)
        return json.dumps(said).encode()
