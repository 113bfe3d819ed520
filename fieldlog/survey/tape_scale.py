"""
How sure a site's tapes are, from what its own fixes leave over.

Every fix with more tapes than it needs tells how well tapes agree there. The errors of the marks sit in the same residuals, so they
are taken out by least squares over all fixes of the site: plain pooling reads 5.3 cm for tapes of 2 cm beside marks of 5 cm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fieldlog.survey.columns import Floats, columns_of
from fieldlog.survey.epoch import Epoch

LEAST_DOF = 30
"""Degrees of freedom from which a site's own tapes count: cautious, our proposal."""

MOST_DOF = 1000
"""The newest degrees of freedom that count."""

OUTLIER = 3.2905
"""Normal deviate of 0.001, two-sided: what lies farther out is left out once, as a misread tape."""

RANK = 1e-6
"""A singular value under this part of the largest one tells nothing."""

TO_SIGMA = 1.4826
"""Turns a median of absolute values of a normal sample into its sigma."""


@dataclass(frozen=True, slots=True)
class TapeScale:
    """
    How many times the stated sigma the site's tapes show.

    Attributes:
        factor: 1 where the stated sigma stands, or no more than it shows.
        dof: degrees of freedom behind it; None where the stated one is taken as known.
        tapes: how many tapes were looked at.
    """

    factor: float = 1.0
    dof: int | None = None
    tapes: int = 0


STATED = TapeScale()


def solved(normal: Floats, right: Floats) -> tuple[Floats, int]:
    """
    The least squares solution of normal equations, the shortest where they tell less than all, and their rank.

    A site's contrasts are many rows of few columns: a factorisation of the rows themselves costs ten times as much, most of it in
    threads that wait for each other.
    """
    values, vectors = np.linalg.eigh(normal)
    kept = values > RANK**2 * max(values.max(initial=0.0), 0.0)
    return vectors[:, kept] @ ((vectors[:, kept].T @ right) / values[kept]), int(kept.sum())


def pooled(contrasts: ArrayLike, mark_rows: ArrayLike) -> tuple[float | None, int]:
    """
    The sigma of contrasts with the marks' errors taken out.

    Args:
        contrasts: u (k,), one number a degree of freedom.
        mark_rows: c (k, 2 M), so that u = c dm + noise.

    Returns:
        Sigma, None where nothing is left over; degrees of freedom.
    """
    u, rows = np.asarray(contrasts, float), np.asarray(mark_rows, float)
    kept, sigma, dof = np.ones(len(u), bool), None, 0
    for _ in range(2):
        errors, rank = solved(rows[kept].T @ rows[kept], rows[kept].T @ u[kept])
        left = u - rows @ errors
        dof = int(kept.sum() - rank)
        sigma = math.sqrt(float(left[kept] @ left[kept]) / dof) if dof > 0 else None
        near = np.abs(left) <= OUTLIER * max(TO_SIGMA * float(np.median(np.abs(left))), 1e-9) if len(u) else kept
        if near.all() or not kept.all():
            break
        kept = near
    return sigma, dof


def scale_of(epochs: Sequence[Epoch]) -> TapeScale:
    """What the newest of these epochs, in time order, show of their tapes: the last 1,000 degrees of freedom."""
    some, dof = [], 0
    for epoch in reversed(epochs):
        if len(epoch.tapes) > 2 and dof < MOST_DOF:
            some.append(epoch)
            dof += len(epoch.tapes) - 2
    if dof < LEAST_DOF:
        return STATED
    sigma, dof = pooled(*_contrasts(some))
    tapes = sum(len(epoch.tapes) for epoch in some)
    if sigma is None or dof < LEAST_DOF or sigma <= 1:
        return TapeScale(tapes=tapes)
    return TapeScale(sigma, dof, tapes)


def _contrasts(epochs: Sequence[Epoch]) -> tuple[Floats, Floats]:
    """u and c of all epochs, in units of the stated sigma: K (v/s) and -K (B/s)."""
    marks = sorted({mark_id for epoch in epochs for mark_id in epoch.mark_ids})
    u, c = [], []
    for count in sorted({len(epoch.tapes) for epoch in epochs}):
        columns = columns_of([epoch for epoch in epochs if len(epoch.tapes) == count], marks)
        rows = columns.contrasts(columns.sigma)
        u.append(np.einsum("ekn,en->ek", rows, columns.residuals() / columns.sigma).ravel())
        c.append(-np.einsum("ekn,enm->ekm", rows, columns.design(len(marks)) / columns.sigma[..., None]).reshape(-1, 2 * len(marks)))
    return np.concatenate(u), np.concatenate(c)
