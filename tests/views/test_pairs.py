"""A lead's laptop uses its width: list and record side by side, gone through by keys; and what every header and form has."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.app_page import CALM_MS, LAPTOP_PX, PHONE_PX
from tests.screen_checks import LEAST_TARGET_PX, OVERLAPPED, axe, unroll, words_in
from views import stage_pack

pytestmark = pytest.mark.browser

UNIT, NEXT = stage_pack.unit_id(18), stage_pack.unit_id(19)
FOCUSED = "() => (document.activeElement.getAttribute('href') ?? document.activeElement.id) || document.activeElement.tagName"


@pytest.fixture
def show(one_page, stage):
    """Opens a screen on the one page, at laptop size unless said, and gives the page."""

    def at(place: str, query: str = "?role=lead&visit=no", size: dict[str, int] = LAPTOP_PX) -> Page:
        one_page.set_viewport_size(size)
        one_page.goto("about:blank")
        one_page.goto(f"{stage}{query}{place}")
        one_page.wait_for_selector("html[data-ready]")
        return one_page

    return at


PAIRS = {
    "units": (f"#/units/{UNIT}", "B075", "Units"), "flags": (f"#/flags/{'3' * 32}", "leaning", "Flags"),
    "people": (f"#/people/{stage_pack.person_id(5)}", "Lev Marsh", "People"),
}  # fmt: skip


@pytest.mark.parametrize("name", PAIRS)
def test_one_address_opens_the_list_and_the_record_beside_it(show, name: str) -> None:
    place, title, heading = PAIRS[name]
    page = show(place)
    listed, record = page.locator(".list"), page.locator(".detail")
    assert page.locator("h1").inner_text() == heading
    assert page.locator("#detail-title").inner_text() == title
    left, right = listed.bounding_box(), record.bounding_box()
    assert left["x"] + left["width"] < right["x"]
    assert right["x"] + right["width"] > LAPTOP_PX["width"] - 60, "no half-empty column"
    assert listed.locator("[aria-current=true]").get_attribute("href") == place
    assert title in page.title()
    unroll(page)
    assert axe(page, "color-contrast-enhanced", "target-size") == []
    assert page.evaluate(OVERLAPPED.replace("LEAST", str(LEAST_TARGET_PX))) == []
    assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0


@pytest.mark.parametrize("name", PAIRS)
def test_a_list_opens_with_a_record_beside_it_and_a_phone_shows_one_of_them(show, name: str) -> None:
    page = show(f"#/{name}")
    assert page.locator("#detail-title").inner_text()
    assert page.locator(".list [aria-current=true]").count() == 1
    page = show(f"#/{name}", size=PHONE_PX)
    assert page.locator(".list, .detail, [aria-current=true]").count() == 0
    place, title, _ = PAIRS[name]
    page = show(place, size=PHONE_PX)
    assert page.locator("h1").inner_text() == title
    assert page.locator("a.back").get_attribute("href") == f"#/{name}"
    assert page.locator(".list").count() == 0


def test_a_window_that_is_made_wider_or_narrower_shows_what_there_is_room_for(show) -> None:
    page = show(f"#/units/{UNIT}", size=PHONE_PX)
    page.set_viewport_size(LAPTOP_PX)
    expect(page.locator(".list [aria-current=true]")).to_have_attribute("href", f"#/units/{UNIT}")
    page.set_viewport_size(PHONE_PX)
    expect(page.locator("h1")).to_have_text("B075")


def test_arrows_go_through_the_list_and_keep_the_focus_there(show) -> None:
    page = show(f"#/units/{UNIT}")
    trail = page.evaluate("history.length")
    page.keyboard.press("ArrowDown")
    expect(page.locator("#detail-title")).to_have_text("B082")
    assert page.evaluate("location.hash") == page.evaluate(FOCUSED) == f"#/units/{NEXT}"
    expect(page.locator(".list [aria-current=true]")).to_have_attribute("href", f"#/units/{NEXT}")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    expect(page.locator(".list [aria-current=true]")).to_have_attribute("href", f"#/units/{stage_pack.unit_id(17)}")
    assert page.evaluate("history.length") == trail, "a list that was gone through is left by one step back"


COVERED = """() => {
  const row = document.activeElement;
  const { left, right, top, bottom } = row.getBoundingClientRect();
  const inset = 2;
  return [[left + inset, top + inset], [left + inset, bottom - inset], [(left + right) / 2, bottom - inset]].filter(([x, y]) => {
    const seen = document.elementFromPoint(x, y);
    return !seen || !(row === seen || row.contains(seen) || seen.contains(row));
  }).length;
}"""
"""At how many of three places of its edges the row that has the focus is covered, or off the window."""


@pytest.mark.parametrize(
    ("name", "query"),
    [("units", "?role=lead"), ("flags", "?role=lead")]
    + [pytest.param(*case, marks=pytest.mark.long) for case in (("people", "?role=lead"), *((name, "?role=lead&visit=no") for name in PAIRS))],
)
def test_a_row_that_arrows_reach_is_seen_whole(show, name: str, query: str) -> None:
    page = show(f"#/{name}", query)
    rows = page.locator(f".list a[href^='#/{name}/']").count()
    page.keyboard.press("ArrowUp")
    walk = ["ArrowDown"] * min(rows, 16) + ["ArrowUp"] * min(rows, 16)
    covered = []
    for key in walk:
        page.keyboard.press(key)
        expect(page.locator(".list [aria-current=true]")).to_be_focused()
        if page.evaluate(COVERED):
            covered.append((key, page.evaluate(FOCUSED)))
    assert covered == []


def test_slash_goes_to_the_search_escape_leaves_it_and_what_was_found_is_gone_through(show) -> None:
    page = show(f"#/units/{UNIT}")
    page.keyboard.press("/")
    assert page.evaluate(FOCUSED) == "search"
    page.keyboard.type("d04/")
    assert page.locator("#search").input_value() == "d04/"
    page.keyboard.press("Backspace")
    page.keyboard.press("ArrowDown")
    assert page.evaluate("location.hash") == f"#/units/{UNIT}", "an arrow in a field moves the caret alone"
    page.keyboard.press("Escape")
    assert page.locator("#search").input_value() == "d04"
    assert page.evaluate(FOCUSED) == "content", "what is chosen is not among what was found"
    page.keyboard.press("ArrowDown")
    expect(page.locator("#detail-title")).to_have_text("D040")
    expect(page.locator("#search")).to_have_value("d04")


def test_what_is_tapped_opens_beside_its_list_which_stays_where_it_was(show) -> None:
    page = show("#/units")
    page.locator(f".list a[href='#/units/{stage_pack.unit_id(40)}']").click()
    expect(page.locator("#detail-title")).to_be_focused()
    scrolled = page.evaluate("document.querySelector('.list').scrollTop")
    assert scrolled > 0
    page.locator(".detail summary").first.click()
    assert page.locator(".detail details[open]").count() == 1
    page.locator(f".list a[href='#/units/{stage_pack.unit_id(39)}']").click()
    expect(page.locator("#detail-title")).to_have_text("D040")
    assert page.evaluate("document.querySelector('.list').scrollTop") == pytest.approx(scrolled, abs=60)
    assert page.locator(".detail details[open]").count() == 0, "what was unfolded of one is not unfolded of the next"


def test_a_lead_decides_a_flag_beside_the_list(show) -> None:
    page = show(f"#/flags/{'3' * 32}")
    page.get_by_role("button", name="Decide").click()
    page.wait_for_timeout(CALM_MS)
    page.get_by_role("button", name="Save decision").click()
    group = page.get_by_role("radiogroup", name="decide").or_(page.get_by_role("radiogroup", name="decision"))
    expect(group).to_have_attribute("aria-invalid", "true")
    said = page.locator(f"#{group.get_attribute('aria-describedby')}")
    assert said.inner_text()
    group.locator("label").first.click()
    expect(group).not_to_have_attribute("aria-invalid", "true")


def test_people_are_signed_in_beside_whom_one_looks_at(show) -> None:
    page = show(f"#/people/{stage_pack.person_id(5)}", "?role=lead")
    page.wait_for_timeout(CALM_MS)
    page.get_by_role("button", name="Sign out Lev Marsh").click()
    expect(page.locator(".detail .where")).to_have_text("Not out")
    expect(page.get_by_role("button", name="Sign in Lev Marsh")).to_be_visible()


@pytest.mark.parametrize("size", [PHONE_PX, pytest.param(LAPTOP_PX, marks=pytest.mark.long)], ids=["phone", "laptop"])
def test_the_site_in_every_header_switches_sites(show, size) -> None:
    places = ["today", "visit", "visits", "units", "sighting", "people", "low-tides", "flags", "phone", "settings", "set-up", "turn-back", "plan"]
    page = show("#/today", "?role=lead&sites", size)
    for place in places:
        page.evaluate("place => { location.hash = `#/${place}`; }", place)
        expect(page.get_by_role("combobox", name="Site")).to_have_count(1)
    page = show(f"#/units/{UNIT}", "?role=lead&sites", size)
    page.get_by_role("combobox", name="Site").focus()
    page.get_by_role("combobox", name="Site").select_option("Gannet Reach")
    expect(page.locator("h1")).to_have_text("Units")
    assert page.evaluate("location.hash") == "#/units"
    assert page.evaluate("stage.phone.me.site_id").endswith("9")
    expect(page.get_by_role("combobox", name="Site")).to_have_value(page.evaluate("stage.phone.me.site_id"))
    expect(page.get_by_role("combobox", name="Site")).to_be_focused()


def test_a_phone_of_one_site_has_no_choice_of_sites(show) -> None:
    page = show("#/units", size=PHONE_PX)
    assert page.get_by_role("combobox", name="Site").count() == 0


def test_one_search_finds_names_and_species_whatever_their_case_and_accents(show) -> None:
    page = show("#/join", "?joined=nobody", PHONE_PX)
    page.get_by_role("searchbox", name="Find your name").fill("MARSH lev")
    expect(page.locator("button.row")).to_have_count(1)
    page = show("#/sighting", "?visit=no", PHONE_PX)
    page.get_by_role("searchbox", name="What was it?").fill("edulis blue")
    expect(page.locator(".species .row")).to_have_count(1)


def test_a_reader_reads_visits_without_names(show) -> None:
    page = show("#/today", "?role=reader&visit=no", PHONE_PX)
    page.get_by_role("link", name="Past visits").click()
    main = page.locator("main")
    expect(main).to_contain_text("Sat, Nov 14, 2026")
    said = words_in(main)
    assert "Storm check" in said and "8 people" in said and "1 person" in said
    assert "38.5 h" in said and "2 visits" in said
    names = page.evaluate("async () => (await stage.phone.rows('person')).map((one) => one.display_name)")
    assert [name for name in names if name in said] == []


def test_who_speaks_to_a_computer_switches_the_keys_off(show) -> None:
    page = show("#/settings")
    page.get_by_role("radiogroup", name="Keys").get_by_role("radio", name="Off").check(force=True)
    page.evaluate("location.hash = '#/units'")
    expect(page.locator("#detail-title")).to_be_visible()
    page.keyboard.press("/")
    page.keyboard.press("ArrowDown")
    assert page.evaluate(FOCUSED) != "search"
    assert page.evaluate("location.hash") == "#/units"
    page.evaluate("localStorage.clear()")


def test_a_row_that_nobody_chose_scrolls_nothing_away(show) -> None:
    """Who is not signed out stands above the list, and is seen whole when People opens."""
    page = show("#/people", "?forgotten", size=LAPTOP_PX)
    expect(page.locator(".list [aria-current=true]")).to_have_count(1)
    assert page.locator(".list").evaluate("(one) => one.scrollTop") == 0
    assert "Not signed out" in words_in(page.locator(".list .board.stop").first)
