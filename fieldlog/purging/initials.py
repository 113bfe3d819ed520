"""A name as its initials."""

from __future__ import annotations

import unicodedata

NOBODY = "N. N."
"""What stands for a name without a letter."""


def initials_of(name: str | None) -> str:
    """The first letter of each word of a name, such as "M. L." for Maria Lopez; three at most."""
    words = unicodedata.normalize("NFC", name or "").replace("-", " ").split()
    letters = [next((letter for letter in word if letter.isalpha()), "") for word in words]
    told = [f"{letter.upper()}." for letter in letters if letter]
    return " ".join(told[:2] + told[2:][-1:]) or NOBODY
