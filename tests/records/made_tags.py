"""The tag of a slot in a row, said once more: what the phone makes (`static/records/tags.js`) is held to it."""

from __future__ import annotations

import re

from fieldlog.records.tags import with_check

_ROW_LETTER = re.compile(r"(?:.* )?([A-Za-z])")


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
    return with_check(letter[1].upper(), f"{slot:02d}")
