"""What has room on a line stays on it, at a phone's width and on a laptop, and what was asked for is in sight."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.app_page import LAPTOP_PX, PHONE_PX
from tests.screen_checks import words_in
from views import stage_pack

pytestmark = pytest.mark.browser

LINES = """(place) => {
  const range = document.createRange();
  range.selectNodeContents(place);
  const rects = [...range.getClientRects()].filter(({ width }) => width > 1);
  return 1 + rects.filter(({ left, top }, n) => n && left < rects[n - 1].right - 2 && top > rects[n - 1].top + 2).length;
}"""
"""Text goes on to the right; where it begins again further left and lower, a line begins."""


def parted(places) -> list[str]:
    """Those that take more than a line."""
    return [words_in(place) for place in places.all() if place.evaluate(LINES) > 1]


def test_a_name_and_its_value_share_the_room_of_their_line(show) -> None:
    page = show("#/phone")
    assert page.locator(".pairs dd").count() > 5
    assert parted(page.locator(".pairs dd, .said-back dt")) == []


@pytest.mark.parametrize("place", ["#/today", "#/low-tides"])
def test_hours_and_minutes_of_a_fact_stand_on_one_line(show, place) -> None:
    page = show(place, "?visit=no")
    values = page.locator(".facts dd")
    assert any(" h " in words_in(value) for value in values.all())
    values.locator("small").evaluate_all("(smalls) => smalls.forEach((small) => small.remove())")
    assert parted(values) == []


def test_the_clocks_figure_and_a_foots_only_button_stay_on_one_line_on_a_laptop(show) -> None:
    page = show("#/turn-back", size=LAPTOP_PX)
    assert " h " in words_in(page.locator(".arm .figure"))
    assert parted(page.locator(".arm .figure")) == []
    unit = page.evaluate("async () => (await stage.phone.rows('unit', {})).find(({ tag }) => tag === 'D064').record_id")
    page = show(f"#/units/{unit}/check", size=LAPTOP_PX)
    expect(page.locator(".foot .do")).to_contain_text("Looks unchanged, go to ")
    assert parted(page.locator(".foot .do")) == []


@pytest.mark.parametrize("size", [PHONE_PX, LAPTOP_PX])
def test_a_drawing_names_who_was_out_in_full(show, size) -> None:
    page = show(f"#/visits/{stage_pack.PAST_VISIT}", "?past", size)
    names = page.locator("figure.low-drawing svg text[x='0']")
    assert "Ruth Okafor-Lind" in names.all_text_contents()
    ends = names.evaluate_all("(names) => names.map((name) => name.getBBox().width)")
    begins = page.locator("figure.low-drawing path.axis").first.evaluate("(axis) => axis.getBBox().x")
    assert max(ends) < begins


def test_the_words_of_a_units_drawing_keep_their_size_on_a_laptop(show) -> None:
    page = show("#/units", "?role=reader&visit=no", LAPTOP_PX)
    expect(page.locator(".chart > svg.draw").nth(1)).to_be_visible()
    for drawing in page.locator(".chart > svg.draw").all():
        assert drawing.evaluate("(svg) => svg.getScreenCTM().a") == pytest.approx(1, abs=0.25)


def test_what_needs_the_server_can_be_tried_again(show, one_page) -> None:
    one_page.route("**/online/access.js", lambda route: route.abort())
    page = show("#/access", "?role=lead")
    one_page.unroute("**/online/access.js")
    page.get_by_role("button", name="Try again").click()
    expect(page.locator("h1")).not_to_have_text("Needs the server")


def test_the_steps_of_an_import_stand_in_one_line(show) -> None:
    steps = show("#/bring-in", "?role=lead").locator(".stages li")
    assert len(steps.all()) == 4
    assert len(set(steps.evaluate_all("(steps) => steps.map((step) => step.offsetTop)"))) == 1


def test_a_search_stands_as_far_from_its_rows_as_from_its_heading(show) -> None:
    page = show("#/people")
    section = page.locator("section", has=page.locator("[type=search]"))
    box, row = section.locator("[type=search]").bounding_box(), section.locator(".row").first.bounding_box()
    assert row["y"] - box["y"] - box["height"] >= 8
