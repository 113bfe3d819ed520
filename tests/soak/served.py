"""The shipped server as its own process on a folder, and model phones that talk to it over HTTP."""

from __future__ import annotations

import http.client
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from fieldlog.access.invitations import invite, join
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.replica.engine import LOCK
from fieldlog.soundness import faults_of
from fieldlog.store import Programme, create_programme
from fieldlog.sync.opening import open_programme
from tests.some_pictures import name_of
from tests.sync.lines import REQUIRED
from tests.sync.model_phone import SITE, ModelPhone

ROOT = Path(__file__).parents[2]
PART_BYTES = 64 * 1024
PATIENCE_S = 60
NOT_NOW = (OSError, http.client.HTTPException)
"""What a killed server looks like from a phone."""


def now_ms() -> int:
    return int(time.time() * 1000)


class Server:
    """`fieldlog serve` on a folder; may be killed and started again, on the same port or another."""

    def __init__(self, folder: Path, *options: str, limit_bytes: int | None = None) -> None:
        self.folder, self.options, self.limit_bytes = folder, options, limit_bytes
        self.port = 0
        self.process: subprocess.Popen[str] | None = None

    def start(self, wait: bool = True) -> None:
        """Start it; `wait` until it says its address."""
        command = [sys.executable, "-m", "fieldlog", "--data", str(self.folder), "serve", "--port", str(self.port), *self.options]
        if self.limit_bytes is not None:
            limits = f"import os, resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, ({self.limit_bytes}, {self.limit_bytes})); "
            command = [sys.executable, "-c", limits + "os.execv(sys.executable, sys.argv[1:])", *command]
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        if wait:
            self.hear_address()

    def hear_address(self) -> None:
        """Wait for the address and keep its port."""
        assert self.process is not None and self.process.stdout is not None
        line = self.process.stdout.readline()
        assert "http" in line, f"the server did not start: {line!r}"
        self.port = int(next(word for word in line.split() if word.startswith("http")).rstrip(";.,").rsplit(":", 1)[1])

    def kill(self) -> None:
        """SIGKILL."""
        self._end(lambda process: process.kill())

    def lose(self) -> None:
        """The machine is gone: the server, the replication beside it, and the disk."""
        engine = int((self.folder / LOCK).read_text())
        self.kill()
        os.kill(engine, signal.SIGKILL)
        shutil.rmtree(self.folder)

    def stop(self) -> None:
        """As Ctrl-C does."""
        self._end(lambda process: process.terminate())

    def _end(self, how: Any) -> None:
        if self.process is not None:
            how(self.process)
            self.process.wait(timeout=PATIENCE_S)
            assert self.process.stdout is not None
            self.process.stdout.close()
            self.process = None


class SowingPhone(ModelPhone):
    """Each entry it writes begins a record of its own, so that nothing is merged and every entry can be counted."""

    def heads(self, kind: str, record_id: str, name: str) -> list[str]:
        """None: the record is new."""
        return []


class WirePhone:
    """A model phone with a token, and the photos it took."""

    def __init__(self, programme: Programme, rnd: random.Random, role: str) -> None:
        code = invite(programme.db(), None, role, None, 1, 24, now_ms()).code
        device, self.token = join(programme.db(), code, f"a {role}'s phone", now_ms())
        self.device_id, self.rnd = device.device_id, rnd
        self.phone = SowingPhone(rnd, now_ms, frozenset())
        self.photos: dict[str, bytes] = {}
        self.sent: set[str] = set()
        self.sowed: set[str] = set()
        self.last = ""

    def set_up_site(self) -> None:
        """The lead's first entry."""
        self.phone.edit("site", SITE, REQUIRED["site"])

    def sow(self) -> None:
        """One sighting of its own record."""
        number = f"{self.rnd.getrandbits(128):032x}"
        record = f"{number[:8]}-{number[8:12]}-4{number[13:16]}-8{number[17:20]}-{number[20:]}"
        fields = {"found": "seen", "taxon": "crab", "seen_at": "2026-11-25T05:00:00Z", "count": self.rnd.randrange(1, 9000)}
        self.phone.edit("sighting", record, fields)
        self.sowed.add(record)

    def take_photo(self) -> None:
        """Some bytes; what they show is no matter here."""
        data = self.rnd.randbytes(self.rnd.randrange(1, 4 * PART_BYTES))
        self.photos[name_of(data)] = data

    def ask(self, port: int, method: str, path: str, data: bytes = b"", **headers: str) -> tuple[int, dict[str, str], bytes]:
        """One request."""
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        try:
            connection.request(method, path, data, {"Cookie": f"fieldlog={self.token}", **headers})
            answer = connection.getresponse()
            body = answer.read()
            self.last = f"{method} {path[:20]}: {answer.status} {body[:400]!r}"
            return answer.status, dict(answer.getheaders()), body
        finally:
            connection.close()

    def sync(self, port: int) -> bool:
        """One round over each lane. Returns whether there is more to say; a refusal that asks to wait is more."""
        again = False
        for lane_id in list(self.phone.lanes):
            if lane_id in self.phone.lanes:
                status, _, body = self.ask(port, "POST", "/api/sync", self.phone.request(lane_id))
                if status != 200:
                    assert status in (409, 429, 503, 507), (status, body[:300])
                    again = True
                    continue
                reply = json.loads(body)
                if reply["reset"]:
                    self.sent.clear()
                self.sent -= set(reply.get("photos", ()))
                again |= self.phone.response(lane_id, reply)
        return again

    def send_photos(self, port: int) -> bool:
        """Send what waits, part after part. Returns whether some is left."""
        for name in sorted(self.photos.keys() - self.sent):
            data, offset = self.photos[name], 0
            while True:
                part = data[offset : offset + PART_BYTES]
                headers = {"Upload-Offset": str(offset), "Upload-Length": str(len(data))}
                status, said, body = self.ask(port, "PATCH", f"/api/photos/{name}", part, **headers)
                if status == 201:
                    self.sent.add(name)
                    break
                if status in (429, 503, 507, 403):
                    return True
                assert status in (204, 409, 422), (status, body[:300])
                offset = int(said["Upload-Offset"])
        return False

    def go_on(self, port: int) -> bool:
        """Sync and photos, as far as the server lives. Returns whether there is more to say."""
        try:
            return self.sync(port) | self.send_photos(port)
        except NOT_NOW:
            return True


def new_programme(folder: Path, seed: int) -> list[WirePhone]:
    """A programme with a lead and two of the crew, whose site the lead has written and not sent."""
    create_programme(folder, "Skein Bay").close()
    programme = open_programme(folder, CATALOGUE, now_ms())
    rnd = random.Random(seed)
    phones = [WirePhone(programme, random.Random(rnd.random()), role) for role in ("lead", "crew", "crew")]
    programme.close()
    phones[0].set_up_site()
    return phones


def come_to_rest(phones: Sequence[WirePhone], port: int) -> None:
    """Until nobody has more to say."""
    deadline = time.monotonic() + PATIENCE_S
    quiet = 0
    while quiet < 2:
        left = [phone.go_on(port) for phone in phones]
        quiet = 0 if any(left) else quiet + 1
        assert time.monotonic() < deadline, f"the phones do not come to rest: {[phone.last for phone in phones]}"


def check_receipts(folder: Path, phones: Sequence[WirePhone]) -> None:
    """What phones were told is here is here, once, and everything here is what was written. The server is down."""
    programme = Programme(folder)
    db = programme.db()
    try:
        assert faults_of(db, lambda sha256: (programme.photos_folder / sha256).open("rb")) == []
        log = {row[0] for row in db.execute("SELECT entry_id FROM log")}
        tray = {row[0] for row in db.execute("SELECT entry_id FROM tray")}
        photos = {row[0] for row in db.execute("SELECT sha256 FROM photo_file WHERE complete_at IS NOT NULL")}
        records = [row[0] for row in db.execute("SELECT record_id FROM log WHERE kind = 'sighting'")]
        assert len(records) == len(set(records)), "an entry is here twice"
        for phone in phones:
            for line in (line for lane in phone.phone.lanes.values() for line in lane):
                assert line.entry_id in (log if line.state == "taken" else tray if line.state == "held" else log | tray | {line.entry_id})
            assert phone.sent <= photos
    finally:
        programme.close()


def check_all_arrived(folder: Path, phones: Sequence[WirePhone]) -> None:
    """Everything that was ever written is in the log, nothing is held, and every photo is whole."""
    check_receipts(folder, phones)
    programme = Programme(folder)
    db = programme.db()
    try:
        assert db.execute("SELECT why, sentence FROM tray").fetchall() == []
        assert {row[0] for row in db.execute("SELECT record_id FROM sighting")} == set().union(*(one.sowed for one in phones))
        for phone in phones:
            assert phone.sent == set(phone.photos)
            for name, data in phone.photos.items():
                assert (programme.photos_folder / name).read_bytes() == data
    finally:
        programme.close()
