"""
What people read where a record should be named: its own name, or that it has none yet.

The phone has the same in `static/views/names.js`; old data may lack any field, so no sentence reads a name by itself.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

NO_NAME = "No name yet"
_UNSEEN = ("C", "Z", "M")
"""Controls, spaces and marks alone are no name."""

_BLANK_LETTERS = "\u115f\u1160\u3164\uffa0\u2800"
_TURNS = dict.fromkeys((*range(0x202A, 0x202F), *range(0x2066, 0x206A)))
"""Signs that would turn the words after a name round."""


def named(text: str | None, otherwise: str = NO_NAME) -> str:
    """The text where it shows anything, without what would turn the words after it round; else that there is none."""
    if text is None or all(unicodedata.category(letter)[0] in _UNSEEN or letter in _BLANK_LETTERS for letter in text):
        return otherwise
    return text.translate(_TURNS)


_SITE_FIELDS = {
    "zone": "time zone", "lat_deg": "latitude", "lon_deg": "longitude", "tide_station": "reference port", "work_level_m": "work level",
    "route_low_level_m": "lowest point on the path", "walk_out_min": "walk to firm ground", "muster_min": "time to gather everyone",
    "least_usable_min": "shortest usable time",
}  # fmt: skip
"""What people call the fields of a site without which no low tide can be worked out: the titles of `records/site.py`."""


def site_fields(names: Sequence[str]) -> str:
    """Fields of a site as people read them, such as "time zone, work level"."""
    return ", ".join(_SITE_FIELDS[name] for name in names)


def counted(count: int, one: str, many: str = "") -> str:
    """A number with its noun, such as 1 entry or 3 entries; `many` where it is more than `one` with an s."""
    return f"{count} {one if count == 1 else many or f'{one}s'}"
