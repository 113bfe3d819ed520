"""From position records to numbers, on the server: the cases of tests/vectors/survey_readings.json."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from fieldlog.flags.readings import least_shift_m, measured, zero_of
from fieldlog.survey.tape_scale import STATED
from fieldlog.survey.verdict import Pair, judge

READ = json.loads((Path(__file__).parents[1] / "vectors" / "survey_readings.json").read_text("utf-8"))


@pytest.mark.parametrize("case", READ["cases"], ids=lambda case: case["name"])
def test_readings_are_compared_with_their_zero(case: dict[str, Any]) -> None:
    marks = {mark["record_id"]: mark for mark in READ["marks"]}
    epochs = measured(case["fixes"], lambda fix: str(fix["survey"]), marks, tuple(READ["planned"]))
    until = case["fixes"][-1]["fixed_at"]
    zero = zero_of(epochs, case["events"], until)
    assert zero is not None
    assert zero.survey == case["zero"]
    now = epochs[-1]
    if case["p"] is None:
        assert now is zero
        return
    (found,) = judge([Pair(zero.epoch, now.epoch, 0.1)], STATED)
    assert (found.p, found.shift_m) == (pytest.approx(case["p"], rel=1e-6), pytest.approx(case["shift_m"], abs=1e-6))


@pytest.mark.parametrize(("own_m", "footprint_mm", "least_m"), [(None, 500, 0.125), (0.3, 500, 0.3), (None, None, 0.1)], ids=["footprint", "own", "neither"])
def test_the_least_shift_is_the_sites_own_or_a_quarter_of_the_footprint(own_m: float | None, footprint_mm: float | None, least_m: float) -> None:
    assert least_shift_m({"least_shift_m": own_m}, footprint_mm) == least_m
