"""Verdicts kept beside checks give the flags that whole histories give, and what a push reads does not grow with the years."""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlite_utils import Database

from fieldlog.flags.histories import check_histories, full_histories, place_histories
from fieldlog.flags.raising import unit_flags
from fieldlog.flags.verdicts import indexes_of, kept_rules
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.kind import Kind
from fieldlog.store import create_programme, write
from fieldlog.sync.apply import apply_entries
from fieldlog.sync.log import Entry, entry_of
from fieldlog.sync.opening import open_programme
from fieldlog.sync.receive import receive
from fieldlog.sync.replay import replay
from fieldlog.sync.rows import INSERT_LOG, log_row
from tests.flags.shore import DESIGN, LEAD, OTHER, ROW, SITE, UNIT, Shore
from tests.sync.lines import START_MS, Lane, record_id

DAY0 = datetime(2026, 6, 2, 10, tzinfo=UTC)


def day(n: int) -> str:
    """A few days fall together, so that the record id decides between them."""
    return (DAY0 + timedelta(days=n)).strftime("%Y-%m-%dT%H:%M:%S") + (".000Z" if n % 3 == 0 else "Z")


CHECK = st.fixed_dictionaries(
    {"unit_id": st.sampled_from([UNIT, OTHER, record_id("late unit")]), "checked_at": st.integers(0, 12).map(day),
     "found_state": st.sampled_from(["seen", "probed", "not_found_dry", "not_found_under_water", "not_visited"])},
    optional={
        "tilt_deg": st.sampled_from([0, 8, 14.9, 15, 40]), "stance_grade": st.integers(0, 4), "body_grade": st.integers(0, 4),
        "crack_width_mm": st.sampled_from([0, 0.4, 3]), "toe_grade": st.integers(0, 4), "scour_depth_mm": st.sampled_from([0, 30, 60, 200]),
        "rocking": st.booleans(), "lost_volume_pct": st.sampled_from([0, 30]), "looked_only": st.booleans(), "time_known": st.booleans(),
        "scaling_depth_mm": st.sampled_from([0, 6]), "chip_depth_mm": st.sampled_from([0, 40]), "chip_across_mm": st.sampled_from([0, 20]),
    },
)  # fmt: skip
WORK = st.fixed_dictionaries(
    {"unit_id": st.sampled_from([UNIT, OTHER]), "event_at": st.integers(0, 12).map(day),
     "event": st.sampled_from(["placed", "reset", "righted", "cleaned", "retired"])},
)  # fmt: skip
STEP = st.one_of(
    st.tuples(st.just("unit_check"), st.integers(0, 11), CHECK),
    st.tuples(st.just("unit_check"), st.integers(0, 11), CHECK),
    st.tuples(st.just("unit_check"), st.integers(0, 11), st.fixed_dictionaries({"_deleted": st.booleans()})),
    st.tuples(st.just("unit_event"), st.integers(0, 3), WORK),
    st.tuples(st.just("unit_design"), st.just(DESIGN), st.fixed_dictionaries({"height_mm": st.sampled_from([200, 450, 1200])})),
    st.tuples(st.just("site"), st.just(SITE), st.fixed_dictionaries({"lean_look_deg": st.sampled_from([None, 5, 10, 30])})),
    st.tuples(st.just("unit"), st.just(record_id("late unit")), st.fixed_dictionaries({"tag": st.just("A048"), "row_id": st.just(ROW), "slot_number": st.just(4), "design_id": st.sampled_from([DESIGN, None])})),
)  # fmt: skip


def of_few(db: Database) -> list[str]:
    ids = [row[0] for row in db.execute("SELECT record_id FROM unit").fetchall()]
    histories = check_histories(db, dict.fromkeys(ids, kept_rules()))
    return sorted(json.dumps(row, sort_keys=True) for history, rules in histories for row in unit_flags(history, rules))


def of_all(db: Database) -> list[str]:
    ids = [row[0] for row in db.execute("SELECT record_id FROM unit").fetchall()]
    return sorted(json.dumps(row, sort_keys=True) for history in full_histories(db, ids) for row in unit_flags(history, kept_rules()))


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(STEP, min_size=4, max_size=16))
def test_the_few_checks_that_count_raise_the_flags_of_the_whole_history(steps: list[tuple[str, Any, dict[str, Any]]]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        create_programme(Path(folder) / "programme", "Skein Bay").close()
        programme = open_programme(Path(folder) / "programme", CATALOGUE, START_MS)
        shore = Shore(programme.db())
        shore.set_up()
        made: set[tuple[str, Any]] = set()
        for kind, which, fields in steps:
            if "_deleted" not in fields or (kind, which) in made:
                made.add((kind, which))
                shore.write(kind, which if isinstance(which, str) else record_id(f"{kind} {which}"), **fields)
        whole = of_all(shore.db)
        assert of_few(shore.db) == whole
        stored = shore.stored()
        with write(shore.db):
            replay(shore.db, CATALOGUE)
        assert of_few(shore.db) == whole
        assert shore.stored() == stored
        programme.close()


def appended(shore: Shore, lane: Lane, stamps: Iterable[int]) -> list[tuple[Entry, str]]:
    """A lane's lines put at the end of the log, ordered by these times; they are in no table yet."""
    (seq,) = shore.db.execute("SELECT max(seq) FROM log").fetchone()
    taken = []
    for number, (line, stamp_ms) in enumerate(zip(lane.texts, stamps, strict=True), 1):
        entry, eff = entry_of(line, lane.lane_id, number), f"{stamp_ms:012x}0000"
        taken.append((entry, eff))
        shore.db.conn.execute(INSERT_LOG, log_row(seq + number, entry, eff, line, CATALOGUE, "", "", START_MS))
    return taken


def long_past(shore: Shore, count: int) -> None:
    """So many checks of one unit, the newest a day before the last of 2020: mostly sound, now and then not measured, once damaged."""
    lane = Lane(f"past {count}", SITE)
    for n in range(count):
        at = (datetime(2020, 12, 31, tzinfo=UTC) - timedelta(hours=7 * n)).strftime("%Y-%m-%dT%H:%M:%SZ")
        fields: dict[str, Any] = {"unit_id": UNIT, "checked_at": at, "found_state": "seen", "body_grade": 0, "tilt_deg": 3, "scour_depth_mm": 0}
        if n % 3 == 1:
            fields = {"unit_id": UNIT, "checked_at": at, "found_state": "seen"}
        if n == count - 2:
            fields |= {"crack_width_mm": 3}
        lane.write("unit_check", record_id(f"past {n} of {count}"), fields)
    with write(shore.db):
        apply_entries(shore.db, CATALOGUE, appended(shore, lane, range(START_MS - 10_000_000_000, START_MS - 10_000_000_000 + count)))


def push(shore: Shore, name: str) -> Lane:
    lane = Lane(name, SITE)
    lane.now_ms = shore.lane.now_ms
    for n in range(20):
        lane.write("unit_check", record_id(f"{name} {n}"), {
            "unit_id": UNIT if n % 2 else OTHER, "checked_at": f"2026-09-{n + 1:02}T10:00:00.000Z", "found_state": "seen", "body_grade": 0,
            "tilt_deg": 20 if n == 4 else 2, "scour_depth_mm": 0, "exposed_height_mm": 300,
        })  # fmt: skip
    return lane


def steps_of(db: Database, work: Any) -> int:
    """How many steps SQLite's machine takes: each row that is read takes some."""
    count = 0

    def tick() -> int:
        nonlocal count
        count += 1
        return 0

    db.conn.set_progress_handler(tick, 1)
    work()
    db.conn.set_progress_handler(None, 1)
    return count


def searched(shore: Shore, count: int) -> None:
    """A unit that was searched for in vain on so many days, the last a day before it was found."""
    for n in range(count, 0, -1):
        at = (datetime(2026, 8, 1, tzinfo=UTC) - timedelta(days=n)).strftime("%Y-%m-%dT%H:%M:%SZ")
        shore.check(at, found_state="not_found_dry")
    shore.check("2026-08-01T10:00:00.000Z")
    shore.check("2026-08-02T10:00:00.000Z")


def test_a_unit_found_again_is_not_held_against_its_searches_at_each_later_check(tmp_path: Path) -> None:
    steps = []
    for count in (2, 60):
        create_programme(tmp_path / str(count), "Skein Bay").close()
        programme = open_programme(tmp_path / str(count), CATALOGUE, START_MS)
        shore = Shore(programme.db())
        shore.set_up()
        searched(shore, count)
        assert shore.flag("not_found")["state"] == "settled"
        lane = Lane("later", SITE)
        lane.write("unit_check", record_id("later"), {"unit_id": UNIT, "checked_at": "2026-08-03T10:00:00.000Z", "found_state": "seen"})
        with write(shore.db):
            steps.append(steps_of(shore.db, partial(apply_entries, shore.db, CATALOGUE, appended(shore, lane, [START_MS]))))
        programme.close()
    assert steps[1] <= steps[0] * 1.1


@pytest.mark.parametrize(("settled", "later", "state"), [
    ("2026-08-05T10:00:00.000Z", {"checked_at": "2026-08-03T10:00:00.000Z", "tilt_deg": 1}, "2026-08-03T10:00:00.000Z"),
    ("2026-08-05T10:00:00.000Z", {"checked_at": "2026-08-06T10:00:00.000Z", "tilt_deg": 1}, "2026-08-05T10:00:00.000Z"),
    ("2026-08-05T10:00:00.000Z", {"checked_at": "2026-08-06T10:00:00.000Z", "tilt_deg": 25}, None),
], ids=["an earlier check", "a later one", "a later one that raises"])  # fmt: skip
def test_what_a_check_settled_is_settled_by_the_first_of_its_kind(shore: Shore, settled: str, later: dict[str, Any], state: str | None) -> None:
    shore.check("2026-08-01T10:00:00.000Z", tilt_deg=20)
    shore.check(settled, tilt_deg=2)
    shore.write("unit_check", unit_id=UNIT, found_state="seen", **later)
    assert shore.flag("leaning")["settled_at"] == state


def test_what_a_lead_settled_says_what_later_checks_say(shore: Shore) -> None:
    shore.check("2026-08-01T10:00:00.000Z", crack_width_mm=1.5, lost_volume_pct=12)
    shore.decide(shore.flag("damaged")["flag_id"], "settled", "2026-08-02T10:00:00.000Z")
    shore.check("2026-08-03T10:00:00.000Z", crack_width_mm=0)
    assert "crack" not in shore.flag("damaged")["sentence"]


def test_what_a_push_reads_is_the_same_after_a_hundred_checks_of_its_unit_and_after_ten_thousand(tmp_path: Path) -> None:
    steps = []
    for count in (100, 10_000):
        create_programme(tmp_path / str(count), "Skein Bay").close()
        shore = Shore(open_programme(tmp_path / str(count), CATALOGUE, START_MS).db())
        shore.set_up()
        shore.db.execute("UPDATE unit_event SET event_at = '2000-01-01T00:00:00.000Z'")
        long_past(shore, count)
        assert shore.db.execute("SELECT count(*) FROM unit_check").fetchone() == (count,)
        for name in ("warm", "measured"):
            with write(shore.db):
                taken = appended(shore, push(shore, name), range(START_MS, START_MS + 20))
                count_of = steps_of(shore.db, lambda shore=shore, taken=taken: apply_entries(shore.db, CATALOGUE, taken))
        steps.append(count_of)
        assert {flag["rule"] for flag in shore.flags()} >= {"damaged", "leaning"}
    assert steps[1] <= steps[0] * 1.02, steps


GROW = ("log", "tray", "flag", "unit_check", "unit_event", "position_fix", "photo", "sighting", "visit", "unit", "person", "flag_decision")
NEWEST = re.compile(r"FROM log ORDER BY seq DESC LIMIT 1$|^SELECT (coalesce\()?max\((eff|seq)\)")
"""The newest row alone is read from the end."""


def test_no_statement_of_a_push_reads_a_table_through(shore: Shore) -> None:
    receive(shore.db, push(shore, "warm").body(), CATALOGUE, lambda: LEAD, lambda: shore.lane.now_ms)
    said: set[str] = set()
    shore.db.conn.set_trace_callback(said.add)
    receive(shore.db, push(shore, "traced").body(), CATALOGUE, lambda: LEAD, lambda: shore.lane.now_ms)
    shore.db.conn.set_trace_callback(None)
    scans = []
    for statement in said:
        if statement.lstrip().split(None, 1)[0] in ("SELECT", "UPDATE", "DELETE"):
            plan = [row[3] for row in shore.db.conn.execute(f"EXPLAIN QUERY PLAN {statement}").fetchall()]
            scans += [(step, statement) for step in plan if re.match(rf"SCAN ({'|'.join(GROW)})\b", step) and not NEWEST.search(statement)]
    assert len(said) > 20
    assert scans == []


def test_a_history_of_no_unit_is_none(shore: Shore) -> None:
    for ids in ([], ["nowhere"]):
        assert list(place_histories(shore.db, ids)) == []
        assert list(check_histories(shore.db, dict.fromkeys(ids, kept_rules()))) == []


def test_a_sound_check_reads_the_past_of_units_alone_that_have_a_flag(shore: Shore) -> None:
    shore.check("2026-07-01T10:00:00.000Z", tilt_deg=40)
    said: list[str] = []
    for unit_id, reads in ((OTHER, False), (UNIT, True)):
        said.clear()
        shore.db.conn.set_trace_callback(said.append)
        shore.write("unit_check", record_id(f"sound {unit_id}"), unit_id=unit_id, checked_at="2026-08-01T10:00:00.000Z", found_state="seen", tilt_deg=2)
        shore.db.conn.set_trace_callback(None)
        assert any("FROM unit_event" in statement for statement in said) is reads
    assert shore.flag("leaning")["state"] == "settled"


def test_of_two_checks_of_one_push_the_one_that_raises_counts(shore: Shore) -> None:
    lane = Lane("two at once", SITE)
    lane.now_ms = shore.lane.now_ms
    for tilt_deg in (40, 2, 3):
        lane.write("unit_check", record_id(f"tilt {tilt_deg}"), {"unit_id": UNIT, "checked_at": f"2026-07-0{tilt_deg % 7 + 1}T10:00:00.000Z", "found_state": "seen", "tilt_deg": tilt_deg})
    receive(shore.db, lane.body(), CATALOGUE, lambda: LEAD, lambda: shore.lane.now_ms)
    assert [flag["rule"] for flag in shore.flags()] == ["leaning"]


@pytest.mark.parametrize(("height_mm", "is_written"), [(460, False), (250, True)])
def test_a_check_is_written_again_only_where_another_height_changes_what_it_says(shore: Shore, height_mm: int, is_written: bool) -> None:
    """Scour counts from a tenth of the height: 30 mm is under that of 450 and 460 mm, and over that of 250 mm."""
    shore.check("2026-07-01T10:00:00.000Z", scour_depth_mm=30, tilt_deg=20)
    said: list[str] = []
    shore.db.conn.set_trace_callback(said.append)
    shore.write("unit_design", DESIGN, height_mm=height_mm)
    shore.db.conn.set_trace_callback(None)
    assert any(statement.startswith("UPDATE unit_check") for statement in said) is is_written


def test_a_table_is_indexed_by_columns_that_it_has() -> None:
    other = Kind("unit_event", "Event", CATALOGUE.kinds["row"].schema, writers={"lead"})
    assert list(indexes_of(other)) == []
    assert len(list(indexes_of(CATALOGUE.kinds["unit_event"]))) == 1
