"""Which kind a sheet is of, which column which field, and in which line its headers stand."""

from __future__ import annotations

from typing import Any

import pytest

from fieldlog.imports.headers import (
    fields_of_columns,
    header_of,
    headers_in,
    is_repeated,
    kinds_by_likeness,
    main_instant,
    plain,
    wide_columns,
)
from fieldlog.imports.moments import zone_named
from fieldlog.records.catalogue import CATALOGUE

KINDS = list(CATALOGUE.kinds.values())


def guessed(*headers: str, sheet: str = "") -> tuple[str, dict[str, str | None]]:
    columns = [header_of(text) for text in headers]
    kind = kinds_by_likeness(columns, KINDS, sheet)[0][1]
    return kind.name, fields_of_columns(columns, kind)


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("unit_check", {"Block no": "unit_id", "Date": "checked_at", "Time": "checked_at", "exposed in.": "exposed_height_mm", "lean": "tilt_deg", "OK?": "found_state", "who": "observer", "remarks": "note"}),
        ("unit", {"Tag": "tag", "Row": "row_id", "Slot": "slot_number", "Planned east (m)": "planned_east_m", "Planned north (m)": "planned_north_m"}),
        ("row", {"Row name": "name", "Order from the sea": "order_number", "Bed level [m]": "bed_level_m", "Datum": "level_datum"}),
        ("control_mark", {"Mark": "label", "East": "east_m", "North": "north_m", "Level": "level_m"}),
        ("plot", {"Plot": "label", "Type": "plot_type", "East": "east_m", "North": "north_m"}),
        ("person", {"Name": "display_name", "Role": "role", "Under 18": "minor"}),
        ("person_private", {"Name": "person_id", "Phone": "phone", "Email": "email", "Emergency contact": "emergency_name"}),
        ("species", {"Scientific name": "scientific_name", "Common name": "common_name"}),
        ("sighting", {"Species": "species_id", "Count": "count", "Date": "seen_at", "Found": "found"}),
        ("sign_in", {"Name": "person_id", "Date": "in_at", "Time in": "in_at", "Time out": "out_at"}),
        ("position_fix", {"Point": "of_id", "Easting": "east_m", "Northing": "north_m", "HRMS": "sigma_m", "Date": "fixed_at"}),
    ],
)  # fmt: skip
def test_the_kind_and_its_fields_are_guessed_from_the_headers(kind: str, fields: dict[str, str | None]) -> None:
    assert guessed(*fields) == (kind, fields)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind.name != "import"], ids=lambda kind: kind.name)
def test_every_kind_is_known_by_its_own_field_names_and_by_its_titles(kind: Any) -> None:
    """As exports write them; so a kind that comes later is read without a word of code."""
    assert guessed("record_id", "site_id", *kind.fields, sheet=kind.name) == (kind.name, {"record_id": "record_id", "site_id": None if kind.name == "site" else "site_id"} | {name: name for name in kind.fields})
    columns = [header_of(f"{one.title} [{getattr(one, 'unit', None) or 'UTC'}]") for one in kind.fields.values()]
    assert kinds_by_likeness(columns, KINDS, kind.title)[0][1] is kind
    found = fields_of_columns(columns, kind)
    titles = [one.title for one in kind.fields.values()]
    plainly = {name: one.title for name, one in kind.fields.items() if titles.count(one.title) == 1 and plain(one.title) not in {plain(other) for other in kind.fields} - {plain(name)}}
    if kind.name == "visit_plan":  # its older text `stops` is called as its list is
        return
    assert {name: found[column.text] for column, name in zip(columns, kind.fields, strict=True) if name in plainly} == {name: name for name in plainly}


def test_what_an_export_computes_or_says_in_words_beside_an_id_is_left_out() -> None:
    kind, fields = guessed("record_id", "unit_id", "unit_tag", "unit_row", "checked_at", "checked_at_local", "found_state", "computed_movement_mm")
    assert kind == "unit_check"
    assert [header for header, field in fields.items() if field is None] == ["unit_tag", "unit_row", "checked_at_local", "computed_movement_mm"]


@pytest.mark.parametrize(
    ("text", "words", "unit"),
    [
        ("exposed in.", "exposed", "in"), ("Height (cm)", "height", "cm"), ("exposed_height_mm", "exposed height", "mm"), ("Lean [°]", "lean", "°"),
        ("bed_level_m", "bed level", "m"), ("Checked at [UTC]", "checked at", None), ("Walk (min)", "walk", "min"), ("Name (first)", "name first", None),
        ("min", "min", None), ("Water depth, m", "water depth", "m"),
    ],
)  # fmt: skip
def test_a_header_says_its_unit(text: str, words: str, unit: str | None) -> None:
    header = header_of(text)
    assert (header.words, header.unit) == (words, unit)
    assert header.zone == ("UTC" if "UTC" in text else None)


@pytest.mark.parametrize(
    ("text", "zone"),
    [("Time (UTC-04:00)", "Etc/GMT+4"), ("Time [GMT+1]", "Etc/GMT-1"), ("Time (UTC-4)", "Etc/GMT+4"), ("Time (UTC+00:00)", "UTC"), ("Time (UTC+05:30)", None), ("Time (h)", None)],
)  # fmt: skip
def test_a_header_says_its_zone(text: str, zone: str | None) -> None:
    """The names of zones by their offset, with their signs the other way: IANA time zone database, file etcetera."""
    assert header_of(text).zone == zone
    if zone is not None:
        assert zone_named(zone) is not None


@pytest.mark.parametrize(
    "fields",
    [
        {"tag": "of_id", "hacc": "accuracy_m", "time": "fixed_at", "lon_deg": "lon_deg", "lat_deg": "lat_deg", "height_m": None},
        {"id": None, "Name": "of_id", "accuracy": "accuracy_m", "timestamp": "fixed_at", "lon_deg": "lon_deg", "lat_deg": "lat_deg", "height_m": None},
        {"name": "of_id", "accuracy": "accuracy_m", "lon_deg": "lon_deg", "lat_deg": "lat_deg", "height_m": None},
        {"Name": "of_id", "Code": None, "Easting": "east_m", "Northing": "north_m", "Elevation": None, "Lateral RMS": "sigma_m", "Vertical RMS": None, "Averaging start": "fixed_at"},
        {"Name": "of_id", "Easting": "east_m", "Northing": "north_m", "Elevation": None, "HRMS": "sigma_m", "VRMS": None, "Time (UTC-04:00)": "fixed_at"},
        {"Tag": "of_id", "Latitude": "lat_deg", "Longitude": "lon_deg", "Vertical accuracy": None, "Date": "fixed_at", "Time": "fixed_at"},
    ],
    ids=lambda fields: ", ".join(fields),
)
def test_points_with_a_name_and_how_sure_they_are_are_positions_and_no_photos_or_marks(fields: dict[str, str | None]) -> None:
    assert guessed(*fields, sheet="Points" if "lon_deg" in fields else "") == ("position_fix", fields)


def test_marks_without_a_time_or_doubt_stay_marks() -> None:
    assert guessed("Name", "Easting", "Northing", "Elevation")[0] == "control_mark"


def test_three_lines_before_the_rows_are_told_apart() -> None:
    found = headers_in([["Summer checks 2025"], ["Block no", "Date", "exposed", "lean"], [None, None, "(in)", "deg"], ["B7", "7/5/2025", 16.5, 2]], KINDS)
    assert (found.row, found.lines) == (1, 2)
    assert [(column.text, column.unit) for column in found.columns] == [("Block no", None), ("Date", None), ("exposed (in)", "in"), ("lean (°)", "°")]


def test_headers_of_the_same_name_are_told_apart_by_what_stands_over_them_else_by_a_number() -> None:
    grouped = headers_in([["Block", "Before", None, "After", None], ["tag", "height", "lean", "height", "lean"], ["B070", 1, 2, 3, 4]], KINDS)
    assert [column.text for column in grouped.columns] == ["tag", "Before height", "Before lean", "After height", "After lean"]
    plain = headers_in([["tag", "note", "note"], ["B070", "x", "y"]], KINDS)
    assert [column.text for column in plain.columns] == ["tag", "note", "note (2)"]
    assert is_repeated("note (2)", ["tag", "note"])
    assert not is_repeated("Height (2)", ["tag"])


def test_a_second_column_of_the_same_name_is_nobodys_until_somebody_says() -> None:
    assert fields_of_columns([header_of(text) for text in ("tag", "Tilt", "Tilt (2)")], CATALOGUE.kinds["unit_check"])["Tilt (2)"] is None


def test_the_line_of_the_headers_can_be_said() -> None:
    rows: list[Any] = [["a", "b"], ["tag", "lean"], ["B070", 2]]
    assert headers_in(rows, KINDS).row == 1
    assert [column.text for column in headers_in(rows, KINDS, 0).columns] == ["a", "b"]


def test_columns_without_a_name_get_one() -> None:
    assert [column.text for column in headers_in([["tag", None, "lean"], ["B070", 1, 2, 3]], KINDS).columns] == ["tag", "Column 2", "lean", "Column 4"]


def test_a_column_a_date_or_a_species_is_seen() -> None:
    def of(*texts: str) -> Any:
        return wide_columns([header_of(text) for text in texts], {"osprey": "1", "ribbed mussel": "2", "least tern": "3"})

    assert of("tag", "2024-06-01", "2024-07-01", "2024-08-01") == ("dates", ["2024-06-01", "2024-07-01", "2024-08-01"])
    assert of("Date", "Osprey", "Least tern", "Ribbed mussel") == ("species", ["Osprey", "Least tern", "Ribbed mussel"])
    assert of("tag", "2024-06-01", "2024-07-01") is None


def test_the_moment_of_a_kind_is_its_first() -> None:
    assert {kind.name: main_instant(kind) for kind in KINDS if kind.name in ("unit_check", "sign_in", "unit", "casting_batch", "closure", "visit_plan")} == {
        "unit_check": "checked_at", "sign_in": "in_at", "unit": None, "casting_batch": "cast_on", "closure": "from_day", "visit_plan": "made_at",
    }  # fmt: skip
