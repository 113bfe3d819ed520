"""Server and phone answer the same vectors for ids, the chain, the clock and the merge."""

from __future__ import annotations

import itertools
import json
import uuid
from pathlib import Path
from typing import Any

import pytest

from fieldlog.sync import merge
from fieldlog.sync.clock import tick
from fieldlog.sync.log import Entry, chain, line_id
from fieldlog.windows.access import NAMESPACE

VECTORS = Path(__file__).resolve().parents[1] / "vectors"
IDS, CLOCK, FOLD = (json.loads((VECTORS / f"sync_{name}.json").read_text("utf-8")) for name in ("ids", "clock", "fold"))
CASES = FOLD["cases"]


def test_the_server_names_entries_and_records_as_the_vectors_do() -> None:
    assert [[text, line_id(text.encode())] for text, _ in IDS["entry_ids"]] == IDS["entry_ids"]
    links = list(itertools.accumulate((entry_id for entry_id, _ in IDS["chain"]), chain, initial=""))
    assert links[1:] == [link for _, link in IDS["chain"]]
    assert [[name, str(uuid.uuid5(NAMESPACE, name))] for name, _ in IDS["made_up_ids"]] == IDS["made_up_ids"]


def test_the_server_ticks_as_the_vectors_do() -> None:
    assert [[now_ms, last, tick(now_ms, last)] for now_ms, last, _ in CLOCK["ticks"]] == CLOCK["ticks"]


def folded(entries: Any, merges: dict[str, str], since: dict[str, str]) -> dict[str, Any]:
    state = merge.empty()
    for entry_id, eff, fields, bases in entries:
        merge.apply(state, Entry(entry_id, "lane", 1, eff, "k", "r", fields, bases, None, None, None, None, None), eff)
    others = merge.disagreements(state, merges, since)
    return {
        name: {"value": value, "others": sorted(json.dumps(other, separators=(",", ":")) for other in others.get(name, ([], []))[1][1:])}
        for name, value in merge.winners(state, merges, since).items()
    }


@pytest.mark.parametrize("case", CASES, ids=[case["rule"] for case in CASES])
def test_the_server_merges_every_order_as_the_vectors_do(case: dict[str, Any]) -> None:
    for order in itertools.permutations(case["entries"]):
        assert folded(order, case["merges"], case["since"]) == case["fields"]


@pytest.mark.browser
def test_the_phone_answers_all_vectors_alike(bench) -> None:
    ask = "async (name) => (await import('/test/vectors.js'))[name]()"
    wanted = {name: IDS[name] for name in ("entry_ids", "chain", "made_up_ids", "names_of_sites")}
    wanted["fits"] = [True, False, True] * len(IDS["names_of_sites"])
    assert bench.evaluate(ask, "ids") == wanted
    assert bench.evaluate(ask, "ticks") == CLOCK["ticks"]
    for case, every in zip(CASES, bench.evaluate(ask, "folds"), strict=True):
        assert all(json.dumps(one) == json.dumps(case["fields"]) for one in every), case["rule"]
