"""Every screen and state, drawn with data at phone and laptop size: accessible, reachable by thumbs, inside its frame."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.screen_checks import LEAST_TARGET_PX, ODD_DAY, OVERLAPPED, axe, unroll
from views import stage_pack, stage_server

pytestmark = pytest.mark.browser

SIZES = {"phone": (390, 844), "laptop": (1280, 800)}

UNIT = stage_pack.unit_id(38)
SCREENS = {
    "today while a visit runs": ("", "#/today"),
    "today": ("?visit=no", "#/today"),
    "visit that runs": ("", "#/visit"),
    "visit to start": ("?visit=no", "#/visit"),
    "past visits": ("?past", "#/visits"),
    "a past visit": ("?past", f"#/visits/{stage_pack.PAST_VISIT}"),
    "people": ("", "#/people"),
    "units": ("", "#/units"),
    "unit history": ("", f"#/units/{stage_pack.unit_id(18)}"),
    "unit check": ("", f"#/units/{UNIT}/check"),
    "record": ("", "#/record/unit_check/01900007-0000-7000-8000-000000000036"),
    "sighting": ("", "#/sighting"),
    "low tides": ("?visit=no", "#/low-tides"),
    "flags": ("?role=lead", "#/flags"),
    "this phone": ("?held&draft", "#/phone"),
    "settings": ("", "#/settings"),
    "set-up": ("?role=lead", "#/set-up"),
    "set-up list": ("?role=lead", "#/set-up/unit"),
    "set-up of a series": ("?role=lead", "#/set-up/unit/series"),
    "set-up form": ("?role=lead", f"#/set-up/site/{stage_pack.SITE_ID}"),
    "invitations": ("?role=lead", "#/access"),
    "devices": ("?role=lead", "#/access/devices"),
    "held entries": ("?role=lead", "#/access/tray"),
    "join": ("?joined=no", "#join=K7QM3XDP"),
    "who are you": ("?joined=nobody", "#/join"),
    "no site yet": ("?joined=empty", "#/today"),
    "portal": ("?portal", "#/today"),
    "phone not known": ("?unknown", "#/today"),
    "phone taken off": ("?revoked", "#/today"),
    "not saved": ("?fault", "#/today"),
    "update": ("?update", "#/today"),
    "update while a form is open": ("?update&draft", "#/today"),
    "storage cleared, entries a day old": ("?cleared&old", "#/phone"),
    "reader": ("?role=reader&visit=no", "#/units"),
}

@pytest.fixture
def page(browser, request):
    width, height = SIZES[getattr(request, "param", "phone")]
    context = browser.new_context(viewport={"width": width, "height": height})
    opened = context.new_page()
    opened.faults = []
    opened.on("pageerror", lambda fault: opened.faults.append(str(fault)))
    yield opened
    context.close()
    assert opened.faults == []


def show(page, stage: str, query: str = "", place: str = "#/today", theme: str = "sun") -> None:
    """Open one screen and wait until it stands."""
    page.add_init_script(f"localStorage.setItem('fieldlog.shows', JSON.stringify({{theme: '{theme}'}}))")
    page.goto(f"{stage}{query}{place}")
    page.wait_for_selector("html[data-ready]")


@pytest.mark.parametrize("page", ["phone", pytest.param("laptop", marks=pytest.mark.long)], indirect=True)
@pytest.mark.parametrize("name", SCREENS)
def test_screen_is_accessible_and_inside_its_frame(page, stage, name):
    show(page, stage, *SCREENS[name])
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    unroll(page)
    assert ODD_DAY.findall(page.locator("body").inner_text()) == []
    assert axe(page, "color-contrast-enhanced", "target-size") == []
    assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
    assert page.evaluate(OVERLAPPED.replace("LEAST", str(LEAST_TARGET_PX))) == []
    assert page.evaluate("window.breaches") == []


@pytest.mark.parametrize("name", ["today while a visit runs", "people", "unit check", "low tides", "flags", "not saved"])
def test_night_theme_keeps_its_contrast(page, stage, name):
    show(page, stage, *SCREENS[name], theme="night")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(13, 10, 9)"
    assert axe(page) == []


def test_a_lead_reads_what_a_device_tried_and_who_wrote_on_it(page, stage):
    show(page, stage, *SCREENS["devices"])
    said = page.locator("main").inner_text()
    assert "Phone, blue case (crew) asked for or sent entries as the device Office laptop without the right key, 3 times, last on" in said
    assert "Old phone (crew, held by Ines Calder) asked for or sent entries as itself without the right key, once" in said
    assert "Tobias Wren\nPhone, blue case, crew, entries by Tobias Wren (212), Ines Calder (3)" in said
    assert "Old phone\ncrew, nobody chosen on it, last seen Fri, Nov 13, 15:00, taken off Wed, Nov 18, 06:06" in said
    assert "the newest 2 of 345" in said


def test_every_screen_that_the_router_opens_is_looked_at() -> None:
    """A new one needs its line above, or with the demo's data where it needs the server."""
    router = (stage_server.STATIC / "views" / "router.js").read_text("utf-8")
    names = re.findall(r"^  '?([\w-]+)'?: \(\) => ", router.split("const SCREENS = {")[1].split("};")[0], re.MULTILINE)
    assert len(names) > 15
    with_server = (Path(__file__).parents[1] / "browser" / "test_real_screens.py").read_text("utf-8")
    told = {"unit-history": "#/units/0", "past-visit": "#/visits/0", "join": "#join="}
    looked = " ".join(place for _, place in SCREENS.values()) + with_server
    assert [name for name in names if name != "unit-check" and told.get(name, f"#/{name}") not in looked] == []
    assert "/check" in looked
