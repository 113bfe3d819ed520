"""
What a unit's readings of one visit, by one method, are to the survey: a place, how sure it is, and what is in doubt about it.

Several sets of tapes on one visit are one fix of all their tapes. A receiver's or typed place is as sure as its surest reading:
readings of one receiver within minutes err alike, so a second one makes the place no surer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from fieldlog.survey.position import Adjusted, Doubt, NoPlace, Point, TapeRange, adjust

MARK_SIGMA_M = 0.05
"""One sigma of an axis of a mark where nobody said: our proposal."""

BLOCKING = frozenset({"side", "side-unknown", "weak"})
"""Doubts about a place with which it never says that a unit moved."""


@dataclass(frozen=True, slots=True)
class MarkTape:
    """A tape and the mark that it was read from: the mark's id and one sigma of an axis of it, in metres."""

    mark_id: str
    mark_sigma_m: float
    tape: TapeRange


@dataclass(frozen=True)
class Epoch:
    """
    A unit's place on one visit by one method, on the site grid in metres.

    Attributes:
        tapes: empty where the place was typed or came from a receiver.
        sigma_m: one sigma of an axis of such a place; 0 with tapes, which say it themselves.
        doubts: why it cannot say that the unit moved: side, side-unknown, weak.
    """

    method: str
    east_m: float
    north_m: float
    tapes: tuple[MarkTape, ...] = ()
    sigma_m: float = 0.0
    doubts: tuple[Doubt, ...] = ()

    @cached_property
    def tape_marks(self) -> list[str]:
        """The mark of each tape, in the tapes' order."""
        return [one.mark_id for one in self.tapes]

    @cached_property
    def mark_sigmas(self) -> dict[str, float]:
        """One sigma of an axis of each of its marks, metres, by the mark's id."""
        return {one.mark_id: one.mark_sigma_m for one in self.tapes}

    @cached_property
    def numbers(self) -> NDArray[np.float64]:
        """(n, 4) of each tape: east and north of its mark, what it read and its sigma, all in metres."""
        return np.array([(one.tape.east_m, one.tape.north_m, one.tape.range_m, one.tape.sigma_m) for one in self.tapes], float).reshape(-1, 4)

    @cached_property
    def mark_ids(self) -> frozenset[str]:
        """The marks that its tapes were read from."""
        return frozenset(self.tape_marks)

    @property
    def is_repeated(self) -> bool:
        """Whether a mark was read from twice; a typed place is as good as it says."""
        return len(self.tapes) > len(self.mark_ids) or not self.tapes


def taped(tapes: Sequence[MarkTape], expected: Point | None) -> Epoch | NoPlace:
    """The epoch of all tapes of a visit; `expected` decides between two places that fit."""
    return _taped(tuple(tapes), expected)


@lru_cache(8192)
def _taped(tapes: tuple[MarkTape, ...], expected: Point | None) -> Epoch | NoPlace:
    """A site's newest tapes are asked for with each reading that comes."""
    found = adjust([one.tape for one in tapes], expected)
    if not isinstance(found, Adjusted):
        return found
    doubts = tuple(doubt for doubt in found.warnings if doubt.word in BLOCKING)
    return Epoch("tapes", found.east_m, found.north_m, tapes, doubts=doubts)


def given(method: str, places: Sequence[tuple[float, float, float]]) -> Epoch:
    """The epoch of places that were typed or came from a receiver, each (east, north, sigma of an axis) in metres: their weighted mean."""
    weights = [1 / sigma_m**2 for _, _, sigma_m in places]
    east, north = (sum(w * place[axis] for w, place in zip(weights, places, strict=True)) / sum(weights) for axis in (0, 1))
    return Epoch(method, east, north, sigma_m=min(sigma_m for _, _, sigma_m in places))
