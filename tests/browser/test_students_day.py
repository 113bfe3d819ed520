"""A student's day: join, go offline, walk the rows, be killed, go on, come back, and the lead sees what is wrong."""

from __future__ import annotations

import json
import math
import re
from itertools import pairwise

import pytest
from playwright.sync_api import expect

from tests.browser.app_page import CALM_MS, AppPage
from tests.some_pictures import drawn, encoded
from tests.waiting import wait_for

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
    grades = page.locator("details", has_text="Grades, 0 to 4")
    if grades.get_attribute("open") is None:
        grades.locator("summary").click()
    for axis in ("body", "stance", "toe", "cover"):
        grade = 3 if number == DAMAGED and axis == "body" else 0
        page.locator(f"input[name={axis}_grade]").nth(grade).click()
    if number == 1:
        page.get_by_label("Choose a photo").set_input_files({"name": "unit.jpg", "mimeType": "image/jpeg", "buffer": photo})
        expect(page.get_by_role("img", name=tag)).to_be_visible()
        page.get_by_role("radiogroup", name="People recognizable?").get_by_role("radio", name="No", exact=True).click()
    if number == DISPLACED:
        app.page.locator("summary", has_text="Position").click()
        reads_tapes(app, units[tag], marks)
        expect(page.get_by_text(re.compile("Found 0\\.6\\d\\sm east of its first position. Take a second set")).last).to_be_visible()
        app.tap("Take a second set")
        reads_tapes(app, units[tag], marks)
        expect(page.get_by_text("The next sync says whether it moved").last).to_be_visible()
    app.save(re.compile("^Save, go to "))
    expect(page.get_by_role("heading", level=1)).not_to_have_text(tag)
    return tag


def reads_tapes(app: AppPage, unit: dict, marks: list[dict]) -> None:
    east, north = unit["planned_east_m"] + MOVED_EAST_M, unit["planned_north_m"]
    for n, mark in enumerate(marks[:3], 1):
        app.page.locator(f"[name=mark_{n}_id]").first.wait_for()
        choose_mark(app, n, mark)
        app.fill(f"range_{n}_m", f"{math.hypot(east - mark['east_m'], north - mark['north_m']):.2f}")


def choose_mark(app: AppPage, n: int, mark: dict) -> None:
    app.choose(f"From mark, tape {n}", mark["label"])


def joins(phone_in_hand, site: dict) -> AppPage:
    """By the link's code with one tap; she names herself. Then the app is closed, and opened on the shore without a network."""
    app = phone_in_hand.open()
    app.join("crew", site["record_id"], None)
    app.tap("Add myself")
    app.fill("display_name", NAME)
    app.choose("Role", "Student")
    app.choose("Under 18", "No")
    app.tap("That is me")
    app.sees("Today")
    app.offline_ready()
    expect(app.page.get_by_role("link", name="all sent")).to_be_visible()
    phone_in_hand.close()
    return opens_offline(phone_in_hand)


def opens_offline(phone_in_hand) -> AppPage:
    app = phone_in_hand.open()
    app.offline(True)
    app.open()
    app.sees("Today")
    return app


def starts_the_visit(app: AppPage, leader: str) -> None:
    app.follow("Start a visit")
    app.sees("Visit")
    app.choose("Who leads?", leader)
    app.tap("Start the visit")
    app.sees("People")
    roster = app.page.locator("button.row:has-text('sign in')")
    for n in range(12):
        app.page.wait_for_timeout(CALM_MS)
        roster.first.click()
        expect(app.page.locator(".board .figure")).to_have_text(str(n + 1))
    saved = app.page.locator(".row", has=app.page.get_by_role("button", name="heard the briefing"), has_text="Saved.")
    tops = saved.locator(".row-do button").evaluate_all("(buttons) => buttons.map((one) => one.offsetTop)")
    assert (len(tops), len(set(tops))) == (3, 1), "what can be done for who was just signed in stands on one line"
    app.tap("All heard the briefing")


def walks_the_rows(app: AppPage, units: dict[str, dict], marks: list[dict]) -> list[str]:
    """Checks twenty units in the order that the app gives; their tags, and that of the next one."""
    app.go("#/units", "Units")
    app.follow(re.compile("^Check "))
    heading = app.page.get_by_role("heading", level=1)
    expect(heading).not_to_have_text("Units")
    photo = encoded(drawn(3000, 2000))
    return [*(check_unit(app, n, units, marks, photo) for n in range(20)), heading.inner_text()]


def notes_sightings(app: AppPage) -> None:
    app.go("#/sighting", "Sightings")
    for species, count in ((0, 3), (1, 12), (2, None)):
        if count is None:
            app.choose("Did you see it?", "Looked for, none")
        app.page.locator(".species button").nth(species).click()
        if count is not None:
            app.fill("count", count)
        app.save("Save the sighting")
        expect(app.page.get_by_text("Sighting saved on this phone.")).to_be_visible()


def is_killed_half_way(phone_in_hand, app: AppPage, unit: dict) -> AppPage:
    """A form is half filled in and the app killed; opened again without a network, the form is as it was, and is saved."""
    tag = unit["tag"]
    app.go(f"#/units/{unit['record_id']}/check", tag)
    app.fill("exposed_height_mm", 212)
    app.page.locator("summary", has_text="water, note").click()
    app.fill("note", "shell on the north f")
    wait_for(app.page, lambda: "shell on the north f" in app.stored(), "a draft on the disk")
    phone_in_hand.kill()
    app = opens_offline(phone_in_hand)
    app.go("#/phone", "This phone")
    expect(app.page.get_by_text("Forms left open")).to_be_visible()
    app.follow("open")
    app.sees(tag)
    expect(app.page.locator("#f-exposed_height_mm")).to_have_value("212")
    expect(app.page.locator("#f-note")).to_have_value("shell on the north f")
    app.fill("tilt_deg", 2)
    app.tap("None", within=app.page.get_by_role("group", name="Damage"))
    app.save(re.compile("^Save, "))
    expect(app.page.get_by_role("heading", level=1)).not_to_have_text(tag)
    return app


def corrects_a_value(app: AppPage, unit: dict) -> None:
    """The check that was made on this visit opens, with its photo."""
    app.go(f"#/units/{unit['record_id']}/check", unit["tag"])
    expect(app.page.locator("#f-exposed_height_mm")).to_have_value("299")
    expect(app.page.get_by_role("img", name=unit["tag"])).to_be_visible()
    app.fill("exposed_height_mm", 289)
    app.save("Save the correction")
    app.sees("Units")


def ends_the_visit(app: AppPage) -> None:
    app.go("#/people", "People")
    app.save("Sign out all 12")
    app.save("Sign out these 12")
    expect(app.page.get_by_text("Nobody is out.")).to_be_visible()
    app.go("#/visit", "Visit")
    app.tap("End the visit")
    app.tap("End it")
    app.sees("This phone")
    expect(app.page.locator(".sync")).to_have_text(re.compile(r"\d+ on this phone"))


def test_a_students_day_from_the_join_link_to_the_leads_screen(phone_in_hand, shore, site, joined) -> None:
    db = shore.programme.db()
    units = {unit["tag"]: unit for unit in db.query("SELECT * FROM unit")}
    marks = sorted(db.query("SELECT * FROM control_mark"), key=lambda mark: mark["label"])
    (leader,) = db.execute("SELECT display_name FROM person WHERE role = 'leader'").fetchone()
    (before,) = db.execute("SELECT count(*) FROM log").fetchone()

    app = joins(phone_in_hand, site)
    starts_the_visit(app, leader)
    *checked, half = walks_the_rows(app, units, marks)
    assert len(set(checked)) == 20
    notes_sightings(app)
    app = is_killed_half_way(phone_in_hand, app, units[half])
    corrects_a_value(app, units[checked[1]])
    ends_the_visit(app)
    app.offline(False)
    app.all_taken()
    assert app.faults == []
    assert app.page.locator("dl.pairs dd").first.inner_text() == "0"
    phone_in_hand.close()

    each_entry_is_in_the_log_once(db, before)
    newest = "SELECT exposed_height_mm FROM unit_check WHERE unit_id = ? ORDER BY checked_at DESC LIMIT 1"
    assert db.execute(newest, [units[checked[1]]["record_id"]]).fetchone() == (289,)
    the_lead_sees(joined("lead", "Ruth Okafor-Lind"), db, units[checked[DAMAGED]], units[checked[DISPLACED]])


def each_entry_is_in_the_log_once(db, before: int) -> None:
    rows = db.execute("SELECT entry_id, line FROM log ORDER BY seq").fetchall()[before:]
    assert len({entry for entry, _ in rows}) == len(rows)
    told = [json.loads(line) for _, line in rows]
    assert all(other["n"] == one["n"] + 1 for one, other in pairwise(told)), "each number of her lane once and in order"
    records = {(line["t"], line["r"]) for line in told}
    kinds = [kind for kind, _ in records]
    assert {kind: kinds.count(kind) for kind in ("unit_check", "sign_in", "sighting", "photo", "visit")} == {
        "unit_check": 21, "sign_in": 12, "sighting": 3, "photo": 1, "visit": 1,
    }  # fmt: skip


def the_lead_sees(lead: AppPage, db, damaged: dict, displaced: dict) -> None:
    """Both units flagged, each with what it rests on."""
    for unit, rule, evidence in ((damaged, "damaged", "Volume lost"), (displaced, "displaced", "Off its first position")):
        (flag,) = db.query("SELECT * FROM flag WHERE subject_id = ? AND rule = ? AND state = 'open'", [unit["record_id"], rule])
        lead.go("#/flags", "Flags")
        row = lead.page.locator("details.flag", has_text=flag["sentence"])
        row.locator("> summary").click()
        expect(row.get_by_text(evidence)).to_be_visible()
    assert lead.faults == []
