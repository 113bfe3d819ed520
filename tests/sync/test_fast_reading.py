"""The fast reader of lines never says anything else than the strict one."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldlog.json_text import read, read_strictly

TEXTS = st.text(st.characters(codec="utf-8"), max_size=12) | st.sampled_from(["__proto__", "\ufeff", "\u2028", "[[[[", "é", "🦪"])
NUMBERS = (
    st.integers(-(2**70), 2**70) | st.integers(2**53 - 3, 2**53 + 3) | st.floats(allow_nan=True, allow_infinity=True)
    | st.sampled_from([1e-7, 1e21, 1e16, 5e-324, 1.7976931348623157e308, -0.0, 0.1, 100.0, 2**63, 2**64])
)  # fmt: skip
VALUES = st.recursive(
    st.none() | st.booleans() | NUMBERS | TEXTS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=4),
    max_leaves=20,
)
ODD = [
    b'{"a":1,"a":1}', b'{"a":1,"a":2}', b'{"a":{"b":1,"b":1}}', b"-0", b"-0.0", b"1.0", b"1e5", b"1E400", b"1e-400", b"9007199254740991",
    b"9007199254740992", b"-9007199254740992", b"18446744073709551616", b"123456789012345678901234567890", b"NaN", b"Infinity", b"-",
    b"01", b"1.", b'"\xff"', b'"\x00"', b'"\\u0000"', b'"\\ud800"', b'"\\ud83d\\ude00"', b'"\\/"', b'"\x7f"', b"\xef\xbb\xbf1", b"", b" 1",
    b"1 ", b"[1, 2]", b"[" * 16 + b"]" * 16, b"[" * 17 + b"]" * 17, b"[" * 99_999, b'{"a":1}x', b"nul", b"1e21", b"1e+21", b"0.1", b"1e-7",
    b'{"\\u0061":1,"a":2}', b'{"a":9007199254740993.0}', b"0.30000000000000004", b"5e-324", b"2.5e-324", "\"\u2028\"".encode(),
]  # fmt: skip


def said_of(reader: Any, text: bytes) -> str:
    """What a reader makes of a text, 1 and 1.0 and True told apart."""
    try:
        return repr(reader(text))
    except (ValueError, RecursionError):
        return "refused"


@pytest.mark.parametrize("text", ODD, ids=lambda text: text[:30].decode("latin-1"))
def test_odd_texts_are_read_alike(text: bytes) -> None:
    assert said_of(read, text) == said_of(read_strictly, text)


@given(VALUES, st.sampled_from([(",", ":"), (", ", ": ")]), st.booleans())
def test_any_value_is_read_alike(value: Any, separators: tuple[str, str], ascii_only: bool) -> None:
    text = json.dumps(value, separators=separators, ensure_ascii=ascii_only).encode("utf-8", "surrogatepass")
    assert said_of(read, text) == said_of(read_strictly, text)


@given(VALUES, st.data())
def test_any_damaged_text_is_read_alike(value: Any, data: st.DataObject) -> None:
    text = bytearray(json.dumps(value, separators=(",", ":"), ensure_ascii=False).encode())
    at = data.draw(st.integers(0, len(text)))
    text[at : at + data.draw(st.integers(0, 3))] = data.draw(st.binary(max_size=3) | st.sampled_from([b'"a":1,', b"e5", b"[", b"\\u0041", b",", b"0"]))
    assert said_of(read, bytes(text)) == said_of(read_strictly, bytes(text))


def test_a_line_as_an_app_writes_it_takes_the_fast_way(monkeypatch: pytest.MonkeyPatch) -> None:
    line = b'{"v":1,"d":"lane-1","n":1,"s":"0000000000000000","u":null,"t":"unit_check","r":"r","g":"s","y":null,"f":{"tilt_deg":2.5,"note":"\xc3\xa9"},"b":{},"o":[0,"UTC",0]}'
    monkeypatch.setattr("fieldlog.json_text.read_strictly", lambda _text: pytest.fail("the strict reader was asked"))
    assert read(line)["f"] == {"tilt_deg": 2.5, "note": "é"}
