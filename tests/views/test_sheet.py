"""A sheet written on paper is typed in afterwards: in the paper's order, each check with the time on the sheet, on the visit it was written on."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.browser.app_page import CALM_MS
from tests.screen_checks import words_in
from tests.views.test_screens import show
from views import stage_pack

pytestmark = pytest.mark.browser

SHEET = f"#/sheet/{stage_pack.PAST_VISIT}"


@pytest.fixture(scope="module")
def opened(browser) -> Iterator[Page]:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    faults: list[str] = []
    page.on("pageerror", lambda fault: "localStorage" in str(fault) or faults.append(str(fault)))  # about:blank has none
    yield page
    page.close()
    assert faults == []


def at(page: Page, stage: str, place: str) -> None:
    page.goto("about:blank")
    show(page, stage, "?past", place)


def tap(page: Page, name: str) -> None:
    page.wait_for_timeout(CALM_MS)
    page.get_by_role("button", name=name).first.click()


def save_first(page: Page) -> None:
    page.wait_for_timeout(CALM_MS)
    page.locator("main button.row").first.click()


def test_a_unit_is_typed_in_with_the_time_on_the_sheet_and_the_next_one_follows(opened: Page, stage: str) -> None:
    at(opened, stage, SHEET)
    first = opened.locator(".foot a.do, footer a.do, a.do").first
    tag = words_in(first).removeprefix("Type in ")
    first.click()
    expect(opened.get_by_role("heading", level=1, name=tag)).to_be_visible()
    tap(opened, "Save")
    assert opened.evaluate("window.written.length") == 0
    assert "Type the time that stands on the sheet" in words_in(opened.locator("body"))
    opened.locator("#f-checked_at").fill("06:40")
    opened.get_by_role("radio", name="Seen", exact=True).check()
    opened.get_by_role("radio", name="Body 2").check()
    opened.locator("#f-exposed_height_mm").fill("301")
    tap(opened, "Save")
    expect(opened.get_by_role("heading", level=1, name=tag)).not_to_be_visible()
    (check,) = opened.evaluate("window.written")
    assert check["kind"] == "unit_check"
    assert check["fields"]["exposed_height_mm"] == 301 and check["fields"]["found_state"] == "seen" and check["fields"]["body_grade"] == 2
    assert check["fields"]["checked_at"] == "2026-11-14T11:40:00.000Z", "06:40 on the site's clock of the visit's day"
    opened.evaluate(f"location.hash = '{SHEET}'")
    expect(opened.get_by_text("1 of 48 checked")).to_be_visible()


def test_a_person_is_typed_in_with_both_times(opened: Page, stage: str) -> None:
    at(opened, stage, f"{SHEET}/people")
    save_first(opened)
    assert "Type the time that stands on the sheet" in words_in(opened.locator("body"))
    opened.locator("#f-in_at").fill("06:10")
    opened.locator("#f-out_at").fill("05:10")
    save_first(opened)
    assert "Out at 05:10 is before in at 06:10." in words_in(opened.locator("body"))
    opened.locator("#f-out_at").fill("08:00")
    save_first(opened)
    opened.wait_for_function("window.written.length === 1")
    (came,) = opened.evaluate("window.written")
    assert came["kind"] == "sign_in"
    assert (came["fields"]["in_at"], came["fields"]["out_at"]) == ("2026-11-14T11:10:00.000Z", "2026-11-14T13:00:00.000Z")


def test_a_time_on_the_sheet_is_of_the_day_nearest_to_the_visits_start(opened: Page, stage: str) -> None:
    at(opened, stage, "#/sheet")
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
    assert opened.evaluate(asked, [case[:2] for case in cases]) == [case[2] for case in cases]


def test_a_visit_of_paper_alone_is_typed_in_first(opened: Page, stage: str) -> None:
    at(opened, stage, "#/sheet/visit")
    opened.get_by_role("radio", name="Monitoring", exact=True).check()
    opened.locator("#f-started_at").fill("2026-11-20T06:30")
    tap(opened, "Save, go to the sheet")
    assert "Say when the visit ended" in words_in(opened.locator("body"))
    opened.locator("#f-ended_at").fill("2026-12-20T06:30")
    tap(opened, "Save, go to the sheet")
    assert "is still to come" in words_in(opened.locator("body"))
    opened.locator("#f-ended_at").fill("2026-11-20T08:30")
    tap(opened, "Save, go to the sheet")
    opened.wait_for_function("window.written.length === 1")
    (visit,) = opened.evaluate("window.written")
    assert visit["kind"] == "visit"
    assert (visit["fields"]["started_at"], visit["fields"]["ended_at"]) == ("2026-11-20T11:30:00.000Z", "2026-11-20T13:30:00.000Z")
