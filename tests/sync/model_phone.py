"""
A reference phone in plain Python: the protocol's other half, kept small enough to read in one sitting.

It survives being killed at any point because every step is one local transaction. The product's phone is the
JavaScript in static/; this one drives the server's storm and is what the recorded schedules are compared with.
"""

from __future__ import annotations

import copy
import hashlib
import json
import random
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import takewhile
from typing import Any

from tests.sync.model_purges import Purged, carry_out, parsed

SITE = "00000000-0000-4000-8000-00000000000a"
"""The site of phones that were told none."""

CLOCK_OFF_MS = 120_000
"""A clock further off than this is corrected for by what the server says."""

Cell = tuple[str, str, str]

MERGES = {"in_at": "earliest", "out_at": "latest", "heard": "either"}
"""The storm's fields about which nobody is asked, and how their values merge."""

SINCE = {"out_at": "in_at"}
"""A time out ends what a time in began."""


def settled(values: list[Any], way: str) -> Any:
    """The one of these values that stands, the latest write's last."""
    if way == "either":
        return True if any(value is True for value in values) else values[-1]
    times = sorted((value for value in values if value is not None), key=datetime.fromisoformat)
    if way == "earliest":
        return as_told(times[0]) if times else None
    return as_told(times[-1]) if len(times) == len(values) else None


def as_told(written: str) -> str:
    """An instant as records have it: lines write it with milliseconds and without."""
    at = datetime.fromisoformat(written)
    return f"{at:%Y-%m-%dT%H:%M:%S}.{at.microsecond // 1000:03}Z"


def short_hash(text: bytes) -> str:
    return hashlib.sha256(text).hexdigest()[:32]


def link(previous: str, entry_id: str) -> str:
    return short_hash((previous + entry_id).encode())


def to_json(value: Any) -> bytes:
    """The text that JSON.stringify gives for the same value."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode()


@dataclass
class Line:
    text: bytes | None
    entry_id: str
    ch: str
    state: str = "phone"
    eff: str | None = None


def fold(entries: Iterable[tuple[str, str, dict[str, Any]]]) -> dict[Cell, tuple[Any, str, tuple[str, ...]]]:
    """
    What a set of (entry id, eff, line) amounts to, whatever its order.

    Returns:
        {(kind, record, field): (winning value, winning entry, other head values as JSON)}.
    """
    writes: dict[Cell, dict[str, tuple[str, str, Any]]] = {}
    named: set[tuple[str, str, str, str]] = set()
    for entry_id, eff, said in entries:
        for name, value in said["f"].items():
            cell = (said["t"], said["r"], name)
            writes.setdefault(cell, {})[entry_id] = (eff, entry_id, value)
            named.update((*cell, base) for base in said.get("b", {}).get(name, []))
    heads_of = {
        cell: sorted((write for one, write in made.items() if (*cell, one) not in named), key=lambda head: head[:2])
        for cell, made in writes.items()
    }
    found: dict[Cell, tuple[Any, str, tuple[str, ...]]] = {}
    for cell, heads in heads_of.items():
        if cell[2] in MERGES:
            value = settled([head[2] for head in heads], MERGES[cell[2]])
            begun = heads_of.get((*cell[:2], SINCE.get(cell[2], "")), [])
            found[cell] = (None if came_again(value, heads[-1], begun) else value, heads[-1][1], ())
            continue
        others = sorted({json.dumps(head[2]) for head in heads[:-1]} - {json.dumps(heads[-1][2])})
        found[cell] = (heads[-1][2], heads[-1][1], tuple(others))
    return found


def came_again(ended: str | None, last: tuple[str, str, Any], begun: list[tuple[str, str, Any]]) -> bool:
    """Whether what ended began again later, as somebody wrote after the last word about its end."""
    later = [head[2] for head in begun if head[:2] > last[:2] and head[2] is not None]
    return ended is not None and any(datetime.fromisoformat(one) > datetime.fromisoformat(ended) for one in later)


def named(older: list[str | list[str]]) -> list[list[Any]]:
    """Entries that came as their lines alone, as a pull has them."""
    pairs = [(one, json.loads(one)["s"]) if isinstance(one, str) else one for one in older]
    return [[0, short_hash(text.encode()), eff, text] for text, eff in pairs]


class ModelPhone:
    """One phone: its lanes, what it pulled, its clock."""

    def __init__(
        self, rnd: random.Random, clock: Callable[[], int], private_kinds: frozenset[str], is_old: bool = False
    ) -> None:
        self.rnd, self.clock, self.private_kinds = rnd, clock, private_kinds
        self.is_old = is_old
        self.site: str | None = SITE
        self.keys: dict[str, str] = {}
        self.lanes: dict[str, list[Line]] = {}
        self.lane = ""
        self.new_lane()
        self.cursor: list[Any] | None = None
        self.past: int | None = None
        self.others: dict[str, tuple[str, str]] = {}
        self.purged: Purged = {}
        self.hlc = (0, 0)
        self.newest = "0" * 16
        self.request_id: str | None = None
        self.asked_from = 1
        self.skew_ms = 0
        self.offset_ms = 0
        self.read_ms = 0
        self.made: list[tuple[str, str, str, Any]] = []
        self.broken: list[str] = []

    def random_hex(self, bits: int) -> str:
        return f"{self.rnd.getrandbits(bits):0{bits // 4}x}"

    def new_lane(self) -> None:
        """A lane of an app of 0.2.0 has a name at random; a newer one's is named by the hash of its key."""
        key = self.random_hex(128)
        self.lane = key
        if not self.is_old:
            self.lane = f"k-{short_hash(f'fieldlog lane {key}'.encode())}"
            self.keys[self.lane] = key
        self.lanes[self.lane] = []

    def upgrade(self) -> None:
        """The app is updated: what is unsent goes on its old lane, new entries into a lane with a key."""
        if self.is_old:
            self.is_old = False
            self.new_lane()

    def copy(self) -> ModelPhone:
        """The phone's backup, put on another phone."""
        other = copy.copy(self)
        for name in ("lanes", "keys", "cursor", "others", "purged", "made", "broken"):
            setattr(other, name, copy.deepcopy(getattr(self, name)))
        return other

    def stamp(self) -> str:
        reading = self.clock() + self.skew_ms
        # A clock that was behind and reads as late as the truth then was may have been set right; one that runs back was set.
        was_set = reading >= self.read_ms + self.offset_ms if self.offset_ms > 0 else reading < self.read_ms - CLOCK_OFF_MS
        self.offset_ms = 0 if was_set else self.offset_ms
        self.read_ms = reading
        now = reading + self.offset_ms
        ms, counter = self.hlc
        self.hlc = (now, 0) if now > ms else (ms, counter + 1) if counter < 0x7FFF else (ms + 1, 0)
        return f"{self.hlc[0]:012x}{self.hlc[1]:04x}"

    def observe(self, eff: str | None) -> None:
        if eff is not None:
            self.hlc = max(self.hlc, (int(eff[:12], 16), int(eff[12:], 16)))
            self.newest = max(self.newest, eff)

    def entries(self) -> list[tuple[str, str, dict[str, Any]]]:
        """All that is not held, own and others', as (entry id, eff or stamp, line)."""
        found = {one: (one, eff, json.loads(text)) for one, (eff, text) in self.others.items()}
        for lane in self.lanes.values():
            for line in lane:
                said = parsed(line.text) if line.text is not None else None
                if line.state != "held" and line.entry_id not in found and said is not None and "t" in said:
                    found[line.entry_id] = (line.entry_id, line.eff or said["s"], said)
        return list(found.values())

    def heads(self, kind: str, record_id: str, name: str) -> list[str]:
        writes, named = set(), set()
        for entry_id, _eff, said in self.entries():
            if said["t"] == kind and said["r"] == record_id and name in said["f"]:
                writes.add(entry_id)
                named.update(said.get("b", {}).get(name, []))
        return sorted(writes - named)

    def append(self, text: bytes) -> None:
        lane = self.lanes[self.lane]
        entry_id = short_hash(text)
        lane.append(Line(text, entry_id, link(lane[-1].ch if lane else "", entry_id)))

    def edit(self, kind: str, record_id: str, fields: dict[str, Any], **envelope: Any) -> None:
        """Write one entry; `envelope` overrides members of the line."""
        bases = {name: self.heads(kind, record_id, name) for name in fields}
        said = {
            "v": 1, "d": self.lane, "n": len(self.lanes[self.lane]) + 1, "s": self.stamp(), "u": None, "t": kind,
            "r": record_id, "g": self.site, "y": None, "f": fields, "b": bases, "o": None, **envelope,
        }  # fmt: skip
        if kind in self.private_kinds:
            said["k"] = self.random_hex(128)
        self.append(to_json(said))
        self.made += [(kind, record_id, name, value) for name, value in fields.items()]

    def scribble(self, text: bytes) -> None:
        """Write a line that no server can read."""
        self.append(text)
        self.broken.append(short_hash(text))

    def request(self, lane_id: str, batch: int = 50, want: int = 50) -> bytes:
        """A sync body: the header and the first lines that are not yet answered for."""
        lane = self.lanes[lane_id]
        start = next((index for index, line in enumerate(lane) if line.state == "phone"), len(lane))
        self.request_id, self.asked_from = self.random_hex(64), start + 1
        header = {
            "p": 1, "rid": self.request_id, "d": lane_id, "from": start + 1, "prev": lane[start - 1].ch if start else "",
            "mine": len(lane), "cursor": self.cursor, "want": want, "now": self.clock() + self.skew_ms,
        }  # fmt: skip
        if lane_id in self.keys:
            header["key"] = self.keys[lane_id]
        # Own lines of a record would stand there without the rest until its past comes.
        if not any(self.lanes.values()):
            header["season"] = True
        if self.past is not None:
            header["past"] = self.past
        header["older"] = header["purges"] = True
        some = [] if self.waits_for_older(lane_id) else lane[start : start + batch]
        texts = takewhile(lambda text: text is not None, (line.text for line in some))
        return b"".join(text + b"\n" for text in [to_json(header), *texts])

    def waits_for_older(self, lane_id: str) -> bool:
        """What is later must arrive later: lanes are answered for in the order in which they were begun."""
        names = list(self.lanes)
        return any(line.state == "phone" for name in names[: names.index(lane_id)] for line in self.lanes[name])

    def response(self, lane_id: str, reply: dict[str, Any]) -> bool:
        """Apply a reply, all or nothing. Returns whether another round is needed."""
        if reply["rid"] != self.request_id:
            return True
        self.request_id = None
        lane = self.lanes[lane_id]
        self.read_ms = self.clock() + self.skew_ms
        wrong = reply["now"] - self.read_ms
        self.offset_ms = wrong if abs(wrong) > CLOCK_OFF_MS else 0
        for number, entry_id, verdict, _seq, what, *_sentence in reply["acks"]:
            if number <= len(lane) and lane[number - 1].entry_id == entry_id:
                lane[number - 1].state = "taken" if verdict == "ok" else "held"
                lane[number - 1].eff = what if verdict == "ok" else None
                self.observe(lane[number - 1].eff)
        for line in lane[reply["top"][0] :]:
            line.state = "phone"
        first = next((n for n, line in enumerate(lane, 1) if line.state == "phone"), len(lane) + 1)
        # What the server lacks and this phone cannot send again any more: what follows it needs another lane.
        if reply["err"] == "fork" or (first <= len(lane) and lane[first - 1].text is None):
            self.fork(lane_id, first)
            self.ask_again()
            return True
        if reply["err"] == "diverged":
            for line in lane:
                line.state = "phone"
            return True
        if reply["reset"]:
            self.others = {}
            self.ask_again()
        pulled = reply["pull"] + named(reply.get("older", []))
        if self.take(pulled):
            self.fork(self.lane, len(self.lanes[self.lane]) + 1)
            self.ask_again()
            return True
        carry_out(self, pulled, [lane[number - 1] for number, *_ in reply["acks"] if number <= len(lane)])
        self.cursor, self.past = reply["cursor"], reply.get("past")
        if not any(line.state == "phone" for one in self.lanes.values() for line in one):
            self.hlc = (int(self.newest[:12], 16), int(self.newest[12:], 16))
        unsent = any(line.state == "phone" for line in lane) and not self.waits_for_older(lane_id)
        return bool(reply["more"] or reply["err"] or unsent)

    def ask_again(self) -> None:
        """
        A restored server judges again what it had lost, perhaps otherwise; a lane without a key would be written anew whole. A phone without a
        cursor cannot be told that the server was restored, so it asks whenever it loses that.
        """
        for name in self.keys:
            lane = self.lanes[name]
            start = next((n for n in range(len(lane), 0, -1) if lane[n - 1].text is None), 0)
            for line in lane[start:]:
                line.state = "phone"

    def take(self, pulled: list[list[Any]]) -> bool:
        """Keep what was pulled. Returns whether another phone writes under this one's lane."""
        stolen = False
        own = {line.entry_id: line for lane in self.lanes.values() for line in lane}
        for _seq, entry_id, eff, text in pulled:
            if entry_id in own:
                # What is not answered for yet stays so: a phone keeps a number a lane, "answered up to".
                if own[entry_id].state == "held":
                    own[entry_id].state = "taken"
                own[entry_id].eff = eff
                self.observe(eff)
            if entry_id in self.others:
                self.others[entry_id] = (eff, self.others[entry_id][1])
            if text is None:
                continue
            self.others[entry_id] = (eff, text)
            self.observe(eff)
            said = json.loads(text)
            lane = self.lanes.get(said["d"])
            if lane is not None and (said["n"] > len(lane) or lane[said["n"] - 1].entry_id != entry_id):
                stolen = stolen or said["d"] == self.lane
        return stolen

    def fork(self, lane_id: str, at: int) -> None:
        """
        The server holds another line at `at`: this phone's storage was copied. Write the rest anew in a new lane.

        All the rest, also what counted as taken: that was before the server was restored, for a lane has no gaps.
        """
        lane = self.lanes[lane_id]
        redo = lane[at - 1 :]
        self.lanes[lane_id] = lane[: at - 1]
        if lane_id == self.lane:
            self.new_lane()
        renamed: dict[str, str] = {}
        for line in redo:
            if line.text is None:
                continue
            said = parsed(line.text)
            if said is None:
                self.append(line.text)
                continue
            said["d"], said["n"], said["was"] = self.lane, len(self.lanes[self.lane]) + 1, line.entry_id
            said["b"] = {name: [renamed.get(base, base) for base in ids] for name, ids in said.get("b", {}).items()}
            text = to_json(said)
            renamed[line.entry_id] = short_hash(text)
            self.append(text)
        self.cursor, self.past, self.others = None, None, {}
