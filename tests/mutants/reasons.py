"""Why a fault that survives is not worth a test: mostly that nobody could tell it from the sound code."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Reason:
    """A reason for the faults of one line; `change` is a part of what is said of them, empty for all."""

    file: str
    source: str
    change: str
    why: str


REASONS: tuple[Reason, ...] = ()


def reason_for(file: str, line: int, what: str) -> str:
    """The reason that is on record for a fault, or a sentence that there is none."""
    source = (ROOT / file).read_text("utf-8").splitlines()[line - 1]
    found = (one.why for one in REASONS if one.file == file and one.source in source and one.change in what)
    return next(found, "No reason is on record: a test is missing.")
