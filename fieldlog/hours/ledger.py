"""
The ledger: whose hours, in which role, at which task, on which day, to which award; and beside it all that is not counted, with why.

A person's hours at several sites (`same_as`) are one person's: no minute of theirs is counted twice. People are told apart by their
records, never by their names.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from fieldlog.hours.awards import Assignments
from fieldlog.hours.length import HOUR_MIN, OPEN, REMOVED, Turn, by_day, counted_once, minute_of, turn_of
from fieldlog.hours.persons import roots_of
from fieldlog.hours.signed import Signing, signed_spans

Row = Mapping[str, Any]

SIGN_IN, PREPARATION, MILEAGE = "sign_in", "preparation", "mileage"

LONG_MIN = 16 * HOUR_MIN
"""A turn of more is looked at: somebody may have forgotten to sign out. Our own proposal."""

OVERLAP, OUT_ELSEWHERE, LONG, TWO_AWARDS = "overlap", "out-elsewhere", "long", "two-awards"


@dataclass(frozen=True)
class Given:
    """
    What a ledger is made of: rows that were not removed.

    Attributes:
        sign_ins: of all sites: a minute that somebody was at two of them counts at one, whichever is asked about.
        sites: those that the ledger is of; None is all.
        people: of all sites, removed ones too: who left keeps their hours.
        visits: {a visit: the one that it was joined to}.
        zones: {site: its time zone's name}; UTC where it says none.
    """

    people: Sequence[Row]
    sign_ins: Sequence[Row]
    preparations: Sequence[Row] = field(default_factory=list)
    mileages: Sequence[Row] = field(default_factory=list)
    visits: Mapping[str, str] = field(default_factory=dict)
    awards: Sequence[Row] = field(default_factory=list)
    award_hours: Sequence[Row] = field(default_factory=list)
    signings: Sequence[Row] = field(default_factory=list)
    zones: Mapping[str, str | None] = field(default_factory=dict)
    sites: frozenset[str] | None = None

    def has(self, row: Row) -> bool:
        """Whether a row is of a site that the ledger is of."""
        return self.sites is None or row["site_id"] in self.sites


@dataclass(slots=True)
class Line:
    """
    What one record says of one day.

    Attributes:
        person: the record that stands for the person.
        role: as signed in; else the role of the person; None where neither is noted.
        minutes: whole minutes; miles: as typed. One of them is nought.
        awards: none, one, or, where it must be decided, several.
        begins: whether it is the first day of a sign-in, so that each is counted once.
        signed: whether a lead's word covers it.
    """

    kind: str
    record_id: str
    site_id: str | None
    person: str
    role: str | None
    task: str | None
    visit: str | None
    day: date
    minutes: int
    miles: float
    awards: tuple[str, ...]
    begins: bool = False
    signed: bool = False


class Remark(NamedTuple):
    """Something to look at: a fixed word, the record, another one or awards that it is about, minutes where the word is about some."""

    word: str
    kind: str
    record_id: str
    person: str | None
    site_id: str | None
    day: date
    other_id: str | None = None
    minutes: int = 0
    awards: tuple[str, ...] = ()


@dataclass(frozen=True)
class Ledger:
    """
    Attributes:
        lines: what counts, by day.
        uncounted: sign-ins without a length, each with why; no hour of them is in any sum.
        remarks: what counts and should be looked at.
        signings: leads' words that no longer hold, with what the hours are now.
        sign_in_count: of all sign-ins but the mistaken ones.
        people: {a person's record: the one that stands for the person}.
    """

    lines: list[Line]
    uncounted: list[Remark]
    remarks: list[Remark]
    signings: list[Signing]
    sign_in_count: int
    people: Mapping[str, str]


def ledger_of(given: Given) -> Ledger:
    """The ledger of these rows."""
    making = _Making(given)
    lines = [*making.of_sign_ins(), *making.typed(given.preparations, PREPARATION), *making.typed(given.mileages, MILEAGE)]
    spans, broken = signed_spans(given.signings, lines, making.roots)
    for line in lines:
        line.signed = spans.cover(line.site_id, line.person, line.day)
    lines.sort(key=lambda line: (line.day, line.person, line.record_id))
    making.remarks += _contradictions(lines)
    count = sum(given.has(row) and (row["no_out_reason"] is None or turn_of(row) != REMOVED) for row in given.sign_ins)
    return Ledger(lines, making.uncounted, making.remarks, broken, count, making.roots)


class _Making:
    """A ledger while it is made."""

    def __init__(self, given: Given) -> None:
        self._given = given
        self.roots = roots_of((person["record_id"], person["same_as"]) for person in given.people)
        self._roles = {person["record_id"]: person["role"] for person in given.people}
        self._assigned = Assignments(given.awards, given.award_hours, self.roots, given.visits)
        self.uncounted: list[Remark] = []
        self.remarks: list[Remark] = []

    def _zone(self, site_id: str | None) -> ZoneInfo:
        return _zone_called(self._given.zones.get(site_id or "") or "UTC")

    def of_sign_ins(self) -> Iterator[Line]:
        """The lines of all sign-ins; what has no length, overlaps or is long is noted on the way."""
        turns: dict[str, list[Turn]] = defaultdict(list)
        rows, lacking = {}, []
        for row in self._given.sign_ins:
            turn = turn_of(row)
            if isinstance(turn, Turn):
                turns[self._person(row)].append(turn)
                rows[turn.sign_in_id] = row
            elif turn != REMOVED and self._given.has(row):
                lacking.append((row, turn))
        for person, own in turns.items():
            for turn in self._parted(own, rows, person):
                if self._given.has(rows[turn.sign_in_id]):
                    yield from self._lines_of(rows[turn.sign_in_id], turn, person)
        self._note_lacking(lacking, turns)

    def _person(self, row: Row) -> str:
        """Old data may lack a person: such a record is of somebody by itself, so that nobody's minutes are taken for another's."""
        person_id: str = row["person_id"] or row["record_id"]
        return self.roots.get(person_id, person_id)

    def _parted(self, own: list[Turn], rows: Mapping[str, Row], person: str) -> Iterable[Turn]:
        """One person's turns, each minute once."""
        if len(own) == 1:
            left = {own[0].sign_in_id: own[0]}
        else:
            left = counted_once(own)
        for turn in own:
            if not self._given.has(rows[turn.sign_in_id]):
                continue
            lost = left[turn.sign_in_id].from_min - turn.from_min
            if lost:
                other = next(one for one in own if one is not turn and one.from_min <= turn.from_min < one.until_min)
                self.remarks.append(self._remark(OVERLAP, rows[turn.sign_in_id], person, other.sign_in_id, lost))
            if turn.until_min - turn.from_min > LONG_MIN:
                self.remarks.append(self._remark(LONG, rows[turn.sign_in_id], person, None, turn.until_min - turn.from_min))
        return left.values()

    def _note_lacking(self, lacking: list[tuple[Row, str]], turns: Mapping[str, list[Turn]]) -> None:
        """Why a sign-in has no length; one that is open beside a closed one of the same person is likely its double on another phone."""
        for row, why in lacking:
            person = self._person(row)
            beside = None
            if why == OPEN and row["in_at"] is not None:
                at = minute_of(row["in_at"])
                beside = next((turn.sign_in_id for turn in turns.get(person, ()) if turn.from_min - HOUR_MIN <= at < turn.until_min), None)
            self.uncounted.append(self._remark(OUT_ELSEWHERE if beside else why, row, person, beside))

    def _remark(self, word: str, row: Row, person: str, other_id: str | None, minutes: int = 0) -> Remark:
        at = row["in_at"] or row["out_at"]
        day = date.min if at is None else by_day(minute_of(at), minute_of(at) + 1, self._zone(row["site_id"]))[0][0]
        return Remark(word, SIGN_IN, row["record_id"], person, row["site_id"], day, other_id, minutes)

    def _lines_of(self, row: Row, turn: Turn, person: str) -> Iterator[Line]:
        visit = row["visit_id"] and self._given.visits.get(row["visit_id"], row["visit_id"])
        role = row["sign_in_role"] or self._roles.get(row["person_id"])
        for place, (day, minutes) in enumerate(by_day(turn.from_min, turn.until_min, self._zone(row["site_id"]))):
            awards = self._assigned.of(row["record_id"], row["site_id"], person, row["task"], visit, day)
            yield Line(SIGN_IN, row["record_id"], row["site_id"], person, role, row["task"], visit, day, minutes, 0.0, awards, place == 0)

    def typed(self, rows: Iterable[Row], kind: str) -> Iterator[Line]:
        """The lines of preparation hours or of miles that say whose, on which day and how many."""
        day_field, number = ("worked_on", "spent_h") if kind == PREPARATION else ("driven_on", "driven_mi")
        for row in rows:
            if row[day_field] is None or row[number] is None or row["person_id"] is None:
                continue
            person, day, task = self._person(row), date.fromisoformat(row[day_field]), row.get("task")
            role = row.get("preparation_role") or self._roles.get(row["person_id"])
            minutes, miles = (math.floor(row[number] * HOUR_MIN + 0.5), 0.0) if kind == PREPARATION else (0, float(row[number]))
            awards = self._assigned.of(row["record_id"], row["site_id"], person, task, None, day)
            yield Line(kind, row["record_id"], row["site_id"], person, role, task, None, day, minutes, miles, awards)


def _contradictions(lines: Iterable[Line]) -> Iterator[Remark]:
    """Hours that leads counted to more than one award: to none until one of them is chosen."""
    told: set[str] = set()
    for line in lines:
        if len(line.awards) > 1 and line.record_id not in told:
            told.add(line.record_id)
            yield Remark(TWO_AWARDS, line.kind, line.record_id, line.person, line.site_id, line.day, None, line.minutes, line.awards)


@lru_cache(64)
def _zone_called(name: str) -> ZoneInfo:
    return ZoneInfo(name)
