"""A plan of the demo's next visit: what is due, while its ground is exposed, what is left, as rows, records and words."""

from __future__ import annotations

import json
import subprocess
import sys
import uuid
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest

from fieldlog import create_app
from fieldlog.errors import NoWindow
from fieldlog.plan.due import what_is_due
from fieldlog.plan.making import Asked, as_lists, as_text, make_plan
from fieldlog.plan.minutes import USUAL_MIN, Learned, learned_minutes
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.listed import item_rows, packed
from fieldlog.store import Programme, write
from fieldlog.sync.log import MAX_LINE_BYTES
from fieldlog.windows.beds import ground_of
from fieldlog.windows.season import season
from tests.live_server import code_for

PLAN = CATALOGUE.kinds["visit_plan"]
NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


def site_of(programme: Programme) -> dict[str, Any]:
    return next(iter(programme.db().query("SELECT * FROM site")))


def plan_of(programme: Programme, **asked: Any) -> dict[str, Any]:
    return make_plan(programme.db(), site_of(programme), Asked(**asked), NOW)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


def test_each_stop_is_worked_while_its_ground_is_out_of_the_water(demo_programme: Programme) -> None:
    made = plan_of(demo_programme, teams=2, everything=True)
    ground = ground_of(demo_programme.db(), site_of(demo_programme))
    level = {bed.record_id: bed.bed_level_m for bed in ground.units}
    low = at(made["window"]["low_at"])
    span = season(ground.station, ground.rules, low - timedelta(hours=1), low + timedelta(hours=1))
    assert len(made["stops"]) + len(made["left_out"]) == 48
    for stop in made["stops"]:
        (window,) = span.windows(level[stop["stop_id"]])
        assert window.opens_at and window.closes_at and window.turn_back_at
        assert window.opens_at <= at(stop["begins_at"]) + timedelta(seconds=1)
        assert at(stop["ends_at"]) <= min(window.closes_at, window.turn_back_at)


def test_teams_walk_in_order_and_no_one_is_in_two_places(demo_programme: Programme) -> None:
    made = plan_of(demo_programme, teams=2)
    for team in (1, 2):
        stops = [stop for stop in made["stops"] if stop["team"] == team]
        assert len(stops) >= 3
        for before, after in pairwise(stops):
            assert at(before["ends_at"]) <= at(after["begins_at"])
    assert len({stop["stop_id"] for stop in made["stops"]}) == len(made["stops"])


def test_nobody_sets_out_before_now(demo_programme: Programme) -> None:
    """Planned anew in the middle of a window: what is left of it is planned, and less fits."""
    site = site_of(demo_programme)
    early = plan_of(demo_programme, everything=True)
    low, until = at(early["window"]["low_at"]), at(early["window"]["usable_until"])
    late = make_plan(demo_programme.db(), site, Asked(early["window"]["window_id"], everything=True), low)
    assert late["window"]["window_id"] == early["window"]["window_id"]
    assert late["stops"] and min(at(stop["begins_at"]) for stop in late["stops"]) >= low
    assert len(late["stops"]) < len(early["stops"])
    last = make_plan(demo_programme.db(), site, Asked(early["window"]["window_id"], everything=True), until - timedelta(seconds=30))
    assert last["stops"] == [] and len(last["left_out"]) == 48
    assert {stop["why"] for stop in last["left_out"]} <= {"no time is left for it", "stays under water, or in the dark, on this low tide"}


def test_what_this_visit_checked_already_is_not_planned_again(demo_programme: Programme) -> None:
    db, site = demo_programme.db(), site_of(demo_programme)
    before = plan_of(demo_programme)
    low, done = at(before["window"]["low_at"]), before["stops"][0]["stop_id"]
    (newest,) = db.execute("SELECT record_id FROM unit_check WHERE unit_id = ? ORDER BY checked_at DESC", [done]).fetchone()
    with db.conn:
        db.execute("UPDATE unit_check SET checked_at = ? WHERE record_id = ?", [f"{low - timedelta(minutes=5):%Y-%m-%dT%H:%M:%SZ}", newest])
    again = make_plan(db, site, Asked(before["window"]["window_id"]), low)
    assert again["window"]["window_id"] == before["window"]["window_id"]
    planned = {stop["stop_id"] for stop in [*again["stops"], *again["left_out"]]}
    assert done not in planned
    assert planned == {stop["stop_id"] for stop in [*before["stops"], *before["left_out"]]} - {done}


def test_what_is_flagged_matters_most_and_says_what_to_bring(demo_programme: Programme) -> None:
    made = plan_of(demo_programme)
    due = what_is_due(demo_programme.db(), site_of(demo_programme)["record_id"], NOW, Learned(4, 0), samples=False, everything=False)
    flagged = {one.stop_id for one in due if one.weight >= 4}
    assert len(flagged) > 10
    assert flagged <= {stop["stop_id"] for stop in made["stops"]}
    assert any("two tapes" in thing for thing in made["bring"])
    assert any("probe" in thing for thing in made["bring"])


def test_what_does_not_fit_is_told_with_why_and_how_many_lows_all_need(demo_programme: Programme) -> None:
    made = plan_of(demo_programme, everything=True, samples=True)
    assert len(made["left_out"]) > 5
    assert {one["why"] for one in made["left_out"]} == {"no time is left for it"}
    assert made["tides_needed"] >= 2
    assert made["simple_stops"] <= len(made["stops"])


def test_ground_that_never_falls_dry_is_told_so(demo_programme: Programme) -> None:
    with write(demo_programme.db()) as db:
        db.execute("UPDATE unit SET bed_level_m = -2, level_datum = 'MLLW' WHERE slot_number = 1")
    made = plan_of(demo_programme, everything=True, teams=3)
    assert [one["why"] for one in made["left_out"]] == ["stays under water, or in the dark, on this low tide"] * 4
    assert made["tides_needed"] is None


def test_minutes_are_learned_from_past_visits_or_said_to_be_ours(demo_programme: Programme) -> None:
    site_id = site_of(demo_programme)["record_id"]
    learned = learned_minutes(demo_programme.db(), site_id)
    assert learned.count > 100
    assert 1.5 <= learned.minutes <= 8
    with write(demo_programme.db()) as db:
        db.execute("DELETE FROM unit_check")
    assert learned_minutes(demo_programme.db(), site_id).minutes == USUAL_MIN
    assert "our suggestion" in learned_minutes(demo_programme.db(), site_id).basis


def test_the_same_data_give_the_same_window_and_another_number_the_next(demo_programme: Programme) -> None:
    first, second = plan_of(demo_programme), plan_of(demo_programme, window=2)
    assert at(first["window"]["low_at"]) < at(second["window"]["low_at"])
    assert plan_of(demo_programme, window=first["window"]["window_id"])["window"] == first["window"]


@pytest.mark.parametrize(("window", "sentence"), [(999, "there is no number 999"), ("gone", "is over, or no longer usable")])
def test_a_window_that_is_none_is_told(demo_programme: Programme, window: int | str, sentence: str) -> None:
    with pytest.raises(NoWindow, match=sentence):
        plan_of(demo_programme, window=window)


def test_a_plan_is_a_record_that_phones_take(demo_programme: Programme) -> None:
    made = plan_of(demo_programme, teams=2)
    fields = as_text(made) | {"made_at": "2026-11-25T12:00:00Z"}
    assert CATALOGUE.kinds["visit_plan"].check(fields) == []
    team, stop_id, minute, takes, weight = fields["stops"].splitlines()[0].split()
    assert (int(team), stop_id) == (made["stops"][0]["team"], made["stops"][0]["stop_id"])
    assert float(minute) == made["stops"][0]["after_low_min"]
    low = datetime.fromisoformat(fields["low_at"])
    for line, stop in zip(fields["stops"].splitlines(), made["stops"], strict=True):
        begins = low + timedelta(seconds=round(float(line.split()[2]) * 60))
        assert begins == datetime.fromisoformat(stop["begins_at"]), "to the second: a whole minute was up to half of one before work may begin"
    assert int(weight) == made["stops"][0]["weight"]
    assert float(takes) == made["stops"][0]["minutes"]


def test_a_plan_of_a_site_of_six_hundred_units_fits_into_an_entry(demo_programme: Programme) -> None:
    made = plan_of(demo_programme, teams=2)
    stop = made["stops"][0]
    many = made | {
        "stops": [stop | {"stop_id": str(uuid.uuid4()), "after_low_min": -100.25, "minutes": 12.5} for _ in range(200)],
        "left_out": [{"stop_id": str(uuid.uuid4()), "why": ("no time is left for it", f"its ground is dry for {n % 9} min; the work takes 9")[n % 2]} for n in range(400)],
    }
    fields = as_text(many) | {"made_at": "2026-11-25T12:00:00Z"}
    assert CATALOGUE.kinds["visit_plan"].check(fields) == []
    assert len(json.dumps(fields)) < MAX_LINE_BYTES - 2000
    told = [line.split(" ", 1) for line in fields["left_out"].splitlines()]
    assert {(one, why) for ids, why in told for one in ids.split(",")} == {(one["stop_id"], one["why"]) for one in many["left_out"]}


def kept(fields: dict) -> dict:
    """The fields of entries as their record's row has them."""
    return {name: packed(value) if isinstance(value, list) else value for name, value in fields.items()} | {"record_id": "a plan"}


def test_a_plans_lists_say_what_its_texts_say_to_older_apps(demo_programme: Programme) -> None:
    made = plan_of(demo_programme, teams=2, everything=True, samples=True)
    lists = as_lists(made)
    assert [list(fields) for fields in lists] == [["planned_stops"], ["left_out_stops"]]
    assert [PLAN.check(fields) for fields in lists] == [[], []]
    by_lists = {name: item_rows(PLAN.lists[name], name, kept(as_text(made) | fields)) for fields in lists for name in fields}
    by_texts = {name: item_rows(PLAN.lists[name], name, kept(as_text(made))) for name in by_lists}
    assert [len(rows) for rows in by_lists.values()] == [len(made["stops"]), len(made["left_out"])]
    assert {row["stop_kind"] for rows in by_lists.values() for row in rows} == {"unit", "plot"}
    for name, rows in by_lists.items():
        told = [{key: value for key, value in row.items() if key not in ("stop_kind", "place")} for row in rows]
        older = [{key: value for key, value in row.items() if key not in ("stop_kind", "place")} for row in by_texts[name]]
        # The text has what is left out by reason.
        assert sorted(older, key=repr) == sorted(told, key=repr) if name == "left_out_stops" else older == told


def test_each_list_of_a_large_plan_fits_into_an_entry_and_one_that_does_not_is_told_by_its_text() -> None:
    low = {"low_at": "2026-06-14T12:00:00Z", "window_id": "w"}
    def plan(stops: int, left: int) -> dict:
        stop = {"team": 20, "kind": "unit", "after_low_min": -100.25, "minutes": 12.5, "weight": 8}
        return {
            "window": low, "teams": 20, "bring": [], "tides_needed": None, "stops": [stop | {"stop_id": str(uuid.uuid4())} for _ in range(stops)],
            "left_out": [{"stop_id": str(uuid.uuid4()), "kind": "unit", "why": "its ground is dry for 8 min; the work takes 9"} for _ in range(left)],
        }  # fmt: skip

    assert [list(fields) for fields in as_lists(plan(400, 400))] == [["planned_stops"], ["left_out_stops"]]
    assert all(len(json.dumps(fields)) < MAX_LINE_BYTES - 2000 for fields in as_lists(plan(400, 400)))
    larger = plan(400, 800)
    assert [list(fields) for fields in as_lists(larger)] == [["planned_stops"]]
    assert len(item_rows(PLAN.lists["left_out_stops"], "left_out_stops", kept(as_text(larger)))) == 800


def test_a_line_of_an_older_apps_plan_that_says_nothing_is_left_out() -> None:
    text = {"stops": "garbled\n1\n2 x y z\n\n1 a -40.25 5 1\n3 b 7 2.5\n1  c 1 1\n1 d NaN 1 1", "left_out": "x\n,,\na,b floods first", "record_id": "a plan"}
    stops = [(row["place"], row["team"], row["stop_id"], row["after_low_min"], row["takes_min"], row["weight"]) for row in item_rows(PLAN.lists["planned_stops"], "planned_stops", text)]
    assert stops == [(1, 1, "a", -40.25, 5, 1), (2, 3, "b", 7, 2.5, 1)]
    left = [(row["stop_id"], row["why"]) for row in item_rows(PLAN.lists["left_out_stops"], "left_out_stops", text)]
    assert left[-2:] == [("a", "floods first"), ("b", "floods first")]
    assert item_rows(PLAN.lists["planned_stops"], "planned_stops", {"record_id": "a plan", "stops": None}) == []


def test_a_lead_plans_over_http_and_a_crew_does_not(demo_programme: Programme) -> None:
    app = create_app(demo_programme.folder, lambda: NOW)
    path = f"/api/sites/{site_of(demo_programme)['record_id']}/plan"
    answers = {}
    for role in ("lead", "crew"):
        client = app.test_client()
        code = code_for(demo_programme, role, None, int(NOW.timestamp() * 1000))
        client.post("/api/join", json={"code": code, "device_name": role})
        answers[role] = client.post(path, json={"teams": 2})
        if role == "lead":
            wrong = client.post(path, json={"teams": 0})
    assert answers["lead"].status_code == 200
    assert answers["lead"].json["record"]["teams"] == 2
    assert [[*fields] for fields in answers["lead"].json["lists"]] == [["planned_stops"], ["left_out_stops"]]
    assert answers["crew"].status_code == 403
    assert (wrong.status_code, "from 1 to 20" in wrong.json["detail"]) == (400, True)
    app.extensions["photo_copies"].close()


def test_the_command_prints_the_plan(demo_programme: Programme) -> None:
    command = [sys.executable, "-m", "fieldlog", "--data", str(demo_programme.folder), "plan", "--teams", "2"]
    told = subprocess.run([*command, "--json"], capture_output=True, text=True, check=True)
    made = json.loads(told.stdout)
    assert {"window", "stops", "left_out", "bring", "tides_needed"} <= set(made)
    words = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert "Team 2, two people or more" in words
    assert "Bring: phone" in words
