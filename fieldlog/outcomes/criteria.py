"""
Criteria written beforehand, and what a whole interval says of them: met, not met, not yet, cannot tell.

Looked at after every visit, a criterion at its threshold is met by luck in 12 of 100 made sites, where one look at the due date meets
it in 2.5: before the due date every verdict is "so far". Our suggestion.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

import numpy as np

from fieldlog.outcomes.intervals import interval
from fieldlog.outcomes.results import Method

VERDICT = Method("criterion-verdict", "1", "the whole interval against the threshold: our suggestion", "that of the number")
NO_CHANGE = Method("no-change-larger", "1", "two one-sided tests: Schuirmann 1987, from memory", "that of the number")


class Direction(StrEnum):
    """Which side of the threshold is wanted; the bound belongs to it."""

    AT_LEAST = "at_least"
    AT_MOST = "at_most"


class Word(StrEnum):
    """What an interval says of a criterion."""

    MET = "met"
    NOT_MET = "not met"
    NOT_YET = "not yet"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True)
class Criterion:
    """
    One version of a criterion.

    Attributes:
        threshold: in the unit of the quantity.
        due: from this day on the verdict is final.
        written_on: when this version was saved; `version` counts from 1.
    """

    direction: Direction
    threshold: float
    due: date
    written_on: date
    version: int = 1


@dataclass(frozen=True, slots=True)
class Verdict:
    """
    What the interval says.

    Attributes:
        is_so_far: whether the due date is still to come.
        written_after_visits: how many of the visits were over when this version was written.
    """

    method: Method
    word: Word
    is_so_far: bool
    version: int
    written_after_visits: int


@dataclass(frozen=True, slots=True)
class NoChange:
    """
    No change larger than `larger_than`, in the unit of what went in; the interval of 90 in 100 behind it.

    Attributes:
        is_within: whether that is within the threshold that was asked for; None where none was.
    """

    method: Method
    larger_than: float
    low_90: float
    high_90: float
    is_within: bool | None


def verdict(criterion: Criterion, low: float | None, high: float | None, today: date, visits: Sequence[date] = ()) -> Verdict:
    """
    The verdict of an interval of 95 in 100; None where there is none.

    Args:
        visits: the days of the visits that the number is from.
    """
    word = Word.CANNOT_TELL
    if low is not None and high is not None and np.isfinite([low, high]).all():
        at_least = criterion.direction is Direction.AT_LEAST
        if low >= criterion.threshold if at_least else high <= criterion.threshold:
            word = Word.MET
        elif high < criterion.threshold if at_least else low > criterion.threshold:
            word = Word.NOT_YET if today < criterion.due else Word.NOT_MET
    before = sum(visit <= criterion.written_on for visit in visits)
    return Verdict(VERDICT, word, today < criterion.due, criterion.version, before)


def no_change(difference: float, se: float, df: float, within: float | None = None) -> NoChange | None:
    """
    "No change larger than": the larger end of the interval of 90 in 100; None where that of 95 in 100 does not hold 0.

    Args:
        within: the threshold that it is to be within, 0 or more.
    """
    whole = interval(np.asarray(difference), np.asarray(se), df)
    if not (float(whole.low) <= 0 <= float(whole.high)):
        return None
    inner = interval(np.asarray(difference), np.asarray(se), df, 0.90)
    largest = max(abs(float(inner.low)), abs(float(inner.high)))
    return NoChange(NO_CHANGE, largest, float(inner.low), float(inner.high), None if within is None else largest <= within)
