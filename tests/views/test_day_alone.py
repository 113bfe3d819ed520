"""What is known by its day alone is shown as a day on every screen that tells of it: never noon, and no tide of it."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.screen_checks import words_in
from tests.views.test_screens import show
from views import stage_pack

pytestmark = pytest.mark.browser

WRITE = """async (unit) => {
  const { phone } = window.stage;
  const at = '2025-07-05T16:00:00.000Z';
  const person = (await phone.rows('person', { siteId: phone.me.site_id }))[0].record_id;
  const visit = await phone.write('visit', null, { purpose: 'monitoring', started_at: at, ended_at: at, time_known: false });
  const on = { visitId: visit.recordId };
  const check = await phone.write('unit_check', null, { unit_id: unit, checked_at: at, found_state: 'seen', time_known: false }, on);
  const signIn = await phone.write('sign_in', null, { person_id: person, in_at: at, out_at: at, time_known: false }, on);
  return [visit.recordId, check.recordId, signIn.recordId, person];
}"""
NOON = "12:00"


def test_screens_say_the_day_and_never_noon(one_page: Page, stage: str) -> None:
    show(one_page, stage, "?past", "#/today")
    unit, day = stage_pack.unit_id(3), "Jul 5, 2025"
    visit, check, sign_in, person = one_page.evaluate(WRITE, unit)
    for place, told in (
        (f"#/record/unit_check/{check}", day), (f"#/record/sign_in/{sign_in}", day), (f"#/record/visit/{visit}", day), (f"#/units/{unit}", day),
        (f"#/visits/{visit}", "Only the day of this visit is known, so its low is not drawn."), (f"#/people/{person}", "times not known"),
    ):  # fmt: skip
        one_page.evaluate("(place) => { location.hash = place; }", place)
        expect(one_page.locator("main").get_by_text(told).first).to_be_visible()
        assert NOON not in words_in(one_page.locator("main")), place
