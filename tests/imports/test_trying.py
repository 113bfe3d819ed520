"""A try stores nothing and says which rows can be taken, and what is to be mended in the others."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from fieldlog import child
from fieldlog.imports.trying import TO_MEND
from fieldlog.records.names import name_fits
from fieldlog.store import Programme
from tests.imports.sheets import Sheet

Sheets = Callable[..., Sheet]
HEAD = "tag,Date,Time,found,exposed in.\n"


def only(sheet: Sheet) -> dict[str, Any]:
    tried = sheet.tried()
    assert (tried["good"], tried["to_mend"]) == (1, 0), tried["remarks"]
    return sheet.entries()[-1]


def remarks(sheet: Sheet) -> list[tuple[int, str, str, str]]:
    return [(one["row"], one["column"], one["text"], one["sentence"]) for one in sheet.tried()["remarks"]]


def test_a_row_becomes_an_entry_of_the_site(sheet: Sheets, site_id: str) -> None:
    entry = only(sheet(HEAD + "B019,2025-07-05,8:10,seen,16.5\n"))
    assert (entry["t"], entry["g"], entry["u"]) == ("unit_check", site_id, None)
    assert name_fits(entry["r"], site_id)
    assert not name_fits(entry["r"], None)
    unit = entry["f"].pop("unit_id")
    assert len(unit) == 36
    assert entry["f"] == {"checked_at": "2025-07-05T12:10:00.000Z", "found_state": "seen", "exposed_height_mm": 419.1}


def test_a_try_twice_makes_the_same_entries(sheet: Sheets) -> None:
    tried = sheet(HEAD + "B019,2025-07-05,8:10,seen,16.5\n")
    assert only(tried) == only(tried)


def test_a_day_without_a_time_is_the_sites_noon_and_says_so(sheet: Sheets) -> None:
    fields = only(sheet(HEAD + "B019,2025-07-05,,seen,16.5\n"))["f"]
    assert (fields["checked_at"], fields["time_known"]) == ("2025-07-05T16:00:00.000Z", False)
    assert "time_known" not in only(sheet(HEAD + "B019,2025-07-05,12:00,seen,16.5\n"))["f"]


def test_a_kind_whose_moments_need_a_time_says_so(sheet: Sheets, demo: Programme) -> None:
    (visit_id,) = demo.db().conn.execute("SELECT record_id FROM visit LIMIT 1").fetchone()
    found = remarks(sheet(f"Visit,Lower water allowed m,Said at,Why\n{visit_id},0.2,2025-07-05,fair days\n", kind="level_word"))
    assert found == [(2, "Said at", "2025-07-05", "Said at needs a time beside its day. Add it.")]


def test_what_cannot_be_taken_says_row_column_value_and_why(sheet: Sheets) -> None:
    looked = sheet(HEAD + "B019,2025-07-05,8:10,seen,16.5\nB020x,2025-13-05,25:10,gone,900\nB024,,8:10,seen,x\n")
    assert remarks(looked) == [
        (3, "found", "gone", "“gone” is none of the choices of Found yet. Say what it means, or correct it."),
        (3, "Date", "2025-13-05", "2025-13-05 is not a day with the year first. Write it as 2025-07-05."),
        (3, "tag", "B020x", "“B020x” is not known here. Say which it is, let it be made, or leave its rows out."),
        (3, "exposed in.", "900", "Exposed height is 22860 mm; it must be between 0 and 3000 mm. Was the decimal point left out?"),
        (4, "exposed in.", "x", "“x” is not a number. Enter a number."),
        (4, "Time", "8:10", "8:10 is a time without a day. Add its day."),
    ]
    assert looked.tried()["good"] == 1


def test_what_was_seen_was_seen_before_its_sheet_came_and_within_the_years_that_records_have(sheet: Sheets) -> None:
    """Common practice, no source: an observation is never dated after the day on which it was handed in."""
    tried = sheet(HEAD + "B019,2025-07-06,8:10,seen,9\nB019,2099-07-05,8:10,seen,9\nB019,1825-07-05,8:10,seen,9\n").tried("2025-07-06T12:10:00.000Z")
    assert tried["good"] == 1
    assert [(one["row"], one["column"], one["text"], one["sentence"]) for one in tried["remarks"]] == [
        (3, "Date", "2099-07-05", "Checked at says Jul 5, 2099, which is yet to come. Correct the day."),
        (4, "Date", "1825-07-05", "Checked at is in the year 1825; it must be from 1970 to 2199. Correct the year."),
    ]


def test_rows_to_mend_are_kept_as_they_stood_with_what_is_wrong(sheet: Sheets) -> None:
    looked = sheet(HEAD + "B019,2025-07-05,25:10,seen,16.5\n")
    looked.tried()
    assert json.loads((looked.folder / TO_MEND).read_text("utf-8")) == {
        "row": 2, "cells": {"tag": "B019", "Date": "2025-07-05", "Time": "25:10", "found": "seen", "exposed in.": "16.5"},
        "sentences": ["“25:10” is not a time. Write it as 08:10."],
    }  # fmt: skip


def test_what_is_possible_and_unlikely_is_taken_and_told(sheet: Sheets) -> None:
    tried = sheet(HEAD + "B019,2025-07-05,8:10,seen,70\n").tried()
    assert (tried["good"], tried["doubtful"]) == (1, 1)
    assert tried["doubts"][0]["sentence"] == "Exposed height is 1778 mm; it is usually between 0 and 1500 mm. Is that right?"


def test_one_unit_at_one_time_is_here_once(sheet: Sheets, demo: Programme) -> None:
    tag, at = demo.db().conn.execute("SELECT tag, checked_at FROM unit_check c JOIN unit u ON u.record_id = c.unit_id WHERE c.deleted = 0 LIMIT 1").fetchone()
    tried = sheet(f"tag,Checked at,found\n{tag},{at},seen\n{tag},2025-01-01T10:00:00Z,seen\n{tag},2025-01-01T10:00:00Z,seen\n").tried()
    assert (tried["good"], tried["already_here"]) == (1, 2)
    assert [one["sentence"] for one in tried["doubles"]] == ["It is here already.", "It is the same as row 3."]


def test_one_unit_at_one_time_that_is_said_in_two_ways_is_to_be_mended(sheet: Sheets) -> None:
    found = remarks(sheet(HEAD + "B019,2025-07-05,8:10,seen,16.5\nB019,2025-07-05,8:10,seen,17\n"))
    assert found == [(3, "", "", "Row 2 is the same unit check and says something else. Correct one of the two.")]


@pytest.mark.parametrize("name", ["B1", "b1", "B01", "B019", "b019"])
def test_a_unit_is_named_by_its_tag_or_by_row_and_slot(sheet: Sheets, demo: Programme, name: str) -> None:
    (unit_id,) = demo.db().conn.execute("SELECT record_id FROM unit WHERE tag = 'B019'").fetchone()
    assert only(sheet(HEAD + f"{name},2025-07-05,8:10,seen,16.5\n"))["f"]["unit_id"] == unit_id


def test_an_observer_is_named_or_known_by_initials(sheet: Sheets, demo: Programme) -> None:
    (person_id,) = demo.db().conn.execute("SELECT record_id FROM person WHERE display_name = 'Amara Voss'").fetchone()
    for said in ("AV", "amara voss", person_id):
        assert only(sheet(f"tag,Date,found,who\nB019,2025-07-05,seen,{said}\n"))["u"] == person_id


def test_a_new_unit_is_made_before_the_row_that_names_it(sheet: Sheets, demo: Programme) -> None:
    looked = sheet(HEAD + "B-7,2025-07-05,8:10,seen,16.5\nB-7,2025-07-06,8:10,seen,16.5\n")
    looked.set(["columns", "tag", "words", "B-7"], "new")
    tried = looked.tried()
    assert (tried["good"], tried["made"]) == (2, {"unit": 1})
    unit, first, second = looked.entries()
    (row_id,) = demo.db().conn.execute("SELECT record_id FROM row WHERE name = 'B'").fetchone()
    assert unit["f"] == {"tag": "B-7", "tag_made_here": False, "row_id": row_id, "slot_number": 7}
    assert first["f"]["unit_id"] == second["f"]["unit_id"] == unit["r"]


def test_rows_that_are_left_out_are_counted(sheet: Sheets) -> None:
    looked = sheet(HEAD + "old C4,2025-07-05,8:10,seen,16.5\nB019,2025-07-05,8:10,seen,16.5\n")
    looked.answer("reference", "Leave")
    assert (looked.tried()["good"], looked.tried()["left_out"]) == (1, 1)


def test_a_column_a_date_is_turned_long(sheet: Sheets) -> None:
    looked = sheet("tag,2024-06-01,2024-07-01,2024-08-01\nB019,16,15.5,\nB024,–,12,11\n", kind="unit_check")
    assert looked.said["wide"]["heading"]["field"] == "checked_at"
    looked.set(["wide", "value"], {"field": "exposed_height_mm", "unit": "in"})
    looked.answer("lacking", "Seen")
    assert looked.looked["questions"] == []
    tried = looked.tried()
    assert (tried["good"], tried["to_mend"]) == (5, 0)
    assert [entry["f"].get("exposed_height_mm") for entry in looked.entries()] == [406.4, 393.7, None, 304.8, 279.4]
    assert len({entry["r"] for entry in looked.entries()}) == 5


def test_a_column_a_species_is_turned_long(sheet: Sheets, demo: Programme) -> None:
    names = [row[0] for row in demo.db().conn.execute("SELECT scientific_name FROM species LIMIT 3")]
    looked = sheet("Date,Observer," + ",".join(names) + "\n2025-07-05,AV,3,,1\n", kind="sighting")
    assert looked.said["wide"]["heading"]["field"] == "species_id"
    looked.answer("lacking", "Seen")
    assert looked.tried()["good"] == 2
    assert [entry["f"]["count"] for entry in looked.entries()] == [3, 1]


def test_a_receivers_points_become_position_fixes_with_their_accuracy(sheet: Sheets) -> None:
    looked = sheet("Point,Easting,Northing,HRMS,Date\nB019,12.31,4.02,0.012,2025-07-05\n")
    assert looked.looked["kind"] == "position_fix"
    for answer in ("Unit", "Survey receiver"):
        looked.answer("lacking", answer)
    for header in ("Easting", "Northing", "HRMS"):
        assert (header, f"“{header}” is in") in looked.asked()
        looked.set(["columns", header, "unit"], "m")
    fields = only(looked)["f"]
    assert (fields["east_m"], fields["north_m"], fields["sigma_m"], fields["method"]) == (12.31, 4.02, 0.012, "rtk")


@pytest.mark.parametrize(("header", "said"), [("Averaging start", "2025-07-05 08:10:00 UTC-04:00"), ("Averaging start (UTC-04:00)", "2025-07-05 08:10:00")])
def test_a_receivers_time_is_read_by_the_offset_that_it_says(sheet: Sheets, header: str, said: str) -> None:
    looked = sheet(f"Name,Easting (m),Northing (m),Lateral RMS (m),{header}\nB019,12.31,4.02,0.012,{said}\n")
    assert looked.looked["kind"] == "position_fix"
    for answer in ("Unit", "Survey receiver"):
        looked.answer("lacking", answer)
    assert looked.looked["questions"] == []
    fields = only(looked)["f"]
    assert (fields["sigma_m"], fields["fixed_at"]) == (0.012, "2025-07-05T12:10:00.000Z")


def test_points_of_a_map_become_position_fixes(sheet: Sheets) -> None:
    feature = {"type": "Feature", "geometry": {"type": "Point", "coordinates": [-70.6, 41.5]}, "properties": {"tag": "B019", "time": "2025-07-05T08:10:00Z", "accuracy (m)": 0.03}}
    looked = sheet(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    assert looked.looked["kind"] == "position_fix"
    for answer in ("Unit", "Survey receiver"):
        looked.answer("lacking", answer)
    assert looked.looked["questions"] == []
    fields = only(looked)["f"]
    assert (fields["lat_deg"], fields["lon_deg"], fields["accuracy_m"], fields["fixed_at"]) == (41.5, -70.6, 0.03, "2025-07-05T08:10:00.000Z")


def test_a_time_out_alone_is_of_the_day_that_began_it(sheet: Sheets) -> None:
    fields = only(sheet("Name,Date,Time in,Time out\nAmara Voss,2025-07-05,8:10,11:30\n"))["f"]
    assert (fields["in_at"], fields["out_at"]) == ("2025-07-05T12:10:00.000Z", "2025-07-05T15:30:00.000Z")


def test_rules_between_fields_hold_for_rows_too(sheet: Sheets) -> None:
    found = remarks(sheet("Name,Date,Time in,Time out\nAmara Voss,2025-07-05,11:30,8:10\n"))
    assert found == [(2, "Time out", "8:10", "Out is before In. Correct one of the two.")]


@pytest.mark.parametrize(("night", "at"), [("first", "2025-11-02T05:30:00.000Z"), ("second", "2025-11-02T06:30:00.000Z"), (None, None)])
def test_a_time_in_the_night_of_the_clock_change(sheet: Sheets, night: str | None, at: str | None) -> None:
    looked = sheet(HEAD + "B019,2025-11-02,1:30,seen,16.5\n")
    if night is None:
        assert remarks(looked)[0][3].startswith("01:30 on Nov 2, 2025 came twice")
        return
    looked.set(["columns", "Time", "night"], night)
    assert only(looked)["f"]["checked_at"] == at


def test_a_bare_list_is_read_out_of_one_cell(sheet: Sheets) -> None:
    """Of a kind with a list field that a later version has: nothing of it is written in this room."""
    from fieldlog.imports.mapping import Column
    from fieldlog.imports.readers import reader_of
    from fieldlog.records.fields import Number
    from fieldlog.records.listed import Listed

    heights = Listed("Shell heights", {"shell_mm": Number("Shell height", unit="mm", least=0, most=300)}, most=100)
    read = reader_of(heights, Column("shell_heights", unit="cm"))
    assert read("2.3; 3.1 1.8") == [23.0, 31.0, 18.0]
    assert read("[23, 31]") == [23, 31]
    assert read("–") is None
    assert "is not a number" in read("2.3; x").sentence


def test_the_child_tries_with_the_catalogue_of_this_version(sheet: Sheets, demo: Programme, site_id: str) -> None:
    looked = sheet(HEAD + "B019,2025-07-05,8:10,seen,16.5\n")
    job = {
        "database": str(demo.path), "folder": str(looked.folder), "sheet": looked.sheets[0], "others": [], "mapping": looked.said, "site_id": site_id,
        "sites": [site_id], "seed": "test", "latest": None,
    }  # fmt: skip
    assert child.run("fieldlog.imports.trying", job)["good"] == 1
    assert child.run("fieldlog.imports.trying", {**job, "site_id": None, "sites": []})["remarks"][0]["sentence"].startswith("This row is of a site that is not yours")
