"""On a phone nobody vanishes: who was not signed out stays on People, on Today and among a lead's flags."""

from __future__ import annotations

import re

import pytest

from tests.screen_checks import words_in
from tests.views.test_screens import page, show  # noqa: F401

pytestmark = pytest.mark.browser

FORGET = """async (hours) => {
  const { phone } = stage;
  const [person] = (await phone.rows('person')).slice(-1);
  await phone.write('sign_in', 'forgotten', { person_id: person.record_id, in_at: new Date(phone.now() - hours * 3_600_000).toISOString(), out_at: null, no_out_reason: null });
  return person.display_name;
}"""


def forget(page, hours: float = 25) -> str:  # noqa: F811
    name = page.evaluate(FORGET, hours)
    page.get_by_text("Not signed out").first.wait_for()
    return name


def test_a_day_later_the_clock_and_people_do_not_say_that_nobody_is_out(page, stage):  # noqa: F811
    show(page, stage, "?visit=no&out=0", "#/people")
    name = forget(page)
    assert page.get_by_text("Nobody is out").count() == 0
    board = page.locator(".board.stop")
    assert name in board.inner_text()
    assert "In since" in board.inner_text()
    assert page.locator(".board.count .figure").inner_text() == "0", "who is of an earlier day is not counted with this one's"


def test_who_was_left_on_an_earlier_tide_stands_apart_from_the_heads_of_a_visit(page, stage):  # noqa: F811
    show(page, stage, "?out=3", "#/today")
    name = forget(page, 11)
    fact = page.locator(".board .facts div:has(dt:text-is('People out')) dd")
    heads, left = words_in(fact).split("\n")
    assert heads == "3"
    assert re.fullmatch(r"1 left open from Fri.* 27.*|1 left open from Fri, Nov 27", left)
    page.evaluate("location.hash = '#/turn-back'")
    page.get_by_text("3 people out.").wait_for()
    assert page.locator(f".facts dd small:text-is('{left}')").count() == 1
    page.evaluate("location.hash = '#/people'")
    page.get_by_role("button", name="Sign out all 3").wait_for()
    assert name in page.locator(".board.stop").inner_text()
    assert page.locator(".board.count .figure").inner_text() == "3"
    assert f"Not counted: {left}." in words_in(page.locator(".board.count .note"))
    page.evaluate("location.hash = '#/visit'")
    page.get_by_role("button", name="End the visit").click()
    page.get_by_text(re.compile(r"2 of 48 checked, 3 people still out, \d sightings?\.")).wait_for()
    assert words_in(page.locator("dl.pairs dd").last) == f"3, not counted: {left}"
    assert name not in page.locator("#ending").inner_text()


@pytest.mark.parametrize(("typed", "is_saved"), [("in", True), ("before", False), ("ahead", False), ("", False)], ids=["while they were in", "before they came", "still to come", "nothing"])
def test_only_a_time_in_between_signs_them_out(page, stage, typed: str, is_saved: bool):  # noqa: F811
    show(page, stage, "?visit=no&out=0&role=lead", "#/people")
    name = forget(page)
    page.get_by_role("button", name=f"Sign {name} out with a time").click()
    hours = {"in": -22, "before": -30, "ahead": 4, "": None}[typed]
    if hours is not None:
        text = page.evaluate("async (hours) => (await import('/views/local-box.js')).localText(stage.phone.now() + hours * 3_600_000, (await stage.phone.rows('site'))[0].zone)", hours)
        page.locator("#left-at").fill(text)
    page.evaluate("window.written.length = 0")
    page.locator("form").evaluate("form => { form.noValidate = true; }")
    page.get_by_role("button", name="Save this time").click()
    page.locator(".told p").wait_for()
    written = page.evaluate("window.written")
    assert [one["kind"] for one in written] == (["sign_in"] if is_saved else [])
    assert page.locator(".board.stop").count() == (0 if is_saved else 1)


def test_a_lead_has_a_flag_of_it_and_today_says_it(page, stage):  # noqa: F811
    show(page, stage, "?visit=no&out=0&role=lead", "#/flags")
    page.evaluate(FORGET, 25)
    page.get_by_text(": not signed out. In since").first.wait_for()
    page.evaluate("location.hash = '#/today'")
    page.locator("a.notice.stop").wait_for()


def test_all_heard_the_briefing_fills_the_visits_own(page, stage):  # noqa: F811
    show(page, stage, "?out=8", "#/people")
    page.evaluate("(async () => { const [visit] = await stage.phone.rows('visit'); await stage.phone.write('visit', visit.record_id, { briefing_done: false }); window.written.length = 0; })()")
    page.get_by_role("button", name="All heard the briefing").click()
    page.wait_for_function("() => window.written.some((one) => one.kind === 'visit')")
    assert [one["fields"] for one in page.evaluate("window.written") if one["kind"] == "visit"] == [{"briefing_done": True}]


def test_a_time_typed_at_the_site_is_its_moment_also_where_the_clocks_change(page, stage):  # noqa: F811
    show(page, stage, "", "#/people")
    told = page.evaluate("""async () => {
      const { localText, msOfLocal } = await import('/views/local-box.js');
      const zones = ['America/New_York', 'Europe/Oslo', 'Asia/Kolkata', 'Pacific/Auckland', 'UTC'];
      const wrong = [];
      const moments = [];
      for (let ms = Date.parse('2026-01-01T00:00Z'); ms < Date.parse('2027-01-01T00:00Z'); ms += 7.5 * 3_600_000) moments.push(ms);
      // Each half hour of the days around the changes of 2026 in these zones (IANA time zone database).
      for (const day of ['03-08', '03-29', '04-05', '09-27', '10-25', '11-01']) for (let half = -96; half < 96; half += 1) moments.push(Date.parse(`2026-${day}T00:00Z`) + half * 1_800_000);
      for (const zone of zones) for (const ms of moments) {
        const back = msOfLocal(localText(ms, zone), zone);
        if (localText(back, zone) !== localText(ms, zone) || back > ms) wrong.push([zone, new Date(ms).toISOString()]);
      }
      return [wrong, msOfLocal('', 'UTC')];
    }""")
    assert told == [[], None]


def test_a_head_count_says_how_old_it_is(page, stage):  # noqa: F811
    show(page, stage, "?out=8", "#/people")
    page.evaluate("""(async () => {
      const [visit] = await stage.phone.rows('visit');
      const [, person] = await stage.phone.rows('person');
      await stage.phone.write('visit_part', 'other', { of_visit_id: visit.record_id, device: 'd2', from_at: visit.started_at, until_at: null, created_by: person.record_id, changed_by: person.record_id, changed_at_ms: stage.phone.now() - 20 * 60_000 });
    })()""")
    page.get_by_text("phone was last heard at").wait_for()
    note = words_in(page.locator(".board.count .note"))
    assert "when this phone last synced." in note
    assert "Tobias Wren\u2019s phone was last heard at " in note
