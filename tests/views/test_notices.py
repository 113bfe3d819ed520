"""What a notice says ends with its cause, stands once, and what was just saved can be taken back from its own row."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.app_page import CALM_MS, PHONE_PX
from tests.screen_checks import axe, small_targets
from tests.views.hand import tap
from views import stage_pack

pytestmark = pytest.mark.browser

UNIT = stage_pack.unit_id(38)
CHECK = f"#/units/{UNIT}/check"
HOLDS = """() => {
  const { setTimeout } = window;
  window.setTimeout = (act, ms, ...rest) => {
    if (ms !== 5000 && ms !== 10000) return setTimeout(act, ms, ...rest);
    window.notice = { end: act, ms };
    return 0;
  };
}"""
"""A notice ends when the test says so: `notice.end()`."""


@pytest.fixture
def show(one_page: Page, stage: str):
    def at(place: str, query: str = "") -> Page:
        one_page.set_viewport_size(PHONE_PX)
        one_page.goto("about:blank")
        one_page.goto(f"{stage}{query}{place}")
        one_page.wait_for_selector("html[data-ready]")
        one_page.evaluate(HOLDS)
        return one_page

    return at


def go(page: Page, place: str, heading: str | re.Pattern[str]) -> None:
    page.evaluate("hash => { location.hash = hash; }", place)
    expect(page.get_by_role("heading", level=1)).to_have_text(heading)


def refused(page: Page) -> None:
    page.locator("#f-exposed_height_mm").fill("abc")
    tap(page, re.compile("^Save"))
    expect(page.locator(".told")).to_contain_text("is not a number")


def test_what_must_be_put_right_is_said_until_somebody_does_so(show) -> None:
    page = show(CHECK)
    refused(page)
    page.locator("#f-exposed_height_mm").fill("200")
    expect(page.locator(".told")).to_have_text("")
    refused(page)
    go(page, "#/units", "Units")
    expect(page.locator(".told")).to_have_text("")


def test_a_time_that_cannot_be_is_said_until_another_is_typed(show) -> None:
    page = show("#/people", "?forgotten")
    page.get_by_role("button", name=re.compile("out with a time$")).click()
    tap(page, "Save this time")
    expect(page.locator(".told")).to_contain_text("Choose the day and the time first")
    page.locator("#left-at").fill("2020-01-01T10:00")
    expect(page.locator(".told")).to_have_text("")


def test_what_was_done_stays_said_where_a_screen_opens_or_somebody_types(show) -> None:
    page = show(CHECK)
    page.locator("#f-exposed_height_mm").fill("265")
    tap(page, re.compile("^Save"))
    expect(page.locator(".told")).to_contain_text("saved on this phone")
    expect(page.get_by_role("heading", level=1)).not_to_have_text("B095")
    page.locator("#f-exposed_height_mm").fill("2")
    go(page, "#/units", "Units")
    expect(page.locator(".told")).to_contain_text("saved on this phone")
    undo = page.locator(".told").get_by_role("button", name="Undo")
    page.wait_for_timeout(CALM_MS)
    undo.click()
    expect(page.locator(".told")).to_have_text("Undone.")
    go(page, "#/people", "People")
    expect(page.locator(".told")).to_have_text("Undone.")


def test_undo_leads_from_the_next_check_back_to_the_one_that_was_saved(show) -> None:
    page = show(CHECK)
    heading = page.get_by_role("heading", level=1)
    tag = heading.inner_text()
    page.locator("#f-exposed_height_mm").fill("265")
    tap(page, re.compile("^Save, go to "))
    expect(heading).not_to_have_text(tag)
    tap(page, "Undo")
    expect(heading).to_have_text(tag)
    assert page.evaluate("location.hash") == CHECK
    expect(page.locator(".told")).to_have_text("Undone.")


def written(page: Page) -> int:
    return page.evaluate("window.written.length")


def test_what_was_just_saved_is_taken_back_from_its_own_row_and_no_other(show) -> None:
    page = show(CHECK)
    page.locator("#f-exposed_height_mm").fill("265")
    tap(page, re.compile("^Save"))
    expect(page.locator(".told")).to_contain_text("saved")
    go(page, "#/units", "Units")
    mine = page.locator(".row", has=page.locator(f"a[href='#/units/{UNIT}/check']"))
    undo = mine.get_by_role("button", name=re.compile(r"Saved\.\s*Undo"))
    expect(undo).to_be_visible()
    expect(page.locator("main .saved-here")).to_have_count(1)
    assert axe(page, "color-contrast-enhanced", "target-size") == []
    assert small_targets(page) == []
    assert page.locator("main [role=status], main [aria-live], main [role=alert]").filter(has=page.locator(".saved-here")).count() == 0, "read out once"
    tap(page, re.compile(r"Saved\.\s*Undo"))
    expect(page.locator(".told")).to_have_text("Undone.")
    assert page.evaluate("window.written.at(-1)") | {"recordId": ""} == {"kind": "unit_check", "recordId": "", "fields": {"_deleted": True}}
    expect(page.locator("main .saved-here")).to_have_count(0)
    assert page.evaluate("document.activeElement.tagName") != "BODY"


def test_a_row_says_saved_for_as_long_as_the_notice_and_nothing_shifts_when_it_goes(show) -> None:
    page = show("#/sighting")
    page.get_by_role("button", name=re.compile("^Blue mussel")).click()
    tap(page, "Save the sighting")
    undo = page.locator(".saved-here")
    expect(undo).to_be_visible()
    assert page.evaluate("notice.ms") == 10_000
    rows = "[...document.querySelectorAll('section .row')].map((one) => Math.round(one.getBoundingClientRect().height))"
    before = page.evaluate(rows)
    undo.focus()
    page.evaluate("notice.end()")
    expect(undo).to_be_visible()
    page.locator("h1").focus()
    page.evaluate("notice.end()")
    expect(undo).not_to_be_visible()
    expect(page.locator(".told")).to_have_text("")
    assert page.evaluate(rows) == before
    page.get_by_role("button", name=re.compile("^Blue mussel")).click()
    tap(page, "Save the sighting")
    expect(undo).to_be_visible()
    tap(page, "Save the sighting")
    expect(page.locator(".told")).to_contain_text("Say what was seen")
    expect(undo).to_have_count(0)


def test_no_row_takes_back_what_was_saved_of_others_with_it(show) -> None:
    page = show("#/people", "?out=3")
    tap(page, "Sign out all 3")
    tap(page, "Sign out these 3")
    expect(page.locator(".told").get_by_role("button", name="Undo")).to_be_visible()
    expect(page.locator(".saved-here")).to_have_count(0)
    page.wait_for_timeout(CALM_MS)
    page.locator("button.row", has_text="sign in").first.click()
    expect(page.locator(".row.wrap .saved-here")).to_have_count(1)
    expect(page.locator(".saved-here")).to_have_count(2), "out now, and in the day's list"


def test_the_row_of_what_was_just_removed_says_removed(show) -> None:
    """It said "Saved." beside words that were struck."""
    page = show("#/sighting")
    page.get_by_role("button", name=re.compile("^Blue mussel")).click()
    tap(page, "Save the sighting")
    expect(page.locator(".saved-here")).to_contain_text("Saved.")
    page.locator("a.leads", has_text="Blue mussel").first.click()
    tap(page, "Remove")
    tap(page, "Remove it")
    go(page, "#/sighting", "Sightings")
    expect(page.locator(".row", has=page.locator("s")).locator(".saved-here")).to_contain_text("Removed.")


DRAFTS = "async () => (await stage.phone.drafts()).map(({ key }) => key)"


def test_a_form_left_open_is_called_by_its_unit_and_an_emptied_one_is_none(show) -> None:
    page = show(CHECK)
    tag = page.locator("h1").inner_text()
    page.locator("#f-exposed_height_mm").fill("26")
    assert page.evaluate(DRAFTS) == [f"unit_check:{UNIT}"]
    page.locator("#f-exposed_height_mm").fill("")
    expect(page.get_by_role("button", name=re.compile("^Save|^Looks"))).to_be_visible()
    assert page.evaluate(DRAFTS) == [], "found was said by the measure alone"
    page.locator("#f-exposed_height_mm").fill("26")
    go(page, "#/phone", "This phone")
    left = page.locator("section", has=page.get_by_role("heading", name="Forms left open"))
    expect(left).to_contain_text(f"{tag}, check")
    assert left.get_by_role("link", name="open").get_attribute("href") == CHECK
    expect(left.get_by_role("button", name=f"Drop {tag}, check")).to_be_visible()


FORMS = {
    f"unit_event:{UNIT}": "{tag}, work", f"position_fix:{UNIT}": "{tag}, position", "sighting:new": "Dog whelk, sighting", "visit:start": "Visit",
    "correct:unit_check:01900007-0000-7000-8000-000000000036": "D019, correction of a unit check", "unit_check:gone": "Check",
    f"unit:{UNIT}": "{tag}, unit", "unit:new": "Unit", "person:new": "Mara Stone, person", "level_word:v": "Lower water",
}  # fmt: skip


def test_every_form_left_open_says_what_it_is_of(show) -> None:
    page = show(CHECK)
    tag = page.locator("h1").inner_text()
    said = page.evaluate(
        """async (keys) => { const { formWords } = await import('/views/entry-words.js');
          const values = { taxon: 'Dog whelk', display_name: 'Mara Stone' };
          return Promise.all(keys.map((key) => formWords(stage.phone, { key, values }))); }""",
        list(FORMS),
    )
    assert dict(zip(FORMS, said, strict=True)) == {key: words.format(tag=tag) for key, words in FORMS.items()}


def test_an_emptied_form_with_a_photo_keeps_the_record_that_the_photo_names(show) -> None:
    page = show(CHECK)
    page.locator("#f-exposed_height_mm").fill("26")
    page.locator("input[type=file]").first.set_input_files({"name": "a.png", "mimeType": "image/png", "buffer": b"picture"})
    expect(page.locator(".told")).to_contain_text("Photo kept")
    page.locator("#f-exposed_height_mm").fill("")
    assert page.evaluate(DRAFTS) == [f"unit_check:{UNIT}"]
    go(page, "#/units", "Units")
    go(page, CHECK, re.compile("D"))
    page.locator("#f-tilt_deg").fill("2")
    page.locator("#f-tilt_deg").fill("")
    assert page.evaluate(DRAFTS) == [f"unit_check:{UNIT}"]


def test_while_the_alarm_stands_what_is_asked_is_folded(show) -> None:
    page = show("#/units")
    asked = page.get_by_text("Shall this phone sound the turn-back alarm too?")
    expect(asked).to_be_visible()
    page.evaluate("""async () => {
      const { readShore, turnBack } = await import('/views/shore.js');
      const { atMs } = turnBack(await readShore(stage.phone), stage.phone.now());
      stage.phone.now = () => atMs - 10 * 60_000;
      stage.phone.emit('change');
    }""")
    expect(page.get_by_role("region", name="Turn-back alarm")).to_contain_text("people out")
    expect(asked).not_to_be_visible()
    page.get_by_text("Sound it on this phone too?").click()
    expect(page.get_by_role("button", name="Switch it on and hear it")).to_be_visible()
    expect(page.get_by_role("button", name="Not on this phone")).to_be_visible()
