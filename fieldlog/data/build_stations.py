"""
Builds stations.sqlite from a file of station records.

    python fieldlog/data/build_stations.py STATIONS.jsonl.gz

One JSON record a line: id, name, q (rest of the name), st or cc3 (state or country), lat, lon, type R (harmonic) or S
(by offsets), cd (name of the chart datum), datums, h = [[name, amplitude m, Greenwich phase degrees]], ref and off = {th, tl
minutes, hh, hl heights, k: R ratio | F metres added}, lic, src. Where the records come from: fieldlog/stations.py.
"""

from __future__ import annotations

import gzip
import json
import sqlite3
import struct
import sys
from pathlib import Path
from typing import Any

_SOURCES = {"NOAA": "NOAA", "TICON-4": "TICON-4", "KARTVERKET": "Kartverket"}
_TABLES = """
CREATE TABLE constituent (number INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE);
CREATE TABLE station (
    station_id TEXT PRIMARY KEY, name TEXT NOT NULL, part_of TEXT, place TEXT,
    lat_deg REAL NOT NULL, lon_deg REAL NOT NULL, kind TEXT NOT NULL, source TEXT NOT NULL, licence TEXT NOT NULL,
    chart_datum TEXT NOT NULL, datums_json TEXT, constants BLOB,
    reference_id TEXT, minutes_high REAL, minutes_low REAL, height_kind TEXT, height_high REAL, height_low REAL
) WITHOUT ROWID;
"""


def packed(constants: list[tuple[str, float, float]], number_of: dict[str, int]) -> bytes:
    """Constants as rows of 7 bytes: constituent's number, amplitude in hundredths of mm, phase in hundredths of a degree."""
    rows = (
        struct.pack("<BIH", number_of[name], round(amplitude_m * 1e5), round(phase_deg * 100) % 36000)
        for name, amplitude_m, phase_deg in constants
    )
    return b"".join(rows)


def station_row(record: dict[str, Any], number_of: dict[str, int]) -> tuple[object, ...]:
    """One row of the station table."""
    datums = record.get("datums")
    # Without its datums a station's levels can only be given above mean sea level.
    chart_datum = record["cd"] if datums is None or record["cd"] in datums else "MSL"
    constants = packed(record["h"], number_of) if "h" in record else None
    off = record.get("off")
    own: tuple[object, ...] = (None,) * 6
    if off:
        height_kind = "added" if off["k"] == "F" else "ratio"
        own = (record["ref"], off["th"], off["tl"], height_kind, off["hh"], off["hl"])
    place = record.get("st") or record.get("cc3")
    return (
        record["id"], record["name"], record.get("q"), place, record["lat"], record["lon"],
        "offset" if off else "harmonic", _SOURCES[record["src"]], record["lic"], chart_datum,
        json.dumps(datums, separators=(",", ":")) if datums else None, constants, *own,
    )  # fmt: skip


def build(source: Path, target: Path) -> int:
    """Write the station file; returns the number of stations."""
    with gzip.open(source, "rt", encoding="utf-8") as lines:
        records = [json.loads(line) for line in lines]
    names = sorted({row[0] for record in records for row in record.get("h", [])})
    number_of = {name: number for number, name in enumerate(names)}
    target.unlink(missing_ok=True)
    db = sqlite3.connect(target)
    db.executescript(_TABLES)
    with db:
        db.executemany("INSERT INTO constituent VALUES (?, ?)", enumerate(names))
        rows = [station_row(record, number_of) for record in records]
        db.executemany(f"INSERT INTO station VALUES ({', '.join('?' * 18)})", rows)
    db.execute("VACUUM")
    db.close()
    return len(records)


if __name__ == "__main__":
    made = Path(__file__).with_name("stations.sqlite")
    print(f"{build(Path(sys.argv[1]), made):,} stations, {made.stat().st_size / 1e6:.1f} MB: {made}")
