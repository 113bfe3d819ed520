"""
Moved, measure again, a mark that may have moved: what surveys say of units, through `receive`.

The worked values (0.1253 m, T2 8.722, p 0.0128 for two positions known to 0.03 m) were recomputed with scipy outside this project.
"""

from __future__ import annotations

import pytest

from tests.flags.shore import UNIT, Shore
from tests.sync.lines import record_id

ZERO, LATER, LATEST = "2026-06-02T10:00:00.000Z", "2026-07-01T10:00:00.000Z", "2026-08-01T10:00:00.000Z"


def test_a_movement_over_the_limit_is_flagged_with_its_numbers(shore: Shore) -> None:
    zero = shore.typed(ZERO, 12.00, 15.00)
    fix = shore.typed(LATER, 12.11, 15.06)
    flag = shore.flag("displaced")
    evidence = flag["evidence"]
    assert evidence["displacement_m"] == pytest.approx(0.1253, abs=0.0005)
    assert evidence["t2"] == pytest.approx(8.722, abs=0.01)
    assert evidence["p"] == pytest.approx(0.0128, abs=0.0001)
    assert (evidence["zero_fix_id"], evidence["fix_id"]) == (zero, fix)
    assert flag["sentence"].startswith("A010: moved 0.13 m north-east since Jun 2, 2026, measured Jul 1, 2026")


def test_a_shift_within_the_uncertainty_is_none(shore: Shore) -> None:
    """p is 0.05 at 2.4477 x 0.03 x sqrt(2) = 0.104 m."""
    shore.typed(ZERO, 12.00, 15.00)
    shore.typed(LATER, 12.07, 15.06)
    assert shore.flags("displaced") == []


def test_tapes_that_say_0_31_m_are_flagged(shore: Shore) -> None:
    shore.tapes(ZERO, 12.0, 15.0)
    shore.tapes(LATER, 12.31, 15.0)
    flag = shore.flag("displaced")
    assert flag["evidence"]["displacement_m"] == pytest.approx(0.31, abs=0.002)
    assert flag["evidence"]["method"] == "tapes"
    assert flag["severity"] == "act"


def test_tapes_that_say_0_02_m_are_not(shore: Shore) -> None:
    shore.tapes(ZERO, 12.0, 15.0)
    shore.tapes(LATER, 12.02, 15.0)
    assert shore.flags() == []


def test_a_phones_own_position_11_m_off_says_nothing(shore: Shore) -> None:
    shore.typed(ZERO, 12.00, 15.00)
    shore.write(
        "position_fix", of_kind="unit", of_id=shore.db.execute("SELECT record_id FROM unit WHERE tag = 'A010'").fetchone()[0],
        fixed_at=LATER, method="phone_gnss", lat_deg=32.0301, lon_deg=-80.9201, accuracy_m=4.9,
    )  # fmt: skip
    assert shore.flags("displaced") == []


def test_one_position_alone_tells_of_no_movement(shore: Shore) -> None:
    shore.typed(ZERO, 19.0, 22.0)
    assert shore.flags("displaced") == []


def test_tapes_that_do_not_meet_tell_of_none(shore: Shore) -> None:
    shore.tapes(ZERO, 12.0, 15.0)
    unit = shore.db.execute("SELECT record_id FROM unit WHERE tag = 'A010'").fetchone()[0]
    marks = [row[0] for row in shore.db.execute("SELECT record_id FROM control_mark ORDER BY label").fetchall()]
    shore.write("position_fix", of_kind="unit", of_id=unit, fixed_at=LATER, method="tapes", mark_1_id=marks[0], range_1_m=5, mark_2_id=marks[1], range_2_m=6)
    assert shore.flags("displaced") == []


def test_a_later_position_back_in_place_settles_it(shore: Shore) -> None:
    shore.typed(ZERO, 12.00, 15.00)
    shore.typed(LATER, 12.40, 15.00)
    back = shore.typed(LATEST, 12.01, 15.00)
    flag = shore.flag("displaced")
    assert (flag["state"], flag["settled_by"]) == ("settled", back)


def test_after_a_reset_positions_are_compared_anew(shore: Shore) -> None:
    shore.typed(ZERO, 12.00, 15.00)
    shore.typed(LATER, 12.40, 15.00)
    assert shore.flag("displaced")["state"] == "open"
    shore.event("reset", "2026-07-10T10:00:00.000Z")
    assert shore.flags("displaced") == []
    shore.typed("2026-07-11T10:00:00.000Z", 12.42, 15.00)
    shore.typed(LATEST, 12.40, 15.00)
    assert shore.flags("displaced") == []


def test_a_corrected_mark_changes_what_its_tapes_say(shore: Shore) -> None:
    shore.tapes(ZERO, 12.0, 15.0)
    shore.typed(LATER, 12.0, 15.0)
    assert shore.flags("displaced") == []
    mark = shore.db.execute("SELECT record_id FROM control_mark WHERE label = 'M1'").fetchone()[0]
    shore.write("control_mark", mark, east_m=-0.6)
    assert shore.flag("measure_again")["evidence"]["displacement_m"] > 0.2, "what was read from it no longer fits its place"


def test_of_two_ways_on_one_day_the_surer_place_counts(shore: Shore) -> None:
    shore.typed(ZERO, 12.0, 15.0)
    shore.typed(LATER, 12.6, 15.0, sigma_m=0.5)
    assert shore.flags("displaced") == []
    shore.tapes(LATER, 12.31, 15.0)
    assert shore.flag("displaced")["evidence"]["displacement_m"] == pytest.approx(0.31, abs=0.002)
    shore.typed(LATEST, 12.9, 15.0)
    shore.tapes(LATEST, 12.0, 15.0, sigma_m=0.2)
    (newest,) = shore.db.execute("SELECT method FROM survey_verdict WHERE survey = 'day 2026-08-01'").fetchall()
    assert newest == ("typed",)


def test_two_readings_of_one_moment_tell_of_no_movement(shore: Shore) -> None:
    """One was read on a visit and the other on none, so that neither comes before the other."""
    shore.typed(LATER, 12.0, 15.0)
    shore.write(
        "position_fix", visit=record_id("a visit"), of_kind="unit", of_id=UNIT, fixed_at=LATER, method="typed", east_m=12.6, north_m=15.0, sigma_m=0.03
    )
    assert shore.flags("displaced") == []


def test_a_mark_that_is_less_sure_makes_what_was_read_from_it_less_sure(shore: Shore) -> None:
    shore.typed(ZERO, 12.0, 15.0)
    shore.tapes(LATER, 12.31, 15.0)
    t2 = shore.flag("displaced")["evidence"]["t2"]
    shore.write("control_mark", record_id("M1"), sigma_m=0.1)
    assert shore.flag("displaced")["evidence"]["t2"] < 0.6 * t2
