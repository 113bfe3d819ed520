"""Whether people can be recognized on a photo: asked when it is kept, never answered beforehand, one tap; put right later; consent of leads."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.app_page import CALM_MS
from tests.screen_checks import axe
from tests.views.test_screens import show
from views import stage_pack, stage_server

pytestmark = pytest.mark.browser
CHECK = f"#/units/{stage_pack.unit_id(38)}/check"


@pytest.fixture(scope="module")
def opened(browser) -> Iterator[Page]:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    yield page
    page.close()


def take(page: Page, stage: str, query: str = "", place: str = CHECK, theme: str = "sun") -> None:
    page.goto("about:blank")
    show(page, stage, query, place, theme)
    choose(page)


def choose(page: Page) -> None:
    png = {"name": "a.png", "mimeType": "image/png", "buffer": stage_server.block_photo()}
    page.locator("input[type=file]").first.set_input_files(png)
    expect(question(page)).to_be_visible()


def question(page: Page):
    return page.get_by_role("radiogroup", name="People recognizable?")


def answer(page: Page, word: str) -> None:
    question(page).get_by_role("radio", name=word, exact=True).click()


def button(page: Page, name: str) -> None:
    page.wait_for_timeout(CALM_MS)
    page.get_by_role("button", name=name, exact=True).first.click()


def written(page: Page) -> list[dict[str, Any]]:
    return [one for one in page.evaluate("window.written") if one["kind"] in ("photo", "people_photo")]


def test_a_photo_asks_and_nothing_is_answered_or_on_record_before_that(opened: Page, stage: str) -> None:
    take(opened, stage, place="#/sighting")
    assert written(opened) == []
    assert [box.is_checked() for box in question(opened).get_by_role("radio").all()] == [False, False]
    assert axe(opened) == []


def test_one_tap_answers_it_and_can_be_taken_back(opened: Page, stage: str) -> None:
    take(opened, stage)
    for word, kind, said in (("No", "photo", None), ("Yes", "people_photo", True)):
        answer(opened, word)
        expect(question(opened)).to_have_count(0)
        expect(opened.locator(".photos img")).to_have_count(1)
        photo = written(opened)[-1]
        assert (photo["kind"], photo["fields"].get("recognizable"), photo["fields"]["of_kind"]) == (kind, said, "unit_check")
        button(opened, "Undo")
        expect(opened.locator(".photos img")).to_have_count(0)
        assert written(opened)[-1] == {"kind": kind, "recordId": photo["recordId"], "fields": {"_deleted": True}}
        choose(opened)


def test_a_photo_marked_wrongly_is_put_right_on_its_own_screen(opened: Page, stage: str) -> None:
    """A kind cannot change: the record goes, and another has the same file."""
    take(opened, stage)
    answer(opened, "No")
    opened.locator(".photos a").click()
    expect(question(opened).get_by_role("radio", name="No")).to_be_checked()
    opened.wait_for_timeout(CALM_MS)
    answer(opened, "Yes")
    expect(opened.get_by_role("heading", level=1, name="Photo of people")).to_be_visible()
    first, made, removed = written(opened)
    assert (made["kind"], made["fields"]) == ("people_photo", {**first["fields"], "recognizable": True})
    assert removed == {"kind": "photo", "recordId": first["recordId"], "fields": {"_deleted": True}}
    assert axe(opened) == []
    expect(opened.get_by_role("button", name="Everyone shown agreed")).to_have_count(0)


def test_a_lead_says_that_everyone_shown_agreed_and_takes_it_back(opened: Page, stage: str) -> None:
    take(opened, stage, "?role=lead")
    answer(opened, "Yes")
    opened.locator(".photos a").click()
    expect(opened.get_by_text("In no open export and no report until")).to_be_visible()
    button(opened, "Everyone shown agreed")
    expect(opened.get_by_text("exports and reports may have it")).to_be_visible()
    assert written(opened)[-1]["fields"] == {"consent": True}
    button(opened, "Take the consent back")
    expect(opened.get_by_text("In no open export and no report until")).to_be_visible()
    assert written(opened)[-1]["fields"] == {"consent": False}


def test_the_question_fits_large_text_and_night(opened: Page, stage: str) -> None:
    opened.set_viewport_size({"width": 360, "height": 740})
    take(opened, stage, theme="night")
    for letters_px in (16, 32):
        opened.evaluate(f"() => {{ document.documentElement.style.fontSize = '{letters_px}px'; }}")
        assert opened.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        boxes = opened.evaluate("[...document.querySelectorAll('.asks .choice span')].map((box) => [box.getBoundingClientRect().height, box.scrollWidth - box.clientWidth])")
        assert len(boxes) == 2
        assert min(height for height, _ in boxes) >= 44
        assert max(cut for _, cut in boxes) <= 0
        assert axe(opened) == []
