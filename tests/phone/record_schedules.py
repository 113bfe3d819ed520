"""
Records storms for the phone in the browser: what the model's phones did, drew at random, sent, heard and became.

Run `python tests/phone/record_schedules.py` after a change to the protocol; the file it writes is committed. Requests
are kept as hashes: the phone must make the same bytes. Lines that are no text are left out, for a browser's phone writes
text.
"""

from __future__ import annotations

import gzip
import json
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "sync")]

from tests.sync.invariants import check_invariants  # noqa: E402
from tests.sync.model_phone import MERGES, SINCE, ModelPhone, fold, short_hash, to_json  # noqa: E402
from tests.sync.purge_storm import PurgingStorm, purging_ops  # noqa: E402
from tests.sync.storm import BROKEN, Storm, random_ops  # noqa: E402

SCHEDULES = 200
OPS = 60
FILE = ROOT / "tests" / "storm_schedules" / "schedules.json.gz"
TEXTS = [text.decode() for text in BROKEN if b"\xff" not in text]


def state_of(phone: ModelPhone) -> list[Any]:
    """What must be equal after each step: the lanes with each entry's state and stamp, the cursor, the clock."""
    lanes = [
        [lane_id, [[line.entry_id, line.ch, line.state, line.eff if line.state == "taken" else None] for line in lane]]
        for lane_id, lane in sorted(phone.lanes.items())
    ]
    return [phone.lane, lanes, phone.cursor, f"{phone.hlc[0]:012x}{phone.hlc[1]:04x}", phone.newest, phone.offset_ms]


def fold_of(phone: ModelPhone) -> list[Any]:
    """Each field's value and the other values it disagrees with, sorted."""
    return sorted([*cell, value, list(others)] for cell, (value, _, others) in fold(phone.entries()).items())



class RecordedPhone(ModelPhone):
    """A model phone that writes its steps into `steps`."""

    steps: list[list[Any]]
    number: int

    def random_hex(self, bits: int) -> str:
        drawn = super().random_hex(bits)
        self.drawn.append(drawn)
        return drawn

    def __init__(self, *parts: Any) -> None:
        self.drawn: list[str] = []
        super().__init__(*parts)

    def note(self, word: str, *what: Any) -> None:
        now_ms = self.clock() + self.skew_ms
        self.steps.append([word, self.number, now_ms, self.drawn, *what])
        self.drawn = []

    def new_lane(self) -> None:
        """What is played is the app of today, which begins no lane without a key."""
        self.is_old = self.is_old and not self.lanes
        super().new_lane()

    def upgrade(self) -> None:
        super().upgrade()
        self.note("upgrade")

    def edit(self, kind: str, record_id: str, fields: dict[str, Any], **envelope: Any) -> None:
        super().edit(kind, record_id, fields, **envelope)
        self.note("edit", kind, record_id, self.site, fields, self.lanes[self.lane][-1].entry_id)

    def scribble(self, text: bytes) -> None:
        super().scribble(text)
        self.note("scribble", TEXTS.index(text.decode()))

    def request(self, lane_id: str, batch: int = 50, want: int = 50) -> bytes:
        body = super().request(lane_id, batch, want)
        self.note("request", lane_id, batch, want, short_hash(body))
        return body

    def response(self, lane_id: str, reply: dict[str, Any]) -> bool:
        again = super().response(lane_id, reply)
        self.note("response", lane_id, reply, again, short_hash(to_json(state_of(self))))
        return again


class RecordedStorm(Storm):
    """A storm that numbers its phones and keeps their steps."""

    phone_type = RecordedPhone

    def __init__(self, seed: int) -> None:
        self.steps: list[list[Any]] = []
        super().__init__(seed)

    def add(self, phone: ModelPhone, device: Any) -> None:
        assert isinstance(phone, RecordedPhone)
        source = getattr(phone, "number", None)
        phone.steps, phone.number = self.steps, len({step[1] for step in self.steps if step[0] in ("new", "copy")})
        if source is None:
            phone.note("new", phone.is_old)
        else:
            phone.drawn = []
            phone.note("copy", source)
        super().add(phone, device)

    def broken(self, number: int, which: int) -> None:
        text = TEXTS[which % len(TEXTS)].encode()
        self.phone(number).scribble(text)
        self.ever_held.add(self.phone(number).broken[-1])


class RecordedPurgingStorm(RecordedStorm, PurgingStorm):
    """The same, in which records are purged."""


def record(seed: int) -> dict[str, Any]:
    storm = RecordedPurgingStorm(seed) if seed % 2 else RecordedStorm(seed)
    storm.run(purging_ops(seed, OPS) if seed % 2 else random_ops(seed, OPS))
    storm.calm()
    ends = [[phone.number, [fold_of(phone), state_of(phone)]] for phone in storm.phones]
    check_invariants(storm)
    return {"seed": seed, "steps": storm.steps, "ends": ends}


def main() -> None:
    made = {"texts": TEXTS, "merges": MERGES, "since": SINCE, "schedules": [record(seed) for seed in range(SCHEDULES)]}
    data = json.dumps(made, ensure_ascii=False, separators=(",", ":")).encode()
    FILE.parent.mkdir(exist_ok=True)
    FILE.write_bytes(gzip.compress(data, 9, mtime=0))
    steps = sum(len(one["steps"]) for one in made["schedules"])
    print(f"{SCHEDULES} schedules, {steps} steps, {len(data)} bytes, {FILE.stat().st_size} in the file")


if __name__ == "__main__":
    main()
