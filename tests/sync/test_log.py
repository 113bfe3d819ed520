"""A line is text before it is JSON: what a browser would not read alike is no line."""

import hashlib
import json

import pytest

from fieldlog.sync.log import UnreadableLineError, chain, entry_of, line_id, read

LANE = "a1" * 16
GOOD = {"v": 1, "d": LANE, "n": 3, "s": "0192f0c456000003", "t": "unit_check", "r": "r-1", "f": {"note": "é"}, "b": {}}


def line(**changes: object) -> bytes:
    said = {**GOOD, **changes}
    return json.dumps({k: v for k, v in said.items() if v is not ...}, ensure_ascii=False).encode()


def test_an_entry_id_is_the_start_of_the_lines_sha_256() -> None:
    # FIPS 180-4 example "abc": ba7816bf 8f01cfea 414140de 5dae2223 ...
    assert line_id(b"abc") == "ba7816bf8f01cfea414140de5dae2223"


def test_the_chain_hashes_the_link_before_and_the_id() -> None:
    assert chain("", "ab") == hashlib.sha256(b"ab").hexdigest()[:32]
    assert chain("cd", "ab") == hashlib.sha256(b"cdab").hexdigest()[:32]


def test_a_good_line_is_an_entry() -> None:
    entry = entry_of(line(u="p-1", g="s-1", y=None), LANE, 3)
    assert (entry.kind, entry.record_id, entry.fields, entry.made_by, entry.site_id) == (
        "unit_check", "r-1", {"note": "é"}, "p-1", "s-1",
    )  # fmt: skip


HOSTILE = {
    "not JSON": b"{not json",
    "UTF-16": '{"d":1}'.encode("utf-16"),
    "byte-order mark": b"\xef\xbb\xbf{}",
    "NUL": b'{"a":"\x00"}',
    "NaN": b'{"a":NaN}',
    "Infinity": b'{"a":-Infinity}',
    "beyond a double": b'{"a":1e999}',
    "beyond 2^53-1": b'{"a":9007199254740993}',
    "nested over 16": b"[" * 17 + b"]" * 17,
    "nested without end": b"[" * 20000,
    "lone surrogate": b'{"a":"\\ud800"}',
    "repeated key": b'{"a":1,"a":2}',
    "stray byte": b"\xff",
}


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
def test_what_a_browser_reads_otherwise_is_not_read(text: bytes) -> None:
    with pytest.raises((ValueError, RecursionError)):
        read(text)


def test_brackets_inside_a_text_do_not_nest() -> None:
    assert read(json.dumps({"note": '[{"' * 50}).encode()) == {"note": '[{"' * 50}


def test_escaped_pairs_are_one_letter_and_no_lone_surrogate() -> None:
    assert read(b'"\\ud83d\\udc1a"') == "\U0001f41a"


@pytest.mark.parametrize(
    ("why", "changes"),
    [
        ("bad-author", {"d": "b" * 32}),
        ("bad-author", {"n": 4}),
        ("bad-author", {"n": "3"}),
        ("bad-stamp", {"s": "0192f0c456008000"}),
        ("bad-stamp", {"s": ...}),
        ("unknown-kind", {"t": 7}),
        ("bad-record-id", {"r": ""}),
        ("bad-record-id", {"r": "x" * 65}),
        ("bad-record-id", {"r": "a b"}),
        ("no-fields", {"f": {}}),
        ("no-fields", {"f": []}),
        ("no-fields", {"f": {f"f{i}": 1 for i in range(65)}}),
        ("bad-base", {"b": {"note": "x"}}),
        ("bad-base", {"b": {"note": ["short"]}}),
        ("bad-base", {"b": {"note": [{}]}}),
        ("bad-base", {"b": []}),
        ("bad-envelope", {"u": 5}),
        ("bad-envelope", {"g": "no spaces here"}),
        ("bad-envelope", {"k": "short"}),
        ("bad-envelope", {"fixes": "xyz"}),
        ("bad-envelope", {"reopens": "xyz"}),
    ],
)
def test_a_wrong_envelope_is_named(why: str, changes: dict[str, object]) -> None:
    with pytest.raises(UnreadableLineError) as caught:
        entry_of(line(**changes), LANE, 3)
    assert caught.value.why == why


def test_a_line_over_64_kb_is_too_big() -> None:
    with pytest.raises(UnreadableLineError, match="too-big"):
        entry_of(line(f={"note": "x" * 70_000}), LANE, 3)


def test_true_is_not_the_number_one() -> None:
    with pytest.raises(UnreadableLineError, match="bad-author"):
        entry_of(line(n=True), LANE, 1)
