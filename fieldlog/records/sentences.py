"""
The sentences in which a value is doubted or turned down: what, the value, the limit with its unit, what to
do.

`static/records/validate.js` says the same, letter for letter (tests/vectors/records_values.json).
"""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Any

SHOWN_LETTERS = 40
"""How much of a text that was turned down is repeated in the sentence."""


def number_text(value: float) -> str:
    """A number as JavaScript's String() writes it: 5000, 0.3, 1e-7, 1e+21, NaN, Infinity."""
    number = _as_double(value)
    if not math.isfinite(number):
        return "NaN" if math.isnan(number) else "Infinity" if number > 0 else "-Infinity"
    if number == 0:
        return "0"
    if 1e-6 <= abs(number) < 1e21:
        text = format(Decimal(repr(number)), "f")
        return text.rstrip("0").rstrip(".") if "." in text else text
    mantissa, _, exponent = repr(number).partition("e")
    return f"{mantissa.removesuffix('.0')}e{int(exponent):+d}"


def _as_double(value: float) -> float:
    """The number as JavaScript would have it: a whole number too long for a double is infinite."""
    try:
        return float(value)
    except OverflowError:
        return math.inf if value > 0 else -math.inf


def with_unit(number: str, unit: str | None) -> str:
    """A number's text followed by its unit; the degree sign stands close, others after a space."""
    if unit is None:
        return number
    return f"{number}{unit}" if unit == "°" else f"{number} {unit}"


def in_unit(wanted: str, unit: str | None) -> str:
    """What kind of number is wanted, with its unit: "a number in mm"."""
    if unit is None:
        return wanted
    return f"{wanted} in {'degrees' if unit == '°' else unit}"


def told(value: Any) -> str:
    """What kind of JSON value this is, said to a person."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"the number {number_text(value)}"
    if isinstance(value, str):
        return f"the text “{shortened(value)}”"
    return "a list" if isinstance(value, list) else "a group of values"


def shortened(text: str) -> str:
    """A text, cut after forty letters."""
    return text if len(text) <= SHOWN_LETTERS else f"{text[:SHOWN_LETTERS]}…"


def not_a(title: str, wanted: str, value: Any) -> str:
    """The value's type is another one than the field's."""
    return f"{title} must be {wanted}; {told(value)} is not. Enter it again."


def outside(title: str, value: float, least: float, most: float, unit: str | None, *, whole: bool) -> str:
    """The number lies beyond its hard limits; `whole`: it has no decimal point to be left out."""
    limits = with_unit(f"{number_text(least)} and {number_text(most)}", unit)
    said = with_unit(number_text(value), unit)
    return f"{title} is {said}; it must be between {limits}. {_slip(_as_double(value), least, most, whole)}"


def unlikely(title: str, value: float, least: float, most: float, unit: str | None) -> str:
    """The number is possible but seldom right."""
    limits = with_unit(f"{number_text(least)} and {number_text(most)}", unit)
    return (
        f"{title} is {with_unit(number_text(value), unit)}; it is usually between {limits}. Is that right?"
    )


def _slip(value: float, least: float, most: float, whole: bool) -> str:
    if not whole and value > most and any(least <= value / power <= most for power in (10, 100, 1000)):
        return "Was the decimal point left out?"
    if least <= -value <= most:
        return "Is the sign right?"
    return "Correct it, then save again."


def length(title: str, letters: int, least: int, most: int) -> str:
    """The text is too long or too short."""
    if letters > most:
        return f"{title} has {letters} letters; it may have {most} at most. Shorten it, then save again."
    return (
        f"{title} has {letters} letters; it must have {least} at least. Write a little more, then save again."
    )


def items(title: str, count: int, least: int, most: int) -> str:
    """The list is too long or too short."""
    if count > most:
        return f"{title}: {count} given, {most} at most. Take some out, then save again."
    return f"{title}: {count} given, {least} at least. Add more, then save again."


def at_place(title: str, place: int, sentence: str) -> str:
    """What is said of one item of a list, with its place: Stops, the 3rd: ..."""
    tens = place // 10 % 10
    ending = "th" if tens == 1 else {1: "st", 2: "nd", 3: "rd"}.get(place % 10, "th")
    return f"{title}, the {place}{ending}: {sentence}"


def not_offered(title: str, value: str, labels: list[str]) -> str:
    """The choice is none of those offered."""
    return f"{title} is “{shortened(value)}”; it must be one of: {'; '.join(labels)}. Choose again."


def no_such_field(kind_title: str, name: str) -> str:
    """The kind has no field of this name here."""
    return (
        f"“{kind_title}” has no field “{shortened(name)}” in this version. "
        "The entry is kept, and stored after an update."
    )


def no_datum(title: str) -> str:
    """A level without the name of what it is above."""
    return f"{title} is a level without its datum. Add in the same entry what it is above, such as MLLW or NAVD88."


def missing(title: str) -> str:
    """A field that a complete record needs is empty."""
    return f"{title} is not filled in. Fill it in, then save again."


def names_itself(title: str) -> str:
    """A field that names another record of the same kind was given its own."""
    return f"{title} names this record itself. Choose another one, or clear it; the text is kept."


def settled(title: str) -> str:
    """A field that keeps its first value was given another."""
    return f"{title} cannot be changed later. Make a new record instead; the text is kept."
