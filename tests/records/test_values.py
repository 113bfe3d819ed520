"""One file of values, with the verdict and sentence expected of both sides, runs in Python and in Chromium."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from marshmallow import ValidationError

from fieldlog.records.forms import form_of
from fieldlog.records.tags import check_digit, check_tag, made_here, tag_for
from tests.records.made_up import BARREL

VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "records_values.json").read_text("utf-8"))


def verdict(case: dict) -> list[dict]:
    """What a case expects of `check`."""
    if case["word"] is None:
        return []
    said = {"field": case["field"], "word": case["word"], "sentence": case["sentence"]}
    return [{**said, "hard": case["word"] != "implausible"}]


def as_dicts(faults: list) -> list[dict]:
    return [{"field": f.field, "word": f.word, "sentence": f.sentence, "hard": f.hard} for f in faults]


def test_the_form_in_the_file_is_the_one_the_declaration_gives() -> None:
    assert json.loads(json.dumps(form_of(BARREL))) == VECTORS["form"]


@pytest.mark.parametrize("case", VECTORS["values"], ids=lambda case: f"{case['field']}={case['value']!r:.40}")
def test_each_value_gets_its_verdict_and_sentence(case: dict) -> None:
    assert as_dicts(BARREL.check({case["field"]: case["value"]})) == verdict(case)


@pytest.mark.parametrize("case", VECTORS["values"], ids=lambda case: f"{case['field']}={case['value']!r:.40}")
def test_marshmallow_loads_what_is_not_turned_down_unchanged(case: dict) -> None:
    fields = {case["field"]: case["value"]}
    if case["word"] in (None, "implausible"):
        assert BARREL.schema(partial=True).load(fields) == fields
        assert BARREL.schema(partial=True).dump(fields) == fields
    else:
        with pytest.raises(ValidationError):
            BARREL.schema(partial=True).load(fields)


@pytest.mark.parametrize("case", VECTORS["rows"], ids=lambda case: json.dumps(case["row"])[:60])
def test_each_merged_row_shows_what_is_missing_and_what_does_not_fit(case: dict) -> None:
    assert as_dicts(BARREL.complete(case["row"])) == [{**fault, "hard": False} for fault in case["faults"]]


def test_all_faults_are_told_at_once() -> None:
    faults = BARREL.check({"depth_mm": 5000, "leaking": 1, "colour": "red", "lean_deg": 0, "staves": 7})
    assert [(f.field, f.word) for f in faults] == [
        ("depth_mm", "beyond-limit"), ("leaking", "bad-type"), ("colour", "unknown-field"), ("staves", "implausible"),
    ]  # fmt: skip


def test_tags_follow_the_file() -> None:
    tags = VECTORS["tags"]
    assert [[digits, check_digit(digits)] for digits, _ in tags["digits"]] == tags["digits"]
    assert [[row, slot, tag_for(row, slot)] for row, slot, _ in tags["tags"]] == tags["tags"]
    assert [[text, check_tag(text)] for text, _ in tags["checks"]] == tags["checks"]


def said_of_tags() -> list[list[dict]]:
    """What the file expects of each tag, with what its record says of it."""
    told = [case["sentence"] for case in VECTORS["made_tags"]]
    return [[] if one is None else [{"field": "unit_tag", "word": "implausible", "sentence": one, "hard": False}] for one in told]


def test_only_a_tag_that_is_said_to_be_ours_is_doubted() -> None:
    cases = VECTORS["made_tags"]
    assert [made_here(case["tag"], case["said"]) for case in cases] == [case["made_here"] for case in cases]
    assert [as_dicts(BARREL.check({"unit_tag": case["tag"], "tag_made_here": case["said"]})) for case in cases] == said_of_tags()


@pytest.mark.browser
def test_the_phone_comes_to_the_same_verdicts_with_the_same_sentences(page) -> None:
    found = page.evaluate(
        """async ({form, values, rows, tags, made_tags: made}) => {
            const { check, complete } = await import('/records/validate.js');
            const { checkDigit, checkTag, tagFor, tagMadeHere } = await import('/records/tags.js');
            return {
                values: values.map(({field, value}) => check(form, {[field]: value})),
                rows: rows.map(({row}) => complete(form, row)),
                tags: {
                    digits: tags.digits.map(([digits]) => [digits, checkDigit(digits)]),
                    tags: tags.tags.map(([row, slot]) => [row, slot, tagFor(row, slot)]),
                    checks: tags.checks.map(([text]) => [text, checkTag(text)]),
                },
                made: made.map(({tag, said}) => [tagMadeHere(tag, said), check(form, {unit_tag: tag, tag_made_here: said})]),
            };
        }""",
        VECTORS,
    )
    for case, said in zip(VECTORS["values"], found["values"], strict=True):
        assert said == verdict(case), case
    for case, said in zip(VECTORS["rows"], found["rows"], strict=True):
        assert said == [{**fault, "hard": False} for fault in case["faults"]], case
    assert found["tags"] == VECTORS["tags"]
    assert found["made"] == [[case["made_here"], told] for case, told in zip(VECTORS["made_tags"], said_of_tags(), strict=True)]
