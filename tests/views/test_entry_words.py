"""An entry is read as what somebody did, never as the names of its fields."""

from __future__ import annotations

import json

import pytest

from views import stage_pack, stage_server

pytestmark = pytest.mark.browser

UNIT, PERSON = stage_pack.unit_id(3), "01900006-0000-7000-8000-000000000001"
SEEN = {"unit_id": UNIT, "checked_at": "2026-11-28T11:44:00Z", "found_state": "seen"}
CASES = {
    "piece off": ("unit_check", SEEN | {"lost_volume_pct": 15, "chip_depth_mm": 60, "tilt_deg": 3}, "A041, checked 06:44, piece off"),
    "two damages": ("unit_check", SEEN | {"crack_width_mm": 2, "rocking": True}, "A041, checked 06:44, crack, rocking"),
    "no damage": ("unit_check", SEEN | {"crack_width_mm": 0, "exposed_height_mm": 265, "tilt_deg": 9}, "A041, checked 06:44, 265 mm showing, 9°"),
    "looked at": ("unit_check", SEEN | {"looked_only": True}, "A041, checked 06:44, looks unchanged"),
    "not found": ("unit_check", SEEN | {"found_state": "not_found_dry"}, "A041, checked 06:44, not found, dry"),
    "a correction": ("unit_check", {"unit_id": UNIT, "tilt_deg": 4}, "A041, check corrected 06:44, 4°"),
    "sign-in": ("sign_in", {"person_id": PERSON, "in_at": "2026-11-28T11:44:00Z"}, "Tobias Wren, signed in 06:44"),
    "sign-out": ("sign_in", {"person_id": PERSON, "out_at": "2026-11-28T11:44:00Z"}, "Tobias Wren, signed out 06:44"),
    "sighting": ("sighting", {"taxon": "Dog whelk", "found": "seen", "count": 6, "seen_at": "2026-11-28T11:44:00Z"}, "Dog whelk, seen 06:44, 6"),
    "visit": ("visit", {"purpose": "storm_check", "started_at": "2026-11-28T11:44:00Z"}, "Visit, started 06:44, storm check"),
    "a check typed in from paper": ("unit_check", SEEN | {"checked_at": "2026-11-24T18:05:00Z"}, "A041, checked Tue, Nov 24, 13:05"),
    "a removed check with its time": ("unit_check", SEEN | {"checked_at": "2026-11-24T18:05:00Z", "_deleted": True}, "A041, check removed 06:44"),
    "a removed check": ("unit_check", {"unit_id": UNIT, "_deleted": True}, "A041, check removed 06:44"),
    "a check that is back": ("unit_check", {"unit_id": UNIT, "_deleted": False}, "A041, check restored 06:44"),
    "a removed event": ("unit_event", {"unit_id": UNIT, "_deleted": True}, "A041, work removed 06:44"),
    "a removed sighting": ("sighting", {"taxon": "Dog whelk", "_deleted": True}, "Dog whelk, sighting removed 06:44"),
    "a removed unit": ("unit", {"tag": "A041", "_deleted": True}, "A041, removed 06:44"),
    "a new row": ("row", {"name": "E", "bed_level_m": 0.2, "order_number": 5}, "Row E, added 06:44"),
    "a changed row": ("row", {"name": "E"}, "Row E, changed 06:44"),
    "a kind of tomorrow": ("core_sample", {"depth_of_core_mm": 3}, "core sample, added 06:44"),
}  # fmt: skip


@pytest.fixture(scope="module")
def page(browser):
    server = stage_server.serve(stage_pack.stage_pack(), [stage_server.STATIC])
    opened = browser.new_page()
    opened.goto(f"http://127.0.0.1:{server.server_port}/?role=lead#/phone")
    opened.wait_for_selector("html[data-ready]")
    yield opened
    opened.close()
    server.shutdown()
    server.server_close()


@pytest.mark.parametrize("name", CASES)
def test_an_entry_is_read_as_what_was_done(page, name) -> None:
    kind, fields, words = CASES[name]
    said = page.evaluate(
        """async ([kind, fields]) => { const { entryWords } = await import('/views/entry-words.js');
          const entry = { kind, recordId: null, fields, at_ms: Date.parse('2026-11-28T11:44:00Z') };
          return entryWords(stage.phone, entry, 'America/New_York'); }""",
        [kind, fields],
    )
    assert said == words


def test_no_screen_of_entries_reads_the_name_of_a_field(page) -> None:
    said = page.locator("main").inner_text()
    assert "Dog whelk, seen" in said
    assert not {"Exposed height", "Tilt,", "Found,", "exposed_height_mm"} & set(said.split("\n"))
    assert "Unit check" not in said.split("Forms left open")[0]


def test_a_held_line_says_what_was_done_before_why_it_is_held(page) -> None:
    line = json.dumps({"v": 1, "t": "unit_check", "r": None, "f": SEEN | {"exposed_height_mm": 5000}})
    said = page.evaluate(
        """async (line) => { const { lineWords } = await import('/views/entry-words.js');
          return [await lineWords(stage.phone, line, 'America/New_York'), await lineWords(stage.phone, '{{', 'UTC')]; }""",
        line,
    )
    assert said == ["A041, checked, 5000 mm showing", "An entry that cannot be read here"]


@pytest.mark.parametrize("fields", ["text", [1], 7, {"unit_id": True}, {"of_kind": True, "of_id": {}}, {"unit_id": {}, "found_state": {}}])
def test_a_hostile_line_stops_no_leads_screen(page, fields) -> None:
    line = json.dumps({"t": "unit_check", "f": fields})
    said = page.evaluate("async (line) => (await import('/views/entry-words.js')).lineWords(stage.phone, line, 'UTC')", line)
    assert "check corrected" in said
