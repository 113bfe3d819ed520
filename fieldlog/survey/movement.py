"""
Did it really move? Two positions compared with their uncertainty, at 95 %.

Two dimensions: d' (C1 + C2)^-1 d > 5.991, the 95 % point of chi-square with two degrees of freedom; one dimension:
|d| > 1.96 sqrt(s1² + s2²). A phone's own position errs by metres, so it never decides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fieldlog.instants import in_order
from fieldlog.rounding import rounded
from fieldlog.survey.position import Z_95, Covariance

CHI2_2_95 = -2 * math.log(0.05)
"""5.991465, exactly."""

R95_TO_SIGMA = 1 / math.sqrt(CHI2_2_95)
"""0.40854: one sigma of an axis out of a circular 95 % radius."""

PHONE = "phone_gnss"
STARTS_ANEW = frozenset({"placed", "reset", "righted", "replaced"})
COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


@dataclass(frozen=True, slots=True)
class Place:
    """A place on the site grid: metres, covariance in m², and the method by which it was found."""

    east_m: float
    north_m: float
    covariance: Covariance
    method: str


@dataclass(frozen=True, slots=True)
class Movement:
    """
    What two places say.

    Attributes:
        verdict: moved, not_moved or cannot_tell.
        bearing_deg: from true north.
        t2: the test's value; over `limit` it is significant.
        detectable_m: the smallest shift that these measurements tell in every direction.
    """

    verdict: str
    displacement_m: float
    bearing_deg: float
    t2: float
    limit: float
    detectable_m: float
    sentence: str


def compare(first: Place, second: Place, grid_azimuth_deg: float) -> Movement:
    """Whether a thing moved between two measured places; the grid's north points to `grid_azimuth_deg`."""
    east, north = second.east_m - first.east_m, second.north_m - first.north_m
    ee, en, nn = (one + two for one, two in zip(first.covariance, second.covariance, strict=True))
    determinant = ee * nn - en * en
    t2 = (nn * east**2 - 2 * en * east * north + ee * north**2) / determinant if determinant > 0 else math.inf
    largest = (ee + nn) / 2 + math.hypot((ee - nn) / 2, en)
    shift = math.hypot(east, north)
    bearing = (math.degrees(math.atan2(east, north)) + grid_azimuth_deg) % 360
    verdict = "moved" if t2 > CHI2_2_95 else "not_moved"
    if PHONE in (first.method, second.method) or not determinant > 0:
        verdict = "cannot_tell"
    detectable = math.sqrt(CHI2_2_95 * largest)
    return Movement(
        verdict, shift, bearing, t2, CHI2_2_95, detectable, _sentence(verdict, shift, bearing, t2, detectable)
    )


def _sentence(verdict: str, shift_m: float, bearing_deg: float, t2: float, detectable_m: float) -> str:
    if verdict == "moved":
        return (
            f"Moved {rounded(shift_m, 2)} m towards the {compass_word(bearing_deg)}: T² is {rounded(t2, 1)}, "
            f"and over {rounded(CHI2_2_95, 2)} is significant at 95 %."
        )
    if verdict == "not_moved":
        return (
            f"No movement that can be told: {rounded(shift_m, 2)} m, and a shift under {rounded(detectable_m, 2)} m "
            "lies within the uncertainty of the two measurements."
        )
    return "A phone's own position cannot tell whether it moved. Measure with tapes from two marks or more."


def compass_word(bearing_deg: float) -> str:
    """The nearest of eight directions."""
    return COMPASS[math.floor(bearing_deg / 45 + 0.5) % 8]


def level_changed(first_m: float, first_sigma_m: float, second_m: float, second_sigma_m: float) -> bool:
    """Whether two levels differ by more than their combined 95 % uncertainty."""
    return abs(second_m - first_m) > Z_95 * math.hypot(first_sigma_m, second_sigma_m)


def zero_fix(fixes: Sequence[tuple[str, str]], events: Sequence[tuple[str, str]]) -> int | None:
    """
    Which fix every later one is compared with: the first not by phone at or after the newest epoch-starting event.

    Args:
        fixes: (instant, method) in order of time.
        events: (instant, what was done) in any order. Instants are UTC texts of one form.

    Returns:
        The place in `fixes`, or None.
    """
    start = max((in_order(at) for at, event in events if event in STARTS_ANEW), default="")
    return next(
        (n for n, (at, method) in enumerate(fixes) if method != PHONE and in_order(at) >= start), None
    )  # fmt: skip
