"""Every screen with the demo's own data: accessible, inside its frame, at both sizes, in both lights; and what each role sees."""

from __future__ import annotations

import io
import json

import openpyxl
import pytest
from playwright.sync_api import expect

from tests.browser.app_page import CALM_MS, LAPTOP_PX, PHONE_PX, AppPage
from tests.screen_checks import axe, cut_off, parted_units, small_targets, squeezed_words, unroll

pytestmark = pytest.mark.browser

SIZES = {"phone": PHONE_PX, "laptop": LAPTOP_PX}
PLACES = {
    "Today": "#/today", "Visit": "#/visit", "People": "#/people", "Units": "#/units", "Sightings": "#/sighting",
    "Low tides": "#/low-tides", "Flags": "#/flags", "This phone": "#/phone", "Set-up": "#/set-up",
}  # fmt: skip


def faults_of(page) -> list[str]:
    unroll(page)
    found = axe(page, "target-size")
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    return [*found, *([f"{wide} px too wide"] if wide > 0 else []), *(str(one) for one in small_targets(page) + cut_off(page) + parted_units(page) + squeezed_words(page))]


@pytest.mark.parametrize(("size", "theme"), [("phone", "sun"), pytest.param("phone", "night", marks=pytest.mark.long), pytest.param("laptop", "sun", marks=pytest.mark.long)])
def test_axe_finds_nothing_on_any_screen_of_the_demo(joined, shore, site, size, theme) -> None:
    db = shore.programme.db()
    app = joined("lead", "Ruth Okafor-Lind")
    app.page.evaluate("theme => localStorage.setItem('fieldlog.shows', JSON.stringify({ theme }))", theme)
    (flagged,) = db.execute("SELECT subject_id FROM flag WHERE rule = 'damaged' AND state = 'open'").fetchone()
    tag = db.execute("SELECT tag FROM unit WHERE record_id = ?", [flagged]).fetchone()[0]
    volunteer_id, volunteer = db.execute("SELECT record_id, display_name FROM person WHERE role = 'volunteer' ORDER BY display_name").fetchone()
    named = {"This phone": "This device"} if size == "laptop" else {}
    shown = tag if size == "phone" else "Units"
    places = [*((named.get(heading, heading), place) for heading, place in PLACES.items()), (shown, f"#/units/{flagged}"), (tag, f"#/units/{flagged}/check")]
    lists = [
        ("Units", "#/set-up/unit"), (site["name"], f"#/set-up/site/{site['record_id']}"), ("Invitations", "#/access"), ("Turn-back clock", "#/turn-back"),
        ("Visit plan", "#/plan"), ("Make a plan", "#/plan-making"), ("The tide at this site", "#/site-tide"), ("Download the data", "#/data"), ("Import a spreadsheet", "#/bring-in"),
        ("Close the season", "#/closing"), ("Hours", "#/hours"), ("Count hours to an award", "#/hours/count"), ("Your hours", "#/own-hours"), (volunteer, f"#/hours/{volunteer_id}"),
    ]  # fmt: skip
    found = {}
    for heading, place in places:
        app.page.set_viewport_size(SIZES[size])
        app.open("#/today")
        app.go(place, heading)
        if faults := faults_of(app.page):
            found[place] = faults
    for heading, place in lists:
        app.page.set_viewport_size(SIZES[size])
        app.go(place, heading)
        if faults := faults_of(app.page):
            found[place] = faults
    assert found == {}
    assert app.faults == []


def test_private_kinds_never_come_down_to_a_crew_phone(joined, shore) -> None:
    db = shore.programme.db()
    lead = joined("lead", "Ruth Okafor-Lind")
    crew = joined("crew", "Zora Plover")
    private = [json.loads(line) for (line,) in db.execute("SELECT line FROM log WHERE privacy = 'leader'").fetchall()]
    told_of = [line["f"] for line in private]
    values = {str(value) for fields in told_of for name, value in fields.items() if name != "person_id" and len(str(value)) > 5}
    assert len(values) >= 5
    for app in (lead, crew):
        app.all_taken()
    told = {app: app.stored() for app in (lead, crew)}
    assert "Zora Plover" in told[crew]
    assert [value for value in values if value in told[crew]] == []
    assert [value for value in values if value not in told[lead]] == [], "the lead's phone has them, so the search is right"


def test_a_reader_sees_the_units_and_nobodys_name(joined, shore) -> None:
    names = [name for (name,) in shore.programme.db().execute("SELECT display_name FROM person").fetchall()]
    app = joined("reader")
    app.go("#/units", "Units")
    expect(app.page.get_by_text("A010").first).to_be_visible()
    assert app.page.get_by_role("link", name="Start a visit").count() == 0
    stored = app.stored()
    assert [name for name in names if name in stored] == []
    book = downloaded(app)
    assert "Unit check" in book.sheetnames
    cells = {cell for sheet in book for row in sheet.iter_rows(values_only=True) for cell in row}
    assert "A010" in cells
    assert [name for name in names if name in cells] == []
    assert app.faults == []


def downloaded(app: AppPage) -> openpyxl.Workbook:
    """The data as the screen gives it, and that the screen says so."""
    app.go("#/data", "Download the data")
    with app.page.expect_download() as begun:
        app.tap("Download")
    expect(app.page.get_by_text("File saved:")).to_be_visible()
    return openpyxl.load_workbook(io.BytesIO(begun.value.path().read_bytes()), read_only=True)


def test_a_screen_opened_before_the_pack_came_waits_for_it(browser, shore, site) -> None:
    context = browser.new_context(viewport=PHONE_PX)
    held, let_through = [], []
    context.route("**/api/pack/index", lambda route: route.continue_() if let_through else held.append(route))
    app = AppPage(context, shore)
    app.page.goto(shore.join_link("reader", site["record_id"]))
    app.page.wait_for_selector("html[data-ready='']")
    with app.page.expect_request("**/api/pack/index"):
        app.tap("Join")
    app.sees("No site yet")
    app.page.evaluate("location.hash = '#/units'")
    app.sees("No site yet")
    assert held, "the records are here, the pack is on its way"
    let_through.append(True)
    for route in held:
        route.continue_()
    app.sees("Units")
    context.close()
    assert app.faults == []


def test_the_desk_signs_people_in_and_checks_nothing(joined, shore) -> None:
    app = joined("desk", "Zora Plover")
    app.go("#/people", "People")
    app.page.wait_for_timeout(CALM_MS)
    app.page.get_by_role("button", name="Gwen Tidewell").click()
    expect(app.page.locator(".board .figure")).to_have_text("1")
    app.all_taken()
    (kind,) = shore.programme.db().execute("SELECT kind FROM log ORDER BY seq DESC LIMIT 1").fetchone()
    assert kind == "sign_in"
    app.go("#/units", "Units")
    assert app.page.locator("a[href$='/check']").count() == 0
    assert app.faults == []


def test_the_app_can_be_installed(joined) -> None:
    app = joined("crew", "Zora Plover")
    app.offline_ready()
    session = app.context.new_cdp_session(app.page)
    told = session.send("Page.getAppManifest")
    assert told["errors"] == []
    manifest = json.loads(told["data"])
    assert manifest["display"] == "standalone"
    assert {icon["sizes"] for icon in manifest["icons"]} >= {"192x192", "512x512"}
    found = [error["errorId"] for error in session.send("Page.getInstallabilityErrors")["installabilityErrors"]]
    assert set(found) <= {"in-incognito"}, "a test's context is a private window; nothing else may stand in the way"
