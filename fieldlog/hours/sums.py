"""Sums of a ledger. Each is made of whole minutes, and rounded once, where it is written."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from typing import TypeVar

from fieldlog.hours.ledger import Line
from fieldlog.hours.length import HOUR_MIN
from fieldlog.rounding import rounded

Key = TypeVar("Key", bound=Hashable)


@dataclass(slots=True)
class Sum:
    """
    Attributes:
        minutes: all; unsigned_min: of which no lead has signed for; undecided_min: of which two awards claim.
        miles: all; unsigned_mi: of which no lead has signed for.
        sign_ins: how many sign-ins begin in it; one over midnight counts once, on its first day.
    """

    minutes: int = 0
    unsigned_min: int = 0
    undecided_min: int = 0
    miles: float = 0.0
    unsigned_mi: float = 0.0
    sign_ins: int = 0

    def document(self) -> dict[str, float | int]:
        """The same with decimal hours, for a screen or a program."""
        return {
            "hours": hours(self.minutes), "unsigned_hours": hours(self.unsigned_min), "undecided_hours": hours(self.undecided_min),
            "miles": miles(self.miles), "unsigned_miles": miles(self.unsigned_mi), "sign_ins": self.sign_ins,
        }  # fmt: skip


def hours(minutes: int) -> float:
    """Decimal hours, to the hundredth."""
    return float(rounded(minutes / HOUR_MIN, 2))


def miles(driven: float) -> float:
    """Miles, to the tenth."""
    return float(rounded(driven, 1))


def sums_by(lines: Iterable[Line], key: Callable[[Line], Key]) -> dict[Key, Sum]:
    """The sums of lines by what `key` says of each, in the order in which they are met."""
    sums: dict[Key, Sum] = {}
    for line in lines:
        at, minutes = key(line), line.minutes
        total = sums.get(at)
        if total is None:
            total = sums[at] = Sum()
        total.minutes += minutes
        if line.miles:
            total.miles += line.miles
        if not line.signed:
            total.unsigned_min += minutes
            total.unsigned_mi += line.miles
        if len(line.awards) > 1:
            total.undecided_min += minutes
        if line.begins:
            total.sign_ins += 1
    return sums


def total_of(lines: Iterable[Line]) -> Sum:
    """The sum of all of them."""
    return sums_by(lines, lambda _line: None).get(None, Sum())
