"""Lists: judged item by item on both sides, kept whole, made into rows of a table of their own and back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from marshmallow import ValidationError
from openapi_spec_validator import validate as validate_document

from fieldlog.flags.values import value_words
from fieldlog.openapi.document import document
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.fields import Declared, Instant, Number, Ref, Text, Whole
from fieldlog.records.forms import form_of
from fieldlog.records.kind import Fault, Kind, Record
from fieldlog.records.listed import Listed, from_item_rows, item_columns, item_rows, packed
from fieldlog.sync import merge
from tests.records.made_up import BARREL, CATCH

VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "records_lists.json").read_text("utf-8"))
UNIT_ID = "01900000-0000-7000-8000-000000000001"
RECORD_ID = "01900000-0000-7000-8000-000000000009"
KINDS = Catalogue([BARREL, CATCH])


def told(faults: list[Fault]) -> list[dict[str, Any]]:
    return [{"field": f.field, "word": f.word, "sentence": f.sentence, "hard": f.hard} for f in faults]


def expected(case: dict[str, Any]) -> list[dict[str, Any]]:
    if case["word"] is None:
        return []
    return [{"field": case["field"], "word": case["word"], "sentence": case["sentence"], "hard": case["word"] != "implausible"}]


def test_the_form_in_the_file_is_the_one_the_declaration_gives() -> None:
    assert json.loads(json.dumps(form_of(CATCH))) == VECTORS["form"]


@pytest.mark.parametrize("case", VECTORS["values"], ids=lambda case: f"{case['field']}={case['value']!r:.40}")
def test_each_list_gets_its_verdict_and_the_place_of_the_item(case: dict[str, Any]) -> None:
    assert told(CATCH.check({case["field"]: case["value"]})) == expected(case)


@pytest.mark.parametrize("case", VECTORS["values"], ids=lambda case: f"{case['field']}={case['value']!r:.40}")
def test_marshmallow_loads_what_is_not_turned_down_unchanged(case: dict[str, Any]) -> None:
    fields = {case["field"]: case["value"]}
    if case["word"] in (None, "implausible"):
        assert CATCH.schema(partial=True).load(fields) == fields
    else:
        with pytest.raises(ValidationError):
            CATCH.schema(partial=True).load(fields)


@pytest.mark.parametrize("case", VECTORS["rows"], ids=lambda case: json.dumps(case["row"])[:60])
def test_a_list_of_nothing_is_not_filled_in(case: dict[str, Any]) -> None:
    kept = {name: packed(value) for name, value in case["row"].items()}
    for row in (case["row"], kept):
        assert told(CATCH.complete(row)) == [{**fault, "hard": False} for fault in case["faults"]]


def odd(leaves: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Whatever JSON may hold, and what only a spreadsheet's reader may hand over."""
    names = st.sampled_from(["net", "barrel_id", "depth_m", "bed", "note", "torn", "hauled_on", "x", "__proto__", "1", ""])
    inner = leaves | st.lists(leaves, max_size=3) | st.dictionaries(names, leaves, max_size=3)
    items = inner | st.dictionaries(names, inner, max_size=4) | st.fixed_dictionaries({"net": st.integers(0, 21)}, optional={"depth_m": leaves, "note": leaves, "bed": leaves})
    return inner | st.lists(items, max_size=14)


JSON_LEAVES = (
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.floats(allow_nan=False, allow_infinity=False)
    | st.floats(0, 420) | st.sampled_from(["mud", "shell", "sand", "2026-06-14", UNIT_ID, "", " ", "23 31", "\u0000", "\U0001f41a"])
    | st.text(st.characters(exclude_categories=["Cs"]), max_size=45)
)  # fmt: skip
ANY_LEAVES = JSON_LEAVES | st.floats() | st.text(st.characters(categories=["Cs"]), max_size=3) | st.integers(10**400, 10**401)
FIELDS = st.sampled_from(["heights", "counts", "hits", "hauls"])


@given(name=FIELDS, value=odd(ANY_LEAVES))
@settings(max_examples=300, deadline=None)
def test_whatever_a_list_is_given_is_judged_with_a_sentence(name: str, value: Any) -> None:
    faults = CATCH.check({name: value})
    assert len(faults) <= 1
    for fault in faults:
        assert fault.sentence.startswith(CATCH.fields[name].title)
        assert fault.hard == (fault.word != "implausible")


@pytest.mark.browser
def test_the_phone_comes_to_the_same_verdicts_with_the_same_sentences(page) -> None:
    drawn: list[dict[str, Any]] = []

    @given(name=FIELDS, value=odd(JSON_LEAVES))
    @settings(max_examples=300, database=None, deadline=None)
    def draw(name: str, value: Any) -> None:
        # What a line's reader takes, as it takes it.
        drawn.append({"field": name, "value": json.loads(json.dumps(value))})

    draw()
    found = page.evaluate(
        """async ([form, values, rows]) => {
            const { check, complete } = await import('/records/validate.js');
            return {
                values: JSON.parse(values).map(({field, value}) => check(form, {[field]: value})),
                rows: rows.map(({row}) => complete(form, row)),
            };
        }""",
        [VECTORS["form"], json.dumps(VECTORS["values"] + drawn), VECTORS["rows"]],
    )
    for case, said in zip(VECTORS["values"], found["values"], strict=False):
        assert said == expected(case), case
    for case, said in zip(drawn, found["values"][len(VECTORS["values"]) :], strict=True):
        assert said == told(CATCH.check({case["field"]: case["value"]})), case
    for case, said in zip(VECTORS["rows"], found["rows"], strict=True):
        assert said == [{**fault, "hard": False} for fault in case["faults"]], case


@pytest.mark.parametrize(
    ("inner", "limits"),
    [
        ({"seen_at": Instant("Seen")}, {"most": 3}), ({"hauls": Listed("Hauls", {"net": Whole("Net", least=1, most=2)}, most=1)}, {"most": 3}),
        ({"place": Whole("Place", least=1, most=2)}, {"most": 3}), ({}, {"most": 3}), ({"net": Whole("Net", least=1, most=2)}, {"least": 4, "most": 3}),
        ({"net": Whole("Net", least=1, most=2, merge="lower")}, {"most": 3}), ({"barrel_id": Ref("Barrel", "barrel", across=True)}, {"most": 3}),
    ],
    ids=["an instant", "a list", "a column's name", "nothing", "more at least than at most", "a way to merge", "another site"],
)  # fmt: skip
def test_what_cannot_repeat_is_refused_where_it_is_declared(inner: dict[str, Declared], limits: dict[str, int]) -> None:
    with pytest.raises(ValueError, match="Hauls"):
        Listed("Hauls", inner, **limits)


def test_limits_within_a_list_change_the_hash_and_words_the_version_alone() -> None:
    def of(title: str, most: int) -> Catalogue:
        lists = {"heights": Listed("Heights", {"height_mm": Number(title, unit="mm", least=0, most=most)}, most=9)}
        lists["hauls"] = Listed("Hauls", {"net": Whole("Net", least=1, most=9), "note": Text(f"{title}'s note", most)}, most=9)
        return Catalogue([Kind("jar", "Jar", type("Jar", (Record,), lists), writers={"lead"})])

    first, reworded, longer = of("Height", 10), of("Shell height", 10), of("Height", 11)
    assert first.hash == reworded.hash != longer.hash
    assert len({first.version, reworded.version, longer.version}) == 3


def test_the_openapi_document_tells_what_a_list_holds() -> None:
    told_of = document(KINDS, {})
    validate_document(told_of)
    fields = told_of["components"]["schemas"]["catch_fields"]["properties"]
    assert (fields["heights"]["type"], fields["heights"]["minItems"], fields["heights"]["maxItems"]) == (["array", "null"], 2, 12)
    assert fields["heights"]["items"] == {
        "type": "number", "title": "Height", "minimum": 1, "maximum": 400, "x-type": "number", "x-unit": "mm", "x-plausible": [5, 250], "x-name": "height_mm",
    }  # fmt: skip
    items = fields["hauls"]["items"]
    assert (items["type"], items["required"], items["additionalProperties"]) == ("object", ["net"], False)
    assert (items["properties"]["net"]["type"], items["properties"]["bed"]["type"]) == ("integer", ["string", "null"])


def test_a_list_of_numbers_makes_rows_of_one_column_and_comes_back_from_them() -> None:
    heights = CATCH.lists["heights"]
    assert list(item_columns(heights)) == ["height_mm"]
    rows = item_rows(heights, "heights", {"record_id": RECORD_ID, "heights": packed([23, 31, 18.5])})
    assert rows == [{"record_id": RECORD_ID, "place": n, "height_mm": value} for n, value in ((1, 23), (2, 31), (3, 18.5))]
    assert from_item_rows(heights, rows[::-1]) == [23, 31, 18.5]


def test_a_list_of_records_makes_a_row_an_item_and_comes_back_from_them() -> None:
    hauls = CATCH.lists["hauls"]
    items = [{"net": 2, "note": "as ever"}, {"net": 1, "torn": False, "barrel_id": UNIT_ID}]
    rows = item_rows(hauls, "hauls", {"record_id": RECORD_ID, "hauls": packed(items), "heights": None})
    assert list(rows[0]) == ["record_id", "place", *item_columns(hauls)]
    assert [(row["place"], row["net"], row["torn"], row["note"]) for row in rows] == [(1, 2, None, "as ever"), (2, 1, False, None)]
    assert from_item_rows(hauls, rows) == items


def test_a_record_without_its_list_has_no_rows() -> None:
    assert item_rows(CATCH.lists["hauls"], "hauls", {"record_id": RECORD_ID, "hauls": None}) == []
    assert item_rows(CATCH.lists["hauls"], "hauls", {"record_id": RECORD_ID, "hauls": "[]"}) == []


def test_a_list_is_told_by_its_numbers_and_records_by_how_many_there_are() -> None:
    words = {name: [value_words(CATCH.fields[name], value, "America/New_York") for value in values] for name, values in {
        "heights": [[23, 31, 18.5], [], None], "hits": [["mud", "shell"]], "hauls": [[{"net": 1}, {"net": 2}]],
    }.items()}  # fmt: skip
    assert words == {"heights": ["23, 31, 18.5 mm", "an empty list", "nothing"], "hits": ["Mud, Loose shell"], "hauls": ["a list of 2"]}


def test_lists_of_the_same_numbers_are_one_value_however_they_are_written() -> None:
    assert merge.same([3.0, {"a": 1, "b": [2.0]}]) == merge.same([3, {"b": [2], "a": 1.0}])
    assert merge.same([3, 1]) != merge.same([1, 3])
