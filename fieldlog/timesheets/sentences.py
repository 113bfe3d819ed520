"""What is said of hours that do not count, or that somebody should look at."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any
from zoneinfo import ZoneInfo

from fieldlog.days import day_words
from fieldlog.hours.ledger import LONG, LONG_MIN, OUT_ELSEWHERE, OVERLAP, TWO_AWARDS, Remark
from fieldlog.hours.length import DAY_ALONE, HOUR_MIN, NO_OUT, OPEN, OUT_FIRST
from fieldlog.hours.signed import Signing
from fieldlog.instants import on_the_clock
from fieldlog.rounding import rounded
from fieldlog.shown_names import named
from fieldlog.timesheets.reading import HoursBook


def hours_words(minutes: int) -> str:
    """3.75 h."""
    return f"{rounded(minutes / HOUR_MIN, 2)} h"


def remark_words(book: HoursBook, remark: Remark) -> str:
    """One sentence or two: what it is, with its values, and what to do."""
    return f"{book.person(remark.person)}, {day_words(remark.day, year=True)}: {_SAID[remark.word](book, remark)}"


def signing_words(book: HoursBook, word: Signing) -> str:
    """Of a lead's word that no longer holds."""
    span = f"{day_words(word.from_day, year=True)} to {day_words(word.to_day, year=True)}"
    return f"{book.person(word.person)}, {span}: signed for {rounded(word.signed_h, 2)} h, now {hours_words(word.now_min)}. Look at what changed, then sign again."


def _in(book: HoursBook, remark: Remark) -> str:
    return clock_of(book, book.records[remark.record_id], "in_at")


def clock_of(book: HoursBook, row: Mapping[str, Any], field: str) -> str:
    """The time of a sign-in on its site's clock, 09:05; a dash where it says none."""
    instant = row[field]
    zone = book.given.zones.get(row["site_id"] or "") or "UTC"
    return "-" if instant is None else on_the_clock(instant, ZoneInfo(zone))[11:16]


def _overlap(book: HoursBook, remark: Remark) -> str:
    first = book.records.get(remark.other_id or "")
    where = "one at another site" if first is None else f"the one at {clock_of(book, first, 'in_at')}"
    return (
        f"{hours_words(remark.minutes)} of the sign-in at {_in(book, remark)} are also in {where}. "
        "They count once. Correct the times, or remove one of the two."
    )


def _out_elsewhere(book: HoursBook, remark: Remark) -> str:
    other = book.records.get(remark.other_id or "")
    where = "at another site" if other is None else f"on another phone ({clock_of(book, other, 'in_at')} to {clock_of(book, other, 'out_at')})"
    return f"in at {_in(book, remark)}, no sign-out time, and in and out {where}. Likely the same stay: remove this sign-in, or write its sign-out time."


def _two_awards(book: HoursBook, remark: Remark) -> str:
    said = " and ".join(named(book.awards[award_id]["name"]) for award_id in remark.awards)
    return f"{said} both claim {hours_words(remark.minutes)}. They count to neither. Choose one."


_SAID: dict[str, Callable[[HoursBook, Remark], str]] = {
    OPEN: lambda book, remark: f"in at {_in(book, remark)}, no sign-out time. Not counted. Write the sign-out time, or remove the sign-in.",
    NO_OUT: lambda book, remark: (
        f"in at {_in(book, remark)}, closed without a time: \u201c{book.records[remark.record_id]['no_out_reason']}\u201d. Not counted. Write the sign-out time if it is known."
    ),
    OUT_FIRST: lambda book, remark: (
        f"in at {_in(book, remark)}, out before that, at {clock_of(book, book.records[remark.record_id], 'out_at')}. Not counted. Correct one of the two times."
    ),
    DAY_ALONE: lambda _book, _remark: "only the day is known. Not counted. Write the times in and out if they are known.",
    OUT_ELSEWHERE: _out_elsewhere,
    OVERLAP: _overlap,
    LONG: lambda book, remark: (
        f"in at {_in(book, remark)} for {hours_words(remark.minutes)}, more than {LONG_MIN // HOUR_MIN} h. Counted. "
        "Correct the sign-out time if it was forgotten."
    ),
    TWO_AWARDS: _two_awards,
}  # fmt: skip
