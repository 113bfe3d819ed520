"""A visit survives its people: it ends once, goes on, and one team's end stops no other team's clock."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.app_page import CALM_MS

pytestmark = pytest.mark.browser


def start(app) -> None:
    app.go("#/visit", "Visit")
    app.tap("Start the visit")
    app.sees("People")


def end(app) -> None:
    app.go("#/visit", "Visit")
    app.tap("End the visit")
    app.tap("End it")
    app.sees("This phone")


def is_running(app) -> bool:
    app.go("#/visit", "Visit")
    expect(app.page.get_by_role("region", name="Actions")).to_be_visible()
    return app.page.get_by_role("button", name="End the visit").count() == 1


def test_an_ended_visit_goes_on_and_its_start_stays(joined, shore) -> None:
    db = shore.programme.db()
    app = joined("crew", "Zora Plover")
    start(app)
    app.all_taken()
    (visit,) = db.query("SELECT * FROM visit ORDER BY started_at DESC LIMIT 1")
    app.page.clock.fast_forward(20 * 60_000)
    end(app)
    assert not is_running(app)
    assert app.page.get_by_role("button", name="Start the visit").count() == 0
    app.page.clock.fast_forward(5 * 60_000)
    app.page.get_by_role("region", name="Actions").get_by_role("button", name="Continue it").click()
    app.sees("People")
    assert is_running(app)
    app.all_taken()
    (again,) = db.query("SELECT * FROM visit WHERE record_id = ?", [visit["record_id"]])
    assert (again["started_at"], again["ended_at"]) == (visit["started_at"], None)
    (part,) = db.query("SELECT * FROM visit_part WHERE of_visit_id = ?", [visit["record_id"]])
    assert part["until_at"] is None
    assert app.faults == []


def test_the_end_is_asked_once_with_what_was_done(joined, shore) -> None:
    app = joined("crew", "Zora Plover")
    units = shore.programme.db().execute("SELECT count(*) FROM unit WHERE deleted = 0").fetchone()[0]
    start(app)
    app.page.wait_for_timeout(CALM_MS)
    app.page.get_by_role("button", name=re.compile("Gwen Tidewell")).click()
    app.go("#/visit", "Visit")
    app.tap("End the visit")
    expect(app.page.get_by_text(f"0 of {units} checked, 1 person still out, 0 sightings.")).to_be_visible()
    expect(app.page.get_by_text("1 person is still out: Gwen Tidewell.")).to_be_visible()
    app.tap("Not yet")
    assert is_running(app)


def test_one_teams_end_does_not_stop_the_others_clock(joined, shore) -> None:
    db = shore.programme.db()
    one, other = joined("crew", "Zora Plover"), joined("crew", "Fatou Ellery")
    for app in (one, other):
        app.offline_ready()
        app.offline(True)
        start(app)
    for app in (one, other, one):
        app.offline(False)
        app.all_taken()
    assert db.execute("SELECT count(*) FROM flag WHERE rule = 'disagreement' AND subject_kind = 'visit' AND state = 'open'").fetchone() == (0,)
    one.go("#/visit", "Visit")
    one.tap("End the visit")
    expect(one.page.get_by_text("Still on this visit: Fatou Ellery\u2019s phone.")).to_be_visible()
    one.tap("End it")
    one.sees("This phone")
    for app in (one, other, one):
        app.all_taken()
    assert is_running(other)
    end(other)
    other.all_taken()
    one.all_taken()
    assert not is_running(one)
    assert (one.faults, other.faults) == ([], [])


def test_a_lead_ends_it_for_every_phone(joined, shore) -> None:
    crew, lead = joined("crew", "Zora Plover"), joined("lead", "Ruth Okafor-Lind")
    start(crew)
    crew.all_taken()
    lead.all_taken()
    assert is_running(lead)
    lead.tap("End the visit")
    lead.tap("End it for every phone")
    lead.sees("This phone")
    for app in (lead, crew):
        app.all_taken()
    assert not is_running(crew)
    assert (crew.faults, lead.faults) == ([], [])
