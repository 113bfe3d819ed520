"""Figures of an import: 100,000 rows of past checks of 1,000 units, read and tried in children, then taken by the code of a sync."""

from __future__ import annotations

import json
import random
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from fieldlog.access.devices import add_device
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.names import name_for
from fieldlog.records.tags import tag_for
from fieldlog.store import create_programme, write
from fieldlog.sync.lanes import lane_name
from fieldlog.sync.opening import open_programme
from fieldlog.sync.receive import receive
from tests.bench.figures import Figure

ROWS, UNITS, A_ROW = 100_000, 1_000, 100
NOW_MS = 1_790_000_000_000
DRY_S, TAKEN_S, MOST_MB = 30, 90, 400

_BRING = """
import json, resource, sys, time
from pathlib import Path
from fieldlog import keep_pandas_out
keep_pandas_out()
from fieldlog.imports import kept
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.sync.opening import open_programme
folder, file, site_id = sys.argv[1:]
now_ms = lambda: 1_790_000_100_000
programme = open_programme(Path(folder), CATALOGUE, now_ms())
device = kept.device_of_commands(programme.db(), now_ms())
began = time.perf_counter()
with open(file, "rb") as data:
    upload = kept.begin(programme, device, site_id, "checks.csv", iter(lambda: data.read(2**20), b""), now_ms())
looked = kept.looked(programme.db(), CATALOGUE, upload, {})
assert looked["questions"] == [], looked["questions"]
result = kept.try_upload(programme, upload)
dry_s = time.perf_counter() - began
kept.begin_taking(upload, now_ms())
taken = kept.take_upload(programme, CATALOGUE, upload, now_ms)
taken_s = time.perf_counter() - began - dry_s
most_kb = max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
print(json.dumps([dry_s, taken_s, most_kb / 1024, result["good"], taken.entries, taken.held]))
"""


def figures() -> Iterator[Figure]:
    """How long 100,000 rows take, dry and taken, and the most memory that one of the processes had."""
    with tempfile.TemporaryDirectory(prefix="fieldlog-import-") as made:
        folder, file = Path(made) / "programme", Path(made) / "checks.csv"
        site_id = _programme(folder)
        _sheet(file)
        ran = subprocess.run([sys.executable, "-c", _BRING, str(folder), str(file), site_id], check=True, capture_output=True, text=True)
        dry_s, taken_s, most_mb, good, entries, held = json.loads(ran.stdout)
        if (good, entries, held) != (ROWS, ROWS, 0):
            raise ValueError(f"Of {ROWS} rows {good} were good, {entries} taken, {held} held.")
    yield Figure(f"Import of {ROWS:,} rows, tried", dry_s, DRY_S, "s")
    yield Figure(f"Import of {ROWS:,} rows, taken", taken_s, TAKEN_S, "s")
    yield Figure(f"Import of {ROWS:,} rows, memory of one process", most_mb, MOST_MB, "MB")


def _programme(folder: Path) -> str:
    """A site with ten rows of a hundred units."""
    create_programme(folder, "Bench").close()
    programme = open_programme(folder, CATALOGUE, NOW_MS)
    db = programme.db()
    with write(db):
        device, _ = add_device(db, "lead", None, "bench", NOW_MS)
    site = name_for(None, "site")
    site_fields = {
        "name": "Long Reef", "lat_deg": 41.5, "lon_deg": -70.6, "zone": "America/New_York", **{
            name: "MLLW" if one.type_word == "text" else one.metadata.get("minimum", 1) for name, one in CATALOGUE.kinds["site"].fields.items()
            if one.required and name not in ("name", "lat_deg", "lon_deg", "zone")
        },
    }  # fmt: skip
    entries: list[tuple[str, str, dict[str, object]]] = [("site", site, site_fields)]
    for number in range(UNITS // A_ROW):
        letter = chr(65 + number)
        row = name_for(site, f"row {letter}")
        entries.append(("row", row, {"name": letter, "order_number": number, "bed_level_m": 0.1, "level_datum": "MLLW"}))
        for slot in range(A_ROW):
            unit = {"tag": tag_for(letter, slot), "tag_made_here": True, "row_id": row, "slot_number": slot}
            entries.append(("unit", name_for(site, f"unit {letter}{slot}"), unit))
    key = "cd" * 16
    lines = [
        {"v": 1, "d": lane_name(key), "n": n, "s": f"{NOW_MS:012x}{n:04x}", "u": None, "t": kind, "r": record, "g": site, "y": None, "f": fields, "b": {}}
        for n, (kind, record, fields) in enumerate(entries, 1)
    ]
    header = {"p": 1, "rid": "bench", "d": lane_name(key), "key": key, "from": 1, "prev": "", "mine": len(lines), "cursor": None, "want": 1, "now": NOW_MS}
    body = "".join(json.dumps(one) + "\n" for one in (header, *lines)).encode()
    reply = receive(db, body, CATALOGUE, lambda: device, lambda: NOW_MS)
    if any(ack[2] != "ok" for ack in reply["acks"]):
        raise ValueError(f"The bench's own entries were held: {[ack for ack in reply['acks'] if ack[2] != 'ok'][:2]}")
    programme.close()
    return site


def _sheet(path: Path) -> None:
    """A hundred days of checks of each unit, as somebody typed them: ten columns."""
    drawn = random.Random(41)
    with path.open("w", encoding="utf-8") as file:
        file.write("Tag,Date,Time,Found,Exposed height (in),Tilt,Crack width (mm),Scour (mm),Rocks when pushed,Note\n")
        for day in range(ROWS // UNITS):
            on = f"{2015 + day // 10}-{1 + day % 10:02d}-15"
            for unit in range(UNITS):
                tag = tag_for(chr(65 + unit // A_ROW), unit % A_ROW)
                seen = f"{drawn.uniform(12, 18):.2f},{drawn.randrange(5)},{drawn.randrange(2)},{drawn.randrange(40)},no"
                file.write(f"{tag},{on},{6 + unit // 100}:{unit % 60:02d},seen,{seen},{'algae' if drawn.random() < 0.2 else ''}\n")


if __name__ == "__main__":
    for figure in figures():
        print(figure)


