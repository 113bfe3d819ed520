"""Stakes of a zone read at visits: which readings count, which visits of two zones are the same, and what began again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from fieldlog.outcomes.lines import SAME_SEASON_DAYS
from fieldlog.outcomes.results import YEAR_DAYS, Flags, Floats, Integers, LeftOut, Reading, Why, as_floats

SAME_VISIT_DAYS = 3.0
"""Visits of two zones no further apart are one (our suggestion)."""

LEAST_READINGS = 3
"""Of a stake's, for a slope: one of each further piece is spent on its level."""


@dataclass(frozen=True)
class StakeReadings:
    """
    What stands out of the bed at the stakes of one zone; n stakes, k visits in any order.

    Attributes:
        zone: its name.
        stakes: (n,) names.
        days: (k,) when each visit was, in days from any one beginning.
        exposed_mm: (n, k) exposed length, None or NaN where not read; the same side of the stake each time.
        pieces: (n, k) a number that changes where a stake was moved, lifted, reset or read on another side; None: never.
        scour_rings: (n, k) whether the reading had a scour ring; None: not said.
    """

    zone: str
    stakes: Sequence[str]
    days: Sequence[float]
    exposed_mm: Sequence[Sequence[Reading]]
    pieces: Sequence[Sequence[int]] | None = None
    scour_rings: Sequence[Sequence[bool]] | None = None


@dataclass(frozen=True)
class Counted:
    """
    The readings that count: n stakes that have enough, k visits in order at which one of them was read.

    Attributes:
        days: (k,).
        level_mm: (n, k) minus the exposed length, so that plus is up; NaN where not read.
        piece: (n, k).
        ring: (n, k).
    """

    zone: str
    stakes: tuple[str, ...]
    days: Floats
    level_mm: Floats
    piece: Integers
    ring: Flags
    left_out: tuple[LeftOut, ...] = field(default=())

    @property
    def years(self) -> Floats:
        """(k,) from the first visit."""
        return np.asarray((self.days - self.days[0]) / YEAR_DAYS)

    @property
    def pieces(self) -> Integers | None:
        """(n, k) the pieces, None where no stake began again."""
        return self.piece if len(self.in_pieces()) else None

    def in_pieces(self) -> Integers:
        """Which stakes began again."""
        return np.flatnonzero((self.piece != self.piece[:, :1]).any(1))

    @property
    def scour_ring_readings(self) -> int:
        """How many of the readings had a scour ring."""
        return int((self.ring & np.isfinite(self.level_mm)).sum())

    def at(self, visits: Sequence[int] | Integers) -> Counted:
        """These visits alone."""
        columns = np.asarray(visits, int)
        return replace(self, days=self.days[columns], level_mm=self.level_mm[:, columns], piece=self.piece[:, columns], ring=self.ring[:, columns])

    def of(self, stakes: Flags, left_out: Sequence[LeftOut] = ()) -> Counted:
        """These stakes alone."""
        names = tuple(name for name, is_kept in zip(self.stakes, stakes, strict=True) if is_kept)
        kept = replace(self, stakes=names, level_mm=self.level_mm[stakes], piece=self.piece[stakes], ring=self.ring[stakes])
        return replace(kept, left_out=(*self.left_out, *left_out))

    def without_scour_rings(self) -> Counted:
        """As if the readings with a scour ring had not been made."""
        return replace(self, level_mm=np.where(self.ring, np.nan, self.level_mm))


def counted(readings: StakeReadings) -> Counted:
    """
    All readings in the order of their days, those of one day as one.

    Raises:
        ValueError: an array that has not a row a stake and a column a visit, or a day that is no number.
    """
    shape = len(readings.stakes), len(readings.days)
    days = as_floats(readings.days)
    level = -as_floats(readings.exposed_mm).reshape(shape) if shape[0] and shape[1] else np.empty(shape)
    piece = np.zeros(shape, int) if readings.pieces is None else np.asarray(readings.pieces, int)
    ring = np.zeros(shape, bool) if readings.scour_rings is None else np.asarray(readings.scour_rings, bool)
    if not np.isfinite(days).all():
        raise ValueError(f"a visit of {readings.zone} has no day")
    if piece.shape != shape or ring.shape != shape:
        raise ValueError(f"{readings.zone}: pieces and scour rings need a row a stake and a column a visit")
    order = np.argsort(days, kind="stable")
    made = Counted(readings.zone, tuple(readings.stakes), days[order], level[:, order], piece[:, order], ring[:, order])
    return _one_a_day(made)


def _one_a_day(made: Counted) -> Counted:
    """Readings of one stake on one day are one, their mean: they saw the same bed. Those of two pieces stay apart."""
    kept, level, ring, notes = list(range(len(made.days))), made.level_mm.copy(), made.ring.copy(), list(made.left_out)
    for visit in range(len(made.days) - 1, 0, -1):
        before = visit - 1
        if made.days[visit] != made.days[before] or (made.piece[:, visit] != made.piece[:, before]).any():
            continue
        both: Flags = np.asarray(np.isfinite(level[:, [before, visit]]).all(1))
        level[:, before] = np.where(both, level[:, [before, visit]].mean(1), np.where(np.isfinite(level[:, before]), level[:, before], level[:, visit]))
        ring[:, before] |= ring[:, visit]
        kept.remove(visit)
        notes += [LeftOut(name, Why.SAME_DAY, made.zone) for name, is_both in zip(made.stakes, both, strict=True) if is_both]
    return replace(made, level_mm=level, ring=ring, left_out=tuple(notes)).at(kept)


def with_slopes(made: Counted) -> Counted:
    """Stakes and visits that a slope can be had of: without single readings of a piece, stakes read too seldom, visits without any reading."""
    level, notes = made.level_mm.copy(), []
    spent = np.zeros(len(made.stakes), int)
    for row in made.in_pieces():
        seen = np.isfinite(level[row])
        numbers, counts = np.unique(made.piece[row][seen], return_counts=True)
        single = np.isin(made.piece[row], numbers[counts == 1]) & seen
        spent[row] = max(int((counts > 1).sum()) - 1, 0)
        if single.any():
            level[row][single] = np.nan
            notes.append(LeftOut(made.stakes[row], Why.ONE_READING_A_PIECE, made.zone))
    seen = np.isfinite(level)
    spans = (np.where(seen, made.days, -np.inf).max(1, initial=-np.inf) > np.where(seen, made.days, np.inf).min(1, initial=np.inf))
    enough = spans & (seen.sum(1) - spent >= LEAST_READINGS)
    notes += [LeftOut(name, Why.TOO_FEW_READINGS, made.zone) for name, is_enough in zip(made.stakes, enough, strict=True) if not is_enough]
    kept = replace(made, level_mm=level).of(enough, notes)
    return kept.at(np.flatnonzero(np.isfinite(kept.level_mm).any(0)))


def same_visits(a: Floats, b: Floats, within_days: float = SAME_VISIT_DAYS) -> list[tuple[int, int]]:
    """Which visit of a is which of b, both in order: as many pairs as can be, the closest of these, each visit once, none further apart."""
    near = np.abs(a[:, None] - b[None, :]) <= within_days + 1e-9
    if len(a) == len(b) and near.diagonal().all():
        return [(visit, visit) for visit in range(len(a))]
    # By the last visits of both that are still free: how many pairs the ones before them make, less a hair for how far these are apart.
    best = np.zeros((len(a) + 1, len(b) + 1))
    for left in range(len(a)):
        for right in range(len(b)):
            paired = best[left, right] + 1 - abs(a[left] - b[right]) * 1e-6 if near[left, right] else -1.0
            best[left + 1, right + 1] = max(paired, best[left, right + 1], best[left + 1, right])
    pairs: list[tuple[int, int]] = []
    left, right = len(a), len(b)
    while left and right:
        if best[left, right] == best[left - 1, right]:
            left -= 1
        elif best[left, right] == best[left, right - 1]:
            right -= 1
        else:
            left, right = left - 1, right - 1
            pairs.append((left, right))
    return pairs[::-1]


def whole_years_apart(days: Floats) -> tuple[int, int] | None:
    """The first and the last visit that are whole years apart, within 30 days; of several pairs the one farthest apart, then the latest."""
    years = (days[None, :] - days[:, None]) / YEAR_DAYS
    whole = np.round(years)
    fits = (whole >= 1) & (np.abs(years - whole) * YEAR_DAYS <= SAME_SEASON_DAYS)
    if not fits.any():
        return None
    rows, columns = np.nonzero(fits & (whole == whole[fits].max()))
    return int(rows[-1]), int(columns[-1])


def visited_together(reef: Counted, control: Counted) -> tuple[Counted, Counted]:
    """Both zones at the visits they share; a visit that only one had is left out, and so is what then is too little."""
    notes: tuple[list[LeftOut], list[LeftOut]] = ([], [])
    while True:
        reef, control = with_slopes(reef), with_slopes(control)
        pairs = same_visits(reef.days, control.days)
        if len(pairs) == len(reef.days) == len(control.days):
            return replace(reef, left_out=(*reef.left_out, *notes[0])), replace(control, left_out=(*control.left_out, *notes[1]))
        for zone, used, noted in ((reef, {a for a, _ in pairs}, notes[0]), (control, {b for _, b in pairs}, notes[1])):
            alone = [day for visit, day in enumerate(zone.days) if visit not in used]
            noted += [LeftOut(f"{day:g}", Why.NO_VISIT_WITHIN_DAYS, zone.zone) for day in alone]
        reef, control = reef.at([a for a, _ in pairs]), control.at([b for _, b in pairs])


def breaks(zones: Sequence[Counted]) -> list[int]:
    """(k,) the number of the piece of each visit: a new one begins where no stake of a zone goes on in its piece."""
    visit = np.arange(len(zones[0].days))
    begins = np.zeros(len(visit), bool)
    for zone in zones:
        pieces = [(row, number) for row in zone.in_pieces() for number in np.unique(zone.piece[row])]
        whole = np.delete(np.isfinite(zone.level_mm), zone.in_pieces(), axis=0)
        read = np.concatenate([whole, *((np.isfinite(zone.level_mm[row]) & (zone.piece[row] == number))[None] for row, number in pieces)])
        first, last = np.where(read, visit, len(visit)).min(1, initial=len(visit)), np.where(read, visit, -1).max(1, initial=-1)
        begins |= ~((visit > first[:, None]) & (visit <= last[:, None])).any(0)
    begins[0] = False
    return [int(number) for number in np.cumsum(begins)]
