"""Figures of hours: the ledger of 200 people and five years, from the file to a lead's answer, and one award's sheet of it."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

from flask import json
from sqlite_utils import Database

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import create_programme, write
from fieldlog.sync.opening import open_programme
from fieldlog.timesheets.answers import summary
from fieldlog.timesheets.files import funder_page
from fieldlog.timesheets.funder import sheet_for_funder
from fieldlog.timesheets.reading import read_book
from tests.bench.figures import Figure, seconds
from tests.sync.lines import record_id

PEOPLE, YEARS, VISITS_A_YEAR, ON_A_VISIT = 200, 5, 104, 60
FIRST = date(2021, 1, 1)
SITE = record_id("bench hours")
TO_REACH_S = 1.0


def all_figures() -> list[Figure]:
    """Both, over one made programme."""
    with tempfile.TemporaryDirectory() as folder:
        create_programme(Path(folder) / "programme", "Bench").close()
        programme = open_programme(Path(folder) / "programme", CATALOGUE, int(time.time() * 1000))
        db = programme.db()
        with write(db):
            _fill(db)
        sign_ins = db.execute("SELECT count(*) FROM sign_in").fetchone()[0]
        read_s = seconds(lambda: db.execute("SELECT sum(length(in_at) + length(out_at)) FROM sign_in").fetchone())
        ledger_s = seconds(lambda: json.dumps(summary(read_book(db, None), None)))
        worked = time.process_time()
        json.dumps(summary(read_book(db, None), None))
        worked = time.process_time() - worked
        award, now = record_id("award 0"), datetime.now(UTC)
        sheet_s = seconds(lambda: funder_page(book := read_book(db, None), sheet_for_funder(book, award, date(2025, 1, 1), date(2025, 12, 31), now)))
        programme.close()
    beside = f"{sign_ins} sign-ins, processor {worked:.2f} s; SQLite's own pass over them"
    return [
        Figure(f"ledger of {PEOPLE} people and {YEARS} years", ledger_s, TO_REACH_S, "s", beside, read_s),
        Figure("a year's sheet of an award for its funder", sheet_s, 2 * TO_REACH_S, "s", "our own figure; the ledger", ledger_s),
    ]


def _fill(db: Database) -> None:
    """Two visits a week of 60 people, some over midnight, some signed in twice, some never out; every month signed for."""
    db["site"].insert({"record_id": SITE, "site_id": SITE, "name": "Alder Spit", "zone": "America/New_York"})
    people = [record_id(f"person {number}") for number in range(PEOPLE)]
    db["person"].insert_all({"record_id": person, "site_id": SITE, "display_name": f"Person {number}", "role": "volunteer"} for number, person in enumerate(people))
    db["award"].insert_all({"record_id": record_id(f"award {number}"), "site_id": SITE, "name": f"Award {number}"} for number in range(5))
    db["award_hours"].insert_all({
        "record_id": record_id(f"to award {number}"), "site_id": SITE, "award_id": record_id(f"award {number}"),
        "from_day": f"{FIRST.year + number}-01-01", "to_day": f"{FIRST.year + number}-12-31",
    } for number in range(YEARS))  # fmt: skip
    db["award_hours"].insert_all({"record_id": record_id(f"by person {n}"), "site_id": SITE, "award_id": record_id("award 1"), "person_id": people[n]} for n in range(10))
    db["sign_in"].insert_all(_sign_ins(people))
    db["hours_signed"].insert_all({
        "record_id": record_id(f"signed {person} {month}"), "site_id": SITE, "person_id": person, "from_day": f"{FIRST.year + month // 12}-{month % 12 + 1:02d}-01",
        "to_day": f"{FIRST.year + month // 12}-{month % 12 + 1:02d}-28", "signed_h": 7.5,
    } for person in people for month in range(YEARS * 12))  # fmt: skip


def _sign_ins(people: list[str]) -> Iterator[dict[str, Any]]:
    dice = Random(7)
    for visit in range(YEARS * VISITS_A_YEAR):
        begins = datetime(FIRST.year, 1, 1, 12, tzinfo=UTC) + timedelta(days=visit * 3.5, hours=dice.uniform(-12, 12))
        for person in dice.sample(people, ON_A_VISIT):
            at = begins + timedelta(minutes=dice.randrange(20))
            out = at + timedelta(minutes=dice.randrange(45, 300))
            for double in range(2 if dice.random() < 0.02 else 1):
                yield {
                    "record_id": record_id(f"{visit} {person} {double}"), "site_id": SITE, "person_id": person, "visit_id": record_id(f"visit {visit}"), "task": "placing",
                    "in_at": f"{at:%Y-%m-%dT%H:%M:%S}.000Z", "out_at": None if dice.random() < 0.01 else f"{out:%Y-%m-%dT%H:%M:%S}.000Z",
                }  # fmt: skip
