"""Figures of a survey's verdict on the server: a reading of a survey of 1,000 units comes, and the whole survey is judged anew."""

from __future__ import annotations

import math
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
from sqlite_utils import Database

from fieldlog.flags import surveys
from fieldlog.flags.changes import Change
from fieldlog.flags.survey_reading import SiteReadings
from fieldlog.questions.sites import sites_of
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import create_programme, write
from fieldlog.survey.verdict import Pair, judge
from fieldlog.sync.opening import open_programme
from tests.bench.figures import Figure, seconds
from tests.sync.lines import record_id

UNITS = 1000
SITE = record_id("bench site")
MARKS = {"M1": (-4.0, -9.0), "M2": (60.0, -9.0), "M3": (-7.0, 130.0), "M4": (62.0, 131.0), "M5": (-6.0, 60.0), "M6": (61.0, 62.0)}
TAPE_M = 0.02
VISITS = {"zero": "2026-06-02T10:00:00Z", "walk": "2026-07-01T10:00:00Z"}
SETS = {"zero": 2, "walk": 1}


def place_of(unit: int) -> tuple[float, float]:
    """Forty rows of twenty-five."""
    return 2.4 * (unit % 25), 3.0 * (unit // 25)


def fixes(unit: int, visit: str, random: np.random.Generator) -> list[dict[str, Any]]:
    """Sets of tapes from the three nearest marks."""
    near = sorted(MARKS, key=lambda name: math.dist(MARKS[name], place_of(unit)))[:3]
    rows = []
    for number in range(SETS[visit]):
        row: dict[str, Any] = {f"mark_{n}_id": record_id(name) for n, name in enumerate(near, 1)}
        row |= {f"range_{n}_m": round(math.dist(MARKS[name], place_of(unit)) + TAPE_M * float(random.normal()), 3) for n, name in enumerate(near, 1)}
        own = {"record_id": record_id(f"{visit} {unit} {number}"), "site_id": SITE, "visit_id": record_id(visit), "of_kind": "unit"}
        rows.append({**own, "of_id": record_id(f"unit {unit}"), "fixed_at": VISITS[visit], "method": "tapes", "tape_sigma_m": TAPE_M, **row})
    return rows


def fill(db: Database) -> None:
    """A site of 1,000 units with a zero epoch of two sets each, and a survey of all."""
    random = np.random.default_rng(5000)
    site = {"record_id": SITE, "site_id": SITE, "name": "Bench", "zone": "America/New_York", "lat_deg": 42.35, "lon_deg": -71.05}
    marks = [{"record_id": record_id(name), "site_id": SITE, "label": name, "east_m": at[0], "north_m": at[1], "sigma_m": 0.01} for name, at in MARKS.items()]
    units = []
    for unit in range(UNITS):
        east_m, north_m = place_of(unit)
        planned = {"planned_east_m": east_m, "planned_north_m": north_m}
        units.append({"record_id": record_id(f"unit {unit}"), "site_id": SITE, "tag": f"U{unit}", **planned})
    visits = [{"record_id": record_id(name), "site_id": SITE, "started_at": at, "ended_at": at} for name, at in VISITS.items()]
    events = [
        {"record_id": record_id(f"placed {n}"), "site_id": SITE, "unit_id": record_id(f"unit {n}"), "event": "placed", "event_at": "2026-06-01T10:00:00Z"}
        for n in range(UNITS)
    ]
    read = [row for visit in VISITS for unit in range(UNITS) for row in fixes(unit, visit, random)]
    with write(db):
        for kind, rows in {"site": [site], "control_mark": marks, "unit": units, "visit": visits, "unit_event": events, "position_fix": read}.items():
            names = ", ".join(rows[0])
            db.conn.executemany(f"INSERT INTO {kind}({names}) VALUES ({', '.join(f':{name}' for name in rows[0])})", rows)


def verdicts(db: Database) -> list[Figure]:
    """One reading more of the survey: its tapes read, the survey judged and kept. Floor: the survey judged alone, all of it in memory."""
    rows = list(db.query("SELECT * FROM position_fix WHERE visit_id = ? ORDER BY record_id LIMIT 1", [record_id("walk")]))
    change = Change("position_fix", rows[0]["record_id"], None, rows[0])

    def keep() -> None:
        with write(db):
            surveys.keep(db, [change])

    took = seconds(keep)
    (count,) = db.conn.execute("SELECT count(*) FROM survey_verdict").fetchone()
    assert count == UNITS, f"{count} units were compared"
    (site,) = sites_of(db, [SITE])
    readings = SiteReadings(db, site)
    began = time.perf_counter()
    read = readings.survey(f"visit {record_id('walk')}")
    reading = time.perf_counter() - began
    assert read is not None
    pairs = [Pair(zero.epoch, now.epoch, read.least_shift_m(unit)) for unit, zero, now in read.compared]
    alone = seconds(lambda: judge(pairs, read.scale))
    what = f"the verdict of a survey of {UNITS:,} units"
    return [
        Figure(f"{what}, judged", alone * 1000, 50, "ms"),
        Figure("  with its tapes read and its verdicts kept, as at each push", took * 1000, 50, "ms", f"reading {reading * 1000:.0f} ms", alone * 1000),
    ]


def all_figures() -> list[Figure]:
    """What a survey of many units costs."""
    with tempfile.TemporaryDirectory() as folder:
        create_programme(Path(folder) / "programme", "Bench").close()
        programme = open_programme(Path(folder) / "programme", CATALOGUE, int(time.time() * 1000))
        fill(programme.db())
        figures = verdicts(programme.db())
        programme.close()
    return figures
