"""The made-up catalogue of the storms: an open kind, a private one, a field learned later, a server that can die."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from fieldlog.records.catalogue import Catalogue
from fieldlog.records.fields import Instant, Text, Whole, YesNo
from fieldlog.records.kind import Fault, Kind, Record

PRIVATE = "private_note"
LEARNED = "shade"


class Crash(BaseException):
    """The server's process ends here."""


class Quadrat(Record):
    cover_pct = Whole("Cover", least=0, most=100)
    count = Whole("Count", least=0, most=10**6)
    note = Text("Note", 2000)
    in_at = Instant("In", merge="earliest")
    out_at = Instant("Out", merge="latest", since="in_at")
    heard = YesNo("Heard", merge="either")


class LearnedQuadrat(Quadrat):
    shade = Whole("Shade", least=0, most=100)


class PrivateNote(Record):
    cover_pct = Whole("Cover", least=0, most=100)
    count = Whole("Count", least=0, most=10**6)
    note = Text("Note", 2000)
    in_at = Instant("In", merge="earliest")
    out_at = Instant("Out", merge="latest", since="in_at")
    heard = YesNo("Heard", merge="either")


def fields_of(name: str, value: int) -> dict[str, Any]:
    """What an edit of a storm writes: a field that people are asked about, and beside it one that merges by itself."""
    moments = [None, "2026-11-26T14:04:00Z", "2026-11-26T14:04:00.500Z", "2026-11-26T14:03:00Z"]
    beside = {"cover_pct": {"heard": value == 1}, "count": {"in_at": moments[value]}, "note": {"out_at": moments[value]}}
    return {name: f"v{value}" if name == "note" else value, **beside[name]}


class CrashingKind(Kind):
    """A kind whose check ends the process at the n-th line of a request."""

    crash_at = 0

    def check(self, fields: Mapping[str, Any]) -> list[Fault]:
        if self.crash_at == 0:
            raise Crash
        self.crash_at -= 1
        return super().check(fields)


def catalogue(*, learned: bool, crash_at: int | None = None, others: Iterable[Kind] = ()) -> Catalogue:
    """The kinds that this server knows, `others` among them; with `crash_at`, one that dies when it has judged so many lines."""
    make = Kind if crash_at is None else CrashingKind
    schema = LearnedQuadrat if learned else Quadrat
    kinds = [
        make("quadrat", "Quadrat", schema, writers=("crew", "lead")),
        make(PRIVATE, "Private note", PrivateNote, writers=("lead",), privacy="leader"),
        *others,
    ]
    for kind in kinds:
        if isinstance(kind, CrashingKind) and crash_at is not None:
            kind.crash_at = crash_at
    return Catalogue(kinds)
