"""A lead with an empty programme sets up the first site, and a second one, on the phone."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest
from playwright.sync_api import expect

from fieldlog.records.tags import tag_for
from tests.browser.app_page import LAPTOP_PX, AppPage
from tests.live_server import serving

pytestmark = pytest.mark.browser

SITE = {
    "name": "Alder Spit", "lat_deg": "32.03", "lon_deg": "-80.92", "zone": "America/New_York", "tide_station": "noaa/8670870",
    "level_datum": "MLLW", "work_level_m": "0.5", "route_low_level_m": "0.9", "walk_out_min": "12", "muster_min": "10",
    "least_usable_min": "45",
}  # fmt: skip
SECOND = SITE | {"name": "Heron Bar", "lat_deg": "42.35", "lon_deg": "-71.0", "tide_station": "noaa/8443970", "work_level_m": "0.4"}


def set_up_site(app: AppPage, fields: dict[str, str]) -> None:
    app.go("#/set-up/site/new", "New site")
    for name, value in fields.items():
        app.fill(name, value)
    if not fields["tide_station"]:
        app.tap("Find tide stations near this place")
        app.page.get_by_role("button", name=re.compile("Fort Pulaski")).first.click()
        expect(app.page.locator("#f-level_datum")).to_have_value("MLLW")
    app.tap("Save")
    app.sees("Site")


def add_a_row_of_units(app: AppPage) -> None:
    """Row A with units 1 to 12, two metres apart, due east of where the first stands."""
    app.go("#/set-up/row/new", "New row")
    for name, value in {"name": "A", "order_number": 1, "bed_level_m": 0.3}.items():
        app.fill(name, value)
    app.tap("Save")
    app.sees("Rows")
    app.go("#/set-up/unit/series", "A series of units")
    app.choose("Row", "Row A")
    for name, value in {"count": 12, "spacing_m": 2, "start_east_m": 10, "start_north_m": -5, "azimuth_deg": 90}.items():
        app.fill(name, value)
    app.save("Save 12 units")
    app.sees("Units")


@pytest.fixture
def lead(browser, programme):
    with serving(programme, lambda: datetime.now(UTC)) as live:
        context = browser.new_context(viewport=LAPTOP_PX)
        app = AppPage(context, live)
        app.join("lead", None, None)
        app.tap("Add myself")
        app.fill("display_name", "Ines Calder")
        app.choose("Under 18", "No")
        app.tap("That is me")
        yield app
        context.close()


def test_from_an_empty_programme_to_two_sites_with_their_own_tide(lead, programme) -> None:
    lead.sees("No site yet")
    lead.follow("Set up a site")
    lead.sees("New site")
    lead.tap("Save")
    expect(lead.page.get_by_text("is not filled in").first).to_be_visible()
    lead.page.locator("#place").fill("32\u00b0 1.8' N 80\u00b0 55.2' E")
    lead.page.locator("#place").blur()
    expect(lead.page.get_by_text("At 32.03\u00b0 N, 80.92\u00b0 W there is").first).to_contain_text("Is the sign of the longitude right?")
    lead.tap("Flip the sign")
    expect(lead.page.locator("#f-lon_deg")).to_have_value("-80.92")
    expect(lead.page.locator("#f-zone")).to_have_value("America/New_York")
    expect(lead.page.locator("#place")).to_have_value("32.03\u00b0 N, 80.92\u00b0 W")
    expect(lead.page.get_by_role("button", name=re.compile("Fort Pulaski")).first).to_contain_text("km, NOAA")
    set_up_site(lead, SITE | {"tide_station": "", "level_datum": ""})
    lead.all_taken()
    lead.go("#/today", "Today")
    expect(lead.page.get_by_text("Fort Pulaski").first).to_be_visible()
    lead.follow("Set-up is not finished Next: rows. No row yet.")
    lead.sees("Set-up")
    lead.follow("Site Where it is")
    lead.follow("Next: rows")
    lead.sees("Rows")
    add_a_row_of_units(lead)
    lead.all_taken()
    units = programme.db().query("SELECT tag, tag_made_here, slot_number, planned_east_m, planned_north_m FROM unit ORDER BY slot_number")
    assert [tuple(unit.values()) for unit in units] == [(tag_for("A", slot), 1, slot, 10 + 2 * (slot - 1), -5) for slot in range(1, 13)]
    assert list(programme.db().query("SELECT rule FROM flag")) == []
    lead.go("#/set-up", "Set-up")
    expect(lead.page.get_by_role("listitem").filter(has_text="People")).to_contain_text("1 person so far; 2 or more are needed.")
    expect(lead.page.get_by_role("listitem").filter(has_text="Invitations")).to_contain_text("No other phone has joined yet.")
    lead.go("#/low-tides", "Low tides")
    expect(lead.page.get_by_text("usable").first).to_be_visible()

    set_up_site(lead, SECOND)
    lead.all_taken()
    lead.go("#/settings", "Settings")
    lead.choose("Site", "Heron Bar")
    lead.sees("Today")
    expect(lead.page.get_by_text("Boston").first).to_be_visible()
    assert lead.faults == []
    sites = list(programme.db().query("SELECT name, site_id, record_id FROM site ORDER BY name"))
    assert [site["name"] for site in sites] == ["Alder Spit", "Heron Bar"]
    assert all(site["site_id"] == site["record_id"] for site in sites), "other sites' crews do not get it"


def test_a_lead_invites_before_any_site_exists(lead) -> None:
    lead.sees("No site yet")
    lead.follow("Set-up")
    lead.sees("Set-up")
    expect(lead.page.get_by_text("0 of 8 done")).to_be_visible()
    lead.go("#/today", "No site yet")
    lead.follow("Invitations")
    lead.sees("Invitations")
    expect(lead.page.get_by_text("For every site, and every future one.")).to_be_visible()
    lead.tap("Make the invitation")
    expect(lead.page.get_by_role("status").filter(has_text=re.compile("^[A-Z2-9]{4}-[A-Z2-9]{4}$"))).to_be_visible()
    expect(lead.page.get_by_text("20 uses left, until").first).to_be_visible()
    for place, heading in (("#/set-up/row/new", "Rows"), ("#/set-up/unit/series", "Units"), ("#/set-up/closure", "Closures"), ("#/set-up/plot", "Plots")):
        lead.go(place, heading)
        expect(lead.page.get_by_text(f"{heading} belong to a site, and there is none yet.")).to_be_visible()
        expect(lead.page.get_by_role("button", name="Save")).to_have_count(0)
    lead.go("#/set-up/person/new", "New person")
    for place, heading in (("#/access/devices", "Devices"), ("#/access/tray", "Held entries"), ("#/phone", "This device"), ("#/people", "No site yet")):
        lead.go(place, heading)
    assert lead.faults == []


def test_a_station_that_is_not_here_is_told_on_the_screen(lead) -> None:
    lead.sees("No site yet")
    set_up_site(lead, SITE | {"tide_station": "noaa/0000000"})
    lead.all_taken()
    lead.go("#/today", "Today")
    expect(lead.page.get_by_text("No tide station 'noaa/0000000'").first).to_be_visible()
    lead.go("#/low-tides", "Low tides")
    expect(lead.page.get_by_text("noaa/0000000").first).to_be_visible()
    assert lead.faults == []
