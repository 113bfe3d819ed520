"""
Moved, or not: all units that one survey compared, judged together.

One unit alone is a test of one in twenty; 48 of them each month raise an alarm that is none every fortnight. So the units of a survey
are one family (Benjamini and Hochberg, J. R. Statist. Soc. B 57, 1995, 289-300), a shift counts from the size that matters, and no one
tape decides: each is left out in turn, in either epoch. The rule and its limits are our own proposal, held by simulation
(tests/survey/season.py).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from fieldlog.survey.columns import Columns, Floats, columns_of
from fieldlog.survey.epoch import Epoch
from fieldlog.survey.tape_scale import TapeScale, solved

ASK_P = 0.05
FALSE_SHARE = 0.05
"""Of the units called moved, at most so many are expected to be wrong (q)."""

MISREAD_LEVEL = 0.001
"""The level, a fix, at which a tape counts as misread: that of data snooping, from memory."""

MARK_LEVEL = 0.001
SHOWN_SIGMAS = 3.9298
"""A shift of so many of the largest sigma is shown 95 times in 100 at p < 0.05 (noncentral chi-square with two degrees of freedom)."""

SURE_SIGMAS = 1.645
"""A shift is less than matters where it stays so with so many of the largest sigma added: one-sided 95 %."""

OF_THIS = frozenset({"side", "side-unknown", "weak", "misread"})
"""Doubts about this survey's own epoch."""

CLIP = 3.0
"""A contrast counts as no larger: one misread tape is no mark that moved."""


class Verdict(Enum):
    """What a survey says of a unit. SMALL: it moved, by less than matters."""

    MOVED = "moved"
    AGAIN = "again"
    NONE = "none"
    SMALL = "small"


@dataclass(frozen=True, slots=True)
class Pair:
    """A unit's zero epoch, its epoch of this survey, and the least shift that matters, in metres."""

    zero: Epoch
    now: Epoch
    least_shift_m: float


@dataclass(frozen=True, slots=True)
class Judged:
    """
    What a survey says of one unit.

    Attributes:
        p: how often a unit that stands still would look so far off or farther.
        t2: the test's value.
        shows_m: the smallest movement that this pair would have shown 95 times in 100.
        misread: which tape of this epoch is misread, counted from 0; None where none is.
        doubts: words: side, side-unknown, weak, misread, one-tape, mark, zero (the zero epoch's side, cut or tapes).
        by_marks: whether the marks' errors are the larger part of what is not known, so that they are common to many units.
    """

    verdict: Verdict
    p: float
    t2: float
    east_m: float
    north_m: float
    shows_m: float
    misread: int | None
    doubts: tuple[str, ...]
    by_marks: bool

    @property
    def shift_m(self) -> float:
        """How far off it lies."""
        return math.hypot(self.east_m, self.north_m)


def rejected(p: Sequence[float] | Floats, q: float = FALSE_SHARE) -> NDArray[np.bool_]:
    """Benjamini and Hochberg: the k smallest p-values, k the largest with p_(k) <= q k / m."""
    values = np.asarray(p, float)
    order = np.argsort(values, kind="stable")
    below = np.flatnonzero(values[order] <= q * np.arange(1, len(values) + 1) / max(len(values), 1))
    found = np.zeros(len(values), bool)
    found[order[: below[-1] + 1 if len(below) else 0]] = True
    return found


@lru_cache(64)
def misread_limit(tapes: int) -> float:
    """The limit of |v| over its own sigma, 0.001 a fix: of three tapes all fail alike, so that they are one test."""
    return NormalDist().inv_cdf(1 - MISREAD_LEVEL / (2 * (1 if tapes <= 3 else tapes)))


def p_value(t2: Floats, dof: int | None) -> Floats:
    """exp(-T²/2) where the sigma is known; else (1 + T²/dof)^(-dof/2), which is F(2, dof) of T²/2."""
    return np.asarray(np.exp(-t2 / 2) if dof is None else (1 + t2 / dof) ** (-dof / 2))


def settles(moved_m: float, p: float, shows_m: float) -> bool:
    """Whether a comparison settles that a unit had moved by so much: it finds none, and would have shown it."""
    return p >= ASK_P and shows_m <= moved_m


@dataclass(frozen=True)
class Comparison:
    """How two sets of columns are compared: the site's tapes, and the variance of each column of D."""

    scale: TapeScale
    mark_variance: Floats

    def covariance(self, zero: Columns, now: Columns) -> tuple[Floats, Floats]:
        """C (E, 2, 2) of the shift, and the marks' part of it."""
        marks = len(self.mark_variance) // 2
        gains = zero.gain(), now.gain()
        effect = gains[1] @ now.design(marks) - gains[0] @ zero.design(marks)
        by_marks = (effect * self.mark_variance) @ np.swapaxes(effect, 1, 2)
        by_tapes = sum((gain * one.sigma[:, None, :] ** 2) @ np.swapaxes(gain, 1, 2) for gain, one in zip(gains, (zero, now), strict=True))
        own = (zero.own + now.own)[:, None, None] * np.eye(2)
        return self.scale.factor**2 * by_tapes + by_marks + own, by_marks

    def p(self, zero: Columns, now: Columns) -> tuple[Floats, Floats, Floats, Floats]:
        """p, T², C and the marks' part of C."""
        covariance, by_marks = self.covariance(zero, now)
        shift = now.place - zero.place
        t2 = np.einsum("ei,ei->e", shift, np.linalg.solve(covariance, shift[..., None])[..., 0])
        return p_value(t2, self.scale.dof), t2, covariance, by_marks

    def misfits(self, columns: Columns) -> Floats:
        """w: (E, n) residuals over their own sigma; 0 where a tape is not checked by its neighbours."""
        directions, gain = columns.directions(), columns.gain()
        hat = directions @ gain
        rest = np.eye(hat.shape[1]) - hat
        by_marks = (((rest @ columns.design(len(self.mark_variance) // 2)) ** 2) * self.mark_variance).sum(2)
        redundancy = np.where(columns.weight > 0, np.einsum("enn->en", rest), 0.0)
        variance = self.scale.factor**2 * columns.sigma**2 * redundancy + by_marks
        checked = (redundancy > 1e-9) & (columns.count > 2)[:, None]
        return np.where(checked, np.abs(columns.residuals()) / np.sqrt(np.maximum(variance, 1e-18)), 0.0)

    def one_tape_decides(self, zero: Columns, now: Columns) -> NDArray[np.bool_]:
        """(E,) whether without one of the tapes, of either epoch, p is 0.05 or more, or too few stay for a place."""
        decides = np.zeros(len(zero.place), bool)
        for is_now, columns in ((False, zero), (True, now)):
            for tape in range(columns.mark.shape[1]):
                has = np.flatnonzero((columns.weight[:, tape] > 0) & ~decides)
                if not len(has):
                    continue
                left = columns.some(has).without(tape)
                pair = (zero.some(has), left) if is_now else (left, now.some(has))
                too_few = ~left.gain().any((1, 2)) | (_marks_used(left) < 2)
                decides[has] = too_few | ~(self.p(*pair)[0] < ASK_P)
        return decides


def _marks_used(columns: Columns) -> NDArray[np.int64]:
    used = (columns.mark[..., None] == np.arange(columns.mark.max(initial=0) + 1)) & (columns.weight > 0)[..., None]
    return np.asarray(used.any(1).sum(1), np.int64)


def judge(pairs: Sequence[Pair], scale: TapeScale, doubted_mark: str | None = None) -> list[Judged]:
    """
    The verdicts of a survey.

    Args:
        pairs: one of each unit that has a zero epoch and one of this survey.
        scale: what the site's tapes up to this survey show.
        doubted_mark: the id of a mark that may have moved: no fix from it says that a unit did.
    """
    if not pairs:
        return []
    sigmas = mark_sigmas(pairs)
    marks = list(sigmas)
    zero, now = (columns_of([getattr(pair, name) for pair in pairs], marks) for name in ("zero", "now"))
    test = Comparison(scale, np.repeat(np.array(list(sigmas.values()), float) ** 2, 2))
    p, t2, covariance, by_marks = test.p(zero, now)
    shows_m = SHOWN_SIGMAS * np.sqrt(np.linalg.eigvalsh(covariance)[:, 1])
    misread = [_misread(test.misfits(columns), columns) for columns in (zero, now)]
    shift = now.place - zero.place
    counts = rejected(p)
    decides = np.zeros(len(pairs), bool)
    asked = np.flatnonzero(counts)
    if len(asked):
        decides[asked] = test.one_tape_decides(zero.some(asked), now.some(asked))
    shares = np.trace(by_marks, axis1=1, axis2=2) > np.trace(covariance, axis1=1, axis2=2) / 2
    told = zip(pairs, p.tolist(), t2.tolist(), *shift.T.tolist(), shows_m.tolist(), *misread, decides.tolist(), counts.tolist(), shares.tolist(), strict=True)
    found = []
    for pair, p_of, t2_of, east_m, north_m, shows_of_m, zero_misread, now_misread, hangs, is_rejected, by_mark in told:
        doubts = _doubts(pair, zero_misread, now_misread, hangs, doubted_mark)
        verdict = _verdict(doubts, is_rejected, pair, p_of, math.hypot(east_m, north_m), shows_of_m)
        kept = doubts if verdict in (Verdict.AGAIN, Verdict.NONE) else ()
        found.append(Judged(verdict, p_of, t2_of, east_m, north_m, shows_of_m, now_misread, kept, by_mark))
    return found


def mark_sigmas(pairs: Sequence[Pair]) -> Mapping[str, float]:
    """The marks of these pairs, by id, with one sigma of an axis of each."""
    found: dict[str, float] = {}
    for pair in pairs:
        found |= pair.zero.mark_sigmas
        found |= pair.now.mark_sigmas
    return dict(sorted(found.items()))


def _misread(misfits: Floats, columns: Columns) -> list[int | None]:
    """Which tape of each epoch is misread: the one that fits worst."""
    if not misfits.shape[1]:
        return [None] * len(misfits)
    worst = misfits.argmax(1)
    over = misfits.max(1) > np.array([misread_limit(int(count)) for count in columns.count])
    return [int(tape) if is_over else None for tape, is_over in zip(worst, over, strict=True)]


def _doubts(pair: Pair, zero_misread: int | None, misread: int | None, decides: bool, doubted_mark: str | None) -> tuple[str, ...]:
    words = [doubt.word for doubt in pair.now.doubts]
    words += ["misread"] if misread is not None else []
    words += ["mark"] if doubted_mark in pair.now.mark_ids else []
    words += ["zero"] if pair.zero.doubts or zero_misread is not None else []
    return (*words, *(["one-tape"] if decides else []))


def _verdict(doubts: tuple[str, ...], is_rejected: bool, pair: Pair, p: float, shift_m: float, shows_m: float) -> Verdict:
    """
    The verdict out of its parts: what is in doubt about this epoch asks for another, whatever it shows, and so does a shift
    that may or may not matter, or was measured once.
    """
    of_this = OF_THIS.intersection(doubts)
    if is_rejected and not doubts:
        if shift_m >= pair.least_shift_m:
            return Verdict.MOVED
        if pair.now.is_repeated and shift_m + SURE_SIGMAS * shows_m / SHOWN_SIGMAS < pair.least_shift_m:
            return Verdict.SMALL
    return Verdict.AGAIN if of_this or p < ASK_P else Verdict.NONE


def doubted_mark(pairs: Sequence[Pair], scale: TapeScale) -> str | None:
    """
    The mark that may have moved: what the tapes leave over changed since the zero epochs as a shift of this one mark would have it.

    Only units that were measured from the same marks in both epochs tell; none of them need have stood still.
    """
    alike = [pair for pair in pairs if len(pair.now.mark_ids) > 2 and pair.now.mark_ids == pair.zero.mark_ids]
    if not alike:
        return None
    marks = sorted({mark_id for pair in alike for mark_id in pair.now.mark_ids})
    values, rows = [], []
    for count in sorted({len(pair.now.mark_ids) for pair in alike}):
        some = [pair for pair in alike if len(pair.now.mark_ids) == count]
        zero, now = (columns_of([getattr(pair, name) for pair in some], marks).a_tape_a_mark(count) for name in ("zero", "now"))
        contrasts = now.contrasts(np.ones(now.sigma.shape))
        sigma = scale.factor * np.sqrt(np.einsum("ekn,en->ek", contrasts**2, zero.sigma**2 + now.sigma**2))
        change = np.einsum("ekn,en->ek", contrasts, now.residuals() - zero.residuals()) / sigma
        values.append(np.clip(change, -CLIP, CLIP).ravel())
        rows.append((-np.einsum("ekn,enm->ekm", contrasts, now.design(len(marks))) / sigma[..., None]).reshape(-1, 2 * len(marks)))
    y, c = np.concatenate(values), np.concatenate(rows)
    normal, right = c.T @ c, c.T @ y
    chance = [len(marks) * math.exp(-_drop(normal[n : n + 2, n : n + 2], right[n : n + 2]) / 2) for n in range(0, 2 * len(marks), 2)]
    least = int(np.argmin(chance))
    return marks[least] if chance[least] < MARK_LEVEL else None


def _drop(normal: Floats, right: Floats) -> float:
    """By how much the sum of squares drops when one mark's shift is fitted; its two columns' part of the normal equations."""
    return float(solved(normal, right)[0] @ right)
