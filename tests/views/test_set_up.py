"""Set-up: many units at once, tags of a site's own, people of other sites, all drawn from a stage."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from fieldlog.records.tags import tag_for
from tests.browser.app_page import CALM_MS
from views import stage_pack

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def stage(stage):
    return f"{stage}?role=lead"


@pytest.fixture
def page(browser):
    context = browser.new_context(viewport={"width": 390, "height": 844})
    opened = context.new_page()
    opened.faults = []
    opened.on("pageerror", lambda fault: opened.faults.append(str(fault)))
    yield opened
    context.close()
    assert opened.faults == []


def show(page, stage: str, place: str) -> None:
    page.goto(f"{stage}{place}")
    page.wait_for_selector("html[data-ready]")


def save(page, name: str) -> None:
    page.wait_for_timeout(CALM_MS)
    page.get_by_role("button", name=name, exact=True).click()


def written(page) -> list[dict]:
    return page.evaluate("window.written")


def test_a_series_goes_on_along_its_row_and_is_shown_before_it_is_saved(page, stage) -> None:
    show(page, stage, "#/set-up/unit/series")
    page.get_by_role("radio", name="Row B").click()
    expect(page.locator("#f-first_slot")).to_have_value("13")
    expect(page.locator("#f-spacing_m")).to_have_value("2.5")
    page.locator("#f-count").fill("3")
    page.locator("#f-spacing_m").fill("2")
    shown = page.get_by_role("region", name="The units").locator("tbody tr")
    expect(shown).to_have_count(3)
    expect(shown.first).to_have_text(f"{tag_for('B', 13)}1333.50 m9.00 m")
    save(page, "Save 3 units")
    expect(page.get_by_role("heading", level=1, name="Units")).to_be_visible()
    assert [(one["kind"], one["fields"]["tag"], one["fields"]["slot_number"], one["fields"]["planned_east_m"]) for one in written(page)] == [
        ("unit", tag_for("B", slot), slot, 31.5 + 2 * (slot - 12)) for slot in (13, 14, 15)
    ]


def test_a_series_that_would_take_a_slot_twice_is_not_saved(page, stage) -> None:
    show(page, stage, "#/set-up/unit/series")
    page.get_by_role("radio", name="Row B").click()
    page.locator("#f-first_slot").fill("12")
    page.locator("#f-count").fill("2")
    expect(page.get_by_text("Slot 12 of row B has").first).to_be_visible()
    save(page, "Save 2 units")
    assert written(page) == []


def test_a_copied_row_brings_its_units_with_tags_of_their_own(page, stage) -> None:
    show(page, stage, "#/set-up/row/copy")
    page.get_by_role("radio", name="Row A").click()
    page.locator("#f-name").fill("E")
    page.locator("#f-bed_level_m").fill("0.2")
    page.locator("#f-aside_m").fill("3")
    save(page, "Save the row and 12 units")
    expect(page.get_by_role("heading", level=1, name="Rows")).to_be_visible()
    row, first, *rest = written(page)
    assert (row["kind"], row["fields"]["name"], row["fields"]["order_number"], row["fields"]["level_datum"]) == ("row", "E", 5, "MLLW")
    assert first["fields"]["planned_north_m"] == 3, "three metres to the right of the row's direction"
    assert len({one["fields"]["row_id"] for one in (first, *rest)}) == 1
    assert len(rest) == 11


def test_a_corrected_tag_says_whether_it_is_ours(page, stage) -> None:
    show(page, stage, f"#/set-up/unit/{stage_pack.unit_id(0)}")
    page.locator("#f-tag").fill("17")
    page.get_by_role("radiogroup", name="Tag with a check digit").get_by_role("radio", name="No").click()
    expect(page.get_by_text("is not a row letter")).to_have_count(0)
    save(page, "Save")
    assert written(page)[-1]["fields"] == {"tag": "17", "tag_made_here": False}


def test_whether_a_new_tag_is_ours_follows_from_the_tag_until_somebody_says_otherwise(page, stage) -> None:
    show(page, stage, "#/set-up")
    page.evaluate("async () => { for (const { record_id: id } of await stage.phone.rows('unit', {})) await stage.phone.write('unit', id, { tag_made_here: true }); }")
    page.evaluate("location.hash = '#/set-up/unit/new'")
    tag, doubts = page.locator("#f-tag"), page.locator("#f-tag-said")
    ours = page.get_by_role("radiogroup", name="Tag with a check digit").get_by_role("radio", checked=True)
    expect(tag).to_be_visible()
    expect(ours).to_have_count(0)
    for typed, answer, doubt in (
        ("17", "No", ""), ("A-3", "No", ""), (tag_for("A", 30), "Yes", ""), (f"A30{int(tag_for('A', 30)[-1]) ^ 1}", "Yes", "does not fit its check digit"), ("A-4", "No", ""),
    ):  # fmt: skip
        tag.fill(typed)
        expect(ours).to_have_accessible_name(answer)
        expect(doubts).to_contain_text(doubt) if doubt else expect(doubts).to_be_empty()
    page.get_by_role("radiogroup", name="Row").get_by_role("radio", name="A", exact=True).click()
    page.locator("#f-slot_number").fill("30")
    save(page, "Save")
    expect(page.get_by_role("heading", level=1, name="Units")).to_be_visible()
    made = written(page)[-1]["fields"]
    assert (made["tag"], made["tag_made_here"]) == ("A-4", False)
    page.evaluate("location.hash = '#/set-up/unit/new'")
    tag.fill("A301")
    page.get_by_role("radiogroup", name="Tag with a check digit").get_by_role("radio", name="No").click()
    tag.fill("A302")
    expect(ours).to_have_accessible_name("No")


ONE_ROW = """async () => {
  const { phone } = window.stage;
  for (const { record_id: id, name } of await phone.rows('row', {})) if (name !== 'B') await phone.write('row', id, { _deleted: true });
  window.written.length = 0;
}"""


def test_the_only_row_is_chosen_and_what_is_missing_is_said(page, stage) -> None:
    show(page, stage, "#/set-up")
    page.evaluate(ONE_ROW)
    page.evaluate("location.hash = '#/set-up/unit/series'")
    expect(page.get_by_role("radiogroup", name="Row").get_by_role("radio", checked=True)).to_have_accessible_name("Row B")
    expect(page.locator("#f-first_slot")).to_have_value("13")
    expect(page.locator("#f-spacing_m")).to_have_value("2.5")
    planned = page.locator("section").filter(has_text="These would be saved")
    expect(planned).to_contain_text("Fill in \u201cHow many units\u201d to see the units.")
    expect(page.get_by_role("button", name="Save 0 units")).to_have_count(0)
    save(page, "Save the units")
    expect(page.locator("#f-count")).to_be_focused()
    assert page.evaluate("stage.phone.draft('unit:series')") is None, "nobody typed anything"
    page.locator("#f-count").fill("2")
    page.get_by_role("radio", name="On the units already").click()
    expect(planned).to_contain_text("Fill in \u201cFirst number\u201d to see the units.")
    page.locator("#f-first_number").fill("7")
    expect(page.get_by_role("region", name="The units").locator("tbody tr").first).to_contain_text("7")
    page.evaluate("location.hash = '#/set-up/row/copy'")
    expect(page.get_by_role("radiogroup", name="Which row").get_by_role("radio", checked=True)).to_have_accessible_name("Row B")
    expect(page.locator("#f-azimuth_deg")).to_have_value("180")
    page.evaluate("location.hash = '#/set-up/unit/new'")
    for group, name in (("Row", "B"), ("Design", "Block 450")):
        expect(page.get_by_role("radiogroup", name=group).get_by_role("radio", checked=True)).to_have_accessible_name(name)
    assert written(page) == []


def test_an_empty_choice_of_records_says_so(page, stage) -> None:
    show(page, stage, "#/set-up")
    page.evaluate(ONE_ROW.replace("if (name !== 'B')", ""))
    page.evaluate("location.hash = '#/set-up/unit/new'")
    expect(page.locator(".field").filter(has=page.get_by_role("radiogroup", name="Row"))).to_contain_text("None yet.")
    expect(page.locator(".field").filter(has=page.get_by_role("radiogroup", name="Design"))).not_to_contain_text("None yet.")
    page.evaluate("location.hash = '#/set-up/person/new'")
    expect(page.locator("#f-display_name")).to_be_visible()
    expect(page.get_by_text("Same person as")).to_have_count(0)


THERE = """async () => {
  const { phone } = window.stage;
  await phone.write('site', 'there', { site_id: 'there', name: 'Heron Bar', zone: 'America/New_York' });
  await phone.write('person', 'wanda', { site_id: 'there', display_name: 'Wanda Skerry', role: 'student', minor: true, waiver_valid: true });
  await phone.write('sign_in', 'out', { site_id: 'there', person_id: 'wanda', in_at: '2026-11-20T11:00:00.000Z', out_at: '2026-11-20T13:30:00.000Z' });
}"""
"""A second site of the lead's, with somebody who was out there for two and a half hours."""


def test_a_person_of_another_site_is_added_with_one_tap_and_keeps_their_hours(page, stage) -> None:
    show(page, stage, "#/set-up")
    page.evaluate(THERE)
    page.evaluate("location.hash = '#/set-up/person'")
    save(page, "Wanda Skerry Heron Bar add here")
    expect(page.get_by_text("Wanda Skerry is on the roster here.")).to_be_visible()
    expect(page.get_by_text("At your other sites")).to_have_count(0)
    assert written(page)[-1]["fields"] == {"display_name": "Wanda Skerry", "role": "student", "minor": True, "same_as": "wanda"}
    added = page.locator("a.row[href$='0190aaaa-0000-7000-8000-000000000001']")
    expect(added).to_be_focused()
    page.evaluate("location.hash = '#/set-up/person/wanda'")
    expect(page.get_by_role("heading", level=1, name="Wanda Skerry")).to_be_visible()
    expect(page.get_by_text("Same person as")).to_have_count(0)
    page.evaluate("location.hash = '#/set-up/person/' + '0190aaaa-0000-7000-8000-000000000001'")
    shore = page.locator("section").filter(has_text="On the shore")
    expect(shore).to_contain_text("2.50 h, 1 time")
    expect(shore).to_contain_text("Nov 20, 2026Heron Bar06:00 to 08:30")


def test_a_tide_without_a_usable_low_is_set_up_all_the_same(page, stage) -> None:
    show(page, stage, "#/set-up")
    missing = """async (isKnown) => {
      const { readSteps } = await import('/views/steps.js');
      const part = window.stage.phone.pack().sites[window.stage.phone.me.site_id];
      Object.assign(part, { sentence: 'None of the 3 lows can be used.' }, isKnown ? {} : { tide: null });
      return (await readSteps(window.stage.phone)).find((step) => step.name === 'tide').missing;
    }"""
    assert [page.evaluate(missing, is_known) for is_known in (True, False)] == [None, "None of the 3 lows can be used."]


def test_slots_beyond_the_last_are_told_as_that(page, stage) -> None:
    show(page, stage, "#/set-up/unit/series")
    page.get_by_role("radio", name="Row B").click()
    for field, value in {"first_slot": "998", "count": "5"}.items():
        page.locator(f"#f-{field}").fill(value)
    expect(page.get_by_role("heading", name="These would be saved")).to_be_visible()
    expect(page.locator("section .fault").first).to_contain_text("Slot is 1000; it must be between 0 and 999.")
    page.locator("#f-count").fill("999999999")
    expect(page.get_by_text("How many units is 999999999; it must be between 1 and 200.")).to_be_visible()
    expect(page.get_by_text("A series has 1 to 200.")).to_be_visible()
    save(page, "Save the units")
    assert written(page) == []


def test_a_distance_is_told_as_finely_as_it_says_something(modules_page) -> None:
    told = modules_page.evaluate("async () => { const { distanceWords } = await import('/online/stations.js'); return [0, 7.26, 9.99, 42.4, 99.4, 104.9, 1888.5].map(distanceWords); }")
    assert told == ["0.0 km", "7.3 km", "10.0 km", "42 km", "99 km", "100 km", "1890 km"]
