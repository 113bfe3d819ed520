"""
A made site and its seasons, judged by the product's own functions: what the rule does where the truth is known.

48 units in four rows, four marks, each unit measured from its three nearest marks; normal tape errors; the stated sigma is 0.02 m.
The second set of a visit is taken where the first one asks for it, as the phone does.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from fieldlog.survey.epoch import Epoch, MarkTape, taped
from fieldlog.survey.position import Point
from fieldlog.survey.tape_scale import scale_of
from fieldlog.survey.verdict import Judged, Pair, Verdict, doubted_mark, judge
from tests.survey.made_tapes import at_marks
from tests.survey.second_set import asks_again

MARKS = {"M1": (-4.0, -9.0), "M2": (31.0, -9.0), "M3": (-7.0, 12.0), "M4": (35.0, 13.0)}
UNITS: list[Point] = [(2.4 * slot, 6.0 * row) for row in range(4) for slot in range(12)]
LEAST_SHIFT_M = 0.11


@dataclass
class Season:
    """One seed's site: its tapes are truly `true_m`; `zero_sets` sets at the zero epoch, of so many marks a unit."""

    seed: int
    true_m: float = 0.02
    zero_sets: int = 1
    tapes: int = 3
    zero_misread_m: float = 0.0
    knocked_m: float = 0.0
    epochs: list[Epoch] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.random = np.random.default_rng(self.seed)
        self.places = list(UNITS)
        self.wrong_unit = int(self.random.integers(len(UNITS)))
        self.zero = [self.measured(unit, self.zero_sets, self.zero_misread_m if unit == self.wrong_unit else 0.0) for unit in range(len(UNITS))]
        self.epochs += self.zero

    def marks_of(self, unit: int) -> dict[str, Point]:
        if self.tapes == 2:  # along one side of the site, so that they cross well at every unit
            return {name: MARKS[name] for name in ("M1", "M2")}
        near = sorted(MARKS, key=lambda name: math.dist(MARKS[name], UNITS[unit]))[: self.tapes]
        return {name: MARKS[name] for name in sorted(near)}

    def tapes_of(self, unit: int, misread_m: float, knocked_m: float) -> list[MarkTape]:
        marks = self.marks_of(unit)
        errors = [self.true_m * float(error_m) for error_m in self.random.normal(size=len(marks))]
        if misread_m:
            errors[self.random.integers(len(marks))] += misread_m * float(self.random.choice([-1, 1]))
        place = self.places[unit]
        for n, name in enumerate(marks):
            if name == "M1" and knocked_m:
                errors[n] += math.dist((MARKS[name][0] + knocked_m, MARKS[name][1]), place) - math.dist(MARKS[name], place)
        return list(at_marks(marks, place, errors))

    def measured(self, unit: int, sets: int, misread_m: float = 0.0, knocked_m: float = 0.0) -> Epoch:
        tapes = [tape for n in range(sets) for tape in self.tapes_of(unit, misread_m if n == 0 else 0.0, knocked_m)]
        return epoch_of(tapes, UNITS[unit])

    def move(self, units: Sequence[int], shift_m: float) -> None:
        for unit in units:
            angle = 2 * math.pi * self.random.random()
            east, north = self.places[unit]
            self.places[unit] = (east + shift_m * math.cos(angle), north + shift_m * math.sin(angle))

    def survey(self, misread_m: float = 0.0, second: bool = True) -> list[Judged]:
        """Every unit measured once, and again where the first set asks; one tape of one unit misread."""
        firsts = [self.measured(unit, 1, misread_m if unit == self.wrong_unit else 0.0, self.knocked_m) for unit in range(len(UNITS))]
        scale = scale_of([*self.epochs, *firsts])
        asked = asks_again([Pair(zero, first, LEAST_SHIFT_M) for zero, first in zip(self.zero, firsts, strict=True)], scale)
        now = [
            epoch_of([*first.tapes, *self.tapes_of(unit, 0.0, self.knocked_m)], UNITS[unit]) if asks and second else first
            for unit, (first, asks) in enumerate(zip(firsts, asked, strict=True))
        ]
        self.epochs += now
        scale = scale_of(self.epochs)
        pairs = [Pair(zero, one, LEAST_SHIFT_M) for zero, one in zip(self.zero, now, strict=True)]
        return judge(pairs, scale, doubted_mark(pairs, scale))


def epoch_of(tapes: Sequence[MarkTape], near: Point) -> Epoch:
    """Like `taped`, which for tapes from two marks doubts the side; here that is known, to try what else holds them."""
    found = taped(tapes, near)
    assert isinstance(found, Epoch)
    return Epoch(found.method, found.east_m, found.north_m, found.tapes)


def ever_moved(season: Season, surveys: int = 12) -> int:
    """How many units any survey of a year says moved."""
    moved: set[int] = set()
    for _ in range(surveys):
        moved |= {unit for unit, one in enumerate(season.survey()) if one.verdict is Verdict.MOVED}
    return len(moved)


def first_survey_after(season: Season, shift_m: float, movers: int = 5) -> list[Verdict]:
    """What the first survey says of units that moved."""
    units = [int(unit) for unit in season.random.permutation(len(UNITS))[:movers]]
    season.move(units, shift_m)
    found = season.survey()
    return [found[unit].verdict for unit in units]
