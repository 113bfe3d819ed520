"""The worked values of tests/vectors/survey_cases.json through the server's functions; each case names its source."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from fieldlog.rounding import rounded, shortest
from fieldlog.survey import grades, movement, position

CASES = json.loads((Path(__file__).parents[1] / "vectors" / "survey_cases.json").read_text("utf-8"))


def each(group: str):
    return pytest.mark.parametrize("case", CASES[group], ids=lambda case: case.get("name", "case"))


def adjusted(case: dict):
    ranges = [position.TapeRange(**tape) for tape in case["ranges"]]
    expected = case.get("expected")
    return position.adjust(ranges, None if expected is None else (expected["east_m"], expected["north_m"]))


@each("adjust")
def test_tapes_give_the_worked_place(case):
    found = adjusted(case)
    near = {"abs": case["tolerance"]}
    assert isinstance(found, position.Adjusted)
    assert (found.east_m, found.north_m) == pytest.approx((case["east_m"], case["north_m"]), **near)
    assert [doubt.word for doubt in found.warnings] == case["words"]
    assert [doubt.sentence for doubt in found.warnings] == case.get("sentences", [d.sentence for d in found.warnings])
    assert case.get("sentence_has", "") in " ".join(doubt.sentence for doubt in found.warnings)
    if case["mirror"] is None:
        assert found.mirror is None
    else:
        assert found.mirror == pytest.approx((case["mirror"]["east_m"], case["mirror"]["north_m"]), **near)
    measured = {
        "residuals_m": found.residuals_m, "sigma_east_m": math.sqrt(found.covariance[0]),
        "sigma_north_m": math.sqrt(found.covariance[2]), "s0": found.s0, "semi_major_m": found.ellipse.semi_major_m,
        "semi_minor_m": found.ellipse.semi_minor_m, "azimuth_deg": found.ellipse.azimuth_deg,
    }  # fmt: skip
    for name in measured.keys() & case.keys():
        wanted = case[name]
        assert measured[name] == (None if wanted is None else pytest.approx(wanted, **near)), name


@each("no_place")
def test_tapes_that_give_no_place_say_why(case):
    found = adjusted(case)
    assert isinstance(found, position.NoPlace)
    assert (found.word, found.sentence) == (case["word"], case["sentence"])


@each("zero_fix")
def test_the_zero_is_the_first_fix_not_by_phone_since_the_newest_start(case):
    fixes = [(fix["fixed_at"], fix["method"]) for fix in case["fixes"]]
    assert movement.zero_fix(fixes, [(one["event_at"], one["event"]) for one in case["events"]]) == case["index"]


@each("body")
def test_body_is_graded_by_the_worst_damage(case):
    assert grades.body_grade(grades.Damage(**case["damage"])) == grades.Grade("body", case["value"], case["reason"])


@each("stance")
def test_stance_is_graded_by_tilt(case):
    assert grades.stance_grade(case["tilt_deg"]) == grades.Grade("stance", case["value"], case["reason"])


@each("toe")
def test_toe_is_graded_by_scour_and_rocking(case):
    found = grades.toe_grade(case["scour_depth_mm"], case["height_mm"], case["rocking"])
    assert found == grades.Grade("toe", case["value"], case["reason"])


@each("cover")
def test_cover_is_graded_by_burial(case):
    found = grades.cover_grade(case["exposed_height_mm"], case["height_mm"], case["probed"])
    assert found == grades.Grade("cover", case["value"], case["reason"])


@each("place")
def test_place_is_graded_by_what_a_survey_says_alone(case):
    assert grades.place_grade(case["moved_m"], case["footprint_mm"]) == grades.Grade("place", case["value"], case["reason"])


@each("rounding")
def test_numbers_are_written_alike_on_both_sides(case):
    assert rounded(case["value"], case["digits"]) == case["rounded"]
    assert shortest(case["value"], case["digits"]) == case["shortest"]


@each("compass")
def test_a_bearing_has_the_nearest_of_eight_words(case):
    assert movement.compass_word(case["bearing_deg"]) == case["word"]


def test_a_95_percent_ellipse_has_2_4477_sigma():
    assert pytest.approx(2.447747, abs=5e-7) == position.K_95  # recomputed with scipy outside this project
