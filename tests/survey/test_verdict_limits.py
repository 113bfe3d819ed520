"""A survey's verdict at its limits: very unsure tapes, marks and tapes that share the doubt, a place on either side, no epoch at all."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fieldlog.survey.columns import columns_of
from fieldlog.survey.epoch import Epoch, given, taped
from fieldlog.survey.tape_scale import STATED, pooled
from fieldlog.survey.verdict import Pair, Verdict, judge
from tests.survey.made_tapes import at_marks

MARKS = {"M1": (0.0, 0.0), "M2": (24.0, 0.0), "M3": (2.0, 34.0), "M4": (26.0, 33.0)}
PLACE = (12.0, 15.0)


def from_marks(place: tuple[float, float], mark_sigma_m: float = 0.0, sigma_m: float = 0.02) -> Epoch:
    tapes = at_marks(MARKS, place, [0.0] * len(MARKS), mark_sigma_m)
    found = taped([replace(one, tape=replace(one.tape, sigma_m=sigma_m)) for one in tapes], PLACE)
    assert isinstance(found, Epoch)
    return found


@pytest.mark.parametrize(("mark_sigma_m", "by_marks"), [(0.015, False), (0.03, True)])
def test_more_than_half_of_the_doubt_is_the_marks_or_it_is_not(mark_sigma_m: float, by_marks: bool) -> None:
    """Tapes of 0.02 m to a place that was known: of the variance the marks have (15 / 25)^2 = 36 %, or (30 / 36)^2 = 69 %."""
    (found,) = judge([Pair(given("typed", [(*PLACE, 0.001)]), from_marks((12.4, 15.0), mark_sigma_m), 0.1)], STATED)
    assert found.by_marks is by_marks


@pytest.mark.parametrize("sigma_m", [0.5, 1.0, 2.0])
def test_tapes_of_a_metres_doubt_tell_of_a_movement_of_many(sigma_m: float) -> None:
    """Four tapes, so that three stay whichever is left out, and each three of them show ten metres."""
    (found,) = judge([Pair(given("typed", [(2.0, 15.0, 0.1)]), from_marks(PLACE, sigma_m=sigma_m), 0.1)], STATED)
    assert (found.verdict, found.doubts) == (Verdict.MOVED, ())


def test_two_tapes_with_a_place_on_either_side_of_the_marks_leave_the_side_in_doubt() -> None:
    two = at_marks({name: MARKS[name] for name in ("M1", "M2")}, PLACE, [0.0, 0.0])
    found = taped(two, None)
    assert isinstance(found, Epoch)
    assert [doubt.word for doubt in found.doubts] == ["side-unknown"]


def test_contrasts_that_the_marks_explain_whole_leave_no_sigma() -> None:
    assert pooled([0.1, 0.2], [[1.0, 0.0], [0.0, 1.0]]) == (None, 0)


def test_no_epochs_are_columns_of_no_rows() -> None:
    assert columns_of([], []).place.shape == (0, 2)
