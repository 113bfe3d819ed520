"""
The linear algebra of many epochs at once: what a tape, and what a mark, does to each place.

Symbols of the literature: A unit vectors from mark to unit, W = diag(1/s²), G = (AᵀWA)⁻¹AᵀW (how a tape moves the place), D (how a
wrong mark moves it), v residuals, r = 1 - (AG)_ii redundancy numbers. Epochs with fewer tapes than the most are filled up with tapes
of no weight. Shapes: E epochs, n tapes, M marks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldlog.survey.epoch import Epoch

Floats = NDArray[np.float64]
STEPS = 10
"""Steps of Gauss-Newton from the place of all tapes to that of all but one; narrow cuts take the most."""

REST_M = 1e-4

FAR_M = 1e6
"""Where a tape stands that fills up, so that it has a direction."""

SINGULAR = 1e-9
"""Normal matrices flatter than that, of their trace squared, give no place."""


@dataclass(frozen=True)
class Columns:
    """
    Epochs side by side.

    Attributes:
        place: (E, 2) east and north in metres.
        own: (E,) variance of an axis of a typed place, m²; 0 with tapes.
        mark: (E, n) which mark; at: (E, n, 2) where that stands; read: (E, n) metres; sigma: (E, n) metres, 1 for a tape that fills up.
        weight: (E, n) 1/s², 0 for a tape that fills up.
    """

    place: Floats
    own: Floats
    mark: NDArray[np.int64]
    at: Floats
    read: Floats
    sigma: Floats
    weight: Floats

    @property
    def count(self) -> NDArray[np.int64]:
        """(E,) how many tapes each has."""
        return np.asarray((self.weight > 0).sum(1), np.int64)

    def some(self, which: NDArray[np.bool_] | NDArray[np.int64]) -> Columns:
        """Some of the epochs."""
        return Columns(*(getattr(self, name)[which] for name in self.__dataclass_fields__))

    def directions(self) -> Floats:
        """A: (E, n, 2) unit vectors from mark to unit."""
        apart = self.place[:, None, :] - self.at
        return np.asarray(apart / np.maximum(np.hypot(apart[..., 0], apart[..., 1]), 1e-9)[..., None])

    def residuals(self) -> Floats:
        """v: (E, n) observed less adjusted, metres; 0 for a tape that fills up."""
        apart = self.place[:, None, :] - self.at
        return np.asarray(np.where(self.weight > 0, self.read - np.hypot(apart[..., 0], apart[..., 1]), 0.0))

    def without(self, tape: int) -> Columns:
        """The epochs without one of their tapes, adjusted anew; no number is the place of one that does not come to rest."""
        weight = self.weight.copy()
        weight[:, tape] = 0
        left = replace(self, weight=weight)
        for _ in range(STEPS):
            left = replace(left, place=left.place + left.step())
        rests = np.hypot(*left.step().T) < REST_M
        return replace(left, place=np.where(rests[:, None], left.place, np.nan))

    def step(self) -> Floats:
        """The next step of Gauss-Newton: (E, 2) metres."""
        return np.asarray(np.einsum("ein,en->ei", self.gain(), self.residuals()))

    def a_tape_a_mark(self, count: int) -> Columns:
        """The same with one tape a mark, in the marks' order: the weighted mean of what was read from it. Each must have `count` marks."""
        order = np.argsort(np.where(self.weight > 0, self.mark, np.iinfo(np.int64).max), axis=1, kind="stable")
        mark = np.take_along_axis(self.mark, order, 1)
        at, read, weight = (np.take_along_axis(values, order, 1) for values in (self.at[..., 0], self.read, self.weight))
        place = (np.cumsum(np.diff(mark, axis=1, prepend=mark[:, :1]) != 0, axis=1) == np.arange(count)[:, None, None]) & (weight > 0)
        joined = (place * weight).sum(2).T
        first = place.argmax(2).T
        north = np.take_along_axis(self.at[..., 1], order, 1)
        at_mark = np.stack([np.take_along_axis(at, first, 1), np.take_along_axis(north, first, 1)], 2)
        mean = (place * weight * read).sum(2).T / joined
        return Columns(self.place, self.own, np.take_along_axis(mark, first, 1), at_mark, mean, joined**-0.5, joined)

    def gain(self) -> Floats:
        """G: (E, 2, n); zeros where there are no tapes or these give no place."""
        directions = self.directions()
        weighted = directions * self.weight[..., None]
        normal = np.einsum("eni,enj->eij", directions, weighted)
        trace = np.trace(normal, axis1=1, axis2=2)
        determinant = normal[:, 0, 0] * normal[:, 1, 1] - normal[:, 0, 1] ** 2
        has_place = determinant > SINGULAR * trace**2
        adjugate = np.empty_like(normal)
        adjugate[:, 0, 0], adjugate[:, 1, 1] = normal[:, 1, 1], normal[:, 0, 0]
        adjugate[:, 0, 1] = adjugate[:, 1, 0] = -normal[:, 0, 1]
        inverse = np.where(has_place[:, None, None], adjugate / np.where(has_place, determinant, 1.0)[:, None, None], 0.0)
        return np.asarray(np.einsum("eij,enj->ein", inverse, weighted))

    def design(self, marks: int) -> Floats:
        """B: (E, n, 2 M) each tape's direction in its mark's two columns, east then north."""
        one_hot = (self.mark[..., None] == np.arange(marks)) & (self.weight > 0)[..., None]
        return np.asarray((one_hot[..., None] * self.directions()[:, :, None, :]).reshape(*self.mark.shape, 2 * marks))

    def contrasts(self, scale: Floats) -> Floats:
        """K: (E, n - 2, n) orthonormal rows that tell nothing of the place, of tapes over `scale` (E, n); all must have n tapes."""
        return np.swapaxes(np.linalg.svd(self.directions() / scale[..., None])[0], 1, 2)[:, 2:]


def columns_of(epochs: Sequence[Epoch], marks: Sequence[str]) -> Columns:
    """Epochs as columns; `marks` are the ids of all marks that any of them was measured from, in the order of D's columns."""
    counts = [len(epoch.tapes) for epoch in epochs]
    number = {mark_id: n for n, mark_id in enumerate(marks)}
    shape = (len(epochs), max(counts, default=0))
    is_tape = np.arange(shape[1]) < np.array(counts, int)[:, None]
    mark = np.zeros(shape, np.int64)
    mark[is_tape] = [number[mark_id] for epoch in epochs for mark_id in epoch.tape_marks]
    filled = np.tile(np.array([FAR_M, FAR_M, 0.0, 1.0]), (*shape, 1))
    if epochs:
        filled[is_tape] = np.concatenate([epoch.numbers for epoch in epochs])
    place = np.array([(epoch.east_m, epoch.north_m) for epoch in epochs]).reshape(-1, 2)
    own = np.array([epoch.sigma_m**2 for epoch in epochs])
    sigma = filled[..., 3]
    return Columns(place, own, mark, filled[..., :2], filled[..., 2], sigma, np.where(is_tape, 1 / sigma**2, 0.0))
