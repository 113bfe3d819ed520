"""The CSV package: what stands in it, read back by programs that know nothing of us, and nothing in it that a spreadsheet runs."""

from __future__ import annotations

import csv
import io
import json
from datetime import date
from pathlib import Path
from zipfile import ZipFile

import duckdb
import pytest
from frictionless import Package
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.apostrophes import RUN, guarded, unguarded
from fieldlog.errors import AlreadyHere, BadRequest
from fieldlog.exports.csv_package import write_csv_package
from fieldlog.exports.formats import FORMATS, write_file
from fieldlog.exports.stream import Export
from fieldlog.records.catalogue import CATALOGUE
from tests.exports.conftest import BAR, HOSTILE, INES, RUTH, SPIT, UNIT, exported, make_shore
from tests.sync.lines import record_id


def package_of(export: Export) -> ZipFile:
    """The zip, written as to whoever downloads it: a stream in which nothing is sought back."""
    written = io.BytesIO()

    class OneWay(io.RawIOBase):
        def write(self, data: bytes) -> int:
            return written.write(data)

        def writable(self) -> bool:
            return True

    write_csv_package(export, OneWay(), lambda _rows: None)
    return ZipFile(written)


def rows_in(package: ZipFile, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(package.read(f"{name}.csv").decode(), newline="")))


def check_by_frictionless(export: Export, path: Path) -> None:
    write_file(export, FORMATS["csv"], path, lambda _rows: None)
    report = Package(str(path)).validate()
    assert report.valid, [task.errors for task in report.tasks if not task.valid]
    assert len(report.tasks) == len(export.tables) + 1


def test_a_frictionless_reader_finds_a_valid_package(some: Export, tmp_path: Path) -> None:
    check_by_frictionless(some, tmp_path / "out.zip")


@pytest.mark.long
def test_a_frictionless_reader_finds_every_table_of_a_demo_valid(demo_folder: Path, tmp_path: Path) -> None:
    with exported(demo_folder, names=True, private=True, history=True) as export:
        check_by_frictionless(export, tmp_path / "out.zip")


def test_every_stored_value_of_every_kind_is_read_back(made: Export) -> None:
    package = package_of(made)
    for table in made.tables:
        if table.kind is None:
            continue
        kind = CATALOGUE.kinds[table.kind]
        stored = list(made.db.query(f'SELECT * FROM "{kind.name}" WHERE deleted = 0 ORDER BY record_id'))
        read = sorted(rows_in(package, table.name), key=lambda row: row["record_id"])
        assert [row["record_id"] for row in read] == [row["record_id"] for row in stored]
        for theirs, ours in zip(read, stored, strict=True):
            for name, declared in kind.fields.items():
                assert as_stored(theirs[name], declared.sqlite_type, declared.type_word) == (ours[name] if ours[name] != "" else None), (table.name, name)


def test_duckdb_guesses_types_and_reads_the_same_sums(made: Export, tmp_path: Path) -> None:
    file = package_of(made).extract("unit_check.csv", tmp_path)
    with duckdb.connect() as conn:
        read = conn.execute(f"SELECT count(*), sum(exposed_height_mm), sum(tilt_deg), count(note) FROM read_csv('{file}')").fetchone()
    stored = made.db.conn.execute("SELECT count(*), sum(exposed_height_mm), sum(tilt_deg), count(note) FROM unit_check WHERE deleted = 0").fetchone()
    assert read == stored


def as_stored(cell: str, sqlite_type: str, word: str) -> object:
    """A cell as the table has it."""
    if cell == "":
        return None
    if word == "yesno":
        return {"true": 1, "false": 0}[cell]
    return float(cell) if sqlite_type in ("REAL", "INTEGER") else unguarded(cell)


def test_it_is_rfc_4180(made: Export) -> None:
    data = package_of(made).read("unit_check.csv")
    assert data.startswith(b"record_id,site_id,site_name,")
    assert data.endswith(b"\r\n")
    (noted,) = [row for row in csv.reader(io.StringIO(data.decode(), newline="")) if "two\r\nlines" in row]
    assert b'"a ""quoted"", cell"' in data
    assert noted


def test_no_cell_of_text_begins_as_a_formula(made: Export) -> None:
    package = package_of(made)
    for table in made.tables:
        for row in rows_in(package, table.name):
            for column in table.columns:
                cell = row[column.name]
                assert column.type in ("number", "whole") or cell[:1] not in RUN, (table.name, column.name, cell)
    notes = {row["note"] for row in rows_in(package, "unit_check")}
    assert {guarded(note) for note in HOSTILE} <= notes
    assert {row["site_name"] for row in rows_in(package, "unit_check")} == {"Alder Spit", "'=Heron Bar"}


@settings(max_examples=40)
@given(st.text())
def test_an_apostrophe_is_taken_off_as_exactly_as_it_was_put(text: str) -> None:
    assert unguarded(guarded(text)) == text
    assert guarded(text)[:1] not in RUN


def test_words_stand_beside_ids_and_the_sites_clock_beside_utc(made: Export) -> None:
    (fix,) = rows_in(package_of(made), "position_fix")
    assert (fix["of_name"], fix["of_row"], fix["fixed_at"], fix["fixed_at_local"]) == ("A018", "A", "2026-06-14T10:30:00.000Z", "2026-06-14T06:30:00-04:00")
    first = next(row for row in rows_in(package_of(made), "unit_check") if row["record_id"] == record_id("check 1"))
    assert (first["unit_tag"], first["unit_row"], first["observer_name"]) == ("A018", "A", "Ines Calder")


def test_an_id_of_another_sites_record_has_no_words_and_nothing_computed(made: Export) -> None:
    """A reference binds within one site: who may read one site learns nothing of the other by writing its ids down."""
    (foreign,) = [row for row in rows_in(package_of(made), "unit_check") if row["site_id"] == BAR]
    assert (foreign["unit_id"], foreign["unit_tag"], foreign["unit_row"]) == (UNIT, "", "")
    assert {value for name, value in foreign.items() if name.startswith("computed_")} == {""}


def test_computed_columns_say_so_and_by_which_version(made: Export) -> None:
    package = package_of(made)
    check = next(row for row in rows_in(package, "unit_check") if row["record_id"] == record_id("check 4"))
    assert {name: check[name] for name in check if name.startswith("computed_")} == {
        "computed_body_grade": "1", "computed_stance_grade": "2", "computed_toe_grade": "0", "computed_cover_grade": "2",
        "computed_buried_pct": f"{100 * (1 - 226 / 450)}", "computed_since_placed_days": "12.675",
    }  # fmt: skip
    fields = {field["name"]: field for field in schema_in(package, "unit_check")}
    assert all(("computedBy" in field) == name.startswith("computed_") for name, field in fields.items())
    assert fields["computed_body_grade"]["computedBy"] == "Fieldlog 0.0, tables made as 1"
    assert "AASHTO" in fields["computed_body_grade"]["source"]
    assert all("computedBy" in field for field in schema_in(package, "unit_movement"))


def schema_in(package: ZipFile, name: str) -> list[dict]:
    return next(one for one in json.loads(package.read("datapackage.json"))["resources"] if one["name"] == name)["schema"]["fields"]


def test_the_dictionary_has_units_limits_and_choices_from_the_declarations(made: Export) -> None:
    package = package_of(made)
    height = next(field for field in schema_in(package, "unit_check") if field["name"] == "exposed_height_mm")
    assert (height["title"], height["unit"], height["constraints"], height["plausible"]) == ("Exposed height", "mm", {"minimum": 0, "maximum": 3000}, [0, 1500])
    found = next(field for field in schema_in(package, "unit_check") if field["name"] == "found_state")
    assert found["constraints"]["enum"] == list(CATALOGUE.kinds["unit_check"].fields["found_state"].labels)
    listed = {(row["table"], row["column"]) for row in rows_in(package, "dictionary")}
    assert listed == {(table.name, column.name) for table in made.tables for column in table.columns}


def test_what_was_removed_is_in_the_history_alone(made: Export) -> None:
    package = package_of(made)
    assert record_id("removed") not in {row["record_id"] for row in rows_in(package, "unit_check")}
    history = [(row["field"], row["value"], row["observer_name"]) for row in rows_in(package, "history") if row["record_id"] == record_id("removed")]
    assert ("note", "removed for good", "Ines Calder") in history
    assert history[-1] == ("_deleted", "true", "Ines Calder")
    heights = [(row["value"], row["stands"]) for row in rows_in(package, "history") if (row["record_id"], row["field"]) == (record_id("check 0"), "exposed_height_mm")]
    assert heights == [("225", "false"), ("250", "false"), ("240", "true")], "which one is used now"


def test_a_disagreement_is_a_row_a_value(made: Export) -> None:
    rows = [(row["value"], row["stands"], row["observer_name"]) for row in rows_in(package_of(made), "disagreement") if row["field"] == "exposed_height_mm"]
    assert rows == [("240", "true", "Ines Calder"), ("250", "false", "Ruth Okafor-Lind"), ("225", "false", "Ines Calder")]


def test_without_names_people_are_numbers_and_no_id_tells_who(shore_folder: Path) -> None:
    with exported(shore_folder, history=True) as export:
        package = package_of(export)
        everything = b"".join(package.read(name) for name in package.namelist())
    for secret in ("Ines Calder", "Ruth Okafor", INES, RUTH, "555 0100", "Asthma"):
        assert secret.encode() not in everything, secret
    (signed_in,) = rows_in(package, "sign_in")
    numbers = {row["minor"]: row["person_number"] for row in rows_in(package, "person")}
    assert signed_in["person_number"] == numbers["false"]
    assert {row["observer_number"] for row in rows_in(package, "sighting")} == {numbers[""]}


def test_contacts_come_where_asked_for_and_medical_notes_never(made: Export) -> None:
    package = package_of(made)
    assert rows_in(package, "person_private")[0]["phone"] == "'+1 555 0100"
    assert not [name for name in package.namelist() if package.read(name).find(b"Asthma") >= 0]


@pytest.mark.parametrize("role", ["crew", "desk", "reader"])
def test_others_than_leads_have_the_open_class_alone(shore_folder: Path, role: str) -> None:
    with exported(shore_folder, role=role, history=True) as export:
        tables = {table.kind for table in export.tables if table.kind}
        assert tables == {kind.name for kind in CATALOGUE.kinds.values() if kind.privacy == "open" or kind.open_when}
        kinds = {row["kind"] for row in rows_in(package_of(export), "history")}
    assert not kinds & {"visit", "sign_in", "person", "person_private", "sign_in_private"}


def test_days_are_the_sites_own(shore_folder: Path) -> None:
    """03:30 UTC on June 15 is still June 14 in New York."""
    with exported(shore_folder, from_day=date(2026, 6, 14), to_day=date(2026, 6, 14)) as export:
        package = package_of(export)
    assert len(rows_in(package, "sighting")) == 1
    assert len(rows_in(package, "unit")) == 1
    assert {row["checked_at_local"][:10] for row in rows_in(package, "unit_check")} == {"2026-06-14"}
    with exported(shore_folder, from_day=date(2026, 6, 15)) as export:
        assert rows_in(package_of(export), "sighting") == []


def test_a_sites_export_has_that_site_alone(shore_folder: Path) -> None:
    with exported(shore_folder, sites=frozenset([BAR])) as export:
        package = package_of(export)
    assert {row["record_id"] for row in rows_in(package, "site")} == {BAR}
    assert {row["site_id"] for row in rows_in(package, "unit_check")} == {BAR}
    assert rows_in(package, "unit_design"), "what is of the whole program goes along"
    assert rows_in(package, "unit") == []


def test_tables_are_chosen_by_name(shore_folder: Path) -> None:
    with exported(shore_folder, kinds=("unit", "flag")) as export:
        assert [table.name for table in export.tables] == ["unit", "flag"]
    with pytest.raises(BadRequest, match="unit_chek"), exported(shore_folder, kinds=("unit_chek",)):
        pass
    with pytest.raises(BadRequest, match="'visit' does not leave"), exported(shore_folder, role="reader", kinds=("visit",)):
        pass


def test_progress_counts_every_row_once(made: Export) -> None:
    told: list[int] = []
    write_csv_package(made, io.BytesIO(), told.append)
    package = package_of(made)
    assert sum(told) == sum(len(rows_in(package, table.name)) for table in made.tables)
    assert made.count == sum(len(rows_in(package, table.name)) for table in made.tables if table.kind)


def test_a_file_is_never_written_over_and_a_stop_leaves_nothing(made: Export, tmp_path: Path) -> None:
    path = tmp_path / "out.zip"
    path.write_text("mine")
    with pytest.raises(AlreadyHere, match=r"out\.zip is already here"):
        write_file(made, FORMATS["csv"], path, lambda _rows: None)
    assert path.read_text() == "mine"

    def stop(_rows: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_file(made, FORMATS["csv"], tmp_path / "other.zip", stop)
    with pytest.raises(AlreadyHere, match="does not exist"):
        write_file(made, FORMATS["csv"], tmp_path / "nowhere" / "out.zip", lambda _rows: None)
    assert [file.name for file in tmp_path.iterdir()] == ["out.zip"]


def test_the_command_says_what_it_wrote_and_logs_contacts(shore_folder: Path, tmp_path: Path, call) -> None:
    said = call("export", "--as", "csv", "--out", tmp_path / "out.zip", "--site", "Alder Spit", "--private", "--kinds", "unit,person_private", "--json", data=shore_folder)
    assert said.document == {"file": str(tmp_path / "out.zip"), "rows": 2, "tables": ["unit", "person_private"]}
    assert json.loads(said.err)["says"] == "Contacts are exported by the command line."
    again = call("export", "--as", "csv", "--out", tmp_path / "out.zip", data=shore_folder)
    assert again.status == 2
    assert "overwrites nothing" in again.err
    turned = call("export", "--as", "csv", "--out", tmp_path / "turned.zip", "--from", "2026-09-02", "--to", "2026-09-01", data=shore_folder)
    assert (turned.status, turned.err) == (2, "The last day, 2026-09-01, is before the first, 2026-09-02. Change one of the two.\n")
    assert not (tmp_path / "turned.zip").exists()


def test_a_photo_of_people_leaves_with_the_open_class_where_all_agreed(tmp_path: Path) -> None:
    programme = make_shore(tmp_path / "programme")
    for name, consent in (("agreed", 1), ("not", 0), ("unasked", None)):
        programme.db().execute("INSERT INTO people_photo(record_id, site_id, deleted, consent) VALUES (?, ?, 0, ?)", [name, SPIT, consent])
    programme.close()
    for role, names in (("reader", ["agreed"]), ("lead", ["agreed", "not", "unasked"])):
        with exported(programme.folder, role=role, kinds=("people_photo",)) as export:
            assert [row["record_id"] for row in rows_in(package_of(export), "people_photo")] == names
