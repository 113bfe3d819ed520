"""A mistake is put right from the record itself: corrected, removed, shown struck, taken back; and doubts are asked before they are saved."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.app_page import CALM_MS
from tests.screen_checks import axe
from tests.views.hand import at, tap
from views import stage_pack, stage_server

pytestmark = pytest.mark.browser

OWN_CHECK = "01900007-0000-7000-8000-000000000036"
"""The first of the running visit, made on this phone."""
OTHERS_CHECK = "01900005-0000-7000-8000-000000000374"


def last(page: Page) -> dict[str, Any]:
    return page.evaluate("window.written.at(-1)")


def test_an_own_check_is_corrected_from_the_units_history(one_page: Page, stage: str) -> None:
    at(one_page, stage, "", f"#/units/{stage_pack.unit_id(36)}")
    one_page.locator("a.row", has_text="265 of 450 mm showing").click()
    expect(one_page.get_by_role("heading", level=1, name="Unit check")).to_be_visible()
    assert axe(one_page) == []
    tap(one_page, "Correct")
    one_page.locator("#f-exposed_height_mm").fill("256")
    one_page.locator("#f-tilt_deg").fill("")
    tap(one_page, "Save the correction")
    assert last(one_page) == {"kind": "unit_check", "recordId": OWN_CHECK, "fields": {"exposed_height_mm": 256, "tilt_deg": None}}
    expect(one_page.locator("dd", has_text="256 mm")).to_be_visible()
    tap(one_page, "Undo")
    assert last(one_page)["fields"] == {"exposed_height_mm": 265, "tilt_deg": 4}


def test_an_own_check_is_removed_shown_struck_and_taken_back(one_page: Page, stage: str) -> None:
    at(one_page, stage, "", f"#/record/unit_check/{OWN_CHECK}")
    tap(one_page, "Remove")
    expect(one_page.get_by_text("Remove this unit check?")).to_be_visible()
    assert one_page.evaluate("window.written.length") == 0
    tap(one_page, "Keep it")
    expect(one_page.get_by_role("button", name="Remove", exact=True)).to_be_focused()
    tap(one_page, "Remove")
    tap(one_page, "Remove it")
    assert last(one_page)["fields"] == {"_deleted": True}
    expect(one_page.get_by_text("Removed by Ines Calder, ")).to_be_visible()
    one_page.evaluate("location.hash = '#/visit'")
    struck = one_page.locator("main a", has=one_page.locator("s"))
    expect(struck).to_contain_text("Removed by Ines Calder, ")
    assert axe(one_page) == []
    struck.click()
    tap(one_page, "Restore it")
    assert last(one_page)["fields"] == {"_deleted": False}
    expect(one_page.locator(".row", has_text="Restored")).to_be_visible()
    expect(one_page.get_by_role("button", name="Correct")).to_be_visible()


@pytest.mark.parametrize(("role", "may"), [("crew", False), ("lead", True), ("reader", False)])
def test_what_another_phone_wrote_is_a_leads_to_change(one_page: Page, stage: str, role: str, may: bool) -> None:
    at(one_page, stage, f"?role={role}", f"#/record/unit_check/{OTHERS_CHECK}")
    expect(one_page.get_by_role("heading", name="Who wrote what")).to_be_visible()
    assert one_page.get_by_role("button", name="Correct").count() == may
    assert one_page.get_by_role("button", name="Remove").count() == may


def test_a_check_that_becomes_not_found_loses_its_measures(one_page: Page, stage: str) -> None:
    at(one_page, stage, "", f"#/record/unit_check/{OWN_CHECK}")
    tap(one_page, "Correct")
    one_page.get_by_role("radio", name="Not found, dry", exact=True).click()
    tap(one_page, "Save the correction")
    assert last(one_page)["fields"] == {"found_state": "not_found_dry", "exposed_height_mm": None, "tilt_deg": None}


def test_a_sign_in_is_taken_off_as_a_mistake_and_comes_back_with_its_time_out(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?out=3", "#/people")
    tap(one_page, "Sign out Ines Calder")
    out_at = last(one_page)["fields"]["out_at"]
    one_page.locator("main a", has_text="Ines Calder").click()
    tap(one_page, "Remove")
    tap(one_page, "Remove it")
    assert last(one_page)["fields"] == {"no_out_reason": "Signed in by mistake", "out_at": None}, "nobody is removed who was counted"
    one_page.evaluate("location.hash = '#/people'")
    one_page.locator("main a", has=one_page.locator("s", has_text="Ines Calder")).click()
    tap(one_page, "Restore it")
    assert last(one_page)["fields"] == {"no_out_reason": None, "out_at": out_at}


def test_a_sign_in_says_that_the_person_is_out_now_whatever_another_phone_wrote(one_page: Page, stage: str) -> None:
    """A time out or a reason that another phone gave before, and this one has not heard of, must not hide who came again."""
    at(one_page, stage, "?out=3", "#/people")
    one_page.evaluate("window.written.length = 0")
    one_page.wait_for_timeout(CALM_MS)
    one_page.locator("button.row", has_text="sign in").first.click()
    one_page.wait_for_function("() => window.written.some((one) => one.kind === 'sign_in')")
    (came,) = [one for one in one_page.evaluate("window.written") if one["kind"] == "sign_in"]
    assert {"out_at": None, "no_out_reason": None}.items() <= came["fields"].items()


def test_a_visit_of_today_is_ended_and_not_removed_since_other_phones_may_be_on_it(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?role=lead&out=0", "#/visit")
    one_page.get_by_role("link", name="Correct the visit itself").click()
    tap(one_page, "Remove")
    expect(one_page.locator("#ask")).to_contain_text("belong to this visit")
    assert one_page.get_by_role("button", name="Remove it").count() == 0
    at(one_page, stage, "?visit=no", "#/people")
    one_page.evaluate("stage.phone.write('visit', 'v', { purpose: 'walk', started_at: new Date(stage.phone.now() - 3600000).toISOString() })")
    one_page.evaluate("location.hash = '#/record/visit/v'")
    tap(one_page, "Remove")
    expect(one_page.locator("#ask")).to_contain_text("Another phone may be on this visit.")


def test_own_entries_lead_to_their_record_from_this_phone(one_page: Page, stage: str) -> None:
    at(one_page, stage, "", "#/phone")
    assert one_page.locator("a.pill[href^='#/record/']").count() == 5, "all but the held one, which is fixed"


def test_a_time_is_corrected_on_the_sites_clock_and_one_to_come_is_not_saved(one_page: Page, stage: str) -> None:
    at(one_page, stage, "", f"#/record/unit_check/{OWN_CHECK}")
    tap(one_page, "Correct")
    box = one_page.locator("#f-checked_at")
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d", box.input_value())
    box.fill("2030-01-01T10:00")
    tap(one_page, "Save the correction")
    expect(one_page.locator(".told")).to_contain_text("Checked at is still to come.")
    assert one_page.evaluate("window.written.length") == 0


def test_signing_everyone_out_stands_apart_and_asks_once_by_name(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?out=5", "#/people")
    heard, everyone = one_page.get_by_role("button", name="All heard the briefing"), one_page.get_by_role("button", name="Sign out all 5")
    gap = everyone.bounding_box()["y"] - heard.bounding_box()["y"] - heard.bounding_box()["height"]
    assert gap >= 40, "a thumb that means the one does not hit the other"
    tap(one_page, "Sign out all 5")
    asked = one_page.locator("#all-out")
    expect(asked).to_contain_text("Ines Calder, Tobias Wren, Ruth Okafor-Lind, Sam Petrel, Noor Halim")
    expect(asked).to_be_focused()
    tap(one_page, "Not all")
    assert one_page.evaluate("window.written.length") == 0
    tap(one_page, "Sign out all 5")
    tap(one_page, "Sign out these 5")
    expect(one_page.get_by_text("Nobody is out.")).to_be_visible()
    expect(one_page.locator(".told")).to_contain_text(re.compile(r"5 people signed out, \d"))
    expect(one_page.locator("section", has_text="Signed in today").first).to_contain_text(re.compile(r"in \d\d:\d\d, signed out \d\d:\d\d"))
    assert one_page.evaluate("window.written.filter((one) => one.fields.out_at).length") == 5


def test_without_a_visit_units_opens_the_history_and_a_check_asks_why(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?visit=no", "#/units")
    one_page.locator("a.row", has=one_page.locator(".tag")).first.click()
    expect(one_page.get_by_role("heading", name="Checks")).to_be_visible()
    one_page.get_by_role("link", name=re.compile("^Check ")).click()
    expect(one_page.get_by_text("No visit is open. Why check this unit now?")).to_be_visible()
    assert one_page.locator("#f-exposed_height_mm").count() == 0
    assert axe(one_page) == []
    one_page.get_by_role("button", name="A single look").click()
    one_page.locator("#f-exposed_height_mm").fill("290")
    tap(one_page, "Save")
    expect(one_page.get_by_role("heading", name="Checks")).to_be_visible()
    assert [one["fields"]["exposed_height_mm"] for one in one_page.evaluate("window.written")] == [290]


def test_without_a_visit_a_correction_opens_the_last_check(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?visit=no&role=lead", f"#/units/{stage_pack.unit_id(36)}/check")
    one_page.get_by_role("link", name="To correct the last check").click()
    expect(one_page.get_by_role("heading", level=1, name="Unit check")).to_be_visible()


def test_an_empty_check_is_not_saved(one_page: Page, stage: str) -> None:
    at(one_page, stage, "", f"#/units/{stage_pack.unit_id(40)}/check")
    tap(one_page, re.compile("^Save, "))
    expect(one_page.locator(".told")).to_contain_text("Found")
    assert one_page.evaluate("window.written.length") == 0


def test_a_height_above_the_units_own_is_asked_about_before_it_is_saved(one_page: Page, stage: str) -> None:
    at(one_page, stage, "", f"#/units/{stage_pack.unit_id(38)}/check")
    one_page.locator("#f-exposed_height_mm").fill("1450")
    tap(one_page, re.compile("^Save, go to "))
    asked = one_page.locator("#sure-exposed_height_mm")
    expect(asked).to_contain_text("1450 mm showing, but the whole unit is 450 mm high. Sure?")
    expect(asked).to_be_focused()
    assert axe(one_page) == []
    assert one_page.evaluate("window.written.length") == 0
    tap(one_page, "Change it")
    expect(one_page.locator("#f-exposed_height_mm")).to_be_focused()
    tap(one_page, re.compile("^Save, go to "))
    tap(one_page, "Yes, save it")
    one_page.wait_for_function("window.written.length > 0")
    assert one_page.evaluate("window.written[0].fields.exposed_height_mm") == 1450


CASES = """async (list) => {
  const { contradictions } = await import('/views/sure.js');
  return list.map(([fields, repeat]) => contradictions(fields, { height_mm: 450 }, repeat).map((one) => one.sentence));
}"""


def test_what_contradicts_is_asked_and_what_a_reading_may_be_off_by_is_not(one_page: Page, stage: str) -> None:
    at(one_page, stage, "", "#/units")
    cases: list[tuple[dict[str, Any], int | None, str]] = [
        ({"exposed_height_mm": 460}, None, ""),
        ({"exposed_height_mm": 461}, None, "461 mm showing, but the whole unit is 450 mm high. Sure?"),
        ({"exposed_height_mm": 475}, 25, ""),
        ({"chip_depth_mm": 451}, None, "A chip 451 mm deep, but the whole unit is 450 mm high. Sure?"),
        ({"tilt_deg": 35, "stance_grade": 0}, None, "Stance is grade 0 by eye and 3 as measured. Sure?"),
        ({"tilt_deg": 16, "stance_grade": 1}, None, ""),
        ({"tilt_deg": 35}, None, ""),
        ({"exposed_height_mm": 212, "cover_grade": 1}, None, ""),
    ]
    told = one_page.evaluate(CASES, [[{"found_state": "seen", **fields}, repeat] for fields, repeat, _said in cases])
    assert told == [[said] if said else [] for _fields, _repeat, said in cases]
    assert one_page.evaluate(CASES, [[{"found_state": "not_found_dry", "exposed_height_mm": 900}, None]]) == [[]]


ROW_A, ROW_B = ("01900002-0000-7000-8000-" + f"{n:012}" for n in (0, 1))


def written(page: Page, kind: str) -> list[dict[str, Any]]:
    return [one["fields"] for one in page.evaluate("window.written") if one["kind"] == kind]


def test_removing_a_row_says_what_hangs_on_it_and_moves_it_with_one_undo(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?role=lead", f"#/set-up/row/{ROW_A}")
    one_page.get_by_role("button", name="Remove", exact=True).click()
    asked = one_page.locator("#removing")
    expect(asked).to_contain_text("A is used by: 12 units.")
    expect(asked).to_be_focused()
    assert axe(one_page) == []
    one_page.locator("#move-to").select_option(label="B")
    tap(one_page, "Move them, then remove it")
    expect(one_page.get_by_role("heading", level=1, name="Rows")).to_be_visible()
    assert written(one_page, "unit") == [{"row_id": ROW_B}] * 12
    assert written(one_page, "row") == [{"_deleted": True}]
    struck = one_page.locator("main a", has=one_page.locator("s"))
    expect(struck).to_contain_text("Removed by Ines Calder, ")
    tap(one_page, "Undo")
    expect(struck).to_have_count(0)
    assert written(one_page, "unit")[12:] == [{"row_id": ROW_A}] * 12


def test_who_keeps_a_row_stands_where_its_removal_was_asked(one_page: Page, stage: str) -> None:
    """The focus went to the form's first button, the minus of the bed level."""
    at(one_page, stage, "?role=lead", f"#/set-up/row/{stage_pack.row_id(0)}")
    tap(one_page, "Remove")
    expect(one_page.locator("#removing")).to_be_focused()
    tap(one_page, "Keep it")
    expect(one_page.get_by_role("button", name="Remove", exact=True)).to_be_focused()


def test_units_of_a_row_are_taken_out_of_use_and_the_row_is_taken_back_later(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?role=lead", f"#/set-up/row/{ROW_A}")
    one_page.get_by_role("button", name="Remove", exact=True).click()
    tap(one_page, re.compile("out of use, then remove it"))
    expect(one_page.get_by_role("heading", level=1, name="Rows")).to_be_visible()
    events = written(one_page, "unit_event")
    assert (len(events), {one["event"] for one in events}, len({one["unit_id"] for one in events})) == (12, {"retired"}, 12)
    one_page.locator("main a", has=one_page.locator("s")).click()
    tap(one_page, "Restore it")
    assert written(one_page, "row") == [{"_deleted": True}, {"_deleted": False}]


@pytest.mark.parametrize(("place", "said"), [
    (f"control_mark/{'0190000a-0000-7000-8000-' + '0' * 12}", "Nothing else uses North."),
    (f"unit_design/{'01900003-0000-7000-8000-' + '0' * 12}", "Block 450 is used by: 1 casting batch, 48 units."),
    (f"unit/{stage_pack.unit_id(18)}", "B075 is used by: 2 checks, 2 positions, 1 event, 1 photo."),
    (f"site/{stage_pack.SITE_ID}", "12 people are out there. Sign them out first."),
])  # fmt: skip
def test_what_hangs_on_a_record_is_told(one_page: Page, stage: str, place: str, said: str) -> None:
    at(one_page, stage, "?role=lead", f"#/set-up/{place}")
    one_page.get_by_role("button", name="Remove", exact=True).click()
    expect(one_page.locator("#removing")).to_contain_text(said)
    assert one_page.get_by_role("button", name=re.compile("^Remove it")).count() == (0 if "out there" in said else 1)


def test_a_photo_is_taken_back(one_page: Page, stage: str) -> None:
    at(one_page, stage, "", f"#/units/{stage_pack.unit_id(38)}/check")
    png = stage_server.block_photo()
    one_page.locator("input[type=file]").first.set_input_files({"name": "a.png", "mimeType": "image/png", "buffer": png})
    expect(one_page.locator(".photos img")).to_have_count(1)
    tap(one_page, "Undo")
    expect(one_page.locator(".photos img")).to_have_count(0)
    assert written(one_page, "people_photo")[-1] == {"_deleted": True}


def test_a_start_is_taken_back_as_an_end_since_another_phone_may_have_begun_the_same_visit(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?visit=no", "#/visit")
    tap(one_page, "Start the visit")
    expect(one_page.get_by_role("heading", level=1, name="People")).to_be_visible()
    tap(one_page, "Undo")
    expect(one_page.locator(".told")).to_contain_text("Undone: the visit ended on this phone.")
    (begun, ended), (part, left) = written(one_page, "visit"), written(one_page, "visit_part")
    assert (list(ended), list(left), "_deleted" in begun | ended | part) == (["ended_at"], ["until_at"], False)


def test_an_end_is_taken_back_and_the_visit_goes_on(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?out=0", "#/visit")
    tap(one_page, "End the visit")
    tap(one_page, "End it")
    expect(one_page.get_by_role("heading", level=1, name="This phone")).to_be_visible()
    tap(one_page, "Undo")
    expect(one_page.locator(".told")).to_have_text("Undone.")
    assert written(one_page, "visit")[-1] == {"ended_at": None}


def test_a_mended_held_entry_can_be_taken_back(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?held", "#/phone")
    tap(one_page, "fix")
    one_page.locator("#f-exposed_height_mm").fill("256")
    tap(one_page, "Save the fix")
    expect(one_page.locator(".told")).to_contain_text("Fixed and saved.")
    mended = last(one_page)
    assert mended["fields"]["exposed_height_mm"] == 256
    tap(one_page, "Undo")
    expect(one_page.locator(".told")).to_have_text("Undone.")
    assert last(one_page) == {"kind": "unit_check", "recordId": mended["recordId"], "fields": {"_deleted": True}}
