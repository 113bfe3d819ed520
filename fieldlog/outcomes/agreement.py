"""
Two observers on the same units: quadratic-weighted kappa, from 20 pairs on.

w = 1 - (i - j)²/(k - 1)²; standard error of Fleiss, Cohen and Everitt 1969 (from memory); interval on Fisher's z, which holds the truth
in 94 of 100 made sets of 20 pairs, where the large-sample form holds it in 92.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fieldlog.outcomes.cover import wilson
from fieldlog.outcomes.intervals import Z
from fieldlog.outcomes.results import CannotTell, Floats, Method, Why

LEAST_PAIRS = 20

KAPPA = Method("weighted-kappa", "1", "Fleiss, Cohen and Everitt 1969, from memory; interval on Fisher's z", "unit")
SHARE = Method("share-agreed", "1", "Wilson 1927", "unit")


@dataclass(frozen=True, slots=True)
class Agreement:
    """Kappa of two observers with its interval, and how many pairs were given the same grade."""

    method: Method
    kappa: float
    se: float
    low: float
    high: float
    pairs: int
    agreed: int


@dataclass(frozen=True, slots=True)
class ShareAgreed:
    """
    What can be said without kappa: the share that agreed, with Wilson's interval.

    Attributes:
        why: TOO_FEW_PAIRS; ONE_GRADE, for which kappa does not exist; ALL_AGREED, for which its interval does not.
    """

    method: Method
    why: Why
    share: float
    low: float
    high: float
    pairs: int
    agreed: int


def agreement(table: Sequence[Sequence[int]]) -> Agreement | ShareAgreed | CannotTell:
    """
    Agreement from a square table: a row a grade of the first observer, a column one of the second, in order.

    Raises:
        ValueError: a table that is not square, or a count that is no whole number of 0 or more.
    """
    counts = np.asarray(table, float)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1] or not np.isfinite(counts).all() or (counts < 0).any() or (counts % 1 != 0).any():
        raise ValueError("a square table of whole numbers of 0 or more is needed")
    pairs, agreed = int(counts.sum()), int(np.trace(counts))
    if not pairs:
        return CannotTell(KAPPA, Why.TOO_FEW_PAIRS, 0, LEAST_PAIRS)
    given = np.flatnonzero(counts.sum(0) + counts.sum(1))
    why = Why.ONE_GRADE if len(given) == 1 else Why.TOO_FEW_PAIRS if pairs < LEAST_PAIRS else Why.ALL_AGREED if agreed == pairs else None
    if why is not None:
        ends = wilson(agreed / pairs, pairs)
        return ShareAgreed(SHARE, why, agreed / pairs, float(ends[0]), float(ends[1]), pairs, agreed)
    kappa, se, low, high = weighted_kappa(counts)
    return Agreement(KAPPA, float(kappa), float(se), float(low), float(high), pairs, agreed)


def agreement_of_pairs(first: Sequence[int], second: Sequence[int], grades: int) -> Agreement | ShareAgreed | CannotTell:
    """
    The same from the grades (n,) that two observers gave the same units, from 0 to `grades` - 1.

    Raises:
        ValueError: a grade outside them, or grades of unequal numbers.
    """
    if len(first) != len(second) or any(not 0 <= grade < grades for grade in (*first, *second)):
        raise ValueError(f"two grades a unit from 0 to {grades - 1} are needed")
    table = np.zeros((grades, grades), int)
    np.add.at(table, (np.asarray(first, int), np.asarray(second, int)), 1)
    return agreement(table.tolist())


def weighted_kappa(counts: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Kappa, its standard error and the ends of its interval of tables (..., k, k), k >= 2, not all in one grade."""
    k = counts.shape[-1]
    grades = np.arange(k)
    weights = 1 - ((grades[:, None] - grades) / (k - 1)) ** 2
    n = counts.sum((-1, -2))
    p = counts / n[..., None, None]
    rows, columns = p.sum(-1), p.sum(-2)
    seen = (weights * p).sum((-1, -2))
    by_chance = np.einsum("...i,ij,...j->...", rows, weights, columns)
    kappa = (seen - by_chance) / (1 - by_chance)
    of_rows, of_columns = columns @ weights.T, rows @ weights
    beside = of_rows[..., :, None] + of_columns[..., None, :]
    within = (p * (weights - beside * (1 - kappa)[..., None, None]) ** 2).sum((-1, -2))
    variance = (within - (kappa - by_chance * (1 - kappa)) ** 2) / (n * (1 - by_chance) ** 2)
    se = np.sqrt(np.maximum(variance, 0.0))
    # Where all agreed Fisher's z has no end; such a table is answered by the share that agreed.
    inside = np.abs(kappa) < 1 - 1e-12
    z = np.arctanh(np.where(inside, kappa, 0.0))
    half = Z * se / np.where(inside, 1 - kappa**2, 1.0)
    return kappa, se, np.where(inside, np.tanh(z - half), kappa), np.where(inside, np.tanh(z + half), kappa)
