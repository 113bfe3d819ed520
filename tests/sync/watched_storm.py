"""
One programme in a storm with hostile devices: two sites, honest phones of each role, old and new, five hostile devices, and
faults; the watcher looks at each slice and each answer, and `verdict` says what must be true when it is quiet.
"""

from __future__ import annotations

import json
import random
import sqlite3
import uuid
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device, device_of_id
from fieldlog.migrations import migrations
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import set_setting, write
from fieldlog.sync import tables
from fieldlog.sync.receive import IsOver, receive
from tests.sync.hostile_device import WHOLE, A, B, Hostile, named
from tests.sync.model_phone import ModelPhone
from tests.sync.storm import CLOCKS_MS, START_MS
from tests.sync.watcher import PRIVATE, Rights, Watcher

HONEST: list[tuple[str, str | None, bool]] = [("crew", A, False), ("crew", B, True), ("desk", A, False), ("lead", None, False), ("crew", A, True)]
"""Role, site, and whether the app is of 0.2.0."""

HOSTILE: list[tuple[str, list[str] | None]] = [("crew", [A]), ("reader", [A]), ("lead", [A]), ("desk", [B]), ("crew", None)]
WRITES = {"crew": ["sighting", "sighting", "unit_check", "person"], "desk": ["person", "sign_in_private", "person_private"],
          "lead": ["site", "species", "unit", "sighting", "person", "flag_decision"]}  # fmt: skip
CHANGES: dict[str, list[dict[str, Any]]] = {
    "sighting": [{"note": "one"}, {"note": "two"}, {"count": 4}], "unit_check": [{"tilt_deg": 40}, {"body_grade": 3}],
    "person": [{"minor": True}, {"display_name": "Ada"}], "sign_in_private": [{"medical_note": "asthma"}],
    "person_private": [{"phone": "555 0100"}], "species": [{"common_name": "Oyster"}], "unit": [{"tag": "B007"}],
    "site": [{"allowance_m": 0.3}, {"walk_out_min": 20}], "flag_decision": [{"decision": "accepted"}],
}  # fmt: skip
WEIGHTS = {
    "write": 40, "sync": 40, "attack": 10, "rerole": 2, "snapshot": 2, "restore": 1, "clone": 1, "clock": 2,
    "time": 5, "upgrade": 1, "rejoin": 0.7, "late": 3,
}  # fmt: skip


class Died(BaseException):
    """The server's process ends here."""


class WatchedStorm:
    """The programme; `rights` are those of each device as they were given last."""

    def __init__(self, seed: int) -> None:
        self.rnd = random.Random(seed)
        self.now_ms = START_MS
        self.db = self.opened(None)
        self.snapshot_: sqlite3.Connection | None = None
        self.restores = 0
        self.rights: dict[str, Rights] = {}
        self.owner: dict[str, Any] = {}
        self.told: set[str] = set()
        self.ever: dict[tuple[str, int], bytes] = {}
        self.guessable: set[tuple[str, str]] = set()
        self.makers: dict[str, Any] = {}
        self.late_bodies: list[tuple[Any, str, bytes]] = []
        self.watcher = Watcher(self)
        self.device_of: dict[int, str] = {}
        self.phones: list[ModelPhone] = []
        self.base: dict[int, tuple[str, list[str] | None]] = {}
        self.people: dict[int, Any] = {}
        for role, site, is_old in HONEST:
            phone = ModelPhone(self.rnd, lambda: self.now_ms, frozenset(PRIVATE), is_old)
            phone.site = site
            self.add(phone, phone, role, None if site is None else [site])
        self.hostile = [Hostile(self.rnd, role, sites) for role, sites in HOSTILE]
        for device in self.hostile:
            for lane in device.lanes:
                self.owner[lane] = device
            self.join(device, device, device.role, device.sites)

    def opened(self, source: sqlite3.Connection | None) -> Database:
        db = Database(sqlite3.connect(":memory:", isolation_level=None))
        if source is not None:
            source.backup(db.conn)
        migrations.apply(db)
        with write(db):
            tables.follow(db, CATALOGUE)
        return db

    # Devices.

    def add(self, phone: ModelPhone, person: Any, role: str, sites: list[str] | None) -> None:
        self.phones.append(phone)
        self.base[id(phone)] = (role, sites)
        self.people[id(phone)] = person
        self.join(phone, person, role, sites)

    def join(self, who: Any, person: Any, role: str, sites: list[str] | None) -> None:
        device_id = uuid.UUID(int=self.rnd.getrandbits(128)).hex
        self.device_of[id(who)] = device_id
        self.db.execute(
            "INSERT INTO device(device_id, token_sha256, role, sites, name, made_at) VALUES (?, ?, ?, ?, 'a phone', 0)",
            (device_id, device_id, role, None if sites is None else json.dumps(sorted(sites))),
        )
        self.rights[device_id] = Rights(person, role, sites)

    def give(self, who: Any, role: str, sites: list[str] | None, revoked: bool = False) -> None:
        device_id = self.device_of[id(who)]
        self.db.execute(
            "UPDATE device SET role = ?, sites = ?, revoked_at = ? WHERE device_id = ?",
            (role, None if sites is None else json.dumps(sorted(sites)), 1 if revoked else None, device_id),
        )
        self.rights[device_id] = Rights(self.rights[device_id].person, role, sites, revoked)

    def is_known(self, who: Any) -> bool:
        return bool(self.db.execute("SELECT 1 FROM device WHERE device_id = ?", (self.device_of[id(who)],)).fetchone())

    # A request.

    def deliver(self, who: Any, lane: str, body: bytes, meanwhile: bool = False, dies_after: int | None = None) -> dict[str, Any] | None:
        if b"\n" not in body:
            return None
        if not self.is_known(who):
            self.join(who, self.rights[self.device_of[id(who)]].person, *self.base.get(id(who), (getattr(who, "role", "crew"), getattr(who, "sites", None))))
        device_id = self.device_of[id(who)]
        asked = 0
        most = self.rnd.choice([1, 3, 7, 10**9])

        def asker() -> Device:
            nonlocal asked
            asked += 1
            self.watcher.look(device_id)
            if dies_after is not None and asked > dies_after:
                raise Died
            if meanwhile and asked > 1 and self.rnd.random() < 0.3:
                self.between(who)
            return device_of_id(self.db, device_id)

        def by_lines(_db: Database) -> IsOver:
            return lambda lines: lines >= most

        try:
            reply = receive(self.db, body, CATALOGUE, asker, lambda: self.now_ms, by_lines)
        except Died:
            self.watcher.seen = min(self.watcher.seen, self.db.execute("SELECT coalesce(max(seq), 0) FROM log").fetchone()[0])
            return None
        self.watcher.look(device_id)
        self.watcher.answered(self.rights[device_id], device_id, lane, reply, body.count(b"\n") > 1)
        return reply

    def between(self, who: Any) -> None:
        """Between two slices others send, and rights change."""
        if self.rnd.random() < 0.4:
            self.attack(self.rnd.randrange(9))
        self.rerole(self.rnd.randrange(9))
        for phone in self.phones:
            if phone is not who and self.rnd.random() < 0.3:
                self.exchange(phone, phone.lane)

    def exchange(self, phone: ModelPhone, lane: str, fault: str = "ok", where: int = 0, want: int = 50) -> bool:
        body = phone.request(lane, self.rnd.choice([1, 3, 50]) if fault != "calm" else 50, want)
        for own in phone.lanes:
            self.owner.setdefault(own, self.people[id(phone)])
        if fault == "late":
            self.late_bodies.append((phone, lane, body))
        if fault in ("lost", "late"):
            return True
        if fault == "crash":
            self.deliver(phone, lane, body, dies_after=where % 3)
            return True
        reply = self.deliver(phone, lane, body[:where] if fault == "cut" else body, meanwhile=fault == "busy")
        if reply is None or fault == "noreply" or lane not in phone.lanes:
            return True
        return phone.response(lane, reply)

    # What happens.

    def run(self, length: int) -> None:
        for word in self.rnd.choices(list(WEIGHTS), list(WEIGHTS.values()), k=length):
            getattr(self, word)(self.rnd.randrange(9))

    def write(self, number: int) -> None:
        phone = self.phones[number % len(self.phones)]
        role, _sites = self.base[id(phone)]
        kind = self.rnd.choice(WRITES[role])
        site = None if kind == "species" else phone.site or self.rnd.choice([A, B])
        # Nobody makes a person whom somebody else makes too: their names are drawn at random.
        known = sorted({said["r"] for _, _, said in phone.entries() if said["t"] == "person" and said["g"] == site})
        which = self.rnd.randrange(3) if kind != "person" else self.rnd.getrandbits(48)
        is_new_name = not phone.is_old and self.rnd.random() < 0.7
        older = str(uuid.uuid5(uuid.NAMESPACE_URL, f"{kind} {site} {which}"))
        record = site if kind == "site" else named(site, which) if is_new_name else older
        if kind == "person" and known and self.rnd.random() < 0.6:
            record = self.rnd.choice(known)
        assert record is not None
        if kind == "flag_decision":
            flags = [row[0] for row in self.db.execute("SELECT flag_id FROM flag WHERE site_id = ?", (site,))]
            self.edit(phone, kind, record, WHOLE[kind] | ({"flag_id": self.rnd.choice(flags)} if flags else {}), site)
        elif any(said["t"] == kind and said["r"] == record for _, _, said in phone.entries()):
            is_removal = self.rnd.random() < 0.1
            self.edit(phone, kind, record, {"_deleted": True} if is_removal else dict(self.rnd.choice(CHANGES[kind])), site)
            if is_removal and role != "lead":
                phone.made.pop()
        else:
            more = {"unit_id": named(site, which)} if kind == "unit_check" else {}
            if kind == "person":
                more |= {"minor": False}
                self.makers.setdefault(record, self.people[id(phone)])
            self.edit(phone, kind, record, WHOLE[kind] | more, site)

    def edit(self, phone: ModelPhone, kind: str, record: str, fields: dict[str, Any], site: str | None) -> None:
        phone.edit(kind, record, fields, g=site)
        self.owner.setdefault(phone.lane, self.people[id(phone)])
        # A person's name is drawn at random; those of visits and turns can be reckoned by anybody.
        if record[14] == "8" and kind != "person":
            self.guessable.add((kind, record))

    def sync(self, number: int) -> None:
        phone = self.phones[number % len(self.phones)]
        fault = self.rnd.choice(["ok", "ok", "ok", "busy", "lost", "noreply", "cut", "late", "crash"])
        for lane in list(phone.lanes):
            if lane in phone.lanes:
                self.exchange(phone, lane, fault, self.rnd.randrange(800), self.rnd.choice([1, 5, 50]))

    def late(self, _number: int) -> None:
        if self.late_bodies:
            self.deliver(*self.late_bodies.pop(self.rnd.randrange(len(self.late_bodies))))

    def attack(self, number: int) -> None:
        device = self.hostile[number % len(self.hostile)]
        body, lane = device.body(self)
        reply = self.deliver(device, lane, body, meanwhile=False)
        if reply is not None:
            device.cursor = reply["cursor"]

    def rerole(self, number: int) -> None:
        device = self.hostile[number % len(self.hostile)]
        role, sites = self.rnd.choice([(device.role, device.sites)] * 2 + [("reader", [B]), ("crew", [B]), ("lead", [B])])
        if self.is_known(device):
            self.give(device, role, sites, self.rnd.random() < 0.3)

    def clone(self, number: int) -> None:
        if len(self.phones) < 8:
            source = self.phones[number % len(self.phones)]
            copied = source.copy()
            self.phones.append(copied)
            self.base[id(copied)], self.people[id(copied)] = self.base[id(source)], self.people[id(source)]
            self.device_of[id(copied)] = self.device_of[id(source)]

    def clock(self, number: int) -> None:
        self.phones[number % len(self.phones)].skew_ms = self.rnd.choice(CLOCKS_MS)

    def time(self, _number: int) -> None:
        self.now_ms += self.rnd.randrange(1, 10**7)

    def upgrade(self, number: int) -> None:
        self.phones[number % len(self.phones)].upgrade()

    def rejoin(self, number: int) -> None:
        phone = self.phones[number % len(self.phones)]
        self.join(phone, self.people[id(phone)], *self.base[id(phone)])

    def snapshot(self, _number: int) -> None:
        self.snapshot_ = sqlite3.connect(":memory:")
        self.db.conn.backup(self.snapshot_)

    def restore(self, _number: int) -> None:
        if self.snapshot_ is None:
            return
        self.db.conn.close()
        self.db = self.opened(self.snapshot_)
        self.restores += 1
        set_setting(self.db, "epoch", f"{self.restores:032x}")
        self.watcher.seen = self.db.execute("SELECT coalesce(max(seq), 0) FROM log").fetchone()[0]
        self.watcher.in_tray = set(self.db.execute("SELECT lane_id, number FROM tray").fetchall())
        self.watcher.solved = {(lane, number): by for lane, number, by in self.db.execute("SELECT lane_id, number, resolved_by FROM tray")}
        for device_id, role, sites, revoked_at in self.db.execute("SELECT device_id, role, sites, revoked_at FROM device").fetchall():
            was = self.rights[device_id]
            self.rights[device_id] = Rights(was.person, role, None if sites is None else json.loads(sites), revoked_at is not None)

    def calm(self) -> None:
        """All that is under way arrives, rights are as they were given; then rounds until nobody has more to say."""
        for late in self.late_bodies:
            self.deliver(*late)
        for phone in self.phones:
            if self.is_known(phone):
                self.give(phone, *self.base[id(phone)])
        quiet = 0
        for _ in range(300):
            again = False
            for phone in self.phones:
                for lane in list(phone.lanes):
                    if lane in phone.lanes:
                        again |= self.exchange(phone, lane, "calm")
            quiet = 0 if again else quiet + 1
            if quiet > 2:
                return
        raise AssertionError("the phones do not come to rest")
