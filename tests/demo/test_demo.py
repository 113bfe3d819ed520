"""The demo programme: invented, the same whenever it is made, and with something of everything."""

from __future__ import annotations

import json
import shutil
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime, time
from pathlib import Path

import pytest
from PIL import Image

from fieldlog.demo.build import build_demo
from fieldlog.flags.reading import list_flags
from fieldlog.records.catalogue import CATALOGUE
from tests.conftest import DEMO_DAY

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def db(demo_folder: Path) -> sqlite3.Connection:
    opened = sqlite3.connect(f"file:{demo_folder / 'fieldlog.sqlite'}?mode=ro", uri=True)
    opened.row_factory = sqlite3.Row
    yield opened
    opened.close()


def count(db: sqlite3.Connection, kind: str) -> int:
    return db.execute(f'SELECT count(*) FROM "{kind}" WHERE deleted = 0').fetchone()[0]


def test_the_script_is_what_its_maker_writes(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "demo_db", tmp_path / "demo_db")
    (tmp_path / "demo_db" / "evenings.ndjson").unlink()
    subprocess.run([sys.executable, tmp_path / "demo_db" / "make_demo.py"], check=True, cwd=ROOT, env={"PYTHONPATH": str(ROOT)})
    assert (tmp_path / "demo_db" / "evenings.ndjson").read_bytes() == (ROOT / "demo_db" / "evenings.ndjson").read_bytes()


def test_two_builds_hold_the_same_records_and_flags(demo_folder: Path, tmp_path: Path, db: sqlite3.Connection) -> None:
    build_demo(tmp_path / "again", DEMO_DAY)
    again = sqlite3.connect(tmp_path / "again" / "fieldlog.sqlite")
    for kind in (*CATALOGUE.kinds, "flag"):
        rows = [sorted(repr(tuple(row)) for row in one.execute(f'SELECT * FROM "{kind}"')) for one in (db, again)]
        assert rows[0] == rows[1], kind
    again.close()


KINDS = [
    "site", "row", "control_mark", "unit_design", "casting_batch", "unit", "plot", "species", "person", "person_private",
    "visit", "visit_part", "sign_in", "unit_check", "position_fix", "unit_event", "sighting", "photo", "flag_decision",
]  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_there_is_something_of_every_kind(db: sqlite3.Connection, kind: str) -> None:
    assert count(db, kind) > 0


def test_48_units_stand_in_four_rows(db: sqlite3.Connection) -> None:
    assert count(db, "unit") == 48
    assert count(db, "row") == 4


def test_the_flags_are_few_enough_to_walk_and_have_their_evidence(demo_programme) -> None:
    (site,) = demo_programme.db().query("SELECT * FROM site")
    flags = list_flags(demo_programme.db(), site["record_id"], datetime.combine(DEMO_DAY, time(12), UTC))
    assert 12 <= len(flags) <= 30
    by_rule = {flag["rule"]: flag for flag in flags}
    assert {"damaged", "displaced", "leaning", "undermined", "not_found", "overdue", "disagreement"} <= set(by_rule)
    assert by_rule["displaced"]["evidence"]["p"] < 0.05
    assert all(flag["sentence"].endswith(".") and flag["evidence"] for flag in flags)


def test_looked_for_and_not_seen_has_no_count(db: sqlite3.Connection) -> None:
    assert db.execute("SELECT count(*) FROM sighting WHERE found = 'looked_for_none'").fetchone()[0] > 0
    assert db.execute("SELECT count(*) FROM sighting WHERE found = 'looked_for_none' AND count IS NOT NULL").fetchone()[0] == 0


def test_every_visit_lies_before_today_and_was_ended(db: sqlite3.Connection) -> None:
    rows = db.execute("SELECT started_at, ended_at FROM visit").fetchall()
    assert all(row["ended_at"] and row["started_at"][:10] < DEMO_DAY.isoformat() for row in rows)
    assert db.execute("SELECT count(*) FROM sign_in WHERE out_at IS NULL").fetchone()[0] == 0


def test_each_phone_has_its_part_of_a_visit_and_left_it(db: sqlite3.Connection) -> None:
    visits = {row["record_id"]: row for row in db.execute("SELECT * FROM visit")}
    parts = db.execute("SELECT p.*, d.person_id FROM visit_part p JOIN device d ON d.device_id = p.device").fetchall()
    by_visit: dict[str, list[sqlite3.Row]] = {}
    for part in parts:
        by_visit.setdefault(part["of_visit_id"], []).append(part)
    assert set(by_visit) == set(visits)
    assert max(len(one) for one in by_visit.values()) >= 2
    for visit_id, of_visit in by_visit.items():
        visit = visits[visit_id]
        assert min(one["from_at"] for one in of_visit) == visit["started_at"]
        assert max(one["until_at"] for one in of_visit) == visit["ended_at"]
        assert [one["leader_id"] for one in of_visit if one["leader_id"]] == [visit["leader_id"]]
        assert all(one["from_at"] < one["until_at"] and one["created_by"] == one["person_id"] for one in of_visit)


def test_one_visit_was_gone_on_with_after_it_had_ended(db: sqlite3.Connection) -> None:
    lines = db.execute("SELECT record_id, line FROM log WHERE kind = 'visit' ORDER BY seq").fetchall()
    ends: dict[str, list[str | None]] = {}
    for row in lines:
        fields = json.loads(row["line"])["f"]
        if "ended_at" in fields:
            ends.setdefault(row["record_id"], []).append(fields["ended_at"])
    (again,) = [one for one in ends.values() if None in one]
    assert again.index(None) not in (0, len(again) - 1)


def test_a_photo_is_called_by_its_units_tag(db: sqlite3.Connection) -> None:
    shown = db.execute(
        "SELECT shows, tag FROM photo JOIN unit_check ON of_kind = 'unit_check' AND of_id = unit_check.record_id JOIN unit ON unit_id = unit.record_id"
    ).fetchall()
    assert len(shown) > 10
    assert [(shows, tag) for shows, tag in shown if shows != f"{tag} from the landward side"] == []


def test_photos_are_drawn_pictures(demo_folder: Path) -> None:
    photos = [path for path in (demo_folder / "photos").iterdir() if len(path.name) == 64]
    assert len(photos) >= 8
    for path in photos:
        with Image.open(path) as picture:
            assert picture.width >= 640
            assert not picture.getexif()
