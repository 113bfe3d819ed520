"""
Storms: long random schedules of phones, faults and restores against the product's `receive`.

Faults: a lost request, a lost reply, a reply held and delivered later, a request cut at any byte, doubled or
delivered late, a server that dies at any line, a restore from a snapshot, a phone copied onto another, a phone lost,
clocks an hour, a day and ten years off, hostile lines, a server that learns a field, a phone that joins anew with its old lanes.
"""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Iterable
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.migrations import migrations
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.kind import Kind
from fieldlog.store import set_setting, write
from fieldlog.sync import tables
from fieldlog.sync.apply import release_for
from fieldlog.sync.receive import receive
from fieldlog.sync.release import FOR_A_NEWER_SERVER
from tests.sync.model_phone import ModelPhone
from tests.sync.storm_kinds import LEARNED, PRIVATE, Crash, catalogue, fields_of

BROKEN = [
    b"{not json", b"[]", b'{"d":"other"}', b"x" * 70_000, b"[" * 20_000, '{"d":1}'.encode("utf-16"), b"\xef\xbb\xbf{}",
    b'{"f":{"cover_pct":NaN}}', b'{"a":1,"a":2}', b'{"n":9007199254740993}', b'{"note":"\\ud800"}', b'{"x":1e999}',
    b"\x00", b"\xff",
]  # fmt: skip
HOUR_MS = 3_600_000
CLOCKS_MS = [0, -24 * HOUR_MS, HOUR_MS, 10 * 365 * 24 * HOUR_MS]
FAULTS = ["ok", "ok", "lost", "noreply", "cut", "twice", "late", "hold", "crash"]
START_MS = 1_790_000_000_000
WEIGHTS = {
    "edit": 40, "delete": 4, "broken": 3, "sync": 36, "deliver_late": 4, "snapshot": 3, "restore": 2, "clone": 1,
    "clock": 2, "time": 5, "lose": 0.5, "late_reply": 3, "learn": 1, "shade": 8, "rejoin": 1, "upgrade": 1, "newcomer": 2,
}  # fmt: skip


def random_ops(seed: int, length: int) -> list[tuple[Any, ...]]:
    """A schedule, the same for the same seed."""
    rnd = random.Random(seed)
    made: list[tuple[Any, ...]] = []
    for word in rnd.choices(list(WEIGHTS), list(WEIGHTS.values()), k=length):
        phone, record = rnd.randrange(6), rnd.randrange(3)
        private = rnd.random() < 0.25
        rest: dict[str, tuple[Any, ...]] = {
            "edit": (phone, private, record, rnd.choice(["cover_pct", "count", "note"]), rnd.randrange(4)),
            "delete": (phone, private, record),
            "broken": (phone, rnd.randrange(len(BROKEN))),
            "sync": (phone, rnd.choice(FAULTS), rnd.randrange(800)),
            "shade": (phone, record, rnd.randrange(10)),
            "clone": (phone,), "lose": (phone,), "late_reply": (phone,), "rejoin": (phone,), "upgrade": (phone,),
            "newcomer": (rnd.choice(["lead", "crew"]),),
            "clock": (phone, rnd.choice(CLOCKS_MS)), "time": (rnd.randrange(1, 10**7),),
        }  # fmt: skip
        made.append((word, *rest.get(word, ())))
    return made


def unsent(phone: ModelPhone, lane_id: str) -> bool:
    """Whether a lane has a line that nobody has answered for, and no older lane that must come before it."""
    lanes = list(phone.lanes)
    states = [[line.state for line in phone.lanes[name]] for name in lanes[: lanes.index(lane_id) + 1]]
    return "phone" in states[-1] and not any("phone" in lane for lane in states[:-1])


class StormServer:
    """The product's server on a database in memory, which can die at a line, be snapshotted and be restored."""

    def __init__(self, others: Iterable[Kind] = ()) -> None:
        self.others = list(others)
        self.db = self._connect()
        self.catalogue = catalogue(learned=False, others=self.others)
        migrations.apply(self.db)
        with write(self.db):
            tables.follow(self.db, self.catalogue)
        self.snapshot: sqlite3.Connection | None = None
        self.restores = 0

    @staticmethod
    def _connect() -> Database:
        return Database(sqlite3.connect(":memory:", isolation_level=None))

    def know(self, device: Device) -> None:
        self.db.execute(
            "INSERT OR IGNORE INTO device(device_id, token_sha256, role, name, made_at) VALUES (?, ?, ?, ?, 0)",
            (device.device_id, device.device_id, device.role, "a phone"),
        )

    def sync(self, body: bytes, device: Device, now_ms: int, crash_at: int | None = None) -> dict[str, Any] | None:
        """The reply, or None where the server died on the way. A cut header is refused, and the phone keeps all."""
        self.know(device)
        known: Catalogue = self.catalogue
        if crash_at is not None:
            known = catalogue(learned=LEARNED in self.catalogue.kinds["quadrat"].columns(), crash_at=crash_at, others=self.others)
        try:
            return receive(self.db, body, known, lambda: device, lambda: now_ms)
        except Crash:
            return None

    def learn(self, now_ms: int) -> None:
        self.catalogue = catalogue(learned=True, others=self.others)
        self.open(now_ms)

    def open(self, now_ms: int) -> None:
        with write(self.db):
            tables.follow(self.db, self.catalogue)
            release_for(self.db, self.catalogue, now_ms, FOR_A_NEWER_SERVER)

    def take_snapshot(self) -> None:
        self.snapshot = sqlite3.connect(":memory:")
        self.db.conn.backup(self.snapshot)

    def restore(self, now_ms: int) -> None:
        if self.snapshot is None:
            return
        self.db.conn.close()
        self.db = self._connect()
        self.snapshot.backup(self.db.conn)
        self.restores += 1
        set_setting(self.db, "epoch", f"{self.restores:032x}")
        self.open(now_ms)


class Storm:
    """One schedule: phones of a lead and two of the crew, a server, and what the network did not deliver."""

    phone_type = ModelPhone
    other_kinds: Iterable[Kind] = ()

    def __init__(self, seed: int) -> None:
        self.rnd = random.Random(seed)
        self.now_ms = START_MS
        self.server = StormServer(self.other_kinds)
        self.phones: list[ModelPhone] = []
        self.devices: dict[int, Device] = {}
        for number, role in enumerate(("lead", "crew", "lead")):
            phone = self.phone_type(self.rnd, lambda: self.now_ms, frozenset({PRIVATE}), number == 2)
            self.add(phone, Device(f"device-{number}", role, None, None, False))
        self.late: list[tuple[bytes, Device]] = []
        self.held: list[tuple[ModelPhone, str, dict[str, Any]]] = []
        self.ever_held: set[str] = set()

    def add(self, phone: ModelPhone, device: Device) -> None:
        self.phones.append(phone)
        self.devices[id(phone)] = device

    def device(self, phone: ModelPhone) -> Device:
        return self.devices[id(phone)]

    def run(self, ops: list[tuple[Any, ...]]) -> None:
        for word, *rest in ops:
            getattr(self, word)(*rest)

    def phone(self, number: int) -> ModelPhone:
        return self.phones[number % len(self.phones)]

    def kind(self, phone: ModelPhone, private: bool) -> str:
        return PRIVATE if private and self.device(phone).role == "lead" else "quadrat"

    def edit(self, number: int, private: bool, record: int, name: str, value: int) -> None:
        phone = self.phone(number)
        ms, counter = phone.hlc
        latest = max((self.now_ms, 0), (ms, counter + 1) if counter < 0x7FFF else (ms + 1, 0))
        phone.edit(self.kind(phone, private), f"r{record}", fields_of(name, value))
        # Whatever it learned before of a clock that was set since.
        assert phone.skew_ms > 0 or phone.hlc <= latest, "a phone whose clock is not ahead stamps ahead of the time"

    def delete(self, number: int, private: bool, record: int) -> None:
        phone = self.phone(number)
        phone.edit(self.kind(phone, private), f"r{record}", {"_deleted": True})
        if self.device(phone).role != "lead":
            # Held where another phone made the record.
            phone.made.pop()

    def shade(self, number: int, record: int, value: int) -> None:
        phone = self.phone(number)
        phone.edit("quadrat", f"r{record}", {LEARNED: value})
        self.ever_held.add(phone.lanes[phone.lane][-1].entry_id)

    def broken(self, number: int, which: int) -> None:
        self.phone(number).scribble(BROKEN[which])
        self.ever_held.add(self.phone(number).broken[-1])

    def clock(self, number: int, skew_ms: int) -> None:
        self.phone(number).skew_ms = skew_ms

    def time(self, ms: int) -> None:
        self.now_ms += ms

    def lose(self, number: int) -> None:
        if len(self.phones) > 2:
            self.phones.remove(self.phone(number))

    def clone(self, number: int) -> None:
        if len(self.phones) < 5:
            self.add(self.phone(number).copy(), self.device(self.phone(number)))

    def newcomer(self, role: str) -> None:
        """A phone with nothing on it joins, and may hear of the season first."""
        if len(self.phones) < 6:
            phone = self.phone_type(self.rnd, lambda: self.now_ms, frozenset({PRIVATE}))
            self.add(phone, Device(f"device-{self.rnd.random()}", role, None, None, False))

    def rejoin(self, number: int) -> None:
        """The phone lost its token and joined again: another device, the same lanes."""
        phone = self.phone(number)
        self.devices[id(phone)] = Device(f"device-{self.rnd.random()}", self.device(phone).role, None, None, False)

    def upgrade(self, number: int) -> None:
        self.phone(number).upgrade()

    def snapshot(self) -> None:
        self.server.take_snapshot()

    def restore(self) -> None:
        self.server.restore(self.now_ms)

    def learn(self) -> None:
        self.server.learn(self.now_ms)

    def deliver_late(self) -> None:
        if self.late:
            self.deliver(*self.late.pop(self.rnd.randrange(len(self.late))))

    def late_reply(self, _number: int) -> None:
        if self.held:
            phone, lane_id, reply = self.held.pop(self.rnd.randrange(len(self.held)))
            if phone in self.phones and lane_id in phone.lanes:
                phone.response(lane_id, reply)

    def deliver(self, body: bytes, device: Device, crash_at: int | None = None) -> dict[str, Any] | None:
        if b"\n" not in body:
            return None  # cut inside the header: the server refuses it, the phone hears nothing of use
        return self.server.sync(body, device, self.now_ms, crash_at)

    def sync(self, number: int, fault: str, where: int) -> None:
        self.sync_phone(self.phone(number), fault, where)

    def sync_phone(self, phone: ModelPhone, fault: str, where: int) -> None:
        device = self.device(phone)
        for lane_id in list(phone.lanes):
            body = phone.request(lane_id, self.rnd.choice([1, 3, 50]), self.rnd.choice([1, 5, 50]))
            if fault == "late":
                self.late.append((body, device))
            if fault in ("lost", "late"):
                continue
            if fault == "crash":
                self.deliver(body, device, where % 4)
                continue
            reply = self.deliver(body[:where] if fault == "cut" else body, device)
            if fault == "twice":
                reply = self.deliver(body, device)
            if fault == "hold" and reply:
                self.held.append((phone, lane_id, reply))
            elif fault != "noreply" and reply and lane_id in phone.lanes:
                phone.response(lane_id, reply)

    def calm(self) -> None:
        """All that is under way arrives; then rounds without a fault until nobody has more to say."""
        for body, device in self.late:
            self.deliver(body, device)
        self.server.learn(self.now_ms)
        for quiet in range(60):
            again = False
            for phone in self.phones:
                for lane_id in list(phone.lanes):
                    if lane_id in phone.lanes:
                        # A server may answer for a part of a body: at first each is answered for in parts.
                        reply = self.deliver(phone.request(lane_id, 50 if quiet else 3), self.device(phone))
                        assert reply is not None
                        goes_on = phone.response(lane_id, reply)
                        assert goes_on or not unsent(phone, lane_id), "a phone rests while it could send"
                        again |= goes_on or phone.past is not None
            if not again and quiet > 3:
                return
        raise AssertionError("the phones do not come to rest")
