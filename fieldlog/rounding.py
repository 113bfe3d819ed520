"""How a number is written in a sentence, digit for digit as the phone writes it (`static/rounding.js`, tests/vectors/survey_cases.json)."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal


def rounded(value: float, digits: int, *, signed: bool = False) -> str:
    """A number with so many digits after the point, halves rounded up, never "-0"; `signed`: with a plus above nought."""
    scale = 10**digits
    nearest = math.floor(value * scale + 0.5) / scale + 0.0
    return f"{'+' if signed and nearest > 0 else ''}{nearest:.{digits}f}"


def shortest(value: float, digits: int) -> str:
    """As `rounded`, without zeros at the end: 0.30 is 0.3 and 15.0 is 15."""
    text = rounded(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def product(one: float, other: float, digits: int) -> str:
    """Two decimal numbers multiplied as people do it on paper, halves rounded up: 3.5 by 34.79 is 121.765, so 121.77."""
    exact = Decimal(repr(one)) * Decimal(repr(other))
    return str(exact.quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP))
