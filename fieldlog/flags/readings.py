"""
From position records to the survey's numbers: which readings are one epoch, and which epoch is the zero of which.

An epoch is a unit, a visit (joined visits are one; without a visit the local day) and a method. The phone does the same in
`static/views/readings.js`; both are held to tests/vectors/survey_readings.json.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from fieldlog.shown_names import named
from fieldlog.survey.epoch import MARK_SIGMA_M, Epoch, MarkTape, given, taped
from fieldlog.survey.movement import PHONE, zero_fix
from fieldlog.survey.position import LEAST_SIGMA_M, TAPE_SIGMA_M, Point, TapeRange

Row = Mapping[str, Any]

TYPED_SIGMA_M = 0.05
"""One sigma of an axis of a typed coordinate where nobody said: a taped offset in the field, our proposal."""

LEAST_SHIFT_M = 0.1
"""The least shift that matters where neither the site nor the footprint says it: our proposal."""

SLOTS = tuple((f"mark_{n}_id", f"range_{n}_m") for n in (1, 2, 3, 4))
"""Where a reading has its tapes: the mark, and how far it is."""

FOOTPRINT_PART = 0.25
"""The same where the footprint is known, as a part of its width: our proposal."""


@dataclass(frozen=True)
class Measured:
    """
    An epoch of a unit and where it comes from.

    Attributes:
        survey: the visit or local day, as one key.
        at: the time of its first reading; last_at and last_id: of its newest one.
    """

    survey: str
    at: str
    last_at: str
    last_id: str
    epoch: Epoch


def tapes_of(fix: Row, marks: Mapping[str, Row]) -> list[MarkTape]:
    """The tapes of a fix that were read from marks on record. A sigma of 0, or none, is the usual one: no tape is surer than that."""
    read = []
    for mark_name, range_name in SLOTS:
        mark_id, range_m = fix[mark_name], fix[range_name]
        mark = None if mark_id is None or range_m is None else marks.get(mark_id)
        if mark is None or mark["east_m"] is None or mark["north_m"] is None:
            continue
        read.append(_tape(mark_id, mark["label"], mark["east_m"], mark["north_m"], mark["sigma_m"], range_m, fix["tape_sigma_m"]))
    return read


@lru_cache(16384)
def _tape(mark_id: str, label: str | None, east_m: float, north_m: float, mark_sigma_m: float | None, range_m: float, sigma_m: float | None) -> MarkTape:
    """A survey of many units is read again with each of its readings that comes."""
    tape = TapeRange(named(label, "a mark"), east_m, north_m, range_m, said_or(sigma_m, TAPE_SIGMA_M))
    return MarkTape(mark_id, said_or(mark_sigma_m, MARK_SIGMA_M), tape)


def said_or(sigma_m: float | None, usual_m: float) -> float:
    """A sigma as somebody wrote it, in metres, or the usual one: nothing measured is as sure as 0."""
    return usual_m if sigma_m is None or sigma_m < LEAST_SIGMA_M else sigma_m


def epoch_of(fixes: Sequence[Row], marks: Mapping[str, Row], planned: Point | None) -> Epoch | None:
    """The epoch of readings of one unit, visit and method; None where they give no place on the site grid."""
    method = fixes[0]["method"]
    if method == "tapes":
        found = taped([tape for fix in fixes for tape in tapes_of(fix, marks)], planned)
        return found if isinstance(found, Epoch) else None
    places = [(fix["east_m"], fix["north_m"], said_or(fix["sigma_m"], TYPED_SIGMA_M)) for fix in fixes if None not in (fix["east_m"], fix["north_m"])]
    return given(method, places) if places and method != PHONE else None


def measured(fixes: Sequence[Row], survey_of: Callable[[Row], str], marks: Mapping[str, Row], planned: Point | None) -> list[Measured]:
    """The epochs of a unit with a place, in time order; what has no time says nothing about order and is left out."""
    return list(measured_in_turn(fixes, survey_of, marks, planned))


def measured_in_turn(
    fixes: Sequence[Row], survey_of: Callable[[Row], str], marks: Mapping[str, Row], planned: Point | None
) -> Iterator[Measured]:  # fmt: skip
    """The same one after the other, each worked out when it is asked for."""
    groups: dict[tuple[str, str], list[Row]] = {}
    for fix in sorted((fix for fix in fixes if fix["fixed_at"] is not None and fix["method"] != PHONE), key=_in_time):
        groups.setdefault((survey_of(fix), fix["method"]), []).append(fix)
    for (survey, _), own in groups.items():
        epoch = epoch_of(own, marks, planned)
        if epoch is not None:
            yield Measured(survey, own[0]["fixed_at"], own[-1]["fixed_at"], own[-1]["record_id"], epoch)


def _in_time(fix: Row) -> tuple[str, str]:
    return fix["fixed_at"], fix["record_id"]


def events_until(events: Sequence[Row], until: str) -> list[tuple[str, str]]:
    """What was done to a unit up to a time, as (instant, event)."""
    told = [(event["event_at"], event["event"]) for event in events if event["event_at"] is not None]
    return [(at, event) for at, event in told if at <= until]


def zero_of(epochs: Iterable[Measured], events: Sequence[Row], until: str) -> Measured | None:
    """The epoch that one of `until` is compared with: the first one with a place since the unit was last placed."""
    told = events_until(events, until)
    return next((one for one in epochs if zero_fix([(one.at, one.epoch.method)], told) is not None), None)


def least_shift_m(site: Row, footprint_mm: float | None) -> float:
    """The least shift that matters: the site's own, or a quarter of the footprint."""
    own: float | None = site["least_shift_m"]
    if own is not None:
        return own
    return LEAST_SHIFT_M if footprint_mm is None else FOOTPRINT_PART * footprint_mm / 1000
