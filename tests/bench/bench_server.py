"""Figures of the server alone: tides, windows, the command line, sync, photos, memory."""

from __future__ import annotations

import gzip
import hashlib
import http.client
import io
import json
import os
import random
import sqlite3
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from PIL import Image

from fieldlog import stations
from fieldlog.tides.curve import Curve
from fieldlog.tides.predict import tide_extremes
from fieldlog.windows.access import MARGIN, access_windows
from fieldlog.windows.daylight import daylight, light_of
from fieldlog.windows.rules import site_rules
from tests.bench.figures import Figure, seconds
from tests.sync.lines import Lane, record_id

STATION = "noaa/8443970"
ROOT = Path(__file__).resolve().parents[2]
STOP_S = 5
BEGIN = datetime(2027, 1, 1, tzinfo=UTC)


def tides() -> list[Figure]:
    """Floor: the bare cosine sum over a year at six minutes in one numpy product."""
    station = stations.find(STATION)
    hours = np.arange(0, 365 * 24, 0.1)
    speed = np.radians(np.linspace(0.04, 60, len(station.constituents)))

    def floor() -> None:
        np.cos(hours[:, None] * speed[None, :]).sum(axis=1)

    beside = f"one numpy cosine sum over the year: {seconds(floor, 3):.3g} s"
    year = seconds(lambda: tide_extremes(station, BEGIN, BEGIN + timedelta(days=365)))
    return [Figure("a year of highs and lows", year, 0.05, "s", beside)]


def command_line() -> list[Figure]:
    """Floor: the interpreter alone."""

    def run(*arguments: str) -> None:
        subprocess.run([sys.executable, *arguments], check=True, capture_output=True)

    beside = f"python -c pass: {seconds(lambda: run('-c', 'pass')):.3g} s"
    return [Figure("fieldlog --help", seconds(lambda: run("-m", "fieldlog", "--help")), 0.3, "s", beside)]


class Server:
    """The shipped server in a process of its own, with a device that joined it."""

    def __init__(self, folder: Path, site_id: str) -> None:
        self.folder, self.site_id = folder, site_id
        self.process = subprocess.Popen(
            [sys.executable, "-m", "fieldlog", "--data", str(folder), "--json", "serve", "--port", "0"],
            cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        assert self.process.stdout
        told = ""
        while not told.rstrip().endswith("}"):
            line = self.process.stdout.readline()
            assert line, f"the server ended with status {self.process.wait(20)}"
            told += line
        self.port = int(json.loads(told)["address"].rsplit(":", 1)[1])
        self.cookie = ""

    def call(self, method: str, path: str, body: bytes = b"", **headers: str) -> tuple[int, dict[str, str], bytes]:
        link = http.client.HTTPConnection("localhost", self.port)
        link.request(method, path, body, {"Cookie": self.cookie, **headers})
        answer = link.getresponse()
        data = answer.read()
        found = {name.lower(): value for name, value in answer.getheaders()}
        link.close()
        return answer.status, found, data

    def join(self, code: str) -> None:
        said = json.dumps({"code": code, "device_name": "bench"}).encode()
        status, headers, data = self.call("POST", "/api/join", said, **{"Content-Type": "application/json"})
        assert status == 200, data
        self.cookie = headers["set-cookie"].split(";")[0]

    def peak_mb(self) -> float:
        text = Path(f"/proc/{self.process.pid}/status").read_text() if sys.platform == "linux" else "VmHWM: 0 kB"
        return next(int(line.split()[1]) for line in text.splitlines() if line.startswith("VmHWM")) / 1024

    def cpu_s(self) -> float:
        """Seconds of processor that all its threads have had, as the kernel counts; a busy machine lengthens them least."""
        tasks = Path(f"/proc/{self.process.pid}/task").glob("*/schedstat")
        return sum(int(task.read_text().split()[0]) for task in tasks) / 1e9

    def stop(self) -> None:
        self.process.terminate()
        try:
            self.process.wait(STOP_S)
        except subprocess.TimeoutExpired:
            # It finishes a backup first, which of a large programme takes minutes. Killed, it loses nothing.
            self.process.kill()
            self.process.wait(20)


def opened(folder: Path) -> tuple[Server, Lane]:
    """A served, empty programme with one site, joined as lead."""
    command = [sys.executable, "-m", "fieldlog", "--data", str(folder), "--json"]
    made = subprocess.run([*command, "init", "--name", "Bench"], check=True, capture_output=True, cwd=ROOT)
    site_id = record_id("bench site")
    server = Server(folder, site_id)
    server.join(json.loads(made.stdout)["invitation"]["code"])
    lead = Lane("lead", site_id)
    lead.now_ms = int(time.time() * 1000) - 86_400_000
    lead.write("site", site_id, {
        "name": "Bench", "lat_deg": 42.35, "lon_deg": -71.05, "zone": "America/New_York", "tide_station": STATION,
        "level_datum": "MLLW", "work_level_m": 0.6, "route_low_level_m": 0.9, "allowance_m": 0.2, "walk_out_min": 10,
        "muster_min": 10, "least_usable_min": 45,
    })  # fmt: skip
    for number in range(50):
        unit = {"tag": f"U{number}", "row_id": record_id("row"), "slot_number": number + 1}
        lead.write("unit", record_id(f"unit {number}"), unit)
    status, _, data = server.call("POST", "/api/sync", lead.body())
    assert status == 200, data
    return server, lead


def checks(lane: Lane, count: int) -> None:
    """So many unit checks of eleven fields as the next lines."""
    rnd = random.Random(7)
    for number in range(count):
        lane.write("unit_check", record_id(f"{lane.lane_id} {number}"), {
            "unit_id": record_id(f"unit {number % 50}"), "checked_at": "2026-11-25T06:12:00Z", "found_state": "seen",
            "body_grade": rnd.randrange(2), "stance_grade": 0, "toe_grade": 0, "cover_grade": 1,
            "exposed_height_mm": rnd.randrange(200, 450), "tilt_deg": rnd.randrange(0, 9), "scour_depth_mm": 0,
            "note": "as last time, barnacles on the seaward face",
        })  # fmt: skip


def sync(server: Server, log_sizes: tuple[int, ...] = (1000, 30_000)) -> list[Figure]:
    """Floor: the same rows put into a bare SQLite table, one transaction, synchronous FULL."""
    figures = []
    lane = Lane("first", server.site_id)
    lane.now_ms = int(time.time() * 1000) - 3_600_000
    checks(lane, 1000)
    body = lane.body()
    began = time.perf_counter()
    status, _, data = server.call("POST", "/api/sync", body)
    took = time.perf_counter() - began
    assert status == 200 and all(ack[2] == "ok" for ack in json.loads(data)["acks"]), data[:400]
    beside = f"the same rows into a bare SQLite table: {_bare_insert(server.folder, lane):.3g} s"
    figures.append(Figure("sync of 1,000 new entries, server, loopback", took, 0.5, "s", beside))
    peak_after_first = server.peak_mb()
    logged = 1000
    for size in log_sizes:
        while logged < size:
            more = Lane(f"more {logged}", server.site_id)
            more.now_ms = lane.now_ms
            checks(more, 1000)
            server.call("POST", "/api/sync", more.body())
            logged += 1000
        figures += _nothing_new(server, lane, size)
    figures.append(Figure("server memory, highest, first 1,000 entries", peak_after_first, 120, "MB"))
    figures.append(Figure(f"server memory, highest, after {log_sizes[-1]} entries", server.peak_mb(), 120, "MB"))
    return figures


def _nothing_new(server: Server, lane: Lane, size: int) -> list[Figure]:
    """Floor: /healthz, which reads nothing of the log."""
    cursor, more = None, True
    first = len(lane.texts) + 1
    while more:
        _, _, data = server.call("POST", "/api/sync", lane.body(first, cursor=cursor, want=2000))
        cursor, more = json.loads(data)["cursor"], json.loads(data)["more"]
    body = lane.body(first, cursor=cursor)
    _, _, data = server.call("POST", "/api/sync", body)
    took = seconds(lambda: server.call("POST", "/api/sync", body), 20)
    floor = seconds(lambda: server.call("GET", "/healthz"), 20)
    return [
        Figure(f"sync with nothing new, log of {size}", took * 1000, 10, "ms", f"/healthz: {floor * 1000:.3g} ms"),
        Figure("  its request body", len(body), 1024, "B"),
        Figure("  its reply", len(data), 1024, "B"),
    ]


def _bare_insert(folder: Path, lane: Lane) -> float:
    def insert() -> None:
        path = folder / "floor.sqlite"
        path.unlink(missing_ok=True)
        bare = sqlite3.connect(path)
        bare.execute("PRAGMA synchronous=FULL")
        bare.execute("CREATE TABLE line(n INTEGER PRIMARY KEY, text BLOB)")
        bare.executemany("INSERT INTO line(text) VALUES (?)", [(text,) for text in lane.texts])
        bare.commit()
        bare.close()

    return seconds(insert)


def pack(server: Server) -> list[Figure]:
    """The pack of a site with no rows of its own; the demo site's is measured in the browser part."""
    _, headers, data = server.call("GET", "/api/pack", **{"Accept-Encoding": "gzip"})
    size = len(data) if headers.get("content-encoding") == "gzip" else len(gzip.compress(data))
    return [Figure("the pack of this site, gzipped", size / 1024, 80, "KB")]


def noisy_jpeg(seed: int, side_px: int = 900, quality: int = 88) -> bytes:
    """About 300 KB of JPEG that does not repeat."""
    noise = np.random.default_rng(seed).normal(0, 22, (side_px, side_px, 3))
    slope = np.linspace(40, 200, side_px)[:, None, None]
    out = io.BytesIO()
    Image.fromarray(np.clip(noise + slope, 0, 255).astype("uint8")).save(out, "JPEG", quality=quality)
    return out.getvalue()


def photos(server: Server) -> list[Figure]:
    """Floor: the same bytes written to files, each with an fsync."""
    shots = [noisy_jpeg(seed) for seed in range(50)]
    size_kb = sum(map(len, shots)) / len(shots) / 1024
    floor = _bare_files(server.folder, shots)
    began = time.perf_counter()
    for shot in shots:
        _send_photo(server, shot)
    took = time.perf_counter() - began
    waited = _until_copied(server, len(shots))
    return [
        Figure(f"50 photos of {size_kb:.0f} KB to the last receipt", took, 1.5, "s", f"files with fsync: {floor:.3g} s"),
        Figure("  served copies after that", waited, 5, "s"),
    ]


def _send_photo(server: Server, shot: bytes) -> None:
    name, chunk, offset = hashlib.sha256(shot).hexdigest(), 512 * 1024, 0
    while offset < len(shot):
        part = shot[offset : offset + chunk]
        status, _, data = server.call(
            "PATCH", f"/api/photos/{name}", part,
            **{"Upload-Offset": str(offset), "Upload-Length": str(len(shot)), "Content-Type": "application/octet-stream"},
        )  # fmt: skip
        assert status in (201, 204), data
        offset += len(part)


def _until_copied(server: Server, count: int) -> float:
    began = time.perf_counter()
    watch = sqlite3.connect(server.folder / "fieldlog.sqlite")
    while watch.execute("SELECT count(*) FROM photo_file WHERE served_at IS NOT NULL").fetchone()[0] < count:
        time.sleep(0.02)
        assert time.perf_counter() - began < 120, "the copies do not come"
    watch.close()
    return time.perf_counter() - began


def _bare_files(folder: Path, shots: list[bytes]) -> float:
    began = time.perf_counter()
    for number, shot in enumerate(shots):
        with (folder / f"floor-{number}").open("wb") as file:
            file.write(shot)
            file.flush()
            os.fsync(file.fileno())
    return time.perf_counter() - began


def heic(server: Server) -> list[Figure]:
    """The highest memory of the decoder process, as the kernel reports it for this process's children."""
    source = Path(tempfile.mkdtemp()) / "large.heic"
    _large_heic(source)
    shot = source.read_bytes()
    before = sqlite3.connect(server.folder / "fieldlog.sqlite")
    (done,) = before.execute("SELECT count(*) FROM photo_file WHERE served_at IS NOT NULL").fetchone()
    before.close()
    _send_photo(server, shot)
    highest = 0.0
    began = time.perf_counter()
    watch = sqlite3.connect(server.folder / "fieldlog.sqlite")
    while watch.execute("SELECT count(*) FROM photo_file WHERE served_at IS NOT NULL").fetchone()[0] <= done:
        highest = max(highest, _tree_mb(server.process.pid))
        time.sleep(0.01)
        assert time.perf_counter() - began < 120, "the copy does not come"
    watch.close()
    return [Figure(f"memory while a 48 MP HEIC of {len(shot) / 2**20:.1f} MB is read", highest, 300, "MB")]


def _large_heic(target: Path) -> None:
    code = (
        "import sys, numpy as np, pillow_heif\n"
        "y, x = np.mgrid[0:6000, 0:8000].astype('float32')\n"
        "rgb = np.stack([x / 32, y / 24, (x + y) / 60], -1).clip(0, 255).astype('uint8')\n"
        "pillow_heif.from_bytes('RGB', (8000, 6000), rgb.tobytes()).save(sys.argv[1], quality=60)\n"
    )
    subprocess.run([sys.executable, "-c", code, str(target)], check=True)


def _tree_mb(pid: int) -> float:
    """Memory of a process and its children now, pages they share counted once (the kernel's Pss)."""
    total = 0
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            parent = int((folder / "stat").read_text().rsplit(") ", 1)[1].split()[1])
            if pid in (int(folder.name), parent):
                rollup = (folder / "smaps_rollup").read_text()
                total += next(int(line.split()[1]) for line in rollup.splitlines() if line.startswith("Pss:"))
        except OSError:
            continue  # it ended meanwhile
    return total / 1024


def windows() -> list[Figure]:
    """400 days of windows with daylight, from the station's constants to the last caution."""
    station = stations.find(STATION)
    from_utc, to_utc = BEGIN, BEGIN + timedelta(days=400)
    site = {
        "record_id": record_id("bench site"), "name": "Bench", "zone": "America/New_York", "lat_deg": 42.35,
        "lon_deg": -71.05, "level_datum": station.chart_datum, "work_level_m": 0.6, "route_low_level_m": 0.9,
        "allowance_m": 0.2, "walk_out_min": 10, "muster_min": 10, "least_usable_min": 45,
    }  # fmt: skip
    rules = site_rules(site, station.chart_datum)

    def curve() -> Curve:
        return Curve.for_station(station, from_utc - MARGIN, to_utc + MARGIN)

    def compute() -> None:
        light = light_of(daylight(rules.lat_deg, rules.lon_deg, rules.zone, from_utc.date() - timedelta(days=2), 405))
        access_windows(curve(), rules, light, from_utc, to_utc)

    beside = f"the tide curve alone: {seconds(curve):.3g} s"
    return [Figure("400 days of windows with daylight", seconds(compute), 0.15, "s", beside)]


def all_figures() -> list[Figure]:
    """Everything that needs no browser."""
    figures = tides() + windows() + command_line()
    with tempfile.TemporaryDirectory() as folder:
        server, _ = opened(Path(folder) / "programme")
        try:
            figures += sync(server) + pack(server) + photos(server) + heic(server)
        finally:
            server.stop()
    return figures
