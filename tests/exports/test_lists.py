"""A list field leaves as a table of its own, a row an item."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from zipfile import ZipFile

from fieldlog.exports.csv_package import write_csv_package
from fieldlog.exports.stream import Export
from fieldlog.exports.tables import Wanted
from fieldlog.query.asking import asked
from fieldlog.questions.whole_tables import one_state
from fieldlog.records.catalogue import CATALOGUE, Catalogue
from fieldlog.records.fields import Number, Ref
from fieldlog.records.kind import Kind, Record
from fieldlog.records.listed import Listed, item_rows
from fieldlog.store import write
from fieldlog.sync import tables
from tests.exports.conftest import INES, MADE_BY, SPIT, UNIT, make_shore


class Haul(Record):
    shell_heights = Listed("Shell heights", {"height_mm": Number("Shell height", unit="mm", least=0, most=300)}, most=200)
    stops = Listed("Stops", {"unit_id": Ref("Unit", "unit", required=True), "by_id": Ref("By", "person")}, most=50)


HAUL = Kind("haul", "Haul", Haul, writers={"crew", "lead"})
WITH_HAULS = Catalogue([*CATALOGUE.kinds.values(), HAUL])


def test_an_items_row_has_its_record_its_place_and_words_beside_ids(tmp_path: Path) -> None:
    programme = make_shore(tmp_path / "programme")
    with write(programme.db()) as db:
        tables.follow(db, WITH_HAULS)
        stops = f'[{{"unit_id":"{UNIT}","by_id":"{INES}"}},{{"unit_id":"{UNIT}"}}]'
        db.execute("INSERT INTO haul(record_id, site_id, deleted, shell_heights, stops) VALUES ('one', ?, 0, '[23,31.5]', ?), ('two', ?, 0, NULL, NULL)", [SPIT, stops, SPIT])
    written = io.BytesIO()
    with one_state(programme.path) as db:
        export = Export(db, WITH_HAULS, Wanted(kinds=("haul",)), MADE_BY)
        write_csv_package(export, written, lambda _rows: None)
    package = ZipFile(written)
    read = {name: list(csv.reader(io.StringIO(package.read(f"{name}.csv").decode(), newline=""))) for name in ("haul", "haul_shell_heights", "haul_stops")}
    assert read["haul_shell_heights"] == [["record_id", "place", "height_mm"], ["one", "1", "23"], ["one", "2", "31.5"]]
    assert read["haul_stops"] == [
        ["record_id", "place", "unit_id", "unit_tag", "unit_row", "by_number"],
        ["one", "1", UNIT, "A018", "A", str(export.words.numbers[INES])], ["one", "2", UNIT, "A018", "A", ""],
    ]  # fmt: skip
    assert "shell_heights" not in read["haul"][0]
    programme.close()
    for name, (header, *rows) in list(read.items())[1:]:
        with asked(programme.path, WITH_HAULS, f"SELECT * FROM {name} ORDER BY record_id, place") as answer:
            told = [["" if value is None else f"{value:g}" if isinstance(value, float) else str(value) for value in row] for row in answer.rows]
        assert (list(answer.columns), told) == (header, rows), name


def test_a_view_of_a_list_reads_what_an_older_app_wrote_as_text(tmp_path: Path) -> None:
    programme = make_shore(tmp_path / "programme")
    with write(programme.db()) as db:
        db.execute("INSERT INTO visit_plan(record_id, site_id, deleted, stops) VALUES ('plan', ?, 0, ?)", [SPIT, f"1 {UNIT} -30 8 2"])
    (wanted,) = [item_rows(CATALOGUE.kinds["visit_plan"].lists["planned_stops"], "planned_stops", row) for row in programme.db().query("SELECT * FROM visit_plan")]
    programme.close()
    with asked(programme.path, CATALOGUE, "SELECT record_id, place, stop_id FROM visit_plan_planned_stops") as answer:
        assert list(answer.rows) == [("plan", row["place"], row["stop_id"]) for row in wanted] != []
