"""The made-up catalogue of the storms: an open kind, a private one, a field learned later, a server that can die."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fieldlog.records.catalogue import Catalogue
from fieldlog.records.fields import Text, Whole
from fieldlog.records.kind import Fault, Kind, Record

PRIVATE = "private_note"
LEARNED = "shade"


class Crash(BaseException):
    """The server's process ends here."""


class Quadrat(Record):
    cover_pct = Whole("Cover", least=0, most=100)
    count = Whole("Count", least=0, most=10**6)
    note = Text("Note", 2000)


class LearnedQuadrat(Quadrat):
    shade = Whole("Shade", least=0, most=100)


class PrivateNote(Record):
    cover_pct = Whole("Cover", least=0, most=100)
    count = Whole("Count", least=0, most=10**6)
    note = Text("Note", 2000)


class CrashingKind(Kind):
    """A kind whose check ends the process at the n-th line of a request."""

    crash_at = 0

    def check(self, fields: Mapping[str, Any]) -> list[Fault]:
        if self.crash_at == 0:
            raise Crash
        self.crash_at -= 1
        return super().check(fields)


def catalogue(*, learned: bool, crash_at: int | None = None) -> Catalogue:
    """The kinds that this server knows; with `crash_at`, one that dies when it has judged so many lines."""
    make = Kind if crash_at is None else CrashingKind
    schema = LearnedQuadrat if learned else Quadrat
    kinds = [
        make("quadrat", "Quadrat", schema, writers=("crew", "lead")),
        make(PRIVATE, "Private note", PrivateNote, writers=("lead",), privacy="leader"),
    ]
    for kind in kinds:
        if isinstance(kind, CrashingKind) and crash_at is not None:
            kind.crash_at = crash_at
    return Catalogue(kinds)
