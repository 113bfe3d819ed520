"""One thing that was looked at, in a sentence."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Finding:
    """One thing that was looked at; `ok` False asks someone to act."""

    word: str
    ok: bool
    sentence: str
