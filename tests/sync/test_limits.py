"""The limits of a line, a name, a stamp and a merge: at the value itself and one step beyond."""

from __future__ import annotations

import json
from typing import Any

import pytest

from fieldlog.sync import merge
from fieldlog.sync.clock import backdated, effective, is_as_old, is_backdated, is_stamp, pack, tick, unpack
from fieldlog.sync.log import Entry, UnreadableLineError, entry_of, is_id, is_lane_id, is_short_text, is_whole

LANE = "a1" * 16
GOOD = {"v": 1, "d": LANE, "n": 3, "s": "0192f0c456000003", "t": "unit_check", "r": "r-1", "f": {"note": "x"}, "b": {}}
ID = "0f" * 16


def line(**changes: Any) -> bytes:
    return json.dumps({**GOOD, **changes}, separators=(",", ":")).encode()


def test_a_line_of_64_kb_is_read_and_one_of_a_byte_more_is_not() -> None:
    bare = len(line(f={"note": ""}))
    assert entry_of(line(f={"note": "x" * (65_536 - bare)}), LANE, 3).fields["note"]
    with pytest.raises(UnreadableLineError, match="too-big"):
        entry_of(line(f={"note": "x" * (65_537 - bare)}), LANE, 3)


@pytest.mark.parametrize(
    "changes",
    [{"f": {f"f{n}": 1 for n in range(64)}}, {"f": {"one": None}}, {"b": {"note": [ID] * 64}}, {"b": {"note": []}}, {"r": "x" * 64}, {"r": "x"},
     {"u": "u" * 64, "g": "g" * 64, "y": "y" * 64}, {"k": ID, "fixes": ID, "was": ID}, {"s": "0" * 12 + "7fff"}],
    ids=lambda changes: ", ".join(changes),
)  # fmt: skip
def test_at_its_limit_a_line_is_an_entry(changes: dict[str, Any]) -> None:
    entry = entry_of(line(**changes), LANE, 3)
    assert (entry.lane_id, entry.number, entry.kind) == (LANE, 3, "unit_check")


@pytest.mark.parametrize(
    ("why", "changes"),
    [("no-fields", {"f": {f"f{n}": 1 for n in range(65)}}), ("bad-base", {"b": {"note": [ID] * 65}}), ("bad-base", {"b": {"note": [ID[:31]]}}), ("bad-record-id", {"r": "x" * 65}),
     ("bad-record-id", {"r": 5}), ("bad-envelope", {"u": "u" * 65}), ("bad-envelope", {"g": ""}), ("bad-envelope", {"y": 1}), ("bad-envelope", {"was": ID.upper()}),
     ("bad-envelope", {"k": ID + "0"}), ("bad-stamp", {"s": "0" * 12 + "8000"}), ("bad-author", {"n": 3.5}), ("unknown-kind", {"t": None})],
)  # fmt: skip
def test_one_step_beyond_its_limit_a_line_is_held_by_its_word(why: str, changes: dict[str, Any]) -> None:
    with pytest.raises(UnreadableLineError) as fault:
        entry_of(line(**changes), LANE, 3)
    assert fault.value.why == why


def test_all_that_a_line_says_stands_in_its_entry() -> None:
    entry = entry_of(line(u="u-1", g="g-1", y="y-1", k=ID, fixes=ID, b={"note": [ID]}, o=[60, "Europe/Oslo", 0]), LANE, 3)
    assert (entry.made_by, entry.site_id, entry.visit_id, entry.random_key, entry.fixes) == ("u-1", "g-1", "y-1", ID, ID)
    assert (entry.stamp, entry.record_id, entry.fields, entry.bases, entry.offset) == (GOOD["s"], "r-1", {"note": "x"}, {"note": [ID]}, [60, "Europe/Oslo", 0])


@pytest.mark.parametrize(("lane", "can"), [("a" * 8, True), ("a" * 7, False), ("a" * 40, True), ("a" * 41, False), ("A-z0-9xyz", True), ("a b c d e", False), (None, False), (12345678, False)])
def test_a_lane_has_a_name_of_8_to_40_letters(lane: object, can: bool) -> None:
    assert is_lane_id(lane) is can


@pytest.mark.parametrize(("value", "is_one"), [(0, True), (-1, False), (2**53 - 1, True), (2**53, False), (True, False), (3.0, False), ("3", False), (None, False)])
def test_a_whole_number_is_one_that_a_browser_counts_exactly(value: object, is_one: bool) -> None:
    assert is_whole(value) is is_one


@pytest.mark.parametrize(("value", "is_one"), [(None, True), ("", True), ("x" * 64, True), ("x" * 65, False), (5, False)])
def test_a_short_text_has_64_letters_at_most(value: object, is_one: bool) -> None:
    assert is_short_text(value) is is_one


@pytest.mark.parametrize(("value", "is_one"), [(ID, True), (ID[:31], False), (ID + "0", False), (ID.upper(), False), (f"{ID}\n", False), (None, False)])
def test_an_entrys_id_is_32_small_hex_digits(value: object, is_one: bool) -> None:
    assert is_id(value) is is_one


def test_a_stamp_ticks_on_to_its_last_count_and_then_into_the_millisecond() -> None:
    assert tick(1000, pack(1000, 0x7FFD)) == pack(1000, 0x7FFE)
    assert tick(1000, pack(1000, 0x7FFE)) == pack(1000, 0x7FFF)
    assert tick(1000, pack(1000, 0x7FFF)) == pack(1001, 0)
    assert tick(1001, pack(1000, 5)) == pack(1001, 0)
    assert tick(999, pack(1000, 5)) == pack(1000, 6)
    assert unpack(pack(2**47, 0x7FFF)) == (2**47, 0x7FFF)
    assert [is_stamp(value) for value in (pack(5, 0x7FFF), "0" * 12 + "8000", "0" * 12 + "7FFF")] == [True, False, False]


@pytest.mark.parametrize(("ahead_ms", "keeps"), [(0, True), (300_000, True), (300_001, False)])
def test_five_minutes_ahead_are_believed(ahead_ms: int, keeps: bool) -> None:
    now_ms = 1_790_000_000_000
    claim = pack(now_ms + ahead_ms, 0)
    assert (effective(claim, now_ms, pack(now_ms - 5, 0)) == claim) is keeps
    if not keeps:
        assert effective(claim, now_ms, pack(now_ms - 5, 0)) == pack(now_ms, 0)


def entry(number: int, fields: dict[str, Any], bases: dict[str, list[str]] | None = None) -> Entry:
    return Entry(f"{number:032x}", "lane", number, "", "k", "r", fields, bases or {}, f"p{number}", f"s{number}", f"y{number}", None, None)


def merged(*written: tuple[Entry, str]) -> merge.State:
    state = merge.empty()
    for one, eff in written:
        merge.apply(state, one, eff)
    return state


def test_of_three_careful_values_the_extreme_one_stands_and_without_a_disagreement_the_latest() -> None:
    three = merged((entry(1, {"m": 2}), "1"), (entry(2, {"m": 3}), "2"), (entry(3, {"m": 1}), "3"))
    assert [merge.winners(three, {"m": way})["m"] for way in ("lower", "higher")] == [1, 3]
    middle = merged((entry(1, {"m": 1}), "1"), (entry(2, {"m": 3}), "2"), (entry(3, {"m": 2}), "3"))
    assert [merge.winners(middle, told)["m"] for told in (None, {}, {"other": "lower"}, {"m": "lower"}, {"m": "higher"})] == [2, 2, 2, 1, 3]
    settled = merged((entry(1, {"m": 1}), "1"), (entry(2, {"m": 3}, {"m": [f"{1:032x}"]}), "2"))
    assert merge.winners(settled, {"m": "lower"}) == {"m": 3}
    assert merge.winners(merged((entry(1, {"m": None}), "1"), (entry(2, {"m": None}), "2")), {"m": "lower"}) == {"m": None}
    assert merge.winners(merged((entry(1, {"m": 4}), "1"), (entry(2, {"m": None}), "2")), {"m": "lower"}) == {"m": 4}


def test_of_yes_and_no_the_careful_answer_stands_and_not_known_before_the_bold_one() -> None:
    def both(*values: bool | None) -> list[Any]:
        state = merged(*((entry(n, {"m": value}), f"{n}") for n, value in enumerate(values)))
        return [merge.winners(state, told)["m"] for told in ({"m": "lower"}, {"m": "higher"}, None)]

    assert [both(True, False), both(False, True)] == [[False, True, False], [False, True, True]]
    assert [both(None, False), both(True, None)] == [[False, None, False], [None, True, None]]
    assert [both(False, None, True), both(False)] == [[False, True, True], [False] * 3]


def test_a_backdated_stamp_is_ordered_by_its_time_and_ticks_on() -> None:
    late = backdated(pack(1000, 5))
    assert pack(1000, 5) < late < pack(1001, 0)
    assert (is_backdated(late), is_backdated(pack(1000, 0x7FFF)), is_stamp(late)) == (True, False, False)
    assert tick(1000, late) == pack(1001, 0)
    assert [is_as_old(pack(ms, count), pack(1000, 5)) for ms, count in ((999, 9), (1000, 9), (1001, 0))] == [True, True, False]


def test_what_came_late_and_claims_to_be_older_is_not_what_made_a_record() -> None:
    some = [(entry(1, {"a": 1}), pack(1000, 0)), (entry(2, {"a": 2}), backdated(pack(900, 0))), (entry(3, {"a": 3}), pack(1000, 1))]
    for order in ((0, 1, 2), (2, 1, 0), (1, 2, 0), (1, 0, 2)):
        state = merged(*(some[n] for n in order))
        assert (state["first"][2:], state["last"][2]) == (["p1", "s1", "y1"], "p3")
        assert [head[0] for head in state["fields"]["a"]["heads"]] == [f"{n:032x}" for n in (2, 1, 3)]


def test_the_first_and_the_last_say_whose_a_record_is_also_where_stamps_are_equal() -> None:
    for order in ((1, 2, 3), (3, 1, 2), (2, 3, 1)):
        state = merged(*((entry(n, {"a": n}), "5") for n in order))
        assert state["first"] == ["5", f"{1:032x}", "p1", "s1", "y1"]
        assert state["last"] == ["5", f"{3:032x}", "p3"]


def test_a_base_that_comes_late_stands_back_and_waits_no_more() -> None:
    late = merged((entry(2, {"a": "b"}, {"a": [f"{1:032x}"]}), "2"))
    assert late["fields"]["a"] == {"heads": [[f"{2:032x}", "2", "b"]], "waiting": [f"{1:032x}"]}
    merge.apply(late, entry(1, {"a": "a"}), "1")
    assert late["fields"]["a"] == {"heads": [[f"{2:032x}", "2", "b"]], "waiting": []}


def test_a_disagreement_tells_each_value_once_the_winner_first() -> None:
    state = merged((entry(1, {"a": 5}), "1"), (entry(2, {"a": 7}), "2"), (entry(3, {"a": 5.0}), "3"), (entry(4, {"a": 9}), "4"))
    assert merge.disagreements(state) == {"a": ([f"{n:032x}" for n in (4, 3, 2)], [9, 5.0, 7])}


@pytest.mark.parametrize(("one", "other", "equal"), [(3, 3.0, True), (0.1, 0.1, True), ({"a": 1, "b": 2}, {"b": 2, "a": 1}, True), ([1, 2], [2, 1], False), (True, 1, False), (None, 0, False), ("3", 3, False)])
def test_two_values_are_one_where_a_browser_reads_them_alike(one: object, other: object, equal: bool) -> None:
    assert (merge.same(one) == merge.same(other)) is equal
