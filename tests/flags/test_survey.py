"""A survey is judged as one: which readings belong to it, what it says so far, what settles it, and which mark it doubts."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sqlite_utils import Database

from fieldlog.flags import surveys
from fieldlog.flags.changes import Change
from fieldlog.flags.raising import raise_flags
from fieldlog.flags.reading import list_flags, packed_flags
from fieldlog.flags.survey_reading import ZERO_MOST, SiteReadings
from fieldlog.flags.survey_rows import rows_of
from fieldlog.questions.sites import sites_of
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import create_programme
from fieldlog.survey.verdict import Verdict
from fieldlog.sync import apply
from fieldlog.sync.opening import open_programme
from fieldlog.sync.receive import receive
from fieldlog.sync.replay import replay
from tests.flags.shore import DESIGN, LEAD, MARKS, NOW, OTHER, ROW, SITE, UNIT, Shore
from tests.survey.season import MARKS as SEASON_MARKS
from tests.survey.season import Season, epoch_of
from tests.sync.lines import START_MS, Lane, record_id

ZERO, LATER, LATEST = "2026-06-02T10:00:00.000Z", "2026-07-01T10:00:00.000Z", "2026-08-01T10:00:00.000Z"


def rows(shore: Shore, table: str = "survey") -> list[dict[str, Any]]:
    return list(shore.db.query(f"SELECT * FROM {table}"))


def visit(shore: Shore, name: str, at: str, **fields: Any) -> str:
    return shore.write("visit", record_id(name), purpose="monitoring", started_at=at, **fields)


def typed(shore: Shore, at: str, east_m: float, visit_id: str, unit: str = UNIT) -> str:
    return shore.write(
        "position_fix", visit=visit_id, of_kind="unit", of_id=unit, fixed_at=at, method="typed", east_m=east_m, north_m=15.0, sigma_m=0.03
    )


def test_a_second_set_of_the_same_day_joins_the_first(shore: Shore) -> None:
    shore.tapes(ZERO, 12.0, 15.0)
    shore.tapes(LATER, 12.0, 15.0)
    (once,) = rows(shore, "survey_verdict")
    shore.tapes("2026-07-01T10:05:00.000Z", 12.0, 15.0)
    (twice,) = rows(shore, "survey_verdict")
    assert twice["shows_m"] == pytest.approx(once["shows_m"] * math.sqrt(0.75), rel=1e-6), "the variances 1 + 1 and 1 + 1/2"


def test_a_visit_past_midnight_is_one_survey_and_a_day_without_a_visit_is_the_sites_own(shore: Shore) -> None:
    night = visit(shore, "night", "2026-07-02T03:00:00.000Z")
    for at, visit_id in (("2026-06-02T10:00:00.000Z", None), ("2026-07-02T03:30:00.000Z", night), ("2026-07-02T04:30:00.000Z", night)):
        shore.write("position_fix", visit=visit_id, of_kind="unit", of_id=UNIT, fixed_at=at, method="typed", east_m=12.0, north_m=15.0)
    assert [row["survey"] for row in rows(shore)] == [f"visit {night}"]
    shore.typed("2026-08-02T03:30:00.000Z", 12.0, 15.0)
    assert rows(shore)[0]["survey"] == "day 2026-08-01", "half past eleven at night in New York"


def test_joined_visits_are_one_survey(shore: Shore) -> None:
    for unit in (UNIT, OTHER):
        typed(shore, ZERO, 12.0, visit(shore, "zero", ZERO), unit)
    first, second = visit(shore, "first", LATER), visit(shore, "second", LATER)
    typed(shore, LATER, 12.0, first)
    typed(shore, LATER, 12.0, second, OTHER)
    assert len(rows(shore)) == 2
    shore.write("visit", second, joined_to=first)
    assert [(row["survey"], row["measured"]) for row in rows(shore)] == [(f"visit {first}", 2)]
    shore.write("visit", first, joined_to=second)
    assert len(rows(shore)) == 1, "visits joined in a ring are one as well"


def test_a_survey_says_so_far_until_its_visit_has_ended(shore: Shore) -> None:
    shore.typed(ZERO, 12.0, 15.0)
    walk = visit(shore, "walk", LATER)
    typed(shore, LATER, 12.4, walk)
    assert shore.flag("displaced")["sentence"].endswith("by typed coordinates. So far: 1 of 2 units measured on this visit.")
    shore.write("unit", record_id("A030"), tag="A030", row_id=ROW, slot_number=3, design_id=DESIGN)
    assert "So far: 1 of 3 units" in shore.flag("displaced")["sentence"]
    part = shore.write("visit_part", of_visit_id=walk, device="a phone", from_at=LATER)
    shore.write("visit", walk, ended_at="2026-07-01T12:00:00.000Z")
    assert "So far: 1 of 3 units" in shore.flag("displaced")["sentence"], "a phone that is still out may have more"
    shore.write("visit_part", part, until_at="2026-07-01T12:00:00.000Z")
    assert shore.flag("displaced")["sentence"].endswith("by typed coordinates.")


def test_the_end_of_a_joined_visit_ends_the_survey_of_both(shore: Shore) -> None:
    shore.typed(ZERO, 12.0, 15.0)
    first = visit(shore, "first", LATER)
    second = visit(shore, "second", LATER, joined_to=first)
    typed(shore, LATER, 12.4, first)
    shore.write("visit", first, ended_at="2026-07-01T12:00:00.000Z")
    assert "So far: 1 of 2 units" in shore.flag("displaced")["sentence"], "the other one goes on"
    part = shore.write("visit_part", of_visit_id=second, device="a phone", from_at=LATER)
    shore.write("visit", second, ended_at="2026-07-01T12:10:00.000Z")
    assert "So far: 1 of 2 units" in shore.flag("displaced")["sentence"], "as one of its phones does"
    shore.write("visit_part", part, until_at="2026-07-01T12:10:00.000Z")
    assert shore.flag("displaced")["sentence"].endswith("by typed coordinates.")


def test_a_visit_that_has_not_ended_holds_the_survey_open_while_it_is_joined(shore: Shore) -> None:
    shore.typed(ZERO, 12.0, 15.0)
    first = visit(shore, "first", LATER, ended_at="2026-07-01T12:00:00.000Z")
    typed(shore, LATER, 12.4, first)
    second = visit(shore, "second", LATER)
    for joined_to, is_over in ((first, False), (None, True), (first, False)):
        shore.write("visit", second, joined_to=joined_to)
        assert shore.flag("displaced")["sentence"].endswith("by typed coordinates.") is is_over
    shore.write("visit", second, _deleted=True)
    assert shore.flag("displaced")["sentence"].endswith("by typed coordinates.")
    stored = shore.stored()
    with shore.db.conn:
        replay(shore.db, CATALOGUE)
    assert shore.stored() == stored


def test_only_what_would_have_shown_the_movement_settles_it(shore: Shore) -> None:
    shore.typed(ZERO, 12.0, 15.0)
    shore.typed(LATER, 12.6, 15.0)
    shore.typed(LATEST, 12.1, 15.0, sigma_m=1.0)
    assert shore.flag("displaced")["state"] == "open", "a position known to 1 m tells nothing of 0.60 m"
    back = shore.typed("2026-08-15T10:00:00.000Z", 12.02, 15.0)
    assert (shore.flag("displaced")["state"], shore.flag("displaced")["settled_by"]) == ("settled", back)


def test_a_reading_from_a_mark_that_may_have_moved_settles_nothing(shore: Shore) -> None:
    shore.typed(ZERO, 12.0, 15.0)
    shore.typed(LATER, 12.6, 15.0)
    shore.typed(LATEST, 12.02, 15.0)
    assert [row.get("settled_by") for row in rows_of(shore.db, UNIT, SITE, "") if row["verdict"] == "moved"] == ["day 2026-08-01"]
    shore.db.execute("UPDATE survey_verdict SET doubts = '[\"mark\"]' WHERE survey = 'day 2026-08-01'")
    assert [row.get("settled_by") for row in rows_of(shore.db, UNIT, SITE, "")] == [None]


def test_measure_again_is_settled_by_any_later_survey_without_a_doubt(shore: Shore) -> None:
    """It claims no size, so that a place that is known a hair less well than before answers it too."""
    for at in (ZERO, "2026-06-02T10:10:00.000Z"):
        shore.tapes(at, 12.0, 15.0)
    for minute in range(2):
        shore.tapes(f"2026-07-01T1{minute}:00:00.000Z", 12.1, 15.0)
    for minute in range(2):
        shore.tapes(f"2026-08-01T1{minute}:00:00.000Z", 12.0, 15.0)
    asked, answered = rows(shore, "survey_verdict")
    assert (asked["verdict"], answered["verdict"]) == ("again", "none")
    assert answered["shows_m"] > asked["shows_m"]
    assert shore.flag("measure_again")["state"] == "settled"


def test_a_small_movement_that_was_measured_well_is_no_flag(shore: Shore) -> None:
    shore.write("site", SITE, least_shift_m=0.5)
    shore.typed(ZERO, 12.0, 15.0, sigma_m=0.01)
    shore.typed(LATER, 12.2, 15.0, sigma_m=0.01)
    assert shore.flags() == []
    assert [row["verdict"] for row in rows(shore, "survey_verdict")] == [Verdict.SMALL.value]


def test_a_tape_that_is_misread_is_named_and_moves_nothing(shore: Shore) -> None:
    shore.tapes(ZERO, 12.0, 15.0)
    fix = shore.tapes(LATER, 12.0, 15.0)
    right = shore.db.execute("SELECT range_2_m FROM position_fix WHERE record_id = ?", (fix,)).fetchone()[0]
    shore.write("position_fix", fix, mark_2_id=record_id("M2"), range_2_m=right + 0.6)
    flag = shore.flag("measure_again")
    assert "fits worst and may be misread. Read all of them again." in flag["sentence"]
    assert flag["evidence"]["doubts"][0] == "a tape misread"
    assert shore.flags("displaced") == []


def test_surely_significant_and_t_stand_in_no_sentence(shore: Shore) -> None:
    shore.typed(ZERO, 12.0, 15.0)
    shore.typed(LATER, 12.6, 15.0)
    shore.tapes(LATEST, 12.1, 15.0)
    said = " ".join(flag["sentence"] + str(flag["settled_reason"]) for flag in shore.flags()).lower()
    assert not [word for word in ("surely", "significant", "t\u00b2", "-0.00") if word in said]


def lines_of(season: Season, lane: Lane, at: str, visit_id: str, epochs: Sequence[Any]) -> None:
    """A season's readings of one survey as position records: sets of three tapes."""
    for unit, epoch in enumerate(epochs):
        for first in range(0, len(epoch.tapes), 3):
            fields: dict[str, Any] = {}
            for n, one in enumerate(epoch.tapes[first : first + 3], 1):
                fields |= {f"mark_{n}_id": record_id(f"season {one.mark_id}"), f"range_{n}_m": round(one.tape.range_m, 3)}
            fields |= {"of_kind": "unit", "of_id": record_id(f"season unit {unit}"), "fixed_at": at, "method": "tapes", "tape_sigma_m": 0.02}
            lane.write("position_fix", record_id(f"{at} {unit} {first}"), fields, y=visit_id)


def season_of(shore: Shore, season: Season) -> None:
    """The made site of 48 units on the shore's own, each measured twice before."""
    for label, (east_m, north_m) in SEASON_MARKS.items():
        shore.write("control_mark", record_id(f"season {label}"), label=label, east_m=east_m, north_m=north_m, sigma_m=0.01)
    for unit, (east_m, north_m) in enumerate(season.places):
        fields = {"tag": f"S{unit:02}", "row_id": ROW, "slot_number": 10 + unit, "design_id": DESIGN, "planned_east_m": east_m, "planned_north_m": north_m}
        shore.lane.write("unit", record_id(f"season unit {unit}"), fields)


def send(shore: Shore) -> None:
    reply = receive(shore.db, shore.lane.body(shore.sent + 1), CATALOGUE, lambda: LEAD, lambda: shore.lane.now_ms)
    assert {ack[2] for ack in reply["acks"]} == {"ok"}
    shore.sent = len(shore.lane.texts)


def test_a_whole_survey_comes_out_through_receive_as_the_simulation_has_it(shore: Shore) -> None:
    """48 units, five moved by 0.30 m, one tape of another misread by 0.30 m: one seed, pushed as phones push."""
    season = Season(5003, zero_sets=2)
    season_of(shore, season)
    lines_of(season, shore.lane, ZERO, visit(shore, "zero", ZERO, ended_at="2026-06-02T14:00:00.000Z"), season.zero)
    send(shore)
    still = [unit for unit in range(48) if unit != season.wrong_unit]
    movers = [still[int(n)] for n in np.random.default_rng(5003).permutation(len(still))[:5]]
    season.move(movers, 0.30)
    asked = {*movers, season.wrong_unit}
    now = [season.measured(unit, 2 if unit in asked else 1, 0.30 if unit == season.wrong_unit else 0.0) for unit in range(48)]
    lines_of(season, shore.lane, LATER, visit(shore, "walk", LATER, ended_at="2026-07-01T14:00:00.000Z"), now)
    send(shore)
    moved = {flag["subject"]["id"] for flag in shore.flags("displaced")}
    assert moved == {record_id(f"season unit {unit}") for unit in movers}
    assert record_id(f"season unit {season.wrong_unit}") in {flag["subject"]["id"] for flag in shore.flags("measure_again")}
    before = shore.stored()
    with shore.db.conn:
        replay(shore.db, CATALOGUE)
    assert shore.stored() == before, "old flags are judged anew by the same rule"


def test_a_mark_that_was_knocked_is_a_flag_of_its_own_and_moves_no_unit(shore: Shore) -> None:
    season = Season(5000, zero_sets=2)
    season_of(shore, season)
    lines_of(season, shore.lane, ZERO, visit(shore, "zero", ZERO), season.zero)
    knocked = [season.measured(unit, 1, 0.0, 0.15) for unit in range(48)]
    lines_of(season, shore.lane, LATER, visit(shore, "walk", LATER), knocked)
    send(shore)
    flag = shore.flag("mark_moved")
    assert flag["subject"] == {"kind": "control_mark", "id": record_id("season M1")}
    assert flag["sentence"].startswith("Mark M1 may have moved:")
    assert shore.flags("displaced") == []
    shore.check("2026-07-20T10:00:00.000Z", lost_volume_pct=30)
    newest = [list_flags(shore.db, SITE, NOW), packed_flags(shore.db, SITE, NOW)["flags"]]
    assert [flags[0]["rule"] for flags in newest] == ["mark_moved"] * 2, "it comes before any unit's"
    lines_of(season, shore.lane, LATEST, visit(shore, "back", LATEST), [season.measured(unit, 1) for unit in range(48)])
    send(shore)
    assert shore.flag("mark_moved")["state"] == "settled"


def stories() -> list[Lane]:
    """A unit and its neighbour over three visits, one joined to another, each reading on a phone of its own."""
    told: list[tuple[str, str, dict[str, Any], str | None]] = [
        ("visit", "v0", {"purpose": "monitoring", "started_at": ZERO}, None),
        ("visit", "v1", {"purpose": "monitoring", "started_at": LATER, "joined_to": record_id("v2")}, None),
        ("visit", "v2", {"purpose": "monitoring", "started_at": LATER, "ended_at": "2026-07-01T14:00:00.000Z"}, None),
        ("unit_event", "placed other", {"unit_id": OTHER, "event": "placed", "event_at": "2026-05-01T10:00:00.000Z"}, None),
        ("unit_event", "reset", {"unit_id": UNIT, "event": "reset", "event_at": "2026-07-20T10:00:00.000Z"}, None),
        ("control_mark", "M9", {"label": "M9", "east_m": 30.0, "north_m": 20.0, "sigma_m": 0.01}, None),
    ]
    marks = {**MARKS, "M9": (30.0, 20.0)}
    for number, (unit, at, place, visit_id) in enumerate([
        (UNIT, ZERO, (12.0, 15.0), "v0"), (OTHER, ZERO, (12.0, 15.0), "v0"), (UNIT, LATER, (12.5, 15.0), "v1"), (OTHER, LATER, (12.0, 15.01), "v2"),
        (UNIT, "2026-07-01T10:20:00.000Z", (12.5, 15.02), "v2"), (UNIT, "2026-07-21T10:00:00.000Z", (12.0, 15.0), None), (UNIT, LATEST, (12.3, 15.0), None),
        (OTHER, LATEST, (12.0, 15.0), None),
    ]):  # fmt: skip
        ranges = {f"range_{n}_m": round(math.dist(at_mark, place), 3) for n, at_mark in enumerate(marks.values(), 1)}
        ids = {f"mark_{n}_id": record_id(label) for n, label in enumerate(marks, 1)}
        fix = {"of_kind": "unit", "of_id": unit, "fixed_at": at, "method": "tapes", "tape_sigma_m": 0.02, **ids, **ranges}
        told.append(("position_fix", f"fix {number}", fix, None if visit_id is None else record_id(visit_id)))
    lanes = []
    for number, (kind, name, fields, visit_id) in enumerate(told):
        lane = Lane(f"survey phone {number}", SITE)
        lane.now_ms = START_MS + 60_000 + number * 1000
        lane.write(kind, record_id(name), fields, y=visit_id)
        lanes.append(lane)
    return lanes


@pytest.mark.parametrize("seed", range(4))
def test_surveys_are_the_same_in_whatever_order_readings_come_and_after_a_replay(shore: Shore, tmp_path: Path, seed: int) -> None:
    create_programme(tmp_path / "other", "Skein Bay").close()
    other = Shore(open_programme(tmp_path / "other", CATALOGUE, START_MS).db())
    other.set_up()
    lanes = stories()
    shuffled = lanes[:]
    random.Random(seed).shuffle(shuffled)
    for made, order in ((shore, lanes), (other, shuffled)):
        for lane in order:
            receive(made.db, lane.body(), CATALOGUE, lambda: LEAD, lambda: START_MS + 3_600_000)
    kept = [rows(shore, table) for table in ("survey", "survey_verdict", "site_tapes")]
    assert {row["verdict"] for row in kept[1]} == {"moved", "none"}
    assert [rows(other, table) for table in ("survey", "survey_verdict", "site_tapes")] == kept
    assert other.stored() == shore.stored()
    with other.db.conn:
        replay(other.db, CATALOGUE)
    assert [rows(other, table) for table in ("survey", "survey_verdict", "site_tapes")] == kept


def test_what_a_survey_reads_does_not_grow_with_the_surveys_before_it(shore: Shore, monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted in SQLite's own steps, for a reading of today after as many as a zero epoch is looked for in, and after forty."""
    steps: list[int] = []

    def counted(db: Database, changes: Sequence[Change]) -> None:
        steps.append(0)
        db.conn.set_progress_handler(lambda: steps.append(steps.pop() + 1) or 0, 1)
        raise_flags(db, changes)
        db.conn.set_progress_handler(None, 1)

    monkeypatch.setattr(apply, "raise_flags", counted)
    for month in range(42):
        at = f"20{27 + month // 12}-{month % 12 + 1:02}-02T10:00:00.000Z"
        shore.typed(at, 12.0, 15.0)
    assert steps[-1] <= steps[ZERO_MOST + 2] * 1.25 + 60


def test_what_a_survey_said_before_is_neither_written_nor_flagged_again(shore: Shore) -> None:
    for unit in (UNIT, OTHER):
        typed(shore, ZERO, 12.0, visit(shore, "zero", ZERO), unit)
        fix = typed(shore, LATER, 12.6, visit(shore, "walk", LATER), unit)
    (row,) = shore.db.query("SELECT * FROM position_fix WHERE record_id = ?", [fix])
    written = shore.db.conn.total_changes
    assert surveys.keep(shore.db, [Change("position_fix", fix, None, row)]).units == set()
    assert shore.db.conn.total_changes == written
    typed(shore, "2026-07-01T10:20:00Z", 12.6, record_id("walk"), OTHER)
    assert len(shore.flags("displaced")) == 2


def test_a_site_whose_readings_are_gone_has_no_survey(shore: Shore) -> None:
    shore.typed(ZERO, 12.0, 15.0)
    fix = shore.typed(LATER, 12.6, 15.0)
    shore.write("position_fix", fix, _deleted=True)
    assert (rows(shore), rows(shore, "survey_verdict"), shore.flags()) == ([], [], [])
    (site,) = sites_of(shore.db, [SITE])
    assert SiteReadings(shore.db, site).keys_since("") == ["day 2026-06-02"]
    assert surveys.keep(shore.db, []) == surveys.Said()


def test_the_made_site_takes_both_sides_of_two_tapes_as_known() -> None:
    """The simulation's own shortcut: everywhere else two tapes leave the side in doubt."""
    season = Season(1, tapes=2)
    assert epoch_of(season.zero[0].tapes, season.places[0]).doubts == ()

