"""Merging is order-free and equal to a fold over the whole set of entries, written here the long way."""

import json
import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.sync import merge
from fieldlog.sync.log import Entry


def entry(number: int, fields: dict[str, Any], bases: dict[str, list[str]] | None = None, by: str = "p") -> Entry:
    return Entry(f"{number:032x}", "lane", number, "", "k", "r", fields, bases or {}, by, "s", None, None, None)


def fold(entries: list[tuple[Entry, str]]) -> dict[str, tuple[Any, list[str]]]:
    """{field: (winning value, other values among the heads)}: every write that no write names as its base is a head."""
    found = {}
    for name in {name for e, _ in entries for name in e.fields}:
        writes = {e.entry_id: (eff, e.entry_id, e.fields[name]) for e, eff in entries if name in e.fields}
        named = {base for e, _ in entries if name in e.fields for base in e.bases.get(name, [])}
        heads = sorted(write for entry_id, write in writes.items() if entry_id not in named)
        others = {json.dumps(value) for _, _, value in heads} - {json.dumps(heads[-1][2])}
        found[name] = (heads[-1][2], sorted(others))
    return found


@st.composite
def histories(draw: st.DrawFn) -> list[tuple[Entry, str]]:
    made: list[tuple[Entry, str]] = []
    for number in range(draw(st.integers(1, 12))):
        name = draw(st.sampled_from(["a", "b"]))
        earlier = [e.entry_id for e, _ in made if name in e.fields]
        bases = draw(st.lists(st.sampled_from(earlier), unique=True)) if earlier else []
        made.append(
            (entry(number, {name: draw(st.integers(0, 2))}, {name: bases}), f"{draw(st.integers(0, 5)):016x}")
        )
    return made


@settings(max_examples=300, deadline=None)
@given(histories(), st.randoms(use_true_random=False))
def test_any_order_of_arrival_gives_what_the_fold_gives(made: list[tuple[Entry, str]], shuffle: random.Random) -> None:
    arrived = made[:]
    shuffle.shuffle(arrived)
    state = merge.empty()
    for one, eff in arrived:
        merge.apply(state, one, eff)
    open_fields = merge.disagreements(state)
    said = {
        name: (value, sorted(json.dumps(v) for v in open_fields.get(name, ([], [None]))[1][1:]))
        for name, value in merge.winners(state).items()
    }
    assert said == fold(made)


def test_the_later_of_two_blind_writes_wins_and_the_other_stays_open() -> None:
    state = merge.empty()
    merge.apply(state, entry(1, {"note": "ours"}), "5")
    merge.apply(state, entry(2, {"note": "theirs"}), "4")
    assert merge.winners(state) == {"note": "ours"}
    assert merge.disagreements(state) == {"note": ([f"{1:032x}", f"{2:032x}"], ["ours", "theirs"])}


def test_an_entry_that_names_both_heads_settles_a_disagreement() -> None:
    state = merge.empty()
    merge.apply(state, entry(1, {"note": "ours"}), "5")
    merge.apply(state, entry(2, {"note": "theirs"}), "4")
    merge.apply(state, entry(3, {"note": "both"}, {"note": [f"{1:032x}", f"{2:032x}"]}), "6")
    assert merge.winners(state) == {"note": "both"}
    assert merge.disagreements(state) == {}


def test_the_same_number_written_two_ways_is_no_disagreement() -> None:
    state = merge.empty()
    merge.apply(state, entry(1, {"depth_mm": 3}), "5")
    merge.apply(state, entry(2, {"depth_mm": 3.0}), "4")
    assert merge.disagreements(state) == {}


def test_true_and_one_are_two_values() -> None:
    assert merge.same(True) != merge.same(1)


def test_while_a_safety_field_is_open_the_careful_value_stands() -> None:
    state = merge.empty()
    merge.apply(state, entry(1, {"work_level_m": 0.6, "allowance_m": 0.1}), "5")
    merge.apply(state, entry(2, {"work_level_m": 0.4, "allowance_m": 0.3}), "4")
    assert merge.winners(state, {"work_level_m": "lower", "allowance_m": "higher"}) == {
        "work_level_m": 0.4, "allowance_m": 0.3,
    }  # fmt: skip


def test_the_first_entry_names_place_and_maker_whatever_came_first() -> None:
    early, late = entry(1, {"a": 1}, by="early"), entry(2, {"a": 2}, by="late")
    for order in ([early, late], [late, early]):
        state = merge.empty()
        for one in order:
            merge.apply(state, one, f"{one.number}")
        assert (state["first"][2], state["last"][2]) == ("early", "late")


class Counted(str):
    """A stamp that counts how often it is compared."""

    compared = 0

    def __lt__(self, other: str) -> bool:
        Counted.compared += 1
        return str.__lt__(self, other)

    def __eq__(self, other: object) -> bool:
        Counted.compared += 1
        return str.__eq__(self, other)

    __hash__ = str.__hash__


@pytest.mark.parametrize("named", [[], [f"{1:032x}"], [f"{10**9:032x}"]], ids=["no base", "one base", "a base that never comes"])
def test_thousands_of_blind_writes_of_one_field_cost_little_more_each_than_ten(named: list[str]) -> None:
    each = []
    for count in (10, 5000):
        shuffled = random.Random(3).sample(range(2, count + 2), count)
        Counted.compared = 0
        state = merge.empty()
        merge.fold(state, [(entry(number, {"note": number}, {"note": named}), Counted(f"{number:016x}")) for number in shuffled])
        assert merge.winners(state) == {"note": count + 1}
        assert [head[2] for head in state["fields"]["note"]["heads"]] == list(range(2, count + 2))
        each.append(Counted.compared / count)
    assert each[1] <= 6 * each[0], each
