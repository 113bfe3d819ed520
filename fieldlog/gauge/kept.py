"""Water-level records in the programme's database: the files as they came, how they were read, and what came of them."""

from __future__ import annotations

import gzip
import json
import uuid
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from sqlite_utils import Database

from fieldlog.child import Tell, run
from fieldlog.errors import BadRecord, FieldlogError, NotHere, SiteNotReady
from fieldlog.shown_names import named, site_fields
from fieldlog.stations import OWN, find
from fieldlog.store import write
from fieldlog.tides.logger_look import look, told
from fieldlog.tides.station import Station, station_from, station_values

FILES = ("barometer", "control")
"""The further files beside the logger's own."""

SALINITY_PSU, TEMPERATURE_C = 30.0, 18.0
"""Of the water over a pressure logger where nobody says; brackish and temperate. 10 psu change a depth of 2 m by 1.5 cm."""

MODULE = "fieldlog.gauge.working"


def seen(asked: Mapping[str, Any], zone: str) -> dict[str, Any]:
    """
    How the files of a request are understood, for a person to check before anything is stored.

    Args:
        asked: `text`, `columns` (what a person says of them, or nothing), and perhaps `barometer` and `control`, the same.

    Returns:
        `names`, `columns`, `first_rows`, `questions` of the logger's file, and the same under each further file's name.

    Raises:
        BadRecord: a file cannot be understood.
    """
    found = _seen(asked, zone)
    for name in FILES:
        if asked.get(name):
            found[name] = _seen(asked[name], zone)
    return found


def _seen(file: Any, zone: str) -> dict[str, Any]:
    said = (file.get("columns") or {}) if isinstance(file, Mapping) else None
    if not isinstance(said, Mapping):
        raise BadRecord("The upload must be the file's text and how to read its columns. Reload the page. If that does not help, update the app.")
    text = file.get("text")
    if not isinstance(text, str) or not text.strip():
        raise BadRecord("The file is empty. Choose the logger's file as text, such as CSV.")
    found = look(text, zone)
    return {
        "names": list(found.names), "columns": asdict(told(found, dict(said))),
        "first_rows": [list(row) for row in found.first_rows], "questions": list(found.questions),
    }  # fmt: skip


def keep(db: Database, site: Mapping[str, Any], name: str, asked: Mapping[str, Any], now_ms: int) -> str:
    """
    Store a record's files and how to read them; the work on them is to be started.

    Returns:
        The record's id.

    Raises:
        BadRecord: a file cannot be understood, or a number is none.
        SiteNotReady: the site has no reference port, zone or place yet.
    """
    lacking = [field for field in ("zone", "lat_deg", "lon_deg", "tide_station") if site.get(field) is None]
    if lacking:
        raise SiteNotReady(
            f"Still missing at {named(site['name'], 'this site')}: {site_fields(lacking)}. Fill this in under Set-up, then upload the record.",
            dict.fromkeys(lacking, "missing"),
        )
    understood = seen(asked, site["zone"])
    water_id = str(uuid.uuid4())
    job: dict[str, Any] = {
        "text": asked["text"], "columns": understood["columns"], "salinity_psu": number(asked, "salinity_psu", SALINITY_PSU, 0, 42),
        "temperature_c": number(asked, "temperature_c", TEMPERATURE_C, -2, 40),
        "zero_above_chart_datum_m": number(asked, "zero_above_chart_datum_m", None, -50, 50),
        "site": {field: site[field] for field in ("name", "lat_deg", "lon_deg", "zone")},
        "station": station_values(reference_port(db, site)), "station_id": f"{OWN}{water_id}",
    }  # fmt: skip
    for further in FILES:
        if asked.get(further):
            job[further] = {"text": asked[further]["text"], "columns": understood[further]["columns"]}
    with write(db):
        db.execute(
            "INSERT INTO water_record(water_id, site_id, name, made_at, job, state, step) VALUES (?, ?, ?, ?, ?, 'waiting', NULL)",
            [water_id, site["record_id"], name[:80] or "Logger", now_ms, gzip.compress(json.dumps(job).encode())],
        )
    return water_id


def number(asked: Mapping[str, Any], name: str, usual: float | None, least: float, most: float) -> float | None:
    """A number of a request within its limits, or the usual one where it says nothing."""
    value = asked.get(name)
    if value in (None, ""):
        return usual
    if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
        raise BadRecord(f"{name} is {value!r}; give a number from {least:g} to {most:g}.")
    return float(value)


def reference_port(db: Database, site: Mapping[str, Any]) -> Station:
    """The published station a site's record is compared with: the chosen one, or the one that its own tide was made against."""
    station_id: str = site["tide_station"]
    if not station_id.startswith(OWN):
        return find(station_id)
    row = db.conn.execute(
        "SELECT job FROM water_record JOIN own_station USING (water_id) WHERE station_id = ?", (station_id,)
    ).fetchone()
    if row is None:
        raise NotHere(f"The record that {station_id} was made from is not here. Choose a reference port under Set-up first.")
    return station_from(json.loads(gzip.decompress(row[0]))["station"])


def work_out(db: Database, water_id: str, tell: Tell = lambda _step: None) -> dict[str, Any]:
    """
    Work a kept record out in a child process and store what comes of it.

    Raises:
        WorkFailed: it could not be; the record keeps the sentence.
    """
    row = db.conn.execute("SELECT job, site_id FROM water_record WHERE water_id = ?", (water_id,)).fetchone()
    if row is None:
        raise NotHere(f"There is no water-level record {water_id} here.")

    def step(name: str) -> None:
        _set(db, water_id, state="working", step=name)
        tell(name)

    step("starting")
    try:
        result: dict[str, Any] = run(MODULE, json.loads(gzip.decompress(row[0])), step)
    except FieldlogError as fault:
        _set(db, water_id, state="failed", step=None, fault=fault.sentence)
        raise
    with write(db):
        for one in result["candidates"]:
            station = one.pop("station")
            if station is not None:
                db.execute(
                    "INSERT OR REPLACE INTO own_station(station_id, site_id, water_id, station) VALUES (?, ?, ?, ?)",
                    [one["station_id"], row[1], water_id, json.dumps(station)],
                )
        _set(db, water_id, state="done", step=None, fault=None, result=json.dumps(result, ensure_ascii=False))
    return result


def records(db: Database, site_id: str) -> list[dict[str, Any]]:
    """A site's water-level records, newest first: water_id, name, made_at (ms), state, step, fault, result."""
    rows = db.query(
        "SELECT water_id, name, made_at, state, step, fault, result FROM water_record WHERE site_id = ? ORDER BY made_at DESC, water_id",
        [site_id],
    )
    return [{**row, "result": json.loads(row["result"]) if row["result"] else None} for row in rows]


def waiting(db: Database) -> list[str]:
    """The records whose work was not begun or was cut off, oldest first."""
    found = db.conn.execute("SELECT water_id FROM water_record WHERE state IN ('waiting', 'working') ORDER BY made_at").fetchall()
    return [row[0] for row in found]


def _set(db: Database, water_id: str, **values: Any) -> None:
    with write(db):
        names = ", ".join(f"{name} = ?" for name in values)
        db.execute(f"UPDATE water_record SET {names} WHERE water_id = ?", [*values.values(), water_id])
