"""A tap is answered at once: what is costly is drawn after the first screenful, once, or when it is opened."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.views.test_screens import show

pytestmark = pytest.mark.browser

NAMES_ASKED = """async () => {
  const { plannedWindow } = await import('/views/shore.js');
  const DAY = 86400e3;
  let asked = 0;
  const windows = Array.from({ length: 700 }, (_, n) => ({ lowMs: n * DAY / 2, opensMs: n * DAY / 2 - 3600e3, closesMs: n * DAY / 2 + 3600e3,
    get id() { asked += 1; return `low ${n}`; } }));
  const of = (day, window_id) => {
    asked = 0;
    const found = plannedWindow({ visit: { started_at: new Date(day * DAY).toISOString(), window_id }, windows });
    return [found && found.lowMs / (DAY / 2), asked];
  };
  return [of(300, 'low 601'), of(300, null), of(300, 'low 20'), of(300, 'an older pack')];
}"""


def test_of_hundreds_of_lows_those_near_the_visit_are_named_first(modules_page) -> None:
    near, outside, elsewhere, unknown = modules_page.evaluate(NAMES_ASKED)
    assert near[0] == 601 and near[1] < 10
    assert outside == [600, 0], "a visit on no low is told by its start, and nothing is named"
    assert (elsewhere[0], unknown[0]) == (20, 600), "a start that was corrected to another day still has its low"


def test_the_year_is_drawn_after_the_rest_and_stays_while_nothing_of_it_changes(browser, stage) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    show(page, stage, "?visit=no", "#/today")
    first = page.evaluate("""() => new Promise((done) => {
      new MutationObserver(() => { if (document.querySelector('h1').innerText === 'Low tides')
        done([document.querySelectorAll('details.window').length > 0, document.querySelectorAll('svg.year').length]); })
        .observe(document.body, { subtree: true, childList: true, characterData: true });
      location.hash = '#/low-tides';
    })""")
    assert first == [True, 0]
    expect(page.locator("svg.year rect.use").first).to_be_attached()
    page.evaluate("window.year = document.querySelector('svg.year'); window.changed = 0; new MutationObserver(() => { window.changed += 1; }).observe(window.year, { subtree: true, childList: true, attributes: true });")
    page.get_by_role("radio", name="All, with reasons").check(force=True)
    expect(page.get_by_role("button", name="lows of the next 60 days")).to_be_visible()
    assert page.evaluate("[window.year === document.querySelector('svg.year'), window.changed]") == [True, 0]
    page.get_by_label("Look at a day").fill("2026-12-01")
    page.get_by_label("Look at a day").dispatch_event("change")
    expect(page.locator("svg.year rect.chosen")).to_be_attached()
    page.close()


def test_what_a_flag_rests_on_is_drawn_when_it_is_opened(browser, stage) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    show(page, stage, "?role=lead", "#/flags")
    flag = page.locator("details.flag").first
    expect(page.locator("details.flag .stack")).to_have_count(0)
    flag.locator("summary").click()
    expect(flag.locator(".stack")).to_be_visible()
    expect(page.locator("details.flag .stack")).to_have_count(1)
    flag.locator("summary").click()
    expect(page.locator("details.flag .stack")).to_have_count(0)
    page.close()


MANY_FLAGS = """(count) => {
  const [site] = Object.values(stage.phone.pack().sites);
  const like = site.flags.find((flag) => flag.rule === 'leaning');
  site.flags = Array.from({ length: count }, (_, n) => ({ ...like, flag_id: `many-${n}`, sentence: `Unit ${n} leans.` }));
}"""
AT_FIRST = """([hash, heading, rows]) => new Promise((done) => {
  new MutationObserver(() => { if (document.querySelector('h1').innerText === heading) done(document.querySelectorAll(rows).length); })
    .observe(document.body, { subtree: true, childList: true, characterData: true });
  location.hash = hash;
})"""


def test_a_long_list_begins_with_a_screenful_and_ends_whole(browser, stage) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    show(page, stage, "?role=lead", "#/today")
    page.evaluate(MANY_FLAGS, 150)
    assert page.evaluate(AT_FIRST, ["#/flags", "Flags", "details.flag"]) in range(12, 50)
    page.evaluate("() => { window.first = document.querySelector('details.flag'); }")
    expect(page.locator("details.flag")).to_have_count(150)
    assert page.evaluate("window.first === document.querySelector('details.flag')"), "what stands is not drawn anew"
    page.get_by_role("searchbox").fill("unit 149")
    expect(page.locator("details.flag .said")).to_contain_text(["Unit 149 leans."])
    page.close()


def test_a_record_far_down_a_long_list_is_shown_at_once(browser, stage) -> None:
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    show(page, stage, "?role=lead", "#/today")
    page.evaluate(MANY_FLAGS, 150)
    assert page.evaluate(AT_FIRST, ["#/flags/many-120", "Flags", ".list a.flag"]) in range(121, 150)
    expect(page.locator(".list [aria-current=true]")).to_be_in_viewport()
    expect(page.locator(".list a.flag")).to_have_count(150)
    expect(page.locator(".list [aria-current=true]")).to_be_in_viewport()
    page.close()


MANY_CHECKS = """async (count) => {
  const [unit] = await stage.phone.rows('unit');
  const at = (n) => new Date(stage.phone.now() - n * 864e5).toISOString();
  await stage.phone.writeMany(Array.from({ length: count }, (_, n) => ({ kind: 'unit_check', recordId: null, fields: {
    unit_id: unit.record_id, checked_at: at(n), found_state: 'seen', exposed_height_mm: 200 + n } })));
  return [`#/units/${unit.record_id}`, unit.tag];
}"""


def test_years_of_checks_begin_with_a_screenful_and_end_whole(browser, stage) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    show(page, stage, "?role=lead", "#/today")
    place = page.evaluate(MANY_CHECKS, 120)
    checks = "a.row[href^='#/record/unit_check']"
    assert page.evaluate(AT_FIRST, [*place, checks]) in range(12, 50)
    expect(page.locator(checks)).to_have_count(122)
    expect(page.locator("h2:text-is('Checks') + span")).to_have_text("122")
    page.close()
