"""A student's day: join, go offline, walk the rows, be killed, go on, come back, and the lead sees what is wrong."""

from __future__ import annotations

import json
import math
import re
from itertools import pairwise

import pytest
from playwright.sync_api import expect

from tests.browser.app_page import AppPage
from tests.some_pictures import drawn, encoded

pytestmark = pytest.mark.browser

NAME = "Wren Saltmarsh"
DAMAGED, DISPLACED, HALF = 4, 9, 20
"""Which of the units, in the order of the walk, is found broken, out of place, and half written when the app dies."""

MOVED_EAST_M = 0.62


def check_unit(app: AppPage, number: int, units: dict[str, dict], marks: list[dict], photo: bytes) -> str:
    """Check the unit whose form is open and save; its tag."""
    page = app.page
    tag = page.get_by_role("heading", level=1).inner_text()
    app.fill("exposed_height_mm", 300 - number)
    app.fill("tilt_deg", number % 4)
    if number == DAMAGED:
        app.tap("Piece off")
        app.fill("chip_depth_mm", 60)
        app.fill("chip_across_mm", 240)
        app.fill("lost_volume_pct", 30)
    else:
        app.tap("None", within=page.get_by_role("group", name="Damage"))
    for axis in ("body", "stance", "toe", "cover"):
        grade = 3 if number == DAMAGED and axis == "body" else 0
        page.locator(f"input[name={axis}_grade]").nth(grade).click()
    if number == 1:
        page.get_by_label("Photo").set_input_files({"name": "unit.jpg", "mimeType": "image/jpeg", "buffer": photo})
        expect(page.get_by_role("img", name=tag)).to_be_visible()
    if number == DISPLACED:
        app.tap("Position")
        for n, mark in enumerate(marks[:3], 1):
            page.locator(f"[name=mark_{n}_id]").first.wait_for()
            choose_mark(app, n, mark)
            east, north = units[tag]["planned_east_m"] + MOVED_EAST_M, units[tag]["planned_north_m"]
            app.fill(f"range_{n}_m", f"{math.hypot(east - mark['east_m'], north - mark['north_m']):.2f}")
        expect(page.get_by_text(re.compile("moved 0\\.6\\d m", re.IGNORECASE)).last).to_be_visible()
    app.tap(re.compile("^Save, go to "))
    expect(page.get_by_role("heading", level=1)).not_to_have_text(tag)
    return tag


def choose_mark(app: AppPage, n: int, mark: dict) -> None:
    app.choose(f"From mark, tape {n}", mark["label"])


def test_a_students_day_from_the_join_link_to_the_leads_screen(phone_in_hand, shore, site, joined) -> None:
    db = shore.programme.db()
    units = {unit["tag"]: unit for unit in db.query("SELECT * FROM unit")}
    marks = sorted(db.query("SELECT * FROM control_mark"), key=lambda mark: mark["label"])
    (before,) = db.conn.execute("SELECT count(*) FROM log").fetchone()
    app = phone_in_hand.open()
    page = app.page

    # Joins by the link's code with one tap and names herself.
    app.join("crew", site["record_id"], None)
    app.tap("Add myself")
    app.fill("display_name", NAME)
    app.choose("Role", "Student")
    app.choose("Under 18", "No")
    app.tap("That is me")
    app.sees("Today")
    app.offline_ready()
    expect(page.get_by_role("link", name="all taken")).to_be_visible()

    # The shore: the app is opened there, and no network from here on.
    phone_in_hand.close()
    app = phone_in_hand.open()
    page = app.page
    app.offline(True)
    app.open()
    app.follow("Start a visit")
    app.sees("Visit")
    app.choose("Who leads?", db.execute("SELECT display_name FROM person WHERE role = 'leader'").fetchone()[0])
    app.tap("Start the visit")
    expect(page.get_by_text("Turn back", exact=False).first).to_be_visible()

    app.go("#/people", "People")
    roster = page.locator("button.row:has-text('sign in')")
    for n in range(12):
        roster.first.click()
        expect(page.locator(".board .figure")).to_have_text(str(n + 1))
    app.tap("All heard the briefing")

    app.go("#/units", "Units")
    app.follow(re.compile("^Check "))
    expect(page.get_by_role("heading", level=1)).not_to_have_text("Units")
    photo = encoded(drawn(3000, 2000))
    checked = [check_unit(app, n, units, marks, photo) for n in range(20)]
    assert len(set(checked)) == 20
    half = page.get_by_role("heading", level=1).inner_text()

    app.go("#/sighting", "Sightings")
    for species, count in ((0, 3), (1, 12), (2, None)):
        if count is None:
            app.choose("Did you see it?", "Looked for, none")
        page.locator(".species button").nth(species).click()
        if count is not None:
            app.fill("count", count)
        app.tap("Save the sighting")
        expect(page.get_by_text("Sighting saved on this phone.")).to_be_visible()

    # A form half filled in, and the app is killed.
    app.go(f"#/units/{units[half]['record_id']}/check", half)
    app.fill("exposed_height_mm", 212)
    app.fill("note", "shell on the north f")
    page.wait_for_timeout(400)
    phone_in_hand.kill()

    # Opened again, still without a network: everything is there.
    app = phone_in_hand.open()
    page = app.page
    app.offline(True)
    app.open()
    app.sees("Today")
    app.go("#/phone", "This phone")
    expect(page.get_by_text("Forms left open")).to_be_visible()
    app.follow("open")
    app.sees(half)
    expect(page.locator("#f-exposed_height_mm")).to_have_value("212")
    expect(page.locator("#f-note")).to_have_value("shell on the north f")
    app.fill("tilt_deg", 2)
    app.tap("None", within=page.get_by_role("group", name="Damage"))
    app.tap(re.compile("^Save, "))
    expect(page.get_by_role("heading", level=1)).not_to_have_text(half)

    # One value is corrected: the check that was made on this visit opens.
    app.go(f"#/units/{units[checked[1]]['record_id']}/check", checked[1])
    expect(page.locator("#f-exposed_height_mm")).to_have_value("299")
    expect(page.get_by_role("img", name=checked[1])).to_be_visible()
    app.fill("exposed_height_mm", 289)
    app.tap("Save the correction")
    page.wait_for_timeout(300)

    app.go("#/people", "People")
    app.tap("Sign out all 12")
    expect(page.get_by_text("Nobody is out.")).to_be_visible()
    app.go("#/visit", "Visit")
    app.tap("End the visit")
    app.sees("This phone")
    waiting = page.locator(".sync").inner_text()
    assert re.search(r"\d+ on this phone", waiting), waiting

    # Back in the network: every entry is taken, the photo is sent.
    app.offline(False)
    app.all_taken()
    assert app.faults == []
    states = page.locator("dl.pairs dd").all_inner_texts()
    assert states[0] == "0", states
    phone_in_hand.close()

    rows = db.execute("SELECT entry_id, line FROM log ORDER BY seq").fetchall()[before:]
    assert len({entry for entry, _ in rows}) == len(rows)
    of_visit = [json.loads(body) for _, body in rows]
    numbers = [line["n"] for line in of_visit]
    assert all(other == one + 1 for one, other in pairwise(numbers)), "each number of her lane once and in order"
    kinds = [line["t"] for line in of_visit]
    assert len({line["r"] for line in of_visit if line["t"] == "unit_check"}) == 21
    assert len({line["r"] for line in of_visit if line["t"] == "sign_in"}) == 12
    assert kinds.count("sighting") == 3
    assert kinds.count("photo") == 1
    (height,) = db.execute(
        "SELECT exposed_height_mm FROM unit_check WHERE unit_id = ? ORDER BY checked_at DESC LIMIT 1", [units[checked[1]]["record_id"]]
    ).fetchone()
    assert height == 289

    # The lead sees the damaged and the displaced unit, each with what it rests on.
    lead = joined("lead", "Ruth Okafor-Lind")
    for tag, rule in ((checked[DAMAGED], "damaged"), (checked[DISPLACED], "displaced")):
        (flag,) = db.query("SELECT * FROM flag WHERE subject_id = ? AND rule = ?", [units[tag]["record_id"], rule])
        assert flag["state"] == "open"
        lead.go("#/flags", "Flags")
        expect(lead.page.get_by_text(flag["sentence"]).first).to_be_visible()
    assert lead.faults == []
