"""What the form of a unit check writes: what fits how the unit was found, and nothing left over from before that was said."""

from __future__ import annotations

import math
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.app_page import CALM_MS
from tests.screen_checks import words_in
from views import stage_pack

pytestmark = pytest.mark.browser


@pytest.fixture
def form(browser, stage):
    page = browser.new_page()
    page.goto(f"{stage}#/units/{stage_pack.unit_id(38)}/check")
    page.wait_for_selector("html[data-ready]")
    yield page
    page.close()


def saved(page) -> dict:
    page.wait_for_timeout(CALM_MS)
    page.get_by_role("button", name="Save").click()
    page.wait_for_function("window.written.length > 0")
    (check,) = [one["fields"] for one in page.evaluate("window.written") if one["kind"] == "unit_check"]
    return check


def fill(page) -> None:
    page.locator("#f-exposed_height_mm").fill("212")
    page.locator("#f-tilt_deg").fill("7")
    page.get_by_role("button", name="Crack").click()
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    page.locator("#f-crack_width_mm").fill("2")
    for axis in ("body", "stance", "toe", "cover"):
        page.locator(f"input[name={axis}_grade]").nth(1).click()
    page.locator("#f-note").fill("by the ramp")


def test_a_unit_that_was_seen_keeps_its_measures(form) -> None:
    fill(form)
    check = saved(form)
    assert (check["found_state"], check["exposed_height_mm"], check["tilt_deg"], check["crack_width_mm"]) == ("seen", 212, 7, 2)
    assert [check[f"{axis}_grade"] for axis in ("body", "stance", "toe", "cover")] == [1, 1, 1, 1]


def test_what_no_unit_can_have_is_given_no_grade(form) -> None:
    """400 degrees were called a stance of 4, "Leaning 400 degrees", beside the sentence that refused them."""
    form.locator("#f-tilt_deg").fill("400")
    expect(form.get_by_text("it must be between 0 and 180")).to_be_visible()
    assert "Leaning 400" not in form.locator("main").inner_text()
    form.locator("#f-tilt_deg").fill("40")
    expect(form.get_by_text("Leaning 40\u00b0.")).to_be_visible()


def test_a_crest_level_is_above_the_mark_that_it_names(form) -> None:
    form.get_by_text("Toe, crest level, water, note").click()
    form.locator("#f-crest_level_mm").fill("1200")
    form.wait_for_timeout(CALM_MS)
    form.get_by_role("button", name="Save").click()
    assert form.evaluate("window.written.length") == 0, "a level means nothing without what it is above"
    form.locator("#f-crest_datum").fill("mark M2")
    check = saved(form)
    assert (check["crest_level_mm"], check["crest_datum"]) == (1200, "mark M2")


def test_less_showing_is_said_as_it_was_read(form) -> None:
    form.locator("#f-exposed_height_mm").fill("12")
    said = form.locator(".said-back")
    assert "mm less showing than last time." in said.inner_text()
    assert "Sediment" not in said.inner_text()


def test_a_unit_that_was_felt_with_the_probe_was_found_and_keeps_them_too(form) -> None:
    fill(form)
    form.get_by_role("radio", name="Felt with the probe", exact=True).click()
    form.locator("#f-probe_depth_mm").fill("180")
    check = saved(form)
    assert (check["found_state"], check["probe_depth_mm"], check["tilt_deg"], check["crack_width_mm"]) == ("probed", 180, 7, 2)


def test_how_it_was_found_is_never_chosen_beforehand_but_whoever_measures_has_found_it(form) -> None:
    assert form.locator("input[name=found_state]:checked").count() == 0
    form.locator("#f-tilt_deg").fill("3")
    assert form.get_by_role("radio", name="Seen", exact=True).is_checked()
    assert saved(form)["found_state"] == "seen"


def test_an_empty_form_is_short_and_opens_where_something_is_off(form) -> None:
    assert form.locator("details[open]").count() == 0
    assert form.locator("main").inner_text().startswith("Last time, ")
    form.locator("#f-tilt_deg").fill("20")
    assert "stance " in form.locator("details[open] > summary").inner_text()


LOOKS = [
    ("unit 38, as it is", 38, None, 1), ("one that is flagged", 39, None, 0), ("one felt with the probe", 37, None, 0), ("one not found", 40, None, 0),
    ("one measured 14 days ago where 10 are asked for", 38, 10, 0), ("one measured 14 days ago where 20 are", 38, 20, 1),
]  # fmt: skip


def test_a_look_is_offered_only_where_it_is_enough(browser, stage) -> None:
    page, offered = browser.new_page(), {}
    for name, unit, days, _ in LOOKS:
        pack = stage_pack.stage_pack()
        pack["site_record"] = pack["site_record"] | ({"check_every_days": days} if days else {})
        page.route("**/stage_pack.json", lambda route, _, pack=pack: route.fulfill(json=pack))
        page.goto("about:blank")
        page.goto(f"{stage}?visit=no#/units/{stage_pack.unit_id(unit)}/check")
        page.wait_for_selector("html[data-ready]")
        page.get_by_role("button", name="A single look").click()
        expect(page.locator(".foot").get_by_role("button")).to_have_count(1)
        offered[name] = looks_unchanged(page).count()
    page.close()
    assert offered == {name: count for name, _, _, count in LOOKS}


def looks_unchanged(page):
    return page.get_by_role("button", name="Looks unchanged")


def test_a_unit_that_looks_unchanged_is_stored_as_looked_at_and_no_number_is_copied(form) -> None:
    form.wait_for_timeout(CALM_MS)
    looks_unchanged(form).click()
    form.wait_for_function("window.written.length > 0")
    (check,) = [one["fields"] for one in form.evaluate("window.written") if one["kind"] == "unit_check"]
    assert set(check) == {"unit_id", "checked_at", "found_state", "looked_only"}
    assert (check["found_state"], check["looked_only"]) == ("seen", True)


def test_a_look_that_is_corrected_stays_one_until_something_was_measured(form) -> None:
    """Else what was measured counted for nothing: no flag is raised from a look."""
    form.wait_for_timeout(CALM_MS)
    looks_unchanged(form).click()
    form.wait_for_url(f"**/{stage_pack.unit_id(39)}/check")
    for field, typed, fields in (
        ("note", "by the ramp", {"note": "by the ramp"}), ("crack_width_mm", "2", {"crack_width_mm": 2, "looked_only": None}),
    ):  # fmt: skip
        form.evaluate(f"location.hash = '#/units/{stage_pack.unit_id(38)}/check'")
        correct = form.get_by_role("button", name="Save the correction")
        correct.wait_for()
        form.get_by_role("button", name="Crack").click()
        form.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        form.locator(f"#f-{field}").fill(typed)
        form.wait_for_timeout(CALM_MS)
        correct.click()
        form.wait_for_url("**/#/units")
        assert form.evaluate("window.written.at(-1)['fields']") == fields


def test_what_was_measured_is_saved_as_measured(form) -> None:
    assert looks_unchanged(form).count() == 1
    form.locator("#f-exposed_height_mm").fill("212")
    assert looks_unchanged(form).count() == 0
    assert "looked_only" not in saved(form)


@pytest.mark.parametrize("found", ["Not found, dry", "Not found, under water", "Not visited"])
def test_a_unit_that_was_not_found_keeps_no_measures_that_were_typed_before(form, found: str) -> None:
    fill(form)
    form.get_by_role("radio", name=found, exact=True).click()
    check = saved(form)
    assert set(check) == {"unit_id", "checked_at", "found_state", "note"}
    assert check["note"] == "by the ramp"


MARKS = {"North": (0, 20), "Ramp": (0, 0), "South": (20, 0)}
"""As the stage has them."""


def reads_tapes(page, place: tuple[float, float]) -> None:
    """Three tapes to a place, from the marks that are chosen already where they are."""
    for n, (label, at_mark) in enumerate(MARKS.items(), 1):
        group = page.get_by_role("radiogroup", name=f"From mark, tape {n}").or_(page.get_by_role("group", name=f"From mark, tape {n}"))
        group.first.get_by_role("radio", name=label, exact=True).click()
        page.locator(f"#f-range_{n}_m").fill(f"{math.dist(at_mark, place):.2f}")


def positions(page) -> list[dict[str, Any]]:
    """What is saved of the unit's position."""
    page.wait_for_timeout(CALM_MS)
    page.get_by_role("button", name="Save").click()
    page.wait_for_function("window.written.length > 0")
    return [one["fields"] for one in page.evaluate("window.written") if one["kind"] == "position_fix"]


@pytest.fixture
def measured(browser, stage):
    """The form of a unit whose first position is on record, 19.00 m east and 9.00 m north."""
    page = browser.new_page()
    page.goto(f"{stage}#/units/{stage_pack.unit_id(18)}/check")
    page.wait_for_selector("html[data-ready]")
    expect(page.locator("details[open] > summary", has_text="Position")).to_be_visible()
    yield page
    page.close()


def test_a_position_in_doubt_asks_for_a_second_set_before_one_leaves_and_it_joins_the_first(measured) -> None:
    reads_tapes(measured, (19.6, 9.0))
    said = measured.locator(".said-back").filter(has_text="within")
    expect(said).to_contain_text("Found 0.60 m east of its first position. Take a second set of tapes now; it joins the first.")
    measured.get_by_role("button", name="Take a second set").click()
    expect(measured.get_by_role("heading", name="Set 2")).to_be_visible()
    reads_tapes(measured, (19.6, 9.0))
    expect(said).to_contain_text("The next sync says whether it moved, once the whole survey is compared.")
    assert measured.get_by_role("button", name="Take a second set").count() == 0
    first, second = positions(measured)
    assert first == second | {"fixed_at": first["fixed_at"]}
    assert (first["method"], first["of_id"], first["mark_1_id"] is not None) == ("tapes", stage_pack.unit_id(18), True)


def test_a_position_where_it_was_asks_for_nothing(measured) -> None:
    reads_tapes(measured, (19.0, 9.0))
    expect(measured.locator(".said-back").filter(has_text="within")).to_contain_text("No movement found.")
    assert measured.get_by_role("button", name="Take a second set").count() == 0
    assert len(positions(measured)) == 1


def test_a_first_position_is_held_against_the_plan_and_asks_for_two_sets(form) -> None:
    form.locator("summary", has_text="Position").click()
    east, north = 9.0, 15.4
    reads_tapes(form, (east, north))
    said = form.locator(".said-back").filter(has_text="within")
    expect(said).to_contain_text("First position 0.40 m north of its planned place. Take a second set of tapes now: all later positions")
    expect(form.get_by_role("button", name="Take a second set")).to_be_visible()


def test_the_form_says_how_sure_the_sites_tapes_are_and_from_how_many(measured) -> None:
    reads_tapes(measured, (19.0, 9.0))
    expect(measured.get_by_text("Tapes at this site vary 1.5 times as much as stated (312 tapes).")).to_be_visible()


@pytest.fixture
def history(browser, stage):
    """Opens a unit's page and gives its text."""
    page = browser.new_page()

    def text_of(unit: int) -> str:
        page.goto(f"{stage}#/units/{stage_pack.unit_id(unit)}")
        page.wait_for_selector("html[data-ready]")
        expect(page.get_by_role("heading", name="Checks")).to_be_visible()
        return " ".join(page.locator("main").inner_text().split())

    text_of.page = page
    yield text_of
    page.close()


def test_a_units_page_tells_remarks_beside_what_is_flagged(history) -> None:
    text = history(20)
    assert stage_pack.SMALL in text
    assert "30 mm less showing than last time. Buried deeper, or the unit sank: read its crest level to know." in text


def test_heights_over_time_are_a_line_that_one_sees(history) -> None:
    history(20)
    line = history.page.locator("svg[role=img] path.water").first
    assert line.evaluate("path => [getComputedStyle(path).fill, getComputedStyle(path).stroke === 'none']") == ["none", False]
    assert history.page.locator("svg[role=img] text.e").first.evaluate("text => getComputedStyle(text).textAnchor") == "end"


LINES_OF = """list => list.map((one) => { const range = document.createRange(); range.selectNodeContents(one);
  return [one.textContent, new Set([...range.getClientRects()].map((rect) => Math.round(rect.top))).size]; })"""


def test_numbers_of_evidence_are_not_broken(browser, stage) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto(f"{stage}?role=lead#/flags")
    page.locator("details.flag", has_text="moved 0.32 m").locator("> summary").click()
    lines = page.locator("details[open] dd").evaluate_all(LINES_OF)
    page.close()
    assert [text for text, count in lines if len(text) < 12 and count > 1] == []


def test_a_units_page_says_where_it_was_first_and_which_flag_stands(history) -> None:
    text = history(18)
    assert "B075: moved 0.32 m east" in text
    assert "First position 0.00 m from its planned place" in text


def test_a_settled_flag_is_told_as_settled(history) -> None:
    assert "Settled. Filled in by itself; measured again on Nov 11, 2026." in history(5)


def test_a_tilt_is_typed_as_what_a_rod_and_a_tape_read_at_the_rim(form) -> None:
    form.get_by_text("Tilt from the rim").click()
    form.locator("#f-rim_rise_mm").fill("60")
    form.locator("#f-rim_chord_mm").fill("59")
    assert words_in(form.locator("#f-rim-said")) == "The difference in height is 60 mm; it must be between 0 mm and the distance, 59 mm. Measure both again."
    assert form.locator("#f-tilt_deg").input_value() == ""
    form.locator("#f-rim_chord_mm").fill("450")
    assert words_in(form.locator("#f-rim-said")) == "The rim leans 7.7\u00b0. This is saved as the tilt."
    assert form.locator("#f-tilt_deg").input_value() == "7.7"
    form.locator("#f-tilt_deg").fill("9")
    assert words_in(form.locator("#f-rim-said")) == "The rim leans 7.7\u00b0. The tilt above says 9."
    form.locator("#f-rim_chord_mm").fill("450.0")
    check = saved(form)
    assert check["tilt_deg"] == 7.7
    assert not [name for name in check if name.startswith("rim")]


def test_half_a_rim_is_not_dropped_in_silence(form) -> None:
    form.get_by_text("Tilt from the rim").click()
    form.locator("#f-rim_rise_mm").fill("60")
    form.wait_for_timeout(CALM_MS)
    form.get_by_role("button", name="Save").click()
    assert form.evaluate("window.written.length") == 0, "a number was typed that no record would hold"
    form.locator("#f-rim_rise_mm").fill("")
    form.locator("#f-tilt_deg").fill("3")
    assert saved(form)["tilt_deg"] == 3
