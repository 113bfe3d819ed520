"""Rows at the limits of the catalogue: whatever a table can hold, old data with missing required fields included."""

from __future__ import annotations

import json
import uuid
import zoneinfo
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.fields import (
    Choice,
    Date,
    Declared,
    FlagId,
    Instant,
    Measured,
    Ref,
    Sha256,
    Text,
    Whole,
    YesNo,
    Zone,
)
from fieldlog.records.kind import Kind
from fieldlog.records.listed import Listed

SITE_ID = "01900000-0000-7000-8000-000000000001"
ROWS_OF_A_KIND = 3
MOST_BYTES = 50_000
MOST_ITEMS = 120
ABSENT, NULL, PLAIN = 0.1, 0.12, 0.45
"""Shares of fields that are missing, null, and such as a crew writes; the rest stands at a limit."""

ALPHABETS = (
    "x", " ", "\u05e9\u05dc\u05d5\u05dd ", "\u202e", "\u2066a\u2069", "e\u0301\u0302\u0323", "\u0f3a\u0300", "\U0001f468\u200d\U0001f469\u200d\U0001f467", "\u200b",
    "\ufeff", "\n", "\t", "\u0000", "\u0007", "\u2028", "\uffff", "\U0010fffd", "\u0130\u0131\u00df", "<b>&amp;\"'", "%s{0}${x}`", "\\", "0", "-", ";,:", "\u6f22\u5b57",
)  # fmt: skip
"""Right to left and back, combining marks, joined emoji, zero width, controls, line ends, non-characters, signs of other languages."""
ZONES = sorted(zoneinfo.available_timezones())
ODD_ZONES = ("Factory", "Etc/GMT+12", "Etc/GMT-14", "Pacific/Kiritimati", "Antarctica/Troll", "Africa/Monrovia", "Asia/Kathmandu")
PLAN_LINES = (
    "", "x", "1", "1 ", " 1 2 3 4 5", "1 {id} -30 4 1", "2 {id} 12 5", "NaN {id} Infinity -1 e", "1e999 {id} 1e999 1e999 1e999", "-1 {id} 1 1 1",
    "1 {id} 0 0 0", "\t", "1 {other} 5 5 5", "1  {id}  5 5", "20 {id} 99999999999999999999 1 1",
)  # fmt: skip
LEFT_LINES = ("", "x", ",,,", "{id}", "{id},{other} floods before it can be done", ",{id} why", " no ids", "{id},x")


class Drawing:
    """One drawn programme: a few rows of every kind, that refer to each other, to nothing, or to the wrong kind."""

    def __init__(self, seed: int, now: datetime) -> None:
        self.dice = Random(seed)
        self.now = now
        self.ids = {name: [self._id() for _ in range(ROWS_OF_A_KIND)] for name in CATALOGUE.kinds}
        self.ids["site"][0] = SITE_ID

    def rows(self) -> dict[str, list[dict[str, Any]]]:
        """{kind: its rows}; a field that no entry ever named is not in its row."""
        return {name: [self._row(kind, record_id) for record_id in self.ids[name]] for name, kind in CATALOGUE.kinds.items()}

    def _row(self, kind: Kind, record_id: str) -> dict[str, Any]:
        row: dict[str, Any] = {"record_id": record_id, "site_id": SITE_ID, "visit_id": self.dice.choice([None, *self.ids["visit"]])}
        if kind.name == "site":
            row["site_id"] = record_id
        row["created_by"] = self.dice.choice([None, *self.ids["person"], self._id()])
        for name, declared in kind.fields.items():
            share = self.dice.random()
            if name == "zone" and record_id == SITE_ID and share < ABSENT + NULL and self.dice.random() < 0.7:
                share = ABSENT + NULL  # without a zone there is one screen only
            if share >= ABSENT:
                row[name] = self._value(kind, name, declared, share)
        return row

    def _value(self, kind: Kind, name: str, declared: Declared, share: float) -> Any:
        if share < ABSENT + NULL:
            return None
        value = self._plain(declared) if share < ABSENT + NULL + PLAIN else self._limit(kind, name, declared)
        verdict = declared.judge(value)
        # Older servers took a required text that shows nothing.
        assert verdict is None or not verdict.hard or verdict.word == "missing", (kind.name, name, value, verdict)
        return value

    def _plain(self, declared: Declared) -> Any:
        dice = self.dice
        match declared:
            case Choice():
                return dice.choice(list(declared.labels))
            case Zone():
                return "America/New_York"
            case Instant():
                return _instant(self.now + timedelta(minutes=dice.randint(-6 * 60, 6 * 60)))
            case Date():
                return (self.now + timedelta(days=dice.randint(-400, 400))).date().isoformat()
            case Measured():
                least, most = declared.plausible or (declared.least, declared.most)
                drawn = dice.uniform(least, most)
                return int(drawn) if isinstance(declared, Whole) else round(drawn, 2)
            case Text():
                return ("Alder " * 20)[: max(declared.least, min(declared.most, 9))]
            case Listed():
                return self._list(declared, self.dice.randint(declared.least, min(declared.most, 6)), self._plain)
        return self._limit(None, "", declared)

    def _limit(self, kind: Kind | None, name: str, declared: Declared) -> Any:
        dice = self.dice
        match declared:
            case YesNo():
                return dice.random() < 0.5
            case Choice():
                return dice.choice(list(declared.labels))
            case Zone():
                return dice.choice([*(zone for zone in ODD_ZONES if zone in ZONES), dice.choice([z for z in ZONES if declared.judge(z) is None])])
            case Ref():
                return dice.choice([self._id(), *dice.choice(list(self.ids.values())), *self.ids.get(declared.metadata["x-ref"], [])])
            case Sha256() | FlagId():
                return f"{dice.getrandbits(256):064x}"[: 64 if isinstance(declared, Sha256) else 32]
            case Instant():
                return dice.choice(["1970-01-01T00:00:00Z", "2199-12-31T23:59:59.999Z", _instant(self.now), "2024-02-29T23:59:59Z"])
            case Date():
                return dice.choice(["1970-01-01", "2199-12-31", "2024-02-29", self.now.date().isoformat()])
            case Measured():
                ends = [declared.least, declared.most, max(declared.least, 0), max(declared.least, 0) + 0.0, *(declared.plausible or ())]
                tiny = [] if isinstance(declared, Whole) or declared.least > 0 else [5e-324, 0.1 + 0.2 if declared.most > 1 else 0.0, -0.0]
                ends = [float(end) if dice.random() < 0.5 else end for end in ends if not isinstance(declared, Whole) or float(end).is_integer()]
                return dice.choice([*ends, *tiny])
            case Text():
                return self._text(kind, name, declared)
            case Listed():
                most = min(declared.most, MOST_ITEMS)
                return self._list(declared, dice.choice([declared.least, most, dice.randint(declared.least, most)]), lambda inner: self._limit(None, "", inner))
        raise AssertionError(f"no way to draw a {type(declared).__name__}")

    def _list(self, declared: Listed, count: int, draw: Callable[[Declared], Any]) -> list[Any]:
        """Items with all that they require; what they do not is there, null or missing. Texts are kept short, so that a line holds them."""

        def value(inner: Declared) -> Any:
            drawn = draw(inner)
            return drawn[:20] if isinstance(inner, Text) else drawn

        if declared.is_bare:
            return [value(inner) for inner in declared.inner.values() for _ in range(count)]
        return [
            {name: value(inner) if inner.required or self.dice.random() < 0.8 else None for name, inner in declared.inner.items()
             if inner.required or self.dice.random() < 0.9}
            for _ in range(count)
        ]  # fmt: skip

    def _text(self, kind: Kind | None, name: str, declared: Text) -> str:
        dice = self.dice
        if kind is not None and kind.name == "visit_plan" and name in ("stops", "left_out") and dice.random() < 0.8:
            lines = PLAN_LINES if name == "stops" else LEFT_LINES
            some = [dice.choice(lines).format(id=dice.choice(self.ids["unit"] + self.ids["plot"]), other=self._id()) for _ in range(dice.randint(0, 40))]
            return "\n".join(some)[: declared.most]
        if name == "tide_station" and dice.random() < 0.8:
            return dice.choice(["noaa/8443970", "own/x/y", "noaa/0", "own//", "NOAA/8443970", "x/y"])
        some = dice.choice(ALPHABETS)
        length = dice.choice([declared.most, declared.most, declared.least, min(declared.most, max(declared.least, len(some)))])
        # A line holds 64 KB, its escapes included, so no text of a row is longer.
        length = max(declared.least, min(length, MOST_BYTES * len(some) // len(json.dumps(some).encode())))
        return (some * (length // len(some) + 1))[:length]

    def _id(self) -> str:
        return str(uuid.UUID(int=self.dice.getrandbits(128), version=4))


def _instant(at: datetime) -> str:
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
