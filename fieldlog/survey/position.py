"""
A place from tape ranges: plain least squares by Gauss-Newton, weights 1/s².

Symbols of the literature: v residual, Q_vv its variance, s0 the standard error of unit weight. The covariance is the
a priori one (from the tapes' own uncertainty), so that two tapes, which leave nothing over, have one too.

Source: adjustment of observations by least squares, e.g. Ghilani, Adjustment Computations, ch. 14 (trilateration), 19
(error ellipse) and 21 (blunders), from memory; worked values in tests/vectors/survey_cases.json.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from fieldlog.rounding import rounded

TAPE_SIGMA_M = 0.02
"""One sigma of a 20 to 30 m tape read in wind where nobody says better: our proposal, within the usual 10 to 30 mm."""

LEAST_SIGMA_M = 1e-6
"""No tape is surer: far below it the weights overflow."""

K_95 = math.sqrt(-2 * math.log(0.05))
"""2.4477: the 95 % ellipse in units of sigma, two dimensions."""

Z_95 = 1.959963984540054
"""The normal deviate of 95 %, two-sided."""

CHI2_1_95 = Z_95**2
LEAST_CUT_DEG = 30.0
STEP_END_M = 1e-10
MOST_STEPS = 50

Point = tuple[float, float]
Covariance = tuple[float, float, float]
"""(east-east, east-north, north-north) in m²."""


@dataclass(frozen=True, slots=True)
class TapeRange:
    """A horizontal distance read from a mark, with its one-sigma uncertainty; all in metres."""

    label: str
    east_m: float
    north_m: float
    range_m: float
    sigma_m: float


@dataclass(frozen=True, slots=True)
class Ellipse:
    """The 95 % error ellipse: half axes in metres, azimuth of the longer one from grid north, 0 to 180 degrees."""

    semi_major_m: float
    semi_minor_m: float
    azimuth_deg: float


@dataclass(frozen=True, slots=True)
class Doubt:
    """A doubt about a place: a fixed word, and what to say to the crew."""

    word: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Adjusted:
    """
    A place by least squares.

    Attributes:
        residuals_m: observed less adjusted range, in the order of the ranges.
        s0: standard error of unit weight; None where nothing is left over to judge by.
        mirror: the other place that fits, where the marks cannot tell.
        cut_deg: the best angle at which two of the tapes cross, 0 to 90 degrees.
    """

    east_m: float
    north_m: float
    covariance: Covariance
    residuals_m: tuple[float, ...]
    s0: float | None
    ellipse: Ellipse
    mirror: Point | None
    cut_deg: float
    warnings: tuple[Doubt, ...]


@dataclass(frozen=True, slots=True)
class NoPlace:
    """Why ranges give no place: a fixed word (too-few, impossible, on-the-line), and what to do."""

    word: str
    sentence: str


def adjust(ranges: Sequence[TapeRange], expected: Point | None) -> Adjusted | NoPlace:
    """
    The place that fits the tapes best.

    Args:
        ranges: two or more, from at least two marks.
        expected: where the thing should stand; decides between two places that fit. None: not known.
    """
    unusable = _unusable(ranges)
    if unusable is not None:
        return unusable
    starts = _starts(ranges)
    if isinstance(starts, NoPlace):
        return starts
    sides = [place for place in (_descend(ranges, start) for start in starts) if place is not None]
    if not sides:
        return _on_the_line(ranges)
    place, mirror = _choose(ranges, sides, expected)
    return _described(ranges, place, mirror, expected)


def _choose(ranges: Sequence[TapeRange], sides: list[Point], expected: Point | None) -> tuple[Point, Point | None]:
    """The place that is taken, and the other one where the tapes cannot tell it from the first."""
    best = min(sides, key=lambda side: _misfit(ranges, side))
    other = max(sides, key=lambda side: math.dist(side, best))
    if math.dist(best, other) < 1e-6 or _misfit(ranges, other) - _misfit(ranges, best) > CHI2_1_95:
        return best, None
    chosen = sides[0] if expected is None else min(sides, key=lambda side: math.dist(side, expected))
    return chosen, other if chosen == best else best


def _unusable(ranges: Sequence[TapeRange]) -> NoPlace | None:
    if len({(tape.east_m, tape.north_m) for tape in ranges}) < 2:
        return NoPlace("too-few", "A position needs tapes from two marks or more. Measure from another mark.")
    for tape in ranges:
        if tape.range_m <= 0:
            said = f"The tape from {tape.label} reads {rounded(tape.range_m, 2)} m; it must be longer than 0 m. Read it again."
            return NoPlace("impossible", said)
        if tape.sigma_m < LEAST_SIGMA_M:
            said = f"The tape from {tape.label} is given as surer than 0.000001 m; no tape is. Write how well you can read it, such as 0.02 m."
            return NoPlace("impossible", said)
    return None


def _starts(ranges: Sequence[TapeRange]) -> list[Point] | NoPlace:
    """Both points where the two tapes that cross best meet: the one to the left of their base line first."""
    crossing = [(cut, pair) for pair in combinations(ranges, 2) if (cut := _crossing_deg(*pair)) is not None]
    if crossing:
        _, (one, two) = max(crossing, key=lambda found: found[0])
        return _meeting(one, two, None)
    apart = [pair for pair in combinations(ranges, 2) if _base_m(*pair) > 0]
    one, two = apart[0]
    if len(ranges) > 2:
        return _meeting(one, two, min(one.range_m, two.range_m) / 2)
    base, gap = _base_m(one, two), _gap_m(one, two)
    if gap > 2 * (one.sigma_m + two.sigma_m):
        return NoPlace(
            "impossible",
            f"Tapes of {rounded(one.range_m, 2)} m from {one.label} and {rounded(two.range_m, 2)} m from {two.label} "
            f"cannot meet: these marks are {rounded(base, 2)} m apart. Read both again.",
        )
    return _on_the_line(ranges)


def _on_the_line(ranges: Sequence[TapeRange]) -> NoPlace:
    labels = " and ".join(dict.fromkeys(tape.label for tape in ranges))
    said = f"It is on the line through {labels}, where these tapes cannot place it. Measure from a mark off that line."
    return NoPlace("on-the-line", said)


def _base_m(one: TapeRange, two: TapeRange) -> float:
    return math.hypot(two.east_m - one.east_m, two.north_m - one.north_m)


def _gap_m(one: TapeRange, two: TapeRange) -> float:
    """By how much two tapes miss each other; negative where they cross."""
    base = _base_m(one, two)
    return max(base - one.range_m - two.range_m, abs(one.range_m - two.range_m) - base)


def _crossing_deg(one: TapeRange, two: TapeRange) -> float | None:
    """The angle at which two tapes cross, 0 to 90 degrees; None where they do not."""
    base = _base_m(one, two)
    if base == 0 or _gap_m(one, two) >= 0:
        return None
    cosine = (one.range_m**2 + two.range_m**2 - base**2) / (2 * one.range_m * two.range_m)
    return math.degrees(math.acos(min(1.0, abs(cosine))))


def _meeting(one: TapeRange, two: TapeRange, aside_m: float | None) -> list[Point]:
    """Where two circles meet, left of the line from one to two first; `aside_m` where they do not quite meet."""
    base = _base_m(one, two)
    along = (one.range_m**2 - two.range_m**2 + base**2) / (2 * base)
    across = math.sqrt(max(0.0, one.range_m**2 - along**2)) if aside_m is None else aside_m
    east, north = (two.east_m - one.east_m) / base, (two.north_m - one.north_m) / base
    foot = (one.east_m + along * east, one.north_m + along * north)
    return [(foot[0] - side * north * across, foot[1] + side * east * across) for side in (1, -1)]


def _normals(ranges: Sequence[TapeRange], place: Point) -> tuple[Covariance, Point] | None:
    """The normal matrix and right-hand side at a place; None at a mark itself."""
    ee = en = nn = right_e = right_n = 0.0
    for tape in ranges:
        distance = math.hypot(place[0] - tape.east_m, place[1] - tape.north_m)
        if distance < 1e-9:
            return None
        east, north = (place[0] - tape.east_m) / distance, (place[1] - tape.north_m) / distance
        weight, miss = 1 / tape.sigma_m**2, tape.range_m - distance
        ee, en, nn = ee + weight * east * east, en + weight * east * north, nn + weight * north * north
        right_e, right_n = right_e + weight * east * miss, right_n + weight * north * miss
    return (ee, en, nn), (right_e, right_n)


def _inverse(matrix: Covariance) -> Covariance | None:
    ee, en, nn = matrix
    determinant = ee * nn - en * en
    if determinant <= 1e-12 * (ee + nn) ** 2:
        return None
    return nn / determinant, -en / determinant, ee / determinant


def _descend(ranges: Sequence[TapeRange], start: Point) -> Point | None:
    """Gauss-Newton from a start; None where it meets a singular matrix or does not come to rest."""
    east, north = start
    for _ in range(MOST_STEPS):
        normals = _normals(ranges, (east, north))
        inverse = None if normals is None else _inverse(normals[0])
        if normals is None or inverse is None:
            return None
        right = normals[1]
        step_e = inverse[0] * right[0] + inverse[1] * right[1]
        step_n = inverse[1] * right[0] + inverse[2] * right[1]
        east, north = east + step_e, north + step_n
        if math.hypot(step_e, step_n) < STEP_END_M:
            return east, north
    return None


def _residual_m(tape: TapeRange, place: Point) -> float:
    return tape.range_m - math.hypot(place[0] - tape.east_m, place[1] - tape.north_m)


def _misfit(ranges: Sequence[TapeRange], place: Point) -> float:
    return sum((_residual_m(tape, place) / tape.sigma_m) ** 2 for tape in ranges)


def _described(
    ranges: Sequence[TapeRange], place: Point, mirror: Point | None, expected: Point | None
) -> Adjusted | NoPlace:
    normals = _normals(ranges, place)
    covariance = None if normals is None else _inverse(normals[0])
    if covariance is None:
        return _on_the_line(ranges)
    freedom = len(ranges) - 2
    cut = _cut_deg(ranges, place)
    doubts = [_blunder(ranges, place, covariance), _weak(cut), _side(mirror, expected)]
    return Adjusted(
        east_m=place[0], north_m=place[1], covariance=covariance,
        residuals_m=tuple(_residual_m(tape, place) for tape in ranges),
        s0=math.sqrt(_misfit(ranges, place) / freedom) if freedom > 0 else None, ellipse=ellipse_95(covariance),
        mirror=mirror, cut_deg=cut, warnings=tuple(doubt for doubt in doubts if doubt is not None),
    )  # fmt: skip


def ellipse_95(covariance: Covariance) -> Ellipse:
    """The 95 % ellipse of a two-dimensional covariance in m²."""
    ee, en, nn = covariance
    middle, half = (ee + nn) / 2, math.hypot((ee - nn) / 2, en)
    azimuth = math.degrees(0.5 * math.atan2(2 * en, nn - ee)) % 180
    return Ellipse(K_95 * math.sqrt(middle + half), K_95 * math.sqrt(max(0.0, middle - half)), azimuth)


def _cut_deg(ranges: Sequence[TapeRange], place: Point) -> float:
    angles = [math.atan2(place[0] - tape.east_m, place[1] - tape.north_m) for tape in ranges]
    return max(math.degrees(math.asin(min(1.0, abs(math.sin(one - two))))) for one, two in combinations(angles, 2))


def _weak(cut_deg: float) -> Doubt | None:
    if cut_deg >= LEAST_CUT_DEG:
        return None
    said = (
        f"The tapes cross at {rounded(cut_deg, 0)}° only; under {rounded(LEAST_CUT_DEG, 0)}° a position is weak. Measure from a mark more to the side."
    )
    return Doubt("weak", said)


def _side(mirror: Point | None, expected: Point | None) -> Doubt | None:
    if mirror is None:
        return None
    if expected is None:
        return Doubt("side-unknown", "Two positions fit these tapes. Add a tape from a third mark to decide.")
    said = (
        f"Two positions fit these tapes. The one closer to where it should be is used. The other is {rounded(mirror[0], 2)} m "
        f"east, {rounded(mirror[1], 2)} m north."
    )
    return Doubt("side", said)


def _blunder(ranges: Sequence[TapeRange], place: Point, covariance: Covariance) -> Doubt | None:
    """The test |v| / sqrt(Q_vv) > 1.96; with three tapes all three fail alike, with more the largest is named."""
    if len(ranges) < 3:
        return None
    worst, ratio = ranges[0], 0.0
    for tape in ranges:
        v = _residual_m(tape, place)
        distance = tape.range_m - v
        east, north = (place[0] - tape.east_m) / distance, (place[1] - tape.north_m) / distance
        adjusted = east**2 * covariance[0] + 2 * east * north * covariance[1] + north**2 * covariance[2]
        q_vv = tape.sigma_m**2 - adjusted
        if q_vv > 1e-6 * tape.sigma_m**2 and abs(v) / math.sqrt(q_vv) > ratio:
            worst, ratio = tape, abs(v) / math.sqrt(q_vv)
    if ratio <= Z_95:
        return None
    which = (
        "One of the three is misread, and three tapes cannot show which: measure from a fourth mark."
        if len(ranges) == 3
        else f"The one from {worst.label} fits worst: read it again."
    )
    missed_m = max(abs(_residual_m(tape, place)) for tape in ranges)
    return Doubt("blunder", f"The tapes do not agree: the best fit misses one by {rounded(missed_m, 3)} m. {which}")
