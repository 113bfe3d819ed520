"""
A plain least-squares fit of constants with the columns of our own prediction, without intervals: cheap enough to be done many times.

It serves what asks for many fits of one record: blocks of days left out in turn, and inferences off by their own uncertainty. The
constants that are used come from harmonic.py, with the same columns.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from fieldlog.tides.astronomy import speed_deg_per_h
from fieldlog.tides.evenly import averaging_response
from fieldlog.tides.parting import Inference
from fieldlog.tides.yearly import argument_at


@dataclass(frozen=True, eq=False)
class Sums:
    """The normal equations of a record over the columns of all its constituents: inner products, and those with the levels."""

    gram: np.ndarray
    moments: np.ndarray

    def without(self, part: Sums) -> Sums:
        """Those of the record without a part of it."""
        return Sums(self.gram - part.gram, self.moments - part.moments)


@dataclass(frozen=True, eq=False)
class Solution:
    """Mean level (m) and each constituent as A exp(-iG): ``weights``, shape (1 + 2 k,), are what the columns are multiplied by."""

    mean_m: float
    constants: Mapping[str, complex]
    weights: np.ndarray


def columns(at_s: np.ndarray, names: Sequence[str], count: int = 1) -> np.ndarray:
    """
    The columns that a level is a sum of, by our own yearly f, u and V.

    Args:
        at_s: times, seconds since 1970 UTC, shape (n,).
        count: how many levels an hour each is a mean of.

    Returns:
        Shape (n, 1 + 2 k): ones, then each constituent's real and negative imaginary part of f exp(i(V + u)).
    """
    found = np.ones((len(at_s), 1 + 2 * len(names)))
    years = at_s.astype("datetime64[s]").astype("datetime64[Y]").astype(int) + 1970
    for year in np.unique(years):
        rows = years == year
        start = datetime(int(year), 1, 1, tzinfo=UTC)
        hours = (at_s[rows] - start.timestamp()) / 3600
        for place, name in enumerate(names):
            f, argument_deg = argument_at(name, start)
            speed = speed_deg_per_h(name)
            turned = np.radians(speed * hours + argument_deg)
            height = f * averaging_response(speed, count)
            found[rows, 1 + 2 * place] = height * np.cos(turned)
            found[rows, 2 + 2 * place] = -height * np.sin(turned)
    return found


def sums_of(design: np.ndarray, level_m: np.ndarray) -> Sums:
    """The normal equations of levels, shape (n,); NaN is left out."""
    here = np.isfinite(level_m)
    kept = design[here]
    return Sums(kept.T @ kept, kept.T @ level_m[here])


def solved(sums: Sums, kept: Sequence[str], assumed: Sequence[Inference]) -> Solution:
    """Fit the kept constituents, each inferred one riding on its source; the sums are over [*kept, *inferred]."""
    names = [*kept, *(one.name for one in assumed)]
    tie = np.zeros((1 + 2 * len(names), 1 + 2 * len(kept)))
    tie[: 1 + 2 * len(kept)] = np.eye(1 + 2 * len(kept))
    for place, one in enumerate(assumed, start=len(kept)):
        source = 1 + 2 * list(kept).index(one.source)
        along, across = one.ratio * np.cos(np.radians(one.phase_deg)), -one.ratio * np.sin(np.radians(one.phase_deg))
        tie[1 + 2 * place : 3 + 2 * place, source : source + 2] = [[along, -across], [across, along]]
    fitted = np.linalg.lstsq(tie.T @ sums.gram @ tie, tie.T @ sums.moments, rcond=None)[0]
    weights = tie @ fitted
    return Solution(float(weights[0]), {name: complex(weights[1 + 2 * n], weights[2 + 2 * n]) for n, name in enumerate(names)}, weights)
