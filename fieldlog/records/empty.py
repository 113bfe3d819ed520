"""
What an empty value is: none, a list of nothing, or a text that shows nothing. `static/records/validate.js` says the same.

The list is fixed, so that server and phone agree whichever Unicode they know: white space, controls, what is drawn as nothing
(Default_Ignorable_Code_Point, with its places kept for later), and the blank sign of braille.
"""

from __future__ import annotations

import re
from typing import Any

_SHOWS = re.compile(
    "[^"
    "\u0000-\u0020\u007f-\u00a0\u00ad\u034f\u061c\u115f-\u1160\u1680"
    "\u17b4-\u17b5\u180b-\u180f\u2000-\u200f\u2028-\u202f\u205f-\u206f"
    "\u2800\u3000\u3164\ufe00-\ufe0f\ufeff\uffa0\ufff0-\ufffb\U0001bca0-\U0001bca3"
    "\U0001d173-\U0001d17a\U000e0000-\U000e0fff"
    "]"
)


def is_empty(value: Any) -> bool:
    """Whether a value is null, a list of nothing, or a text of white space and invisible signs alone."""
    return value is None or value == [] or (isinstance(value, str) and _SHOWS.search(value) is None)
