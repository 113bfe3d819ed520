"""Moved, or not: the worked values of tests/vectors/survey_movement.json through the server's functions; the file says whence they are."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fieldlog.survey.columns import columns_of
from fieldlog.survey.epoch import Epoch, MarkTape, taped
from fieldlog.survey.position import Doubt, TapeRange
from fieldlog.survey.tape_scale import STATED, TapeScale, pooled, scale_of
from fieldlog.survey.verdict import (
    ASK_P,
    MISREAD_LEVEL,
    SHOWN_SIGMAS,
    Judged,
    Pair,
    Verdict,
    judge,
    misread_limit,
    p_value,
    rejected,
    settles,
)
from tests.survey.made_tapes import at_marks
from tests.survey.second_set import asks_again

CASES = json.loads((Path(__file__).parents[1] / "vectors" / "survey_movement.json").read_text("utf-8"))


def each(group: str) -> Any:
    return pytest.mark.parametrize("case", CASES[group], ids=lambda case: case.get("name", case.get("why", f"{case.get('pair', '')} {case.get('dof', case.get('least_shift_m', ''))}".strip())))


def epoch(said: dict[str, Any], sigmas: list[float], north_m: float) -> Epoch:
    marks, tapes = CASES["marks"], []
    for name, range_m, sigma_m in zip(said["marks"], said["ranges_m"], said["tape_sigma_m"], strict=True):
        mark_sigma_m = sigmas["ABCD".index(name)]
        tapes.append(MarkTape(name, mark_sigma_m, TapeRange(name, *marks[name], range_m, sigma_m)))
    found = taped(tapes, (12.0, north_m))
    assert isinstance(found, Epoch)
    return found


def pair_of(case: dict[str, Any]) -> Pair:
    sides = (15.0, -15.0 if case.get("mirror") else 15.0)
    zero, now = (epoch(case[name], case["mark_sigma_m"], side) for name, side in zip(("zero", "now"), sides, strict=True))
    return Pair(zero, now, case["least_shift_m"])


def the_pair(name: str) -> dict[str, Any]:
    return next(case for case in CASES["pairs"] if case["name"] == name)


@each("p")
def test_p_is_that_of_the_distribution(case: dict[str, Any]) -> None:
    t2 = np.array(case["d"]) @ np.linalg.solve(np.array(case["C"]), np.array(case["d"]))
    assert t2 == pytest.approx(case["T2"], abs=1e-8)
    assert float(p_value(np.array(t2), case["dof"])) == pytest.approx(case["p"], rel=1e-8)


@each("pairs")
def test_a_pair_of_epochs_is_judged_as_worked_out(case: dict[str, Any]) -> None:
    pair = pair_of(case)
    (found,) = judge([pair], STATED)
    assert found.verdict.value == case["verdict"], case["why"]
    assert (found.east_m, found.north_m) == pytest.approx(case["d_m"], abs=2e-6)
    assert found.p == pytest.approx(case["p"], rel=2e-5)
    assert found.t2 == pytest.approx(case["T2"], rel=2e-5)
    assert found.shows_m == pytest.approx(SHOWN_SIGMAS * case["largest_sigma_m"], rel=1e-4)
    for now, name in ((pair.zero, "zero_fix"), (pair.now, "now_fix")):
        columns = columns_of([now], sorted(now.mark_ids))
        assert columns.gain()[0] == pytest.approx(np.array(case[name]["G"]), abs=2e-7)
        assert columns.residuals()[0] == pytest.approx(case[name]["residuals_m"], abs=2e-6)


@each("scaled")
def test_a_pair_is_judged_by_what_the_sites_tapes_show(case: dict[str, Any]) -> None:
    pair = pair_of(the_pair(case["pair"]))
    scale = TapeScale(case["factor"], case["dof"])
    (found,) = judge([pair], scale)
    assert (found.p, found.t2) == (pytest.approx(case["p"], rel=2e-5), pytest.approx(case["T2"], rel=2e-5))
    assert found.shows_m == pytest.approx(case["shows_m"], rel=1e-4)
    assert asks_again([pair], scale) == [case["asks"]]


@each("small")
def test_a_shift_is_small_where_it_surely_stays_under_what_matters(case: dict[str, Any]) -> None:
    (found,) = judge([replace(pair_of(the_pair(case["pair"])), least_shift_m=case["least_shift_m"])], STATED)
    assert (found.verdict is Verdict.SMALL) is case["is_small"]


@each("bh")
def test_a_family_is_rejected_as_published(case: dict[str, Any]) -> None:
    assert rejected(case["p"], case["q"]).tolist() == case["rejected"]


def test_the_published_example_rejects_four() -> None:
    assert int(rejected(CASES["bh"][0]["p"]).sum()) == 4


def test_a_survey_is_judged_as_one_family() -> None:
    """Places as typed, with the one sigma that gives each its p; a doubt is one of this epoch."""
    units, pairs = CASES["survey"], []
    for unit in units:
        sigma_m = unit["shift_m"] / math.sqrt(-4 * math.log(unit["p"]))
        doubts = (Doubt(unit["doubt"], ""),) if unit["doubt"] else ()
        pairs.append(Pair(Epoch("typed", 0.0, 0.0, sigma_m=sigma_m), Epoch("typed", 0.0, unit["shift_m"], sigma_m=sigma_m, doubts=doubts), 0.1))
    found = judge(pairs, STATED)
    assert [one.p for one in found] == pytest.approx([unit["p"] for unit in units], rel=1e-9)
    assert rejected([one.p for one in found]).tolist() == [unit["rejected"] for unit in units]
    assert [one.verdict.value for one in found] == [unit["verdict"] for unit in units]


@each("pooled")
def test_the_sigma_of_a_sites_tapes_has_the_marks_errors_taken_out(case: dict[str, Any]) -> None:
    sigma, dof = pooled(case["u_m"], case["mark_rows"])
    assert sigma == pytest.approx(case["sigma_m"], abs=1e-7)
    assert dof == case["dof"]


def test_the_contrast_of_three_tapes_is_the_worked_one() -> None:
    worked = CASES["contrast"]
    tapes = at_marks({name: tuple(CASES["marks"][name]) for name in worked["marks"]}, tuple(worked["place"]), [0.0] * 3)
    columns = columns_of([Epoch("tapes", *worked["place"], tapes)], worked["marks"])
    (row,) = columns.contrasts(np.ones((1, 3)))[0]
    assert row * np.sign(row[0]) == pytest.approx(np.abs(worked["K"][0]) * np.sign(worked["K"][0]), abs=1e-7)


@each("settles")
def test_only_what_would_have_shown_it_settles_a_movement(case: dict[str, Any]) -> None:
    assert settles(case["movement_m"], case["p"], SHOWN_SIGMAS * case["largest_sigma_m"]) is case["settles"]


def test_limits_are_the_worked_ones() -> None:
    limits = CASES["limits"]
    worked = {3: limits["block_w"]["one degree of freedom"], 4: limits["block_w"]["4 tapes"], 6: limits["block_w"]["6 tapes"]}
    assert {tapes: round(misread_limit(tapes), 4) for tapes in worked} == worked
    assert (limits["ask_p"], 0.001) == (ASK_P, MISREAD_LEVEL)
    assert CASES["power"]["sigmas_of_the_weak_axis_at_p_0.05"]["0.95"] == SHOWN_SIGMAS


def test_fewer_than_thirty_degrees_of_freedom_leave_the_stated_sigma() -> None:
    marks = {"A": (0.0, 0.0), "B": (20.0, 0.0), "C": (10.0, -8.0)}
    wild = [Epoch("tapes", 12.0, 15.0, at_marks(marks, (12.0, 15.0), (0.2, -0.3, 0.25))) for _ in range(29)]
    assert scale_of(wild) == TapeScale()


def said_of_the_case(name: str) -> Judged:
    return judge([pair_of(the_pair(name))], STATED)[0]


def test_a_misread_tape_is_named() -> None:
    found = said_of_the_case("one tape 0.30 m too long, two sets")
    assert (found.misread, "misread" in found.doubts, found.verdict) == (0, True, Verdict.AGAIN)


def test_the_other_side_of_two_tapes_is_no_movement() -> None:
    found = said_of_the_case("two tapes, the other side taken")
    assert found.shift_m == pytest.approx(30, abs=0.05)
    assert "side" in found.doubts
