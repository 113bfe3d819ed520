"""
JSON as it comes from outside, lines and bodies alike: only what a browser's JSON.parse reads the same way.

Two programs that read one text differently are a hole, and Python's own reader takes more than the standard does.
"""

from __future__ import annotations

import json
import re
from typing import Any

import orjson

MAX_NESTING = 16
MAX_WHOLE = 2**53 - 1

_STRING_OR_BRACKET = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"?|[\[{\]}]', re.DOTALL)


def read(text_bytes: bytes) -> Any:
    """
    The JSON value of a text, if a browser would read the same.

    Raises:
        ValueError: not UTF-8, a byte-order mark, NUL, NaN or Infinity, a number beyond a double, an integer beyond
            2^53-1, nesting over 16, a lone surrogate, a repeated key, or no JSON at all.
    """
    # Most lines are texts that the fast reader writes back byte for byte. That proves that no key stands twice and no number
    # was rounded, since either would come back otherwise; whatever it doubts goes to the strict reader, whose word stands.
    if text_bytes.count(b"[") + text_bytes.count(b"{") <= MAX_NESTING and b"\\u" not in text_bytes:
        try:
            value = orjson.loads(text_bytes)
            if orjson.dumps(value, option=orjson.OPT_STRICT_INTEGER) == text_bytes:
                return value
        except (orjson.JSONDecodeError, orjson.JSONEncodeError):
            pass
    return read_strictly(text_bytes)


def read_strictly(text_bytes: bytes) -> Any:
    """The same of any text, and several times slower."""
    text = text_bytes.decode("utf-8")
    if text[:1] == "\ufeff" or "\0" in text:
        raise ValueError("a byte-order mark or NUL")
    if text.count("[") + text.count("{") > MAX_NESTING and _is_nested_too_deep(text):
        raise ValueError(f"nested deeper than {MAX_NESTING}")
    value = json.loads(
        text, object_pairs_hook=_unique, parse_int=_whole, parse_float=_real, parse_constant=_no_constant
    )
    if "\\u" in text and _has_lone_surrogate(value):
        raise ValueError("a lone surrogate, which is half of a letter")
    return value


def _is_nested_too_deep(text: str) -> bool:
    """Asked before the text is read: Python's reader goes as deep as its stack and then raises RecursionError."""
    depth = 0
    for found in _STRING_OR_BRACKET.finditer(text):
        sign = found[0]
        if sign in "[{":
            depth += 1
            if depth > MAX_NESTING:
                return True
        elif sign in "]}":
            depth -= 1
    return False


def _has_lone_surrogate(value: Any) -> bool:
    try:
        json.dumps(value, ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError:
        return True
    return False


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key appears twice")
    return found


def _whole(text: str) -> int:
    number = int(text) if len(text) <= len(str(-MAX_WHOLE)) else MAX_WHOLE + 1
    if abs(number) > MAX_WHOLE:
        raise ValueError("an integer beyond 2^53-1")
    return number


def _real(text: str) -> float:
    number = float(text)
    if number in (float("inf"), float("-inf")):
        raise ValueError("a number beyond a double")
    return number


def _no_constant(text: str) -> None:
    raise ValueError(f"{text} is not JSON")
