"""Buried, sank or cannot tell: the worked cases of tests/vectors/burial_cases.json on the server and on the phone."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

import pytest

from fieldlog.survey.burial import REPEAT_MM, Heights, burial, newest_burial

VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "burial_cases.json").read_text("utf-8"))
SAYS = ("word", "crest_change_mm", "bed_change_mm", "what", "means")

ALL = """async ({ cases, nothing, histories }) => {
  const { burial, isChange, newestBurial, REPEAT_MM } = await import('/survey/burial.js');
  const heights = ([exposed_height_mm, crest_level_mm, crest_datum]) => ({ exposed_height_mm, crest_level_mm, crest_datum });
  const said = (one) => burial(heights(one.then), heights(one.now), one.repeat_mm ?? REPEAT_MM);
  const newest = histories.map((one) => newestBurial(one.checks.map(heights), one.repeat_mm ?? REPEAT_MM));
  return { cases: cases.map(said), nothing: nothing.map(said), histories: newest.map((one) => [one?.what ?? null, one && isChange(one)]) };
}"""


@pytest.mark.parametrize("case", VECTORS["cases"], ids=lambda case: case["name"])
def test_the_server_says_the_worked_case(case: dict) -> None:
    found = burial(Heights(*case["then"]), Heights(*case["now"]), case.get("repeat_mm", REPEAT_MM))
    assert found is not None
    assert asdict(found) == {name: case[name] for name in SAYS}


@pytest.mark.parametrize("case", VECTORS["nothing"], ids=str)
def test_what_was_not_read_on_both_days_says_nothing(case: dict) -> None:
    assert burial(Heights(*case["then"]), Heights(*case["now"])) is None


@pytest.mark.parametrize("case", VECTORS["histories"], ids=lambda case: case["name"])
def test_of_a_history_the_newest_two_readings_count(case: dict) -> None:
    found = newest_burial([Heights(*one) for one in case["checks"]], case.get("repeat_mm", REPEAT_MM))
    assert (found and found.what, found and found.is_change) == (case["what"], case["is_change"])


@pytest.mark.browser
def test_the_phone_says_the_same(modules_page) -> None:
    told = modules_page.evaluate(ALL, VECTORS)
    assert told["cases"] == [{name: case[name] for name in SAYS} for case in VECTORS["cases"]]
    assert told["nothing"] == [None] * len(VECTORS["nothing"])
    assert told["histories"] == [[case["what"], case["is_change"]] for case in VECTORS["histories"]]
