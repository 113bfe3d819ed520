"""Not found is said after a search on dry ground; overdue depends on today and is never stored."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fieldlog.flags import histories
from fieldlog.flags.changes import Change
from fieldlog.flags.search import NAMED_MOST
from fieldlog.flags.subjects import touched_by
from fieldlog.plan.due import what_is_due
from fieldlog.plan.minutes import USUAL_MIN, Learned
from tests.flags.shore import OTHER, SITE, UNIT, Shore
from tests.sync.lines import record_id

JULY, AUGUST, SEPTEMBER = "2026-07-01T10:00:00.000Z", "2026-08-01T10:00:00.000Z", "2026-09-01T10:00:00.000Z"
FIRST, SECOND = record_id("first visit"), record_id("second visit")
NAMED = json.loads((Path(__file__).parents[1] / "vectors" / "sync_ids.json").read_text())["names_of_sites"]
DRY = {"found_state": "not_found_dry"}


def test_one_dry_search_asks_for_another(shore: Shore) -> None:
    shore.check(JULY, visit=FIRST, **DRY)
    flag = shore.flag("not_found")
    assert flag["severity"] == "look"
    assert "search once more" in flag["sentence"]
    assert flag["evidence"]["searches"] == 1


def test_two_dry_searches_on_one_visit_are_one(shore: Shore) -> None:
    shore.check(JULY, visit=FIRST, **DRY)
    shore.check("2026-07-01T10:30:00.000Z", visit=FIRST, **DRY)
    assert shore.flag("not_found")["evidence"]["searches"] == 1


def test_two_dry_searches_on_one_low_are_one_whichever_app_named_the_visit(shore: Shore) -> None:
    older, _site, newer = NAMED[0]
    shore.check(JULY, visit=older, **DRY)
    shore.check("2026-07-01T10:30:00.000Z", visit=newer, **DRY)
    assert shore.flag("not_found")["evidence"]["searches"] == 1


def test_two_dry_searches_of_one_day_are_one_whatever_their_visits(shore: Shore) -> None:
    shore.check(JULY, visit=FIRST, **DRY)
    shore.check("2026-07-01T15:00:00.000Z", visit=SECOND, **DRY)
    shore.check("2026-07-01T16:00:00.000Z", **DRY)
    flag = shore.flag("not_found")
    assert (flag["severity"], flag["evidence"]["searches"]) == ("look", 1)


def test_joined_visits_are_one_on_whatever_days_they_searched(shore: Shore) -> None:
    for visit, at in ((FIRST, JULY), (SECOND, AUGUST)):
        shore.write("visit", visit, purpose="monitoring", started_at=at)
        shore.check(at, visit=visit, **DRY)
    assert shore.flag("not_found")["evidence"]["searches"] == 2
    shore.write("visit", SECOND, joined_to=FIRST)
    flag = shore.flag("not_found")
    assert (flag["severity"], flag["evidence"]["searches"]) == ("look", 1)
    shore.write("visit", SECOND, joined_to=None)
    assert shore.flag("not_found")["evidence"]["searches"] == 2


def test_a_search_that_is_parted_to_another_visit_counts_as_another(shore: Shore) -> None:
    shore.check(JULY, visit=FIRST, **DRY)
    second = shore.check(AUGUST, visit=FIRST, **DRY)
    assert shore.flag("not_found")["evidence"]["searches"] == 1
    shore.write("unit_check", second, in_visit=SECOND)
    assert shore.flag("not_found")["evidence"]["searches"] == 2
    shore.write("unit_check", second, in_visit=None)
    assert shore.flag("not_found")["evidence"]["searches"] == 1


def test_joining_visits_asks_anew_of_those_units_alone_that_were_searched_for_on_them(shore: Shore) -> None:
    for visit, at, unit in ((FIRST, JULY, UNIT), (SECOND, AUGUST, UNIT), (record_id("third visit"), AUGUST, OTHER)):
        shore.write("visit", visit, purpose="monitoring", started_at=at)
        shore.check(at, unit, visit, **DRY)
    (before,) = shore.db.query("SELECT * FROM visit WHERE record_id = ?", [SECOND])
    shore.write("visit", SECOND, joined_to=FIRST)
    (after,) = shore.db.query("SELECT * FROM visit WHERE record_id = ?", [SECOND])
    assert touched_by(shore.db, [Change("visit", SECOND, before, after)]).looked_at == {UNIT}


def test_a_visit_past_midnight_joins_its_two_days(shore: Shore) -> None:
    """Midnight at the site is 04:00 UTC."""
    shore.check("2026-07-02T03:30:00.000Z", visit=FIRST, **DRY)
    shore.check("2026-07-02T04:30:00.000Z", visit=FIRST, **DRY)
    shore.check("2026-07-02T05:30:00.000Z", visit=SECOND, **DRY)
    assert shore.flag("not_found")["evidence"]["searches"] == 1
    shore.check("2026-07-03T15:00:00.000Z", visit=SECOND, **DRY)
    assert shore.flag("not_found")["evidence"]["searches"] == 1, "the second visit joins that day too"
    shore.check("2026-07-05T15:00:00.000Z", visit=record_id("third visit"), **DRY)
    assert shore.flag("not_found")["evidence"]["searches"] == 2


def test_two_dry_searches_on_two_visits_are_a_missing_unit(shore: Shore) -> None:
    shore.check(JULY, visit=FIRST, **DRY)
    shore.check(AUGUST, visit=SECOND, **DRY)
    flag = shore.flag("not_found")
    assert flag["severity"] == "act"
    assert "missing" in flag["sentence"]


def test_a_unit_searched_for_years_names_its_newest_searches_and_counts_all(shore: Shore) -> None:
    for day in range(1, 26):
        shore.check(f"2026-07-{day:02}T10:00:00.000Z", visit=record_id(f"visit {day}"), **DRY)
    evidence = shore.flag("not_found")["evidence"]
    assert evidence["searches"] == 25
    assert len(evidence["check_ids"]) == NAMED_MOST


def test_a_search_under_water_or_from_afar_never_counts(shore: Shore) -> None:
    shore.check(JULY, visit=FIRST, found_state="not_found_under_water")
    shore.check(AUGUST, visit=SECOND, found_state="not_visited")
    assert shore.flags() == []


def test_a_find_settles_it_and_the_count_begins_anew(shore: Shore) -> None:
    shore.check(JULY, visit=FIRST, **DRY)
    shore.check("2026-07-02T10:00:00.000Z", visit=SECOND, **DRY)
    shore.check(AUGUST, visit=record_id("third"), found_state="probed", probe_depth_mm=200)
    assert shore.flag("not_found")["state"] == "settled"
    shore.check(SEPTEMBER, visit=record_id("fourth"), **DRY)
    assert (shore.flag("not_found")["state"], shore.flag("not_found")["evidence"]["searches"]) == ("open", 1)


def test_overdue_is_reckoned_for_the_day_of_asking(shore: Shore) -> None:
    shore.check(JULY)
    on_time = shore.flags("overdue", datetime(2026, 8, 29, tzinfo=UTC))
    late = shore.flags("overdue", datetime(2026, 9, 2, tzinfo=UTC))
    assert [flag["sentence"][:4] for flag in on_time] == []
    assert [flag["sentence"] for flag in late] == ["A010: last checked Jul 1, 2026, 62 days ago; this site asks for a check every 60 days."]
    assert shore.stored() == []


def test_a_unit_placed_and_never_checked_is_overdue_too(shore: Shore) -> None:
    (flag,) = shore.flags("overdue", datetime(2026, 9, 2, tzinfo=UTC))
    assert "never checked since it was placed Jun 1, 2026" in flag["sentence"]


def test_a_check_that_did_not_reach_the_unit_is_no_look(shore: Shore) -> None:
    shore.check(JULY)
    shore.check("2026-08-30T10:00:00.000Z", found_state="not_visited")
    assert len(shore.flags("overdue", datetime(2026, 9, 2, tzinfo=UTC))) == 1


def test_a_check_without_its_time_is_no_look(shore: Shore) -> None:
    shore.check(JULY)
    shore.db.execute("UPDATE unit_check SET checked_at = NULL")  # as an older server took it
    (flag,) = shore.flags("overdue", datetime(2026, 9, 2, tzinfo=UTC))
    assert "never checked since it was placed" in flag["sentence"]


def test_retired_units_and_sites_without_an_interval_are_never_overdue(shore: Shore) -> None:
    shore.write("site", SITE, check_every_days=None)
    assert shore.flags("overdue", datetime(2027, 9, 2, tzinfo=UTC)) == []
    shore.write("site", SITE, check_every_days=60)
    shore.event("retired", AUGUST)
    assert shore.flags("overdue", datetime(2027, 9, 2, tzinfo=UTC)) == []


def test_a_removed_unit_is_never_overdue(shore: Shore) -> None:
    late = datetime(2026, 9, 2, tzinfo=UTC)
    assert len(shore.flags("overdue", late)) == 1
    shore.write("unit", record_id("A010"), _deleted=True)
    assert shore.flags("overdue", late) == []


def test_a_unit_searched_without_end_costs_no_more_than_the_newest_searches(shore: Shore, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(histories, "DRY_MOST", 10)
    for number in range(15):
        shore.check(f"2026-07-{1 + number:02d}T10:00:00.000Z", visit=record_id(f"visit {number}"), **DRY)
    flag = shore.flag("not_found")
    assert (flag["severity"], flag["evidence"]["searches"]) == ("act", 10)
    assert "since Jul 6" in flag["sentence"]


def test_a_mere_look_never_takes_the_place_of_a_check_that_is_due(shore: Shore) -> None:
    """Before, a tap on "Looks unchanged" a day before the check was due put it off by as long again, and so on for ever."""
    shore.check(JULY)
    shore.check("2026-08-29T10:00:00.000Z", looked_only=True)
    (flag,) = shore.flags("overdue", datetime(2026, 9, 2, tzinfo=UTC))
    assert flag["sentence"] == (
        "A010: last checked Jul 1, 2026, 62 days ago; this site asks for a check every 60 days. Looked at on Aug 29, 2026, but not measured."
    )
    assert flag["settles"] == "a check; a look alone does not count"
    shore.check("2026-09-01T10:00:00.000Z", exposed_height_mm=300)
    assert shore.flags("overdue", datetime(2026, 9, 2, tzinfo=UTC)) == []


def test_a_unit_that_was_only_looked_at_was_never_checked(shore: Shore) -> None:
    shore.check(AUGUST, looked_only=True)
    (flag,) = shore.flags("overdue", datetime(2026, 9, 2, tzinfo=UTC))
    assert "never checked since it was placed Jun 1, 2026" in flag["sentence"]


@pytest.mark.parametrize(("measured", "is_left"), [(JULY, True), (AUGUST, False)])
def test_a_look_does_for_a_visit_unless_a_check_is_due(shore: Shore, measured: str, is_left: bool) -> None:
    shore.check(measured)
    shore.check("2026-09-02T10:00:00.000Z", looked_only=True)
    now, begun = datetime(2026, 9, 2, 11, tzinfo=UTC), datetime(2026, 9, 2, 9, tzinfo=UTC)
    due = what_is_due(shore.db, SITE, now, Learned(USUAL_MIN, 0), samples=False, everything=True, begun=begun)
    assert (record_id("A010") in {one.stop_id for one in due}) == is_left
