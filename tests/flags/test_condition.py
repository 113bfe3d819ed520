"""
Damaged, leaning, undermined: what raises, what does not, what settles; burial never does.

The limits themselves are this project's own proposal, without a published source; tests/vectors/survey_cases.json has them.
"""

from __future__ import annotations

import pytest

from tests.flags.shore import OTHER, SITE, UNIT, Shore

JULY, AUGUST, SEPTEMBER = "2026-07-01T10:00:00.000Z", "2026-08-01T10:00:00.000Z", "2026-09-01T10:00:00.000Z"

RAISES = [
    ("damaged", {"crack_width_mm": 2.0}, "act"),
    ("damaged", {"lost_volume_pct": 30}, "act"),
    ("damaged", {"crack_width_mm": 0.4}, "look"),
    ("damaged", {"body_grade": 3}, "act"),
    ("leaning", {"tilt_deg": 16}, "look"),
    ("leaning", {"tilt_deg": 50}, "act"),
    ("leaning", {"stance_grade": 2}, "look"),
    ("undermined", {"scour_depth_mm": 100}, "look"),
    ("undermined", {"rocking": True}, "act"),
    ("undermined", {"toe_grade": 3}, "act"),
]


@pytest.mark.parametrize(("rule", "measured", "severity"), RAISES)
def test_a_check_raises_its_flag_with_a_sentence_and_evidence(shore: Shore, rule: str, measured: dict, severity: str) -> None:
    check = shore.check(JULY, **measured)
    flag = shore.flag(rule)
    assert (flag["state"], flag["severity"], flag["raised_at"]) == ("open", severity, JULY)
    assert flag["sentence"].startswith("A010: ")
    assert "Jul 1, 2026" in flag["sentence"]
    assert flag["evidence"]["check_id"] == check
    assert [one["rule"] for one in shore.flags()] == [rule]


SILENT = [
    {},
    {"crack_width_mm": 0.0, "chip_depth_mm": 0, "lost_volume_pct": 0, "scaling_depth_mm": 0},
    {"body_grade": 0, "stance_grade": 0, "toe_grade": 0},
    {"tilt_deg": 14.9},
    {"stance_grade": 1},
    {"rocking": False, "scour_depth_mm": 0},
    {"exposed_height_mm": 0, "cover_grade": 4},
    {"found_state": "probed", "probe_depth_mm": 180, "cover_grade": 4},
    {"found_state": "not_found_under_water"},
    {"found_state": "not_visited"},
]


@pytest.mark.parametrize("measured", SILENT, ids=str)
def test_a_sound_a_buried_and_an_unmeasured_unit_raise_nothing(shore: Shore, measured: dict) -> None:
    shore.check(JULY, **measured)
    assert shore.flags() == []


def test_a_site_sets_its_own_limit_for_leaning(shore: Shore) -> None:
    shore.check(JULY, tilt_deg=12)
    assert shore.flags() == []
    shore.write("site", SITE, lean_look_deg=10)
    assert shore.flag("leaning")["evidence"]["limit_deg"] == 10
    shore.write("site", SITE, lean_look_deg=20)
    assert shore.flags() == []


@pytest.mark.parametrize(
    ("rule", "bad", "good"),
    [
        ("damaged", {"crack_width_mm": 2.0}, {"crack_width_mm": 0.0}),
        ("leaning", {"tilt_deg": 20}, {"tilt_deg": 3}),
        ("undermined", {"rocking": True}, {"rocking": False}),
    ],
)
def test_a_later_check_settles_and_an_earlier_or_unmeasured_one_does_not(shore: Shore, rule: str, bad: dict, good: dict) -> None:
    shore.check(AUGUST, **bad)
    shore.check(JULY, **good)
    shore.check("2026-08-10T10:00:00.000Z")
    assert shore.flag(rule)["state"] == "open"
    better = shore.check(SEPTEMBER, **good)
    flag = shore.flag(rule)
    assert (flag["state"], flag["settled_by"], flag["settled_at"]) == ("settled", better, SEPTEMBER)
    assert "Sep 1, 2026" in flag["settled_reason"]
    shore.check("2026-09-10T10:00:00.000Z", **bad)
    assert shore.flag(rule)["state"] == "open", "a newer observation raises it again"


def test_a_check_before_the_unit_was_reset_counts_no_more(shore: Shore) -> None:
    shore.check(JULY, tilt_deg=40)
    assert shore.flag("leaning")["state"] == "open"
    shore.event("righted", AUGUST)
    assert shore.flags("leaning") == []
    shore.check(SEPTEMBER, tilt_deg=41)
    assert shore.flag("leaning")["raised_at"] == SEPTEMBER


def test_a_retired_unit_is_silent(shore: Shore) -> None:
    shore.check(JULY, lost_volume_pct=60)
    shore.event("retired", AUGUST)
    assert shore.flags() == []


def test_a_check_that_is_moved_to_another_unit_takes_its_flag_along(shore: Shore) -> None:
    check = shore.check(JULY, lost_volume_pct=60)
    assert shore.flag("damaged")["subject"]["id"] == UNIT
    shore.write("unit_check", check, unit_id=OTHER)
    assert shore.flag("damaged")["subject"]["id"] == OTHER


def test_a_removed_check_takes_its_flag_away(shore: Shore) -> None:
    check = shore.check(JULY, lost_volume_pct=60)
    shore.write("unit_check", check, _deleted=True)
    assert shore.flags() == []


def test_a_photo_that_is_moved_to_another_check_is_counted_there(shore: Shore) -> None:
    broken, other = shore.check(JULY, lost_volume_pct=60), shore.check(JULY, unit=OTHER)
    photo = shore.write("photo", of_kind="unit_check", of_id=broken, taken_at=JULY, sha256="ab" * 32)
    assert shore.flag("damaged")["evidence"]["photos"] == 1
    shore.write("photo", photo, of_id=other)
    assert shore.flag("damaged")["evidence"]["photos"] == 0


def test_a_photo_of_the_check_is_counted_in_the_evidence(shore: Shore) -> None:
    check = shore.check(JULY, lost_volume_pct=60)
    shore.write("photo", of_kind="unit_check", of_id=check, taken_at=JULY, sha256="ab" * 32)
    assert shore.flag("damaged")["evidence"]["photos"] == 1
    assert "1 photo" in shore.flag("damaged")["sentence"]
