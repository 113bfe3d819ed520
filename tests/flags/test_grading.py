"""A grade by eye that differs by two from the computed one is told, of the axis that it is about."""

from __future__ import annotations

import pytest

from fieldlog.flags.grading import _apart
from tests.flags.shore import DESIGN, Shore

JULY, AUGUST = "2026-07-01T10:00:00.000Z", "2026-08-01T10:00:00.000Z"

APART = [
    ({"body_grade": 0, "crack_width_mm": 2}, "A010: body is grade 0 by eye and 2 as measured, seen Jul 1, 2026."),
    ({"body_grade": 3, "crack_width_mm": 0}, "A010: body is grade 3 by eye and 0 as measured, seen Jul 1, 2026."),
    ({"stance_grade": 2, "tilt_deg": 3}, "A010: stance is grade 2 by eye and 0 as measured, seen Jul 1, 2026."),
    ({"toe_grade": 0, "rocking": True}, "A010: toe is grade 0 by eye and 4 as measured, seen Jul 1, 2026."),
]


@pytest.mark.parametrize(("measured", "sentence"), APART)
def test_two_grades_apart_are_told(shore: Shore, measured: dict, sentence: str) -> None:
    shore.check(JULY, **measured)
    flag = shore.flag("graded_apart")
    assert (flag["severity"], flag["state"], flag["sentence"]) == ("look", "open", sentence)


@pytest.mark.parametrize(
    "measured",
    [{"body_grade": 1, "crack_width_mm": 2}, {"stance_grade": 1, "tilt_deg": 3}, {"toe_grade": 3}, {"tilt_deg": 50}, {"cover_grade": 0, "exposed_height_mm": 0},
     {"body_grade": 0, "crack_width_mm": 2, "looked_only": True}],
    ids=str,
)  # fmt: skip
def test_one_grade_apart_one_grade_alone_and_cover_are_not(shore: Shore, measured: dict) -> None:
    shore.check(JULY, **measured)
    assert shore.flags("graded_apart") == []


def test_the_axis_graded_again_settles_it_and_another_does_not(shore: Shore) -> None:
    shore.check(JULY, body_grade=0, crack_width_mm=2, stance_grade=3, tilt_deg=3)
    shore.check(AUGUST, stance_grade=0)
    assert shore.flag("graded_apart")["sentence"] == "A010: body is grade 0 by eye and 2 as measured, seen Jul 1, 2026."
    shore.check("2026-08-02T10:00:00.000Z", crack_width_mm=2)
    assert shore.flag("graded_apart")["state"] == "open", "the same crack measured once more: eye and measure are as far apart as they were"
    shore.check("2026-08-03T10:00:00.000Z", body_grade=1)
    flag = shore.flag("graded_apart")
    assert (flag["state"], flag["settled_reason"]) == ("settled", "Looked at again Aug 3, 2026: body graded again.")


def test_a_corrected_check_takes_it_away_and_a_changed_design_brings_it(shore: Shore) -> None:
    check = shore.check(JULY, toe_grade=1, scour_depth_mm=60)
    assert shore.flags("graded_apart") == []
    shore.write("unit_design", DESIGN, height_mm=200)
    assert shore.flag("graded_apart")["evidence"]["toe_as_measured"] == 3
    shore.write("unit_check", check, toe_grade=3)
    assert shore.flags("graded_apart") == []


@pytest.mark.parametrize(("own", "computed", "verdict"), [(None, None, None), (2, None, False), (None, 2, None), (1, 2, False), (0, 2, True), (3, 1, True)])
def test_only_who_graded_by_eye_has_said_something_of_grades_apart(own: int | None, computed: int | None, verdict: object) -> None:
    assert _apart(own, computed) is verdict
