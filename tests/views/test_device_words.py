"""On a laptop nobody holds a phone: what a screen means by "this phone" is called this device there."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page

from tests.browser.app_page import LAPTOP_PX
from tests.screen_checks import words_in

pytestmark = pytest.mark.browser

THIS = re.compile(r"\b(?:this|the) phone\b[^.]{0,40}", re.IGNORECASE)
ELSEWHERE = ("the phone that joins", "The phone that wrote it")
GONE = "0190ffff-0000-7000-8000-000000000000"
PLACES = [
    "#/today", "#/visit", "#/people", "#/turn-back", f"#/units/{GONE}", f"#/units/{GONE}/check", f"#/record/unit_check/{GONE}", f"#/flags/{GONE}",
    f"#/people/{GONE}", f"#/visits/{GONE}", "#/visits", "#/flags", "#/low-tides", "#/sighting", "#/access/tray", "#/phone", "#/settings", "#/plan",
]  # fmt: skip
TOLD = """() => {
  const { phone } = stage;
  Object.assign(phone.syncState, { revoked: true, portal: true, last_error_sentence: 'No connection. Everything stays on this phone.',
    clock_sentence: "This phone's clock is 5 min ahead." });
  phone.isFull = true;
  phone.emit('fault', { sentence: 'NOT SAVED. This phone has no space left.' });
}"""
GO = "hash => { document.title = ''; location.hash = hash; }"


@pytest.fixture
def laptop(one_page: Page, stage: str) -> Page:
    one_page.set_viewport_size(LAPTOP_PX)
    one_page.goto(f"{stage}?role=lead&held&draft&cleared&old#/today")
    one_page.wait_for_selector("html[data-ready]")
    one_page.evaluate(TOLD)
    return one_page


def spoken(page: Page) -> str:
    """What is read on a screen and what is read aloud of it."""
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    aloud = page.locator("[aria-label], [alt]").evaluate_all("all => all.map((one) => one.getAttribute('aria-label') ?? one.alt)")
    return "\n".join([words_in(page.locator("body")), *aloud])


def test_a_laptop_is_called_a_device_on_every_screen_in_every_notice(laptop: Page) -> None:
    found = {}
    for place in PLACES:
        if place != "#/today":
            laptop.evaluate(GO, place)
            laptop.wait_for_function("() => document.title !== ''")
        said = [words for words in THIS.findall(spoken(laptop)) if not any(other in words for other in ELSEWHERE)]
        if said:
            found[place] = said
    assert found == {}
    assert "NOT SAVED. This device has no space left." in spoken(laptop), "what the store says too"


def test_a_failed_save_is_said_once_and_a_remark_does_not_call_itself_one(laptop: Page) -> None:
    assert spoken(laptop).count("NOT SAVED.") == 1
    laptop.evaluate("stage.phone.emit('fault', { sentence: 'One photo could not be sent. It stays on this phone and is sent again later.' })")
    laptop.get_by_text("One photo could not be sent. It stays on this device").wait_for()
    assert "NOT SAVED" not in spoken(laptop)
