"""A number and its unit, a month and its day never stand on two lines."""

from __future__ import annotations

import pytest

from tests.screen_checks import parted_units

pytestmark = pytest.mark.browser

JOINED = "async (texts) => { const { joinedUnits } = await import('/views/line-ends.js'); return texts.map((text) => joinedUnits(text)); }"
DRAWN = """async () => {
  const { html, render } = await import('/vendor/lit-html-3.3.3/lit-html.js');
  const place = document.createElement('div');
  document.getElementById('screen').append(place);
  const told = [];
  for (const n of [3, 3, 42]) {
    render(html`<p>Read ${n} min ago, ${`${n} mm of ${n} units`}</p><textarea>${n} mm</textarea>`, place);
    await Promise.resolve();
    told.push([place.querySelector('p').textContent, place.querySelector('textarea').value]);
  }
  place.remove();
  return told;
}"""


def test_only_a_number_and_its_unit_are_joined(one_page, stage) -> None:
    one_page.goto(f"{stage}#/settings")
    one_page.wait_for_selector("html[data-ready]")
    same = ["3 units", "Row A 3 meters", "at 12 hours", "May I", "Nov 2026", "12 m2x", "12mm"]
    assert one_page.evaluate(JOINED, same) == same
    parted = ["1 h 42 min", "\u2212 0.03 m.", "within 95 % of 12 m\u00b2", "(244 mm or 291 mm)", "Tue, Nov 3, 2026"]
    joined = ["1\u00a0h 42\u00a0min", "\u2212 0.03\u00a0m.", "within 95\u00a0% of 12\u00a0m\u00b2", "(244\u00a0mm or 291\u00a0mm)", "Tue, Nov\u00a03, 2026"]
    assert one_page.evaluate(JOINED, parted) == joined


def test_they_are_joined_however_often_a_screen_is_drawn_and_a_value_is_left_as_typed(one_page, stage) -> None:
    one_page.goto(f"{stage}#/settings")
    one_page.wait_for_selector("html[data-ready]")
    said = "Read {0}\u00a0min ago, {0}\u00a0mm of {0} units"
    assert one_page.evaluate(DRAWN) == [[said.format(n), f"{n} mm"] for n in (3, 3, 42)]


@pytest.mark.parametrize("place", ["#/today", "#/units", "#/visit"])
def test_what_comes_into_a_screen_later_is_joined_too(one_page, stage, place) -> None:
    one_page.goto(f"{stage}?past{place}")
    one_page.wait_for_selector("html[data-ready]")
    one_page.evaluate("stage.phone.emit('change')")
    assert parted_units(one_page) == []
    assert "\u00a0" in one_page.locator("#screen").inner_text()
