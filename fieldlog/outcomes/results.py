"""What every answer of this room has beside its numbers: how it was worked out, what was left out, and why nothing can be told."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Reading = float | None
"""None (or a number that is none) is "not read"; nothing is ever put in its place."""

Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]

YEAR_DAYS = 365.25


class Why(StrEnum):
    """Why something cannot be told, or a reading was left out: a word that a screen makes a sentence of."""

    TOO_FEW_STAKES = "too-few-stakes"
    TOO_FEW_VISITS = "too-few-visits"
    TOO_FEW_YEARS = "too-few-years"
    TOO_FEW_READINGS = "too-few-readings"
    TOO_FEW_DIRECTIONS = "too-few-directions"
    TOO_FEW_PINS = "too-few-pins"
    TOO_FEW_TABLES = "too-few-tables"
    TOO_FEW_PLOTS = "too-few-plots"
    TOO_FEW_FRAMES = "too-few-frames"
    TOO_FEW_UNITS = "too-few-units"
    TOO_FEW_DATES = "too-few-dates"
    TOO_FEW_DATES_BEFORE = "too-few-dates-before"
    TOO_FEW_DATES_AFTER = "too-few-dates-after"
    TOO_FEW_SURVEYS = "too-few-surveys"
    TOO_FEW_TRANSECTS = "too-few-transects"
    TOO_FEW_PLACES = "too-few-places"
    TOO_FEW_PAIRS = "too-few-pairs"
    TOO_FEW_METHODS = "too-few-methods"
    TOO_FEW_PROGRAMS = "too-few-programs"
    TOO_FEW_DAYS = "too-few-days"
    TOO_FEW_STATIONS = "too-few-stations"
    TOO_FEW_ANIMALS = "too-few-animals"
    ONE_READING_A_PIECE = "one-reading-a-piece"
    NOT_READ = "not-read"
    NOT_READ_BOTH_TIMES = "not-read-both-times"
    BEGAN_AGAIN = "began-again"
    NOT_ON_EVERY_DATE = "not-on-every-date"
    NO_VISIT_WITHIN_DAYS = "no-visit-within-days"
    NO_YEAR_APART = "no-year-apart"
    SAME_DAY = "same-day"
    SAME_DATE = "same-date"
    PIN_NOTED = "pin-noted"
    NOT_FOUND = "not-found"
    NO_SPREAD = "no-spread"
    NO_COMMON_REACH = "no-common-reach"
    NONE_SEEN = "none-seen"
    NONE_IN_THE_OTHER = "none-in-the-other"
    OTHER_QUANTITY = "other-quantity"
    OTHER_ZONE = "other-zone"
    OTHER_SPAN = "other-span"
    TOO_FEW_REPLICATES = "too-few-replicates"
    METHODS_DISAGREE = "methods-disagree"
    ONE_GRADE = "one-grade"
    ALL_AGREED = "all-agreed"
    NO_INTERVAL = "no-interval"
    MORE_STAKES = "more-stakes"
    NOT_WITHIN_TEN_YEARS = "not-within-ten-years"
    TIES = "ties"


class Caveat(StrEnum):
    """What has to be said beside a number that can be told."""

    TWO_VISITS = "two-visits"
    SEASON_NOT_PARTED = "season-not-parted"
    ONE_TABLE = "one-table"
    HORIZONS_NOT_FOUND = "horizons-not-found"
    ONE_END_IS_ZERO = "one-end-is-zero"
    EVENLY_SPACED = "evenly-spaced"
    ONE_CONTROL = "one-control"
    REMEMBERS = "remembers"
    UNCERTAINTIES_FAR_FROM_SCATTER = "uncertainties-far-from-scatter"
    ONE_FRAME = "one-frame"
    IF_NOT_CLUMPED = "if-not-clumped"
    METHODS_WITHOUT_OWN_ERROR = "methods-without-own-error"
    PREDICTED_WITHOUT_WEATHER = "predicted-without-weather"
    SHORT_SPAN = "short-span"
    THIS_PLOT_ALONE = "this-plot-alone"
    THIS_REACH_ALONE = "this-reach-alone"


@dataclass(frozen=True, slots=True)
class Method:
    """
    How a number is worked out.

    Attributes:
        name: the computation's name.
        computed_as: its version: raise it when the same readings make other numbers than before, so that old and new can both be shown.
        source: where the formula comes from.
        replicate: what counts as one independent piece of evidence.
    """

    name: str
    computed_as: str
    source: str
    replicate: str


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A stake, visit, plot or reading that does not count, by the name it was given, why, and of which zone where there are several."""

    name: str
    why: Why
    zone: str | None = None


@dataclass(frozen=True, slots=True)
class CannotTell:
    """
    Not enough to go on.

    Attributes:
        has, least: what there is and what there would have to be, where that is the reason.
        zone: of which zone or part, where it is of one.
    """

    method: Method
    why: Why
    has: float | None = None
    least: float | None = None
    zone: str | None = None
    left_out: tuple[LeftOut, ...] = ()


def as_floats(values: Sequence[Any] | Floats) -> Floats:
    """
    Readings as an array of any shape, NaN where one was not read.

    Raises:
        ValueError: rows of unequal lengths.
    """
    array = np.array(values, dtype=float) if not isinstance(values, np.ndarray) else values.astype(float)
    return np.where(np.isfinite(array), array, np.nan)


def read_ones(values: Iterable[Reading]) -> Floats:
    """Those readings of a row that were read."""
    row = as_floats(list(values))
    return np.asarray(row[np.isfinite(row)], float)


def is_spread(values: Floats) -> bool:
    """Whether values differ by more than arithmetic does: equal readings show nothing of how far they might scatter."""
    return bool(values.size > 1 and np.ptp(values) > 1e-9 * max(1.0, float(np.abs(values).max())))
