"""
Writes tests/vectors/sync_*.json with hashlib and uuid alone, never with the code under test.

Run `python tests/phone/make_sync_vectors.py`; the files are committed and read by pytest and by the browser.
"""

from __future__ import annotations

import hashlib
import json
import uuid
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

VECTORS = Path(__file__).resolve().parents[1] / "vectors"
TEXTS = ["", "abc", '{"f":{"note":"é, 🦪 and \\"quotes\\""}}', "x" * 55, "x" * 56, "x" * 64, "kelp\n" * 500]
NAMES = [
    "visit|0192f0c4-0000-7000-8000-000000000001|7fdb38e3-e3b9-57fa-8257-a56d68996c27",
    "sign_in|0192f0c4-0000-7000-8000-000000000001|2026-11-25|0192f0c4-0000-7000-8000-000000000002|1",
    "window|0192f0c4-0000-7000-8000-000000000001|2026-11-25T06",
    "ä" * 60,
]
SITES = ["0192f0c4-0000-7000-8000-000000000001", None]
ENTRIES = [f"{number:032x}" for number in range(1, 9)]


def sha(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def ids() -> dict[str, Any]:
    chain, links = "", []
    for entry_id in ENTRIES:
        chain = sha(chain + entry_id)[:32]
        links.append([entry_id, chain])
    space = uuid.uuid5(uuid.NAMESPACE_URL, "fieldlog")
    return {
        "about": "FIPS 180-4 SHA-256 and RFC 9562 UUIDv5, by Python's hashlib and uuid",
        "entry_ids": [[text, sha(text)[:32]] for text in TEXTS],
        "chain": links,
        "made_up_ids": [[name, str(uuid.uuid5(space, name))] for name in NAMES],
        "names_of_sites": [[str(uuid.uuid5(space, name)), site, of_site(uuid.uuid5(space, name).hex, site)] for name in NAMES for site in SITES],
    }


def of_site(digits: str, site: str | None) -> str:
    rest = f"{digits[:12]}8{digits[13:24]}"
    return str(uuid.UUID(rest + sha(f"{site or ''}|{rest}")[:8]))


def clock() -> dict[str, Any]:
    """[wall clock in ms, stamp before, stamp after]; written by hand from the rule."""
    return {
        "about": "a later wall clock starts the counter anew; else the counter grows; past 7fff the millisecond does",
        "ticks": [
            [0x0192F0C45600, "0" * 16, "0192f0c456000000"],
            [0x0192F0C45601, "0192f0c456000003", "0192f0c456010000"],
            [0x0192F0C45600, "0192f0c456000003", "0192f0c456000004"],
            [0x0192F0C45500, "0192f0c456000003", "0192f0c456000004"],
            [0x0192F0C45600, "0192f0c456007fff", "0192f0c456010000"],
            [0x0192F0C45600, "0192f0c4ffff7fff", "0192f0c500000000"],
            [1, "0000000000010000", "0000000000010001"],
        ],
    }


def write(number: int, eff: str, fields: dict[str, Any], bases: dict[str, list[int]] | None = None) -> list[Any]:
    named = {name: [ENTRIES[base - 1] for base in ids] for name, ids in (bases or {}).items()}
    return [ENTRIES[number - 1], f"{eff:0>16}", fields, named]


T = ["2026-11-26T14:04:00Z", "2026-11-26T14:05:00Z", "2026-11-26T14:05:00.500Z"]
"""As lines write them, in the order of time; as texts the last two stand the other way round."""

TOLD = dict(zip(T, ["2026-11-26T14:04:00.000Z", "2026-11-26T14:05:00.000Z", "2026-11-26T14:05:00.500Z"], strict=True))
"""The same as records have them."""

def at(moment: str) -> str:
    """The stamp of an entry that was written at a moment."""
    return f"{round(datetime.fromisoformat(moment).timestamp() * 1000):012x}0000"


TURN = ({"in_at": "earliest", "out_at": "latest"}, {"out_at": "in_at", "why": "in_at"})
"""How a sign-in merges: `why` ends it as a time out does."""

CASES: list[tuple[Any, ...]] = [
    ("one write", [write(1, "1", {"note": "a"})]),
    ("a later write that saw the first", [write(1, "1", {"note": "a"}), write(2, "2", {"note": "b"}, {"note": [1]})]),
    ("two blind writes", [write(1, "1", {"note": "a"}), write(2, "2", {"note": "b"})]),
    ("blind writes at one stamp: the greater id", [write(1, "1", {"note": "a"}), write(2, "1", {"note": "b"})]),
    ("blind writes of one value", [write(1, "1", {"count": 3}), write(2, "2", {"count": 3})]),
    ("settled by one that names both", [
        write(1, "1", {"note": "a"}), write(2, "2", {"note": "b"}), write(3, "3", {"note": "a"}, {"note": [1, 2]})]),
    ("a base that sorts later by its clock", [write(1, "9", {"note": "a"}), write(2, "2", {"note": "b"}, {"note": [1]})]),
    ("a base that never comes", [write(2, "2", {"note": "b"}, {"note": [1]})]),
    ("cleared", [write(1, "1", {"note": "a"}), write(2, "2", {"note": None}, {"note": [1]})]),
    ("fields stand alone", [write(1, "1", {"note": "a", "count": 1}), write(2, "2", {"count": 2}, {"count": [1]})]),
    ("deleted and blindly changed", [
        write(1, "1", {"count": 1}), write(2, "2", {"_deleted": True}), write(3, "3", {"count": 2}, {"count": [1]})]),
    ("a list merges whole", [write(1, "1", {"heights": [23, 31]}), write(2, "2", {"heights": [23, 18]}), write(3, "3", {"heights": []})]),
    ("blind writes of one list", [
        write(1, "1", {"stops": [{"team": 1, "at_min": -40.5}]}), write(2, "2", {"stops": [{"team": 1, "at_min": -40.5}]})]),
    ("true and one are two values", [write(1, "1", {"a": True}), write(2, "2", {"a": 1})]),
    ("three blind writes of two values", [
        write(1, "1", {"a": 1}), write(2, "2", {"a": 2}), write(3, "3", {"a": 1})]),
    ("the lower of two, and who wrote the other is asked", [write(1, "1", {"a": 1}), write(2, "2", {"a": 2})], {"a": "lower"}),
    ("the higher of three", [write(1, "1", {"a": 1}), write(2, "2", {"a": 3}), write(3, "3", {"a": 2})], {"a": "higher"}),
    ("the higher of yes and no is yes", [write(1, "1", {"a": True}), write(2, "2", {"a": False})], {"a": "higher"}),
    ("not known is more careful than the bold answer", [write(1, "1", {"a": False}), write(2, "2", {"a": None})], {"a": "higher"}),
    ("the earliest of two starts, whichever was written later", [
        write(1, "1", {"read_at": T[0]}), write(2, "2", {"read_at": T[1]})], {"read_at": "earliest"}),
    ("the earliest start was written later", [write(1, "1", {"read_at": T[1]}), write(2, "2", {"read_at": T[0]})], {"read_at": "earliest"}),
    ("no start is no earliest", [write(1, "1", {"read_at": None}), write(2, "2", {"read_at": T[1]}), write(3, "3", {"read_at": None})], {"read_at": "earliest"}),
    ("no start at all", [write(1, "1", {"read_at": None}), write(2, "2", {"read_at": None})], {"read_at": "earliest"}),
    ("a start that follows another takes its place, however late", [
        write(1, "1", {"read_at": T[0]}), write(2, "2", {"read_at": T[1]}, {"read_at": [1]})], {"read_at": "earliest"}),
    ("half a second is later than none", [write(1, "1", {"read_at": T[2]}), write(2, "2", {"read_at": T[1]})], {"read_at": "earliest"}),
    ("the latest of two times out, whichever was written later", [
        write(1, "1", {"read_at": T[1]}), write(2, "2", {"read_at": T[0]})], {"read_at": "latest"}),
    ("half a second later is the latest", [write(1, "1", {"read_at": T[2]}), write(2, "2", {"read_at": T[1]})], {"read_at": "latest"}),
    ("a time out that was taken back is still out", [
        write(1, "1", {"read_at": T[0]}), write(2, "2", {"read_at": None}, {"read_at": [1]}), write(3, "3", {"read_at": T[1]}, {"read_at": [1]})], {"read_at": "latest"}),
    ("so is who took it back after another phone had changed it", [
        write(1, "1", {"read_at": T[0]}), write(2, "2", {"read_at": T[1]}, {"read_at": [1]}), write(3, "3", {"read_at": None}, {"read_at": [1]})], {"read_at": "latest"}),
    ("and nobody is out once a time follows both", [
        write(1, "1", {"read_at": None}), write(2, "2", {"read_at": T[1]}), write(3, "3", {"read_at": T[0]}, {"read_at": [1, 2]})], {"read_at": "latest"}),
    ("one instant written in two ways is one value", [write(1, "1", {"read_at": T[1]}), write(2, "2", {"read_at": TOLD[T[1]]})]),
    ("a text that looks like an instant stays as it is", [write(1, "1", {"note": T[1]}), write(2, "2", {"note": TOLD[T[1]]})]),
    ("heard if either says so", [write(1, "1", {"a": True}), write(2, "2", {"a": False}), write(3, "3", {"a": None})], {"a": "either"}),
    ("heard by nobody", [write(1, "1", {"a": None}), write(2, "2", {"a": False})], {"a": "either"}),
    ("a way to merge of another field", [write(1, "1", {"a": 1}), write(2, "2", {"a": 2})], {"b": "lower"}),
    ("who came again on a phone that knew of no time out is out", [
        write(1, "1", {"in_at": T[0]}), write(2, "2", {"out_at": T[1]}), write(3, "3", {"in_at": T[2]})], *TURN),
    ("so is who came again by one that knew of it", [
        write(1, "1", {"in_at": T[0]}), write(2, "2", {"out_at": T[1]}), write(3, "3", {"in_at": T[2]}, {"in_at": [1]})], *TURN),
    ("and is back with the next time out", [
        write(1, "1", {"in_at": T[0]}), write(2, "2", {"out_at": T[1]}), write(3, "3", {"in_at": T[2]}), write(4, "4", {"out_at": T[2]})], *TURN),
    ("who wrote a time out last ends it, though a clock that was ahead says that it began later", [
        write(1, "1", {"in_at": T[2]}), write(2, "2", {"out_at": T[1]})], *TURN),
    ("two phones that signed one person in ended no turn of each other", [
        write(1, "1", {"in_at": T[0]}), write(2, "2", {"out_at": T[2]}), write(3, "3", {"in_at": T[1]})], *TURN),
    ("of two times out the latest is asked", [
        write(1, "1", {"in_at": T[0]}), write(2, "2", {"out_at": T[2]}), write(3, "3", {"out_at": T[0]}), write(4, "4", {"in_at": T[1]})], *TURN),
    ("a reason ends what began before it was written", [
        write(1, at(T[0]), {"in_at": T[0]}), write(2, at(T[1]), {"why": "home"}), write(3, at(T[2]), {"in_at": T[0]}, {"in_at": [1]})], *TURN),
    ("and not who came again after it", [
        write(1, at(T[0]), {"in_at": T[0]}), write(2, at(T[1]), {"why": "home"}), write(3, at(T[2]), {"in_at": T[2]})], *TURN),
    ("nobody is asked which of two reasons ends what does not end", [
        write(1, at(T[0]), {"why": "home"}), write(2, at(T[1]), {"why": "ill"}), write(3, at(T[2]), {"in_at": T[2]})], *TURN),
]  # fmt: skip


def as_text(value: Any) -> str:
    """JSON as JavaScript writes it."""
    return json.dumps(value, separators=(",", ":"))


def fold(entries: list[list[Any]], merges: dict[str, str], since: dict[str, str]) -> dict[str, Any]:
    """
    A head is a write that no write names; the greatest (eff, id) wins but where the field merges otherwise. Other values stand
    beside it where people are asked.
    """
    found = {}
    for name in sorted({name for _, _, fields, _ in entries for name in fields}):
        writes = {entry_id: (eff, entry_id, TOLD.get(fields[name], fields[name]) if name.endswith("_at") else fields[name]) for entry_id, eff, fields, _ in entries if name in fields}
        named = {base for _, _, fields, bases in entries if name in fields for base in bases.get(name, [])}
        heads = sorted((head for entry_id, head in writes.items() if entry_id not in named), key=lambda head: head[:2])
        way = merges.get(name, "ask")
        value = standing([head[2] for head in heads], way)
        others = {as_text(head[2]) for head in heads} - {as_text(value)} if way in ("ask", "lower", "higher") else set()
        found[name] = {"value": value, "others": sorted(others)}
    for name, begins in since.items():
        if found.get(name, {}).get("value") is not None and comes_again(entries, name, begins, found[name]["value"]):
            found[name] = {"value": None, "others": []}
    return found


def comes_again(entries: list[list[Any]], name: str, begins: str, ended: str) -> bool:
    """Whether a beginning that nobody replaced was written after the last end, and lies after it."""
    replaced = {base for _, _, _, bases in entries for base in bases.get(begins, [])}
    last = max((eff, entry_id) for entry_id, eff, fields, bases in entries if name in fields)
    end = datetime.fromisoformat(ended) if name.endswith("_at") else datetime.fromtimestamp(int(last[0][:12], 16) / 1000, UTC)
    later = [fields[begins] for entry_id, eff, fields, _ in entries if begins in fields and entry_id not in replaced and (eff, entry_id) > last]
    return any(datetime.fromisoformat(begun) > end for begun in later)


def standing(values: list[Any], way: str) -> Any:
    """What stands of the values of heads, the latest write last; said once more and in another way than the product does."""
    is_yes_no = any(isinstance(value, bool) for value in values)
    ranks: dict[str, Any] = {
        "lower": [False, None, True] if is_yes_no else range(9), "higher": [True, None, False] if is_yes_no else range(9, -1, -1),
        "earliest": [*TOLD.values(), None], "latest": [None, *reversed(TOLD.values())], "either": [True],
    }  # fmt: skip
    return next((value for value in ranks.get(way, []) if value in values), values[-1])


def folds() -> dict[str, Any]:
    return {
        "about": "each case holds for every order of arrival; entries are [id, effective stamp, fields, bases]",
        "cases": [
            {"rule": rule, "entries": entries, "merges": merges, "since": since, "fields": fold(entries, merges, since)}
            for rule, entries, merges, since in ((*case, {}, {})[:4] for case in CASES)
        ],
    }


def main() -> None:
    for name, made in {"ids": ids(), "clock": clock(), "fold": folds()}.items():
        text = json.dumps(made, ensure_ascii=False, indent=1)
        (VECTORS / f"sync_{name}.json").write_text(text + "\n", "utf-8")


if __name__ == "__main__":
    main()
