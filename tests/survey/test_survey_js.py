"""The phone's survey module against the worked values that the server's is held to, sentences included."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

CASES = json.loads((Path(__file__).parents[1] / "vectors" / "survey_cases.json").read_text("utf-8"))

ALL = """async (cases) => {
  const { adjust } = await import('/survey/position.js');
  const { compassWord } = await import('/survey/movement.js');
  const { rounded, shortest } = await import('/rounding.js');
  const grades = await import('/survey/grades.js');
  const placed = (one) => adjust(one.ranges, one.expected ?? null);
  return {
    adjust: cases.adjust.map(placed),
    no_place: cases.no_place.map(placed),
    body: cases.body.map((one) => grades.bodyGrade(one.damage)),
    stance: cases.stance.map((one) => grades.stanceGrade(one.tilt_deg)),
    toe: cases.toe.map((one) => grades.toeGrade(one.scour_depth_mm, one.height_mm, one.rocking)),
    cover: cases.cover.map((one) => grades.coverGrade(one.exposed_height_mm, one.height_mm, one.probed)),
    rims: cases.rims.map((one) => grades.tiltFromRimDeg(one.rise_mm, one.chord_mm)),
    rounding: cases.rounding.map((one) => [rounded(one.value, one.digits), shortest(one.value, one.digits)]),
    compass: cases.compass.map((one) => compassWord(one.bearing_deg)),
  };
}"""


@pytest.fixture
def told(modules_page) -> dict[str, list]:
    return modules_page.evaluate(ALL, CASES)


def near(wanted: float | None, tolerance: float):
    return None if wanted is None else pytest.approx(wanted, abs=tolerance)


def test_every_worked_value_comes_out_on_the_phone(told) -> None:
    for found, case in zip(told["adjust"], CASES["adjust"], strict=True):
        assert [found["east_m"], found["north_m"]] == pytest.approx([case["east_m"], case["north_m"]], abs=case["tolerance"])
        assert [doubt["word"] for doubt in found["warnings"]] == case["words"]
        assert [doubt["sentence"] for doubt in found["warnings"]] == case.get("sentences", [d["sentence"] for d in found["warnings"]])
        measured = {
            "residuals_m": found["residuals_m"], "s0": found["s0"], "semi_major_m": found["ellipse"]["semi_major_m"],
            "semi_minor_m": found["ellipse"]["semi_minor_m"], "azimuth_deg": found["ellipse"]["azimuth_deg"],
            "sigma_east_m": math.sqrt(found["covariance"][0]), "sigma_north_m": math.sqrt(found["covariance"][2]),
        }  # fmt: skip
        for name in measured.keys() & case.keys():
            assert measured[name] == near(case[name], case["tolerance"]), (case["name"], name)
    for found, case in zip(told["no_place"], CASES["no_place"], strict=True):
        assert (found["word"], found["sentence"]) == (case["word"], case["sentence"])


@pytest.mark.parametrize("axis", ["body", "stance", "toe", "cover"])
def test_every_grade_and_its_reason_come_out_on_the_phone(told, axis: str) -> None:
    found = [(grade["value"], grade["reason"]) for grade in told[axis]]
    assert found == [(case["value"], case["reason"]) for case in CASES[axis]]


def test_the_tilt_of_a_rim_comes_out_on_the_phone(told) -> None:
    assert told["rims"] == [near(case["tilt_deg"], 5e-4) for case in CASES["rims"]]


def test_rounding_and_words_come_out_on_the_phone(told) -> None:
    assert told["rounding"] == [[case["rounded"], case["shortest"]] for case in CASES["rounding"]]
    assert told["compass"] == [case["word"] for case in CASES["compass"]]
