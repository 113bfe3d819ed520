"""
Unit tags: the row's letter, the slot in two digits, a check digit. Row D, slot 3: D030.

The check digit is Damm's, over the letter's place in the alphabet (its last digit) and the slot, so that a
digit misread under algae, two digits swapped, or a row letter mistaken for another of ten neighbours is
noticed at once.

Source: H. M. Damm, Total anti-symmetrische Quasigruppen (dissertation, Marburg 2004): the order-10 quasigroup
below, from memory; its published check, 572 -> 4, and its two properties are held by
tests/records/test_tags.py.
"""

from __future__ import annotations

import re

_QUASIGROUP = (
    "0317598642", "7092154863", "4206871359", "1750983426", "6123045978",
    "3674209581", "5869720134", "8945362017", "9438617205", "2581436790",
)  # fmt: skip
_TAG = re.compile(r"([A-Z])([0-9]{2,3})([0-9])")
_ROW_LETTER = re.compile(r"(?:.* )?([A-Za-z])")


def check_digit(digits: str) -> str:
    """Damm's check digit of a run of decimal digits: "572" gives "4"."""
    interim = 0
    for digit in digits:
        interim = int(_QUASIGROUP[interim][int(digit)])
    return str(interim)


def tag_for(row_name: str, slot: int) -> str | None:
    """
    The tag of a slot in a row.

    Args:
        row_name: a single letter, or words that end in one: "D", "Row D".
        slot: the slot's number, 0 to 999.

    Returns:
        The tag, or None where the row's name ends in no single letter or the slot is out of range.
    """
    letter = _ROW_LETTER.fullmatch(row_name.strip())
    if letter is None or not 0 <= slot <= 999:
        return None
    return _with_check(letter[1].upper(), f"{slot:02d}")


def check_tag(text: str) -> str | None:
    """A sentence that says why a tag cannot be right, or None where it can."""
    parts = _TAG.fullmatch(text)
    if parts is None:
        return f"Tag {text} is not a row letter, two or three digits and a check digit, as in {_with_check('D', '03')}."
    wanted = _with_check(parts[1], parts[2])
    if wanted == text:
        return None
    return f"Tag {text} does not fit its check digit: {parts[1]}{parts[2]} would end in {wanted[-1]}. Read the tag again."


def made_here(tag: str | None, said: object) -> bool:
    """
    Whether a tag is one of ours, with a check digit: what its record says of it; where that says nothing, as records of
    apps up to 0.3.0 do, whether the digit is right. Only tags that are said to be ours can be wrong.
    """
    return bool(said) if said is not None else tag is not None and check_tag(tag) is None


def _with_check(letter: str, slot_digits: str) -> str:
    place = str((ord(letter) - ord("A") + 1) % 10)
    return f"{letter}{slot_digits}{check_digit(place + slot_digits)}"
