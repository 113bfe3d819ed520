"""The main day without a pointer: everything can be reached by Tab, and the focus is never lost."""

from __future__ import annotations

import time

import pytest
from playwright.sync_api import Page, expect

from tests.browser.app_page import CALM_MS
from tests.waiting import wait_for

pytestmark = pytest.mark.browser

FOCUSED = """() => {
  const one = document.activeElement;
  const label = one.getAttribute('aria-label') ?? one.labels?.[0]?.innerText ?? one.innerText;
  return [one.tagName, (label ?? '').trim().split('\\n')[0], one.type ?? ''];
}"""
MOST_TABS = 60
BACK = "Shift+Tab"


def reach(page: Page, name: str, key: str = "Tab") -> None:
    """Tab on until what has this name has the focus; what stands at the foot is nearer backwards."""
    for _ in range(MOST_TABS):
        page.keyboard.press(key)
        if page.evaluate(FOCUSED)[1].startswith(name):
            return
    raise AssertionError(f"Tab never reaches {name}; it is at {page.evaluate(FOCUSED)}")


def act(page: Page, name: str, key: str = "Tab", *, opens: str = "") -> None:
    """Reach it and press Enter, no sooner than a second tap counts; the screen that it opens stands, and the focus is somewhere."""
    begun = time.monotonic()
    reach(page, name, key)
    page.wait_for_timeout(max(0, CALM_MS - 1000 * (time.monotonic() - begun)))
    page.keyboard.press("Enter")
    if opens:
        expect(page.get_by_role("heading", level=1)).to_have_text(opens)
    wait_for(page, lambda: page.evaluate(FOCUSED)[0] != "BODY", f"the focus is lost after {name}")


def test_a_day_by_keyboard_alone_reaches_everything_and_never_loses_its_place(browser, stage) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    faults: list[str] = []
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    page.goto(f"{stage}?visit=no#/today")
    page.wait_for_selector("html[data-ready]")
    told = page.locator(".told")
    expect(told).to_have_attribute("role", "status")
    act(page, "Start a visit", BACK, opens="Visit")
    act(page, "Start the visit", BACK, opens="People")
    act(page, "People", BACK, opens="People")
    act(page, "Finn Loam")
    expect(told).to_contain_text("Finn Loam")
    act(page, "Units", BACK, opens="Units")
    act(page, "Check ", BACK)
    heading = page.get_by_role("heading", level=1)
    expect(heading).not_to_have_text("Units")
    tag = heading.inner_text()
    reach(page, "Exposed height")
    page.keyboard.type("2000")
    expect(page.locator("#f-exposed_height_mm")).to_be_focused()
    page.keyboard.press("Control+A")
    page.keyboard.type("200")
    act(page, "Save")
    expect(told).to_contain_text("saved")
    expect(heading).not_to_have_text(tag)
    act(page, "Sightings", BACK, opens="Sightings")
    act(page, "Blue mussel")
    act(page, "Save the sighting", BACK)
    expect(told).to_contain_text("saved")
    act(page, "People", BACK, opens="People")
    act(page, "Sign out Finn Loam")
    expect(told).to_contain_text("Finn Loam")
    act(page, "Undo", BACK)
    expect(told).to_contain_text("Undone.")
    assert page.evaluate(FOCUSED)[0] == "H1", "its button is gone, and the screen says what it takes back"
    assert {one["kind"] for one in page.evaluate("window.written")} >= {"visit", "sign_in", "unit_check", "sighting"}
    assert faults == []
    page.close()
