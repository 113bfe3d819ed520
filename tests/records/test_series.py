"""Many units at once: tags, check digits and planned places of a run of slots, and of a row that is copied."""

from __future__ import annotations

import pytest

from fieldlog.records.tags import tag_for

pytestmark = pytest.mark.browser

LINE = {"slot": 4, "east_m": 10, "north_m": 20, "azimuth_deg": 90, "spacing_m": 2}
"""Due east, two metres a slot: slot 4 stands at 10 east, 20 north."""

UNITS = [
    {"row_id": "a", "slot_number": 3, "tag": "A031", "planned_east_m": 3.0, "planned_north_m": 4.0},
    {"row_id": "a", "slot_number": 1, "tag": "A010", "planned_east_m": 0.0, "planned_north_m": 0.0, "design_id": "d"},
    {"row_id": "a", "slot_number": 2, "tag": "A-2", "tag_made_here": False},
    {"row_id": "b", "slot_number": 9, "tag": "17"},
]
"""A row whose first and third slot are 5 m apart, toward 36.87 degrees."""


@pytest.fixture
def ask(modules_page):
    """What a function of the phone's module gives."""
    return lambda call, given: modules_page.evaluate(f"async (given) => {{ const series = await import('/records/series.js'); return {call}; }}", given)


def test_units_1_to_12_of_a_row_get_tags_check_digits_and_places_along_its_line(ask) -> None:
    made = ask("series.runOf({ rowName: 'A', firstSlot: 1, count: 12, line: given, own: null })", LINE)
    assert [unit["tag"] for unit in made] == [tag_for("A", slot) for slot in range(1, 13)]
    assert [(unit["slot_number"], unit["planned_east_m"], unit["planned_north_m"]) for unit in made] == [(slot, 2.0 + 2 * slot, 20) for slot in range(1, 13)]
    assert all(unit["tag_made_here"] for unit in made)


def test_tags_that_stand_on_the_units_are_numbered_on(ask) -> None:
    made = ask("series.runOf({ rowName: 'North', firstSlot: 5, count: 3, line: null, own: given })", {"before": "A-", "from": 17})
    assert made == [{"tag": f"A-{number}", "tag_made_here": False, "slot_number": slot} for number, slot in ((17, 5), (18, 6), (19, 7))]


def test_a_rows_line_is_that_of_its_planned_units(ask) -> None:
    assert ask("series.lineOf(given)", UNITS[:3]) == {"slot": 3, "east_m": 3, "north_m": 4, "azimuth_deg": 36.87, "spacing_m": 2.5}
    assert ask("series.lineOf(given)", UNITS[1:]) is None, "one place gives no direction"


def test_a_copied_row_stands_aside_with_tags_of_its_own(ask) -> None:
    made = ask("series.copyOf(given, { from: 'Row A', to: 'Row B', aside_m: 3, azimuth_deg: 180 })", [{**UNITS[0], "tag": tag_for("A", 3)}, *UNITS[1:3]])
    assert made == [
        {"tag": tag_for("B", 1), "tag_made_here": True, "slot_number": 1, "design_id": "d", "planned_east_m": 0, "planned_north_m": -3},
        {"tag": "B-2", "tag_made_here": False, "slot_number": 2},
        {"tag": tag_for("B", 3), "tag_made_here": True, "slot_number": 3, "planned_east_m": 3, "planned_north_m": 1},
    ]


def test_slots_and_tags_that_are_taken_and_units_without_a_tag_are_told(ask) -> None:
    planned = [{"tag": "17", "slot_number": 2}, {"tag": "A044", "slot_number": 4}, {"tag": None, "tag_made_here": True, "slot_number": 5}]
    said = ask("series.clashes(given.planned, given.units, 'a', 'Seven', [])", {"planned": planned, "units": UNITS})
    assert [one.split(":")[0].split(".")[0] for one in said] == [
        "No tag can be made for row Seven", "Slot 2 of row Seven has A-2 already", "Tag 17 is on another unit already",
    ]  # fmt: skip
    assert ask("series.clashes(given.planned, given.units, 'b', 'B', [])", {"planned": planned[1:2], "units": UNITS}) == []


def test_a_copy_of_a_unit_without_a_tag_is_not_said_to_have_another_rows_letter(ask) -> None:
    row = [{"row_id": "a", "slot_number": 1, "tag": None}, {"row_id": "a", "slot_number": 2, "tag": "17"}, {"row_id": "a", "slot_number": 3}]
    call = "series.clashes(series.copyOf(given, { from: 'A', to: 'B', aside_m: 3, azimuth_deg: 0 }), [], null, 'B', given)"
    said = ask(call, row)
    assert [one.partition(",")[0] for one in said] == ["No tag can be made for the copy of slot 2: the old one does not begin with the row\u2019s letter. Add the new row\u2019s units as a series instead.", "No tag is on record in slots 1"]
    assert said[1].startswith("No tag is on record in slots 1, 3, so there is none to copy.")
