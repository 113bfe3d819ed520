"""A check settles only what it looked at: each measure that raised a flag, the axis by eye, or nothing at all."""

from __future__ import annotations

from typing import Any

import pytest

from tests.flags.shore import Shore

JULY, AUGUST, SEPTEMBER = "2026-07-01T10:00:00.000Z", "2026-08-01T10:00:00.000Z", "2026-09-01T10:00:00.000Z"

ELSEWHERE = [
    ("damaged", {"crack_width_mm": 1.5}, {"scaling_depth_mm": 0}),
    ("damaged", {"lost_volume_pct": 12}, {"crack_width_mm": 0.1}),
    ("damaged", {"chip_depth_mm": 40}, {"chip_across_mm": 0}),
    ("damaged", {"body_grade": 3}, {"crack_width_mm": 0}),
    ("undermined", {"rocking": True}, {"scour_depth_mm": 0}),
    ("undermined", {"scour_depth_mm": 100}, {"rocking": False}),
    ("undermined", {"toe_grade": 3}, {"rocking": False}),
    ("leaning", {"stance_grade": 3}, {"exposed_height_mm": 300}),
]


@pytest.mark.parametrize(("rule", "bad", "other"), ELSEWHERE)
def test_a_check_of_something_else_settles_nothing(shore: Shore, rule: str, bad: dict, other: dict) -> None:
    shore.check(JULY, **bad)
    shore.check(AUGUST, **other)
    assert shore.flag(rule)["state"] == "open"


SAME = [
    ("damaged", {"crack_width_mm": 1.5}, {"crack_width_mm": 0.1}),
    ("damaged", {"crack_width_mm": 1.5, "lost_volume_pct": 12}, {"body_grade": 0}),
    ("damaged", {"body_grade": 3}, {"body_grade": 0}),
    ("damaged", {"body_grade": 3}, {"crack_width_mm": 0, "chip_depth_mm": 0, "chip_across_mm": 0, "scaling_depth_mm": 0, "lost_volume_pct": 0}),
    ("damaged", {"body_grade": 2, "crack_width_mm": 1.5}, {"crack_width_mm": 0}),
    ("undermined", {"rocking": True}, {"toe_grade": 1}),
    ("undermined", {"toe_grade": 3}, {"rocking": False, "scour_depth_mm": 0}),
    ("leaning", {"stance_grade": 3}, {"tilt_deg": 2}),
    ("leaning", {"tilt_deg": 20}, {"stance_grade": 0}),
]


@pytest.mark.parametrize(("rule", "bad", "good"), SAME)
def test_a_later_value_within_the_limit_or_the_axis_by_eye_settles(shore: Shore, rule: str, bad: dict, good: dict) -> None:
    shore.check(JULY, **bad)
    better = shore.check(AUGUST, **good)
    flag = shore.flag(rule)
    assert (flag["state"], flag["settled_by"], flag["settled_at"]) == ("settled", better, AUGUST)


def test_each_measure_is_settled_by_its_own_later_value(shore: Shore) -> None:
    shore.check(JULY, crack_width_mm=1.5, lost_volume_pct=12)
    assert shore.flag("damaged")["sentence"] == "A010: a piece broken off, about 12 % of the unit, a crack of 1.5 mm, seen Jul 1, 2026."
    shore.check(AUGUST, crack_width_mm=0)
    flag = shore.flag("damaged")
    assert (flag["state"], flag["sentence"]) == ("open", "A010: a piece broken off, about 12 % of the unit, seen Jul 1, 2026.")
    assert "crack_width_mm" not in flag["evidence"]
    last = shore.check(SEPTEMBER, lost_volume_pct=0)
    flag = shore.flag("damaged")
    assert (flag["state"], flag["settled_by"]) == ("settled", last)
    assert flag["sentence"] == "A010: a piece broken off, about 12 % of the unit, a crack of 1.5 mm, seen Jul 1, 2026."


def test_measures_of_two_days_are_named_each_with_its_day(shore: Shore) -> None:
    first = shore.check(JULY, lost_volume_pct=12)
    shore.write("photo", of_kind="unit_check", of_id=first, taken_at=JULY, sha256="ab" * 32)
    newest = shore.check(AUGUST, crack_width_mm=1.5)
    flag = shore.flag("damaged")
    assert flag["sentence"] == "A010: a piece broken off, about 12 % of the unit, seen Jul 1, 2026, on 1 photo; a crack of 1.5 mm, seen Aug 1, 2026."
    assert (flag["raised_at"], flag["evidence"]["check_id"], flag["evidence"]["photos"]) == (AUGUST, newest, 1)


def test_a_grade_by_eye_that_its_own_measures_contradict_settles_nothing(shore: Shore) -> None:
    shore.check(JULY, lost_volume_pct=12)
    shore.check(AUGUST, crack_width_mm=1.5, body_grade=0)
    assert "broken off" in shore.flag("damaged")["sentence"]


@pytest.mark.parametrize("looked", [{"looked_only": True}, {"looked_only": True, "body_grade": 0, "tilt_deg": 0, "rocking": False}], ids=str)
def test_a_look_without_measures_settles_and_raises_nothing(shore: Shore, looked: dict[str, Any]) -> None:
    shore.check(JULY, crack_width_mm=1.5, tilt_deg=20, rocking=True)
    shore.check(AUGUST, **looked)
    assert [flag["state"] for flag in shore.flags()] == ["open"] * 3
    shore.check(SEPTEMBER, looked_only=True, crack_width_mm=3)
    assert shore.flag("damaged")["raised_at"] == JULY


def test_a_look_does_not_find_a_unit_that_is_missing(shore: Shore) -> None:
    shore.check(JULY, found_state="not_found_dry")
    shore.check(AUGUST, looked_only=True)
    assert shore.flag("not_found")["state"] == "open"
