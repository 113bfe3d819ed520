"""A past visit's page draws its own low by the one drawing, with who was out, and says what is not known of it."""

from __future__ import annotations

import pytest

from tests.browser.app_page import CALM_MS
from tests.screen_checks import words_in
from tests.waiting import wait_until
from views import stage_pack, stage_server

pytestmark = pytest.mark.browser

OLDER = "This phone has no times for this visit\u2019s low, so the turn-back time is not drawn."
NO_TIDE = "The tide of that day is not on this phone, so its low is not drawn."


@pytest.fixture(scope="module")
def page(browser):
    server = stage_server.serve(stage_pack.stage_pack(), [stage_server.STATIC])
    opened = browser.new_page(viewport={"width": 390, "height": 844})
    opened.faults = []
    opened.on("pageerror", lambda fault: opened.faults.append(str(fault)))
    opened.goto(f"http://127.0.0.1:{server.server_port}/?past#/visits")
    opened.wait_for_selector("html[data-ready]")
    yield opened
    assert opened.faults == []
    opened.close()
    server.shutdown()
    server.server_close()


def opened(page, visit_id: str) -> str:
    page.evaluate(f"location.hash = '#/visits/{visit_id}'")
    page.wait_for_selector("main dl.pairs")
    said = words_in(page.locator("main"))
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    return said


@pytest.fixture(autouse=True)
def back_on_the_list(page):
    page.evaluate("location.hash = '#/visits'")
    page.locator("h1", has_text="Past visits").wait_for()


MISTAKEN_AND_LED = """() => {
  const { phone } = stage, read = phone.rows;
  phone.rows = async (kind, ...rest) => {
    const rows = await read(kind, ...rest);
    const ofThatDay = (row) => rows.indexOf(row) < 8;
    if (kind === 'sign_in') return rows.map((row) => (ofThatDay(row) && rows.indexOf(row) < 3 ? { ...row, no_out_reason: 'Signed in by mistake' } : row));
    if (kind !== 'visit_part') return rows;
    const [visit] = (await read('visit', ...rest)).filter((one) => one.purpose === 'storm_check');
    const [, other] = await read('person', ...rest);
    return [...rows, { record_id: 'p', of_visit_id: visit.record_id, device: 'd', from_at: visit.started_at, until_at: visit.ended_at, leader_id: other.record_id }];
  };
}"""


def test_the_list_leaves_out_who_was_signed_in_by_mistake_and_names_each_leader(page) -> None:
    """Both counted as people of the visit; a leader who was chosen at a start, which stands in a phone's part, was not named."""
    page.evaluate(MISTAKEN_AND_LED)
    page.evaluate("location.hash = '#/today'")
    page.locator("h1", has_text="Today").wait_for()
    other = page.evaluate("async () => (await stage.phone.rows('person'))[1].display_name")
    page.evaluate("location.hash = '#/visits'")
    page.locator("h1", has_text="Past visits").wait_for()
    said = [" ".join(words_in(row).split()) for row in page.locator("main a.row .said").all()]
    assert f"Storm check with {other} and Ines Calder 5 people, 7.08 h, water 0.42 m at 05:34" in said[1]
    page.reload()
    page.wait_for_selector("html[data-ready]")


def test_the_list_leads_to_each_visit_the_newest_first(page) -> None:
    days = page.locator("main a.row .tag")
    assert days.all_inner_texts() == ["Nov\u00a028", "Nov\u00a014"]
    row = page.locator("main a.row").nth(1)
    row.get_by_text("no unit checked").wait_for()
    assert "Storm check with Ines Calder 8 people, 10.97 h, water 0.42 m at 05:34 no unit checked" in " ".join(words_in(row).split())
    assert "2 visits in 2026; the longest, 11 h of all people together, on Nov 14." in page.locator("main svg.year").get_attribute("aria-label")
    page.get_by_role("button", name="2025").click()
    page.locator("main h2", has_text="2025").wait_for()
    assert days.all_inner_texts() == ["Oct\u00a024"]


def test_earlier_seasons_that_are_not_here_yet_are_asked_for_and_a_missing_network_is_told(page) -> None:
    page.evaluate("""() => {
      window.asked = 0;
      Object.assign(stage.phone.syncState, { past_coming: true });
      stage.phone.syncNow = async () => { asked += 1; stage.phone.syncState.last_error_sentence = 'No network. Fieldlog tries again by itself.'; stage.phone.emit('sync'); };
      stage.phone.emit('sync');
    }""")
    page.get_by_text("Visits of earlier seasons are not all on this phone yet. They come while there is a network.").wait_for()
    page.get_by_role("button", name="Ask for them now").click()
    page.get_by_text("not all on this phone yet. No network.").wait_for()
    assert page.evaluate("asked") == 1
    page.evaluate("() => { Object.assign(stage.phone.syncState, { past_coming: false, last_error_sentence: null }); stage.phone.emit('sync'); }")
    page.get_by_text("Earlier visits").wait_for(state="detached")


def test_visits_are_found_by_who_came_and_by_what_was_checked(page) -> None:
    box = page.get_by_label("Person, unit, note")
    found = page.locator("main section .bar span")
    for searched, count in (("noor HALIM", "3 visits"), ("halim storm", "2 visits"), ("D019", "1 visit"), ("nobody", "0 visits")):
        box.fill(searched)
        page.get_by_text(count, exact=True).wait_for()
        assert found.inner_text() == count
    assert page.get_by_text("No visit on this phone has that in it.").count() == 1
    box.fill("")
    page.locator("main svg.year").wait_for()


def test_the_visit_of_a_low_in_the_pack_has_its_line_to_turn_back(page) -> None:
    said = opened(page, stage_pack.VISIT)
    assert page.locator("figure.low-drawing path.turn").count() == 1
    words = page.locator("figure.low-drawing li").all_inner_texts()
    assert any(word.startswith("Turn back by ") for word in words)
    assert OLDER not in said


def test_an_older_low_is_drawn_with_its_people_and_without_a_time_that_is_not_known(page) -> None:
    said = opened(page, stage_pack.PAST_VISIT)
    drawn = page.locator("figure.low-drawing svg.draw")
    assert OLDER in said
    assert page.locator("figure.low-drawing path.turn").count() == 0
    assert drawn.locator("rect.stay").count() == 5, "six are drawn, one of whom has no time back"
    words = drawn.get_attribute("aria-label")
    assert "Path dry" in words
    assert "Ines Calder out on the shore 04:34 to 06:34" in words
    assert "Ruth Okafor-Lind out on the shore from 04:38, no sign-out time" in words
    assert words.count("out on the shore") == 8
    assert "3 more" in drawn.text_content()
    assert drawn.locator("circle.ring").count() == 1, "the water as it was read"
    assert "0.42 m at 05:34" in said


def test_nothing_is_drawn_of_a_year_whose_tide_is_not_here(page) -> None:
    said = opened(page, stage_pack.OLD_VISIT)
    assert NO_TIDE in said
    assert page.locator("figure.low-drawing").count() == 0
    assert "Ines Calder\n" in said
    assert "no sign-out time" in said
    assert "not read" in said


STORY = """async (visitId) => {
  const { phone } = stage;
  stage.phone.me.role = 'lead';
  const visit = await phone.row('visit', visitId);
  const at = (minute) => new Date(Date.parse(visit.started_at) + minute * 60_000).toISOString();
  const [[one, two, three], people] = [(await phone.rows('unit')).slice(0, 3), await phone.rows('person')];
  await phone.write('visit', visitId, { window_id: 'the low of that day' });
  const stops = [one, two, three].map((unit, n) => ({ team: 1, stop_kind: 'unit', stop_id: unit.record_id, after_low_min: n, takes_min: 3 }));
  await phone.write('visit_plan', 'plan', { window_id: 'the low of that day', low_at: visit.started_at, made_at: visit.started_at, teams: 1, planned_stops: stops });
  const on = { visitId };
  await phone.write('unit_check', 'measured', { unit_id: one.record_id, checked_at: at(20), found_state: 'seen', exposed_height_mm: 244 }, on);
  await phone.write('unit_check', 'measured', { exposed_height_mm: 310 });
  await phone.write('unit_check', 'by day', { unit_id: two.record_id, checked_at: at(10), time_known: false, found_state: 'seen' }, on);
  await phone.write('sighting', 'seen', { taxon: 'Mud snail', found: 'seen', count: 36, seen_at: at(30) }, on);
  return [one.tag, two.tag, three.tag, people[0].display_name];
}"""


def entries(page) -> list[str]:
    """What stands in order of time, a row each."""
    rows = page.locator("section", has=page.locator("h2:text-is('In order of time')")).locator("a.row")
    return [" ".join(words_in(row).split()) for row in rows.all()]


def test_a_visits_page_has_everything_in_order_of_time_with_what_was_corrected(page) -> None:
    one, two, three, who = page.evaluate(STORY, stage_pack.PAST_VISIT)
    said = opened(page, stage_pack.PAST_VISIT)
    assert "2 of 3 planned units checked, 8 people in 10.97 h. 1 unit not reached, 1 sighting. As far as this phone knows." in said
    missed = page.locator("section", has=page.locator("h2:text-is('Not reached')"))
    assert words_in(missed.locator("a.row")).split("\n")[0].startswith(three)
    page.get_by_text("corrected by").wait_for()
    written = entries(page)
    at = {text: n for n, text in enumerate(written)}
    check = next(text for text in written if one in text)
    assert check.startswith(f"04:54 {one}, 310 mm showing")
    assert f"Exposed height: 244 mm 310 mm, corrected by {who}" in check
    assert page.locator("main s", has_text="244 mm").count() == 1
    assert next(n for text, n in at.items() if "Visit started" in text) < at[check] < next(n for text, n in at.items() if "Mud snail, 36 seen" in text)
    assert written[0].startswith(f"Nov 14 {two}, ")
    assert "time not known" in written[0], "of a day alone nobody says where within it"


def test_a_visit_that_is_not_here_says_so(page) -> None:
    page.evaluate("location.hash = '#/visits/nowhere'")
    page.get_by_text("This visit is not on this phone.").wait_for()


def correct(page, way: str) -> None:
    """Open a correction, and be past the time in which a tap counts as the second of a cold finger's."""
    page.evaluate("stage.phone.me.role = 'lead'; written.length = 0;")
    page.evaluate(f"location.hash = '#/visits/{stage_pack.PAST_VISIT}/correct{way}'")
    page.locator("h1", has_text=TITLES[way]).wait_for()
    page.wait_for_timeout(CALM_MS)


TITLES = {
    "/times": "Correct its times", "/person": "Add a person", "/check": "Add a check", "/join": "Join with another visit",
    "/part": "Part this visit in two",
}  # fmt: skip


def saved(page) -> list[dict]:
    """What was written, once it was."""
    wait_until(page, "written.length > 0")
    return page.evaluate("written")


def test_a_lead_corrects_an_end_and_with_it_the_parts_that_are_longer(page) -> None:
    page.evaluate(f"""() => stage.phone.write('visit_part', 'left open', {{ of_visit_id: '{stage_pack.PAST_VISIT}', device: 'd9', from_at: '2026-11-14T10:00:00Z' }},
      {{ visitId: '{stage_pack.PAST_VISIT}' }})""")
    correct(page, "/times")
    page.locator("#f-ended_at").fill("2026-11-14T06:00")
    page.get_by_role("button", name="Save").click()
    wrote = saved(page)
    assert [(entry["kind"], list(entry["fields"])) for entry in wrote] == [("visit", ["ended_at"]), ("visit_part", ["until_at"])]
    assert {value for entry in wrote for value in entry["fields"].values()} == {"2026-11-14T11:00:00.000Z"}


def test_a_lead_adds_a_person_and_a_check_that_were_forgotten(page) -> None:
    correct(page, "/person")
    page.locator("#f-person_id").select_option(label="Kit Brack")
    page.get_by_role("button", name="Save").click()
    (wrote,) = saved(page)
    assert (wrote["kind"], set(wrote["fields"])) == ("sign_in", {"person_id", "in_at", "out_at"})
    page.locator("h1", has_text="Storm check").wait_for()
    correct(page, "/check")
    page.locator("#f-unit_id").select_option(index=5)
    page.locator("#f-checked_at").fill("2026-11-14T05:10")
    page.get_by_label("Felt with the probe").check(force=True)
    page.get_by_role("button", name="Save").click()
    (wrote,) = [entry for entry in saved(page) if entry["kind"] == "unit_check"]
    assert (wrote["fields"]["checked_at"], wrote["fields"]["found_state"]) == ("2026-11-14T10:10:00.000Z", "probed")


def test_what_was_forgotten_is_not_saved_with_a_time_to_come_or_without_a_person(page) -> None:
    correct(page, "/person")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Person is not filled in.").first.wait_for()
    page.locator("#f-person_id").select_option(label="Yara Dune")
    page.locator("#f-out_at").fill("2031-01-01T05:10")
    page.wait_for_timeout(CALM_MS)
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Out is still to come. Choose a time until now.").first.wait_for()
    assert page.evaluate("written") == []


NEAR = """(visitId) => stage.phone.row('visit', visitId).then((visit) => stage.phone.write('visit', 'a second', { purpose: 'walk',
  started_at: new Date(Date.parse(visit.started_at) + 600_000).toISOString(), ended_at: visit.ended_at }))"""


def test_two_visits_are_joined_and_the_join_is_taken_back(page) -> None:
    page.evaluate(NEAR, stage_pack.PAST_VISIT)
    page.evaluate("location.hash = '#/visits'")
    rows = page.locator("main a.row")
    rows.nth(2).wait_for()
    correct(page, "/join")
    page.get_by_role("button", name="Join: Walk").click()
    (wrote,) = saved(page)
    assert (wrote["recordId"], wrote["fields"]) == ("a second", {"joined_to": stage_pack.PAST_VISIT})
    page.evaluate("location.hash = '#/visits'")
    page.get_by_text("2 visits joined").wait_for()
    assert rows.count() == 2
    correct(page, "/join")
    page.get_by_role("button", name="Take back: Walk").click()
    (wrote,) = saved(page)
    assert (wrote["recordId"], wrote["fields"]) == ("a second", {"joined_to": None})


def test_a_visit_is_parted_record_by_record(page) -> None:
    correct(page, "/part")
    page.locator("button.row", has_text="Bo Sandvik in").click()
    page.locator("button.row", has_text="Ada Quill in").click()
    page.get_by_role("button", name="Part off 2 records").click()
    visit, *moved = saved(page)
    assert (visit["kind"], visit["fields"]["started_at"], visit["fields"]["ended_at"]) == ("visit", "2026-11-14T09:46:24.000Z", "2026-11-14T11:04:24.000Z")
    assert [(entry["kind"], entry["fields"]) for entry in moved] == [("sign_in", {"in_visit": visit["recordId"]})] * 2


def test_a_visit_that_goes_on_is_not_parted(page) -> None:
    """Somebody still out who was moved off it was counted by no turn-back alarm."""
    page.evaluate("stage.phone.me.role = 'lead'")
    page.evaluate("stage.phone.write('visit', 'goes on', { purpose: 'walk', started_at: new Date(stage.phone.now() - 60_000).toISOString() })")
    page.evaluate("stage.phone.write('sign_in', 'out', { person_id: 'x', in_at: new Date(stage.phone.now()).toISOString() }, { visitId: 'goes on' })")
    page.evaluate("location.hash = '#/visits/goes on/correct/part'")
    page.get_by_text("This visit has not ended.").wait_for()
    assert page.locator("button.row").count() == 0
