"""Remarks on a unit's place: the worked cases of tests/vectors/survey_remarks.json on the server and on the phone."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from fieldlog.flags.readings import least_shift_m
from fieldlog.survey.remarks import Remark, off_plan, small_movement

VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "survey_remarks.json").read_text("utf-8"))

ALL = """async ({ small, plan, least_shift }) => {
  const { nearFirst, offPlan } = await import('/survey/movement.js');
  const { leastShift } = await import('/views/readings.js');
  const given = (one) => [one.east_m, one.north_m, one.azimuth_deg, one.least_shift_m];
  return {
    small: small.map((one) => nearFirst(...given(one))), plan: plan.map((one) => offPlan(...given(one))),
    least: least_shift.map((one) => leastShift({ least_shift_m: one.own_m }, { footprint_mm: one.footprint_mm })),
  };
}"""


def given(case: dict[str, Any]) -> tuple[float, ...]:
    return tuple(case[name] for name in ("east_m", "north_m", "azimuth_deg", "least_shift_m"))


def test_the_server_says_the_worked_remarks() -> None:
    assert [small_movement(*given(case)) for case in VECTORS["small"]] == [Remark(case["server"], matters=True) for case in VECTORS["small"]]
    assert [off_plan(*given(case)) for case in VECTORS["plan"]] == [Remark(case["says"], case["matters"]) for case in VECTORS["plan"]]
    assert [least_shift_m({"least_shift_m": case["own_m"]}, case["footprint_mm"]) for case in VECTORS["least_shift"]] == [
        case["least_m"] for case in VECTORS["least_shift"]
    ]


@pytest.mark.browser
def test_the_phone_says_the_same_but_for_what_a_whole_survey_says(modules_page) -> None:
    told = modules_page.evaluate(ALL, VECTORS)
    assert told["small"] == [case["phone"] for case in VECTORS["small"]]
    assert told["plan"] == [case["says"] for case in VECTORS["plan"]]
    assert told["least"] == [case["least_m"] for case in VECTORS["least_shift"]]
