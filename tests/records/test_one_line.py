"""Adding a field is one line: everything else follows from it."""

from __future__ import annotations

from pathlib import Path

import pytest

from fieldlog.openapi.document import document
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.fields import Number
from fieldlog.records.forms import form_of, forms
from fieldlog.records.kind import Kind, Record
from fieldlog.store import create_programme, write
from fieldlog.sync import tables


class Before(Record):
    height_mm = Number("Height", unit="mm", least=0, most=3000)


class After(Before):
    moss_depth_mm = Number(
        "Moss depth", unit="mm", least=0, most=300, plausible=(0, 50), last=True, required=True
    )


BEFORE = Kind("pebble", "Pebble", Before, writers={"lead"})
AFTER = Kind("pebble", "Pebble", After, writers={"lead"})
TOO_DEEP = "Moss depth is 400 mm; it must be between 0 and 300 mm. Was the decimal point left out?"


def test_the_field_becomes_a_column_and_the_rows_stay(tmp_path: Path) -> None:
    db = create_programme(tmp_path, "Alder Spit").db()
    with write(db):
        tables.follow(db, Catalogue([BEFORE]))
        db.conn.execute("INSERT INTO pebble(record_id, height_mm) VALUES ('one', 280)")
        assert tables.follow(db, Catalogue([AFTER]))
    columns = {row[1]: row[2] for row in db.conn.execute("PRAGMA table_info(pebble)")}
    assert columns["moss_depth_mm"] == "REAL"
    assert db.conn.execute("SELECT height_mm, moss_depth_mm FROM pebble").fetchall() == [(280, None)]


def test_the_field_is_checked_and_asked_for_with_a_sentence() -> None:
    assert [fault.sentence for fault in AFTER.check({"moss_depth_mm": 400})] == [TOO_DEEP]
    assert [fault.word for fault in BEFORE.check({"moss_depth_mm": 4})] == ["unknown-field"]
    assert [fault.field for fault in AFTER.complete({"height_mm": 280})] == ["moss_depth_mm"]


def test_the_field_stands_in_the_form_and_the_openapi_document() -> None:
    described = {
        "type": ["number", "null"], "title": "Moss depth", "minimum": 0, "maximum": 300, "x-type": "number", "x-unit": "mm",
        "x-plausible": [0, 50], "x-last": True,
    }  # fmt: skip
    assert form_of(AFTER)["properties"]["moss_depth_mm"] == described
    assert form_of(AFTER)["required"] == ["moss_depth_mm"]
    schemas = document(Catalogue([AFTER]), {})["components"]["schemas"]
    assert schemas["pebble_fields"]["properties"]["moss_depth_mm"] == described
    assert schemas["pebble_fields"]["x-required"] == ["moss_depth_mm"]


def test_servers_and_phones_notice_the_field() -> None:
    before, after = Catalogue([BEFORE]), Catalogue([AFTER])
    assert before.hash != after.hash
    assert forms(before)["version"] != forms(after)["version"]


@pytest.mark.browser
def test_the_phone_draws_and_checks_the_field_from_the_form_alone(page) -> None:
    found = page.evaluate(
        """async (form) => {
            const { describe } = await import('/records/form.js');
            const { check, complete } = await import('/records/validate.js');
            return {
                inputs: describe(form), faults: check(form, {moss_depth_mm: 400}),
                asked: complete(form, {height_mm: 280}).map((fault) => fault.field),
            };
        }""",
        form_of(AFTER),
    )
    assert found["faults"] == [
        {"field": "moss_depth_mm", "word": "beyond-limit", "sentence": TOO_DEEP, "hard": True}
    ]
    assert found["asked"] == ["moss_depth_mm"]
    assert [one["name"] for one in found["inputs"]] == ["height_mm", "moss_depth_mm"]
    assert found["inputs"][1] == {
        "name": "moss_depth_mm", "title": "Moss depth", "about": "", "control": "number", "required": True,
        "last": True, "whole": False, "unit": "mm", "least": 0, "most": 300, "plausible": [0, 50],
        "choices": [], "letters": None, "long": False, "refers": None, "across": False, "initial": None,
    }  # fmt: skip
