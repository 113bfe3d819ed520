"""A sheet written on paper is typed in afterwards: in the paper's order, each check with the time on the sheet, on the visit it was written on."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.app_page import CALM_MS
from tests.screen_checks import words_in
from tests.views.hand import at, tap
from views import stage_pack

pytestmark = pytest.mark.browser

SHEET = f"#/sheet/{stage_pack.PAST_VISIT}"


def save_first(page: Page) -> None:
    page.wait_for_timeout(CALM_MS)
    page.locator("main button.row").first.click()


def test_a_unit_is_typed_in_with_the_time_on_the_sheet_and_the_next_one_follows(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?past", SHEET)
    first = one_page.locator(".foot a.do, footer a.do, a.do").first
    tag = words_in(first).removeprefix("Type in ")
    first.click()
    expect(one_page.get_by_role("heading", level=1, name=tag)).to_be_visible()
    tap(one_page, re.compile("^Save"))
    assert one_page.evaluate("window.written.length") == 0
    assert "Type the time that stands on the sheet" in words_in(one_page.locator("body"))
    one_page.locator("#f-checked_at").fill("06:40")
    one_page.get_by_role("radio", name="Seen", exact=True).check()
    one_page.get_by_role("radio", name="Body 2").check()
    one_page.locator("#f-exposed_height_mm").fill("301")
    tap(one_page, re.compile("^Save"))
    expect(one_page.get_by_role("heading", level=1, name=tag)).not_to_be_visible()
    (check,) = one_page.evaluate("window.written")
    assert check["kind"] == "unit_check"
    assert check["fields"]["exposed_height_mm"] == 301 and check["fields"]["found_state"] == "seen" and check["fields"]["body_grade"] == 2
    assert check["fields"]["checked_at"] == "2026-11-14T11:40:00.000Z", "06:40 on the site's clock of the visit's day"
    one_page.evaluate(f"location.hash = '{SHEET}'")
    expect(one_page.get_by_text("1 of 48 checked")).to_be_visible()


def test_a_person_is_typed_in_with_both_times(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?past", f"{SHEET}/people")
    save_first(one_page)
    assert "Type the time that stands on the sheet" in words_in(one_page.locator("body"))
    one_page.locator("#f-in_at").fill("06:10")
    one_page.locator("#f-out_at").fill("05:10")
    save_first(one_page)
    assert "Out at 05:10 is before in at 06:10." in words_in(one_page.locator("body"))
    one_page.locator("#f-out_at").fill("08:00")
    save_first(one_page)
    one_page.wait_for_function("window.written.length === 1")
    (came,) = one_page.evaluate("window.written")
    assert came["kind"] == "sign_in"
    assert (came["fields"]["in_at"], came["fields"]["out_at"]) == ("2026-11-14T11:10:00.000Z", "2026-11-14T13:00:00.000Z")


def test_a_time_on_the_sheet_is_of_the_day_nearest_to_the_visits_start(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?past", "#/sheet")
    asked = """async (cases) => {
      const { momentOnSheet } = await import('/views/sheet-time.js');
      return cases.map(([time, started]) => {
        const ms = momentOnSheet(time, Date.parse(started), 'America/New_York');
        return ms === null ? null : new Date(ms).toISOString();
      });
    }"""
    cases = [
        ("23:50", "2026-11-14T04:40:00Z", "2026-11-14T04:50:00.000Z"),  # 23:40 of the 13th there
        ("00:20", "2026-11-14T04:40:00Z", "2026-11-14T05:20:00.000Z"),
        ("06:40", "2026-11-14T11:00:00Z", "2026-11-14T11:40:00.000Z"),
        ("1:30", "2026-11-14T11:00:00Z", None),
        ("", "2026-11-14T11:00:00Z", None),
        ("01:30", "2026-11-01T05:00:00Z", "2026-11-01T05:30:00.000Z"),  # an hour that the clock shows twice: the first
    ]  # fmt: skip
    assert one_page.evaluate(asked, [case[:2] for case in cases]) == [case[2] for case in cases]


def test_a_visit_of_paper_alone_is_typed_in_first(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?past", "#/sheet/visit")
    one_page.get_by_role("radio", name="Monitoring", exact=True).check()
    one_page.locator("#f-started_at").fill("2026-11-20T06:30")
    tap(one_page, "Save, go to the sheet")
    assert "Say when the visit ended" in words_in(one_page.locator("body"))
    one_page.locator("#f-ended_at").fill("2026-12-20T06:30")
    tap(one_page, "Save, go to the sheet")
    assert "is still to come" in words_in(one_page.locator("body"))
    one_page.locator("#f-ended_at").fill("2026-11-20T08:30")
    tap(one_page, "Save, go to the sheet")
    one_page.wait_for_function("window.written.length === 1")
    (visit,) = one_page.evaluate("window.written")
    assert visit["kind"] == "visit"
    assert (visit["fields"]["started_at"], visit["fields"]["ended_at"]) == ("2026-11-20T11:30:00.000Z", "2026-11-20T13:30:00.000Z")
