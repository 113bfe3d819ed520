"""How a measured number is written in a sentence, digit for digit as the phone writes it (`static/survey/movement.js`)."""

from __future__ import annotations

import math


def rounded(value: float, digits: int) -> str:
    """A number with so many digits after the point, halves rounded up, never "-0"."""
    scale = 10**digits
    nearest = math.floor(value * scale + 0.5) / scale
    return f"{nearest + 0.0:.{digits}f}"


def shortest(value: float, digits: int) -> str:
    """As `rounded`, without zeros at the end: 0.30 is 0.3 and 15.0 is 15."""
    text = rounded(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text
