"""
The bars of "moved, or not" on a made site, through the product's own functions: fixed seeds, so that the counts are exact.

FIELDLOG_SEASONS is how many seeds each case takes; with the 300 of `make soak` there are 1,500 movers a case, and the bars themselves
are held to. Bars and site are our own proposal; how many would be asked for is said in the module that judges.
"""

from __future__ import annotations

import os
from collections import Counter

import pytest

from fieldlog.survey.verdict import Verdict
from tests.survey.season import Season, ever_moved, first_survey_after

SOAK = int(os.environ.get("FIELDLOG_SEASONS", "0"))
YEARS, SHIFTS, MISREADS = SOAK or 3, SOAK or 20, SOAK or 12


def held(counted: object, exact: object, is_within_bar: bool) -> None:
    """A soak is held to the bar; the few fixed seeds, which scatter about it, to their exact counts."""
    assert is_within_bar if SOAK else counted == exact, counted


@pytest.mark.parametrize(("true_m", "bar", "exact"), [(0.02, 0.2, 0), (0.03, 0.5, 0)], ids=["2 cm", "3 cm, 2 stated"])
def test_where_nothing_moves_hardly_any_unit_is_said_to(true_m: float, bar: float, exact: int) -> None:
    moved = [ever_moved(Season(seed, true_m=true_m)) for seed in range(5000, 5000 + YEARS)]
    held(sum(moved), exact, sum(moved) / len(moved) <= bar)


@pytest.mark.parametrize("true_m", [0.02, 0.03], ids=["2 cm", "3 cm, 2 stated"])
@pytest.mark.parametrize(("shift_m", "enough", "bar"), [(0.15, (Verdict.MOVED, Verdict.AGAIN), 0.97), (0.30, (Verdict.MOVED,), 0.99)], ids=["0.15 m", "0.30 m"])
def test_a_shift_is_told(true_m: float, shift_m: float, enough: tuple[Verdict, ...], bar: float) -> None:
    counts: Counter[Verdict] = Counter()
    for seed in range(5000, 5000 + SHIFTS):
        counts.update(first_survey_after(Season(seed, true_m=true_m, zero_sets=2), shift_m))
    told = sum(counts[verdict] for verdict in enough)
    held((told, counts[Verdict.MOVED]), EXACT[true_m, shift_m], told / counts.total() >= bar)


EXACT = {(0.02, 0.15): (100, 99), (0.02, 0.30): (100, 100), (0.03, 0.15): (95, 89), (0.03, 0.30): (100, 100)}
"""Told, and of these moved, of 100 movers."""


def said_of_misread(zero_m: float, now_m: float, tapes: int, zero_sets: int, second: bool) -> int:
    moved = 0
    for seed in range(5000, 5000 + MISREADS):
        season = Season(seed, zero_sets=zero_sets, tapes=tapes, zero_misread_m=zero_m)
        moved += season.survey(now_m, second)[season.wrong_unit].verdict is Verdict.MOVED
    return moved


@pytest.mark.parametrize("second", [True, False], ids=["second set", "one set"])
def test_one_tape_misread_by_0_30_m_says_moved_in_2_percent_at_most(second: bool) -> None:
    moved = said_of_misread(0.0, 0.30, tapes=3, zero_sets=1, second=second)
    held(moved, 0, moved / MISREADS <= 0.02)


def test_nor_does_one_of_the_zero_epoch() -> None:
    moved = said_of_misread(0.30, 0.0, tapes=3, zero_sets=1, second=True)
    held(moved, 0, moved / MISREADS <= 0.02)


def test_a_misread_zero_of_two_tapes_never_says_moved() -> None:
    assert said_of_misread(0.30, 0.0, tapes=2, zero_sets=1, second=True) == 0


def test_a_knocked_mark_moves_no_unit() -> None:
    said = [Season(seed, knocked_m=0.10).survey() for seed in range(5000, 5000 + (SOAK or 5))]
    assert sum(one.verdict is Verdict.MOVED for survey in said for one in survey) / len(said) <= 0.1
    assert all(any("mark" in one.doubts for one in survey) for survey in said[:5])
