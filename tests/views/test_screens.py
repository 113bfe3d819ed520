"""Every screen and state, drawn with data at phone and laptop size: accessible, reachable by thumbs, inside its frame."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from tests.screen_checks import (
    ODD_DAY,
    axe,
    cut_off,
    parted_units,
    small_targets,
    squeezed_words,
    unroll,
    words_in,
)
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
    "a visit to correct": ("?role=lead&past", f"#/visits/{stage_pack.PAST_VISIT}/correct"),
    "a visit's missing check": ("?role=lead&past", f"#/visits/{stage_pack.PAST_VISIT}/correct/check"),
    "visits to join": ("?role=lead&past", f"#/visits/{stage_pack.PAST_VISIT}/correct/join"),
    "a visit to part": ("?role=lead&past", f"#/visits/{stage_pack.PAST_VISIT}/correct/part"),
    "sheets": ("?past", "#/sheet"),
    "a sheet": ("?past", f"#/sheet/{stage_pack.PAST_VISIT}"),
    "a sheet's visit": ("?past", "#/sheet/visit"),
    "a sheet's people": ("?past", f"#/sheet/{stage_pack.PAST_VISIT}/people"),
    "a sheet's unit": ("?past", f"#/sheet/{stage_pack.PAST_VISIT}/{UNIT}"),
    "photos to add": ("?past", f"#/add-photos/{stage_pack.PAST_VISIT}"),
    "people": ("", "#/people"),
    "units": ("", "#/units"),
    "unit history": ("", f"#/units/{stage_pack.unit_id(18)}"),
    "unit history of ten years": ("?years&role=lead", f"#/units/{stage_pack.unit_id(18)}"),
    "plots": ("", "#/plots"),
    "a plot": ("", f"#/plots/{stage_pack.plot_id(0)}"),
    "a plot of a reader": ("?role=reader&visit=no", f"#/plots/{stage_pack.plot_id(10)}"),
    "stakes": ("", f"#/plots/{stage_pack.plot_id(0)}/stakes"),
    "a marsh plot's reading": ("", f"#/plots/{stage_pack.plot_id(10)}/cover_reading"),
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
    "data": ("?role=lead&sites", "#/data"),
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
    "a reader's visits": ("?role=reader&visit=no", "#/visits"),
    "a flag": ("?role=lead", f"#/flags/{'1' * 32}"),
    "a person": ("?role=lead&past", f"#/people/{stage_pack.person_id(5)}"),
    "several sites": ("?sites", "#/units"),
    "own hours": ("?past", "#/own-hours"),
    "hours to count to an award": ("?role=lead&past", "#/hours/count"),
    "desk": ("?role=desk&desk&done", "#/desk"),
    "desk, a form that came back": ("?role=desk&desk&done", "#/desk/0190aaaa-0000-7000-8000-00000000beef"),
    "desk, contacts": ("?role=desk&desk", "#/desk/contacts"),
    "walk-up": ("?role=desk&desk&handed", "#/walk-up"),
    "walk-up in Spanish": ("?role=desk&desk=es&handed", "#/walk-up"),
    "walk-up that is done": ("?role=desk&desk&handed&done", "#/walk-up"),
    "heads to count": ("", "#/count-heads"),
    "set-up, waiver": ("?role=lead&desk", "#/set-up/waiver"),
    "set-up, new waiver": ("?role=lead&desk", "#/set-up/waiver/new"),
    "what is held about a person": ("?role=lead", f"#/held/{stage_pack.person_id(5)}"),
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
    assert ODD_DAY.findall(page.locator("body").inner_text()) == []
    # A long list is drawn by parts: while the page grows, a row may lie under what stays at its foot. What is wrong stays wrong.
    for _ in range(3):
        unroll(page)
        if not (faults := axe(page, "color-contrast-enhanced", "target-size")):
            break
    assert faults == []
    assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
    assert small_targets(page) == []
    assert cut_off(page) == []
    assert (parted_units(page), squeezed_words(page)) == ([], [])
    assert page.evaluate("window.breaches") == []


@pytest.mark.parametrize(("place", "file", "says"), [("#/flags", "views/flags.js", "Not on this phone yet"), ("#/access", "online/access.js", "Needs the server")])
def test_what_stands_in_for_a_screen_that_did_not_come_is_accessible_and_inside_its_frame(page, stage, place, file, says):
    page.route(f"**/{file}", lambda route: route.abort())
    show(page, stage, "?role=lead", place)
    assert page.locator("h1").inner_text() == says
    assert axe(page, "color-contrast-enhanced", "target-size") == []
    assert small_targets(page) == []


@pytest.mark.parametrize("name", ["today while a visit runs", "people", "unit check", "low tides", "flags", "not saved"])
def test_night_theme_keeps_its_contrast(page, stage, name):
    show(page, stage, *SCREENS[name], theme="night")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(13, 10, 9)"
    assert axe(page) == []


def test_a_lead_reads_what_a_device_tried_and_who_wrote_on_it(page, stage):
    show(page, stage, *SCREENS["devices"])
    said = words_in(page.locator("main"))
    assert "Phone, blue case (crew) used the name of the device Office laptop without the right key, 3 times, last on" in said
    assert "Old phone (crew, held by Ines Calder) used the name of one of its own lanes without the right key, once" in said
    assert "Tobias Wren\nPhone, blue case, crew, entries by Tobias Wren (212), Ines Calder (3)" in said
    assert "Old phone\ncrew, nobody chosen on it, last seen Fri, Nov 13, 15:00, access ended Wed, Nov 18, 06:06" in said
    assert "the newest 2 of 345" in said


def places_in(code: ast.AST) -> list[str]:
    """Every place that a piece of Python names, such as #/units/0/check; a 0 stands where it puts a name in."""
    inside = {id(part) for node in ast.walk(code) if isinstance(node, ast.JoinedStr) for part in node.values}
    texts = [
        "".join(str(part.value) if isinstance(part, ast.Constant) else "0" for part in node.values) if isinstance(node, ast.JoinedStr)
        else str(node.value)
        for node in ast.walk(code)
        if isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and id(node) not in inside)
    ]  # fmt: skip
    return [text for text in texts if text.startswith("#/") or text.startswith("#join=")]


def test_every_screen_that_the_router_opens_is_looked_at_and_has_its_picture(page, stage) -> None:
    """A new one needs its line above, or with the demo's data where it needs the server, and one in take_pictures.py."""
    tests = Path(__file__).parents[1]
    router = (stage_server.STATIC / "views" / "router.js").read_text("utf-8")
    names = re.findall(r"^  '?([\w-]+)'?: \(\) => ", router.split("const SCREENS = {")[1].split("};")[0], re.MULTILINE)
    assert len(names) > 15
    pictures = ast.parse((tests / "pictures" / "take_pictures.py").read_text("utf-8"))
    taken = [call for call in ast.walk(pictures) if isinstance(call, ast.Call) and getattr(call.func, "attr", "") == "at"]
    demo = ast.parse((tests / "browser" / "test_real_screens.py").read_text("utf-8"))
    by_axe = [node for node in demo.body if isinstance(node, ast.Assign) or "axe" in getattr(node, "name", "")]
    looked = [*(place for _, place in SCREENS.values()), *(place for node in by_axe for place in places_in(node))]
    page.goto(f"{stage}#/today")
    opens = """async (places) => {
      const { screenOf } = await import('/views/router.js');
      return places.map((place) => screenOf(place).name);
    }"""
    assert set(names) - set(page.evaluate(opens, looked)) == set()
    assert set(names) - set(page.evaluate(opens, [place for call in taken for place in places_in(call.args[0])])) == set()
