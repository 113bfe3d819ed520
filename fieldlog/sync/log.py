"""
A line of the log: text first, JSON second, an entry third.

`read` (json_text.py) accepts only what a browser's JSON.parse reads alike; `entry_of` judges the envelope. Fields are judged by
the catalogue, permission by `receive`.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field
from typing import Any

from fieldlog.json_text import MAX_WHOLE
from fieldlog.json_text import read as read  # a line is read as every body is
from fieldlog.sync.clock import is_stamp

MAX_LINE_BYTES = 64 * 1024
BLANK = b""
"""What stands in the place of a line that was purged."""
MAX_FIELDS = 64

_ID = re.compile(r"[0-9a-f]{32}")
_RECORD_ID = re.compile(r"[A-Za-z0-9-]{1,64}")
_LANE_ID = re.compile(r"[A-Za-z0-9-]{8,40}")


@dataclass(frozen=True)
class Entry:
    """
    One person's change to one record, as its line says it. `fields` and `bases` are the line's f and b.

    `was` names the entry that this one is, written anew under another lane; `fixes` a held line that this one says again, `reopens` one
    whose fix this one takes back. `import_id`: the import that the entry is part of.
    """

    entry_id: str
    lane_id: str
    number: int
    stamp: str
    kind: str
    record_id: str
    fields: dict[str, Any]
    bases: dict[str, list[str]]
    made_by: str | None
    site_id: str | None
    visit_id: str | None
    random_key: str | None
    fixes: str | None
    offset: list[Any] | None = field(default=None, compare=False)
    was: str | None = field(default=None, compare=False)
    reopens: str | None = None
    import_id: str | None = None


class UnreadableLineError(ValueError):
    """The line cannot become an entry; `why` is the fixed word of the reason."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


def line_id(line: bytes) -> str:
    """An entry's id: the first 32 hex digits of the SHA-256 of its line."""
    return hashlib.sha256(line).hexdigest()[:32]


def chain(previous: str, link: str) -> str:
    """The next link of a hash chain: the first 32 hex digits of SHA-256 over the previous one and this."""
    return hashlib.sha256((previous + link).encode()).hexdigest()[:32]


def is_id(value: object) -> bool:
    """Whether a value is an entry id: 32 lowercase hex digits."""
    return isinstance(value, str) and _ID.fullmatch(value) is not None


def is_lane_id(value: object) -> bool:
    """Whether a value can name a lane: 8 to 40 letters, digits or dashes."""
    return isinstance(value, str) and _LANE_ID.fullmatch(value) is not None


def is_whole(value: object) -> bool:
    """Whether a value is a whole number from 0 to 2^53-1 (True and 3.0 are not)."""
    return type(value) is int and 0 <= value <= MAX_WHOLE


def is_short_text(value: object) -> bool:
    """Whether a value is missing or a text of up to 64 letters."""
    return value is None or (isinstance(value, str) and len(value) <= 64)


def entry_of(line: bytes, lane_id: str, number: int) -> Entry:
    """
    The entry in a line that stands at `number` of `lane_id`.

    Raises:
        UnreadableLineError: with one of the words too-big, cannot-read, bad-author, bad-stamp, unknown-kind, bad-record-id,
            no-fields, bad-base, bad-envelope.
    """
    if len(line) > MAX_LINE_BYTES:
        raise UnreadableLineError("too-big")
    try:
        said = read(line)
    except (ValueError, RecursionError):
        raise UnreadableLineError("cannot-read") from None
    if not isinstance(said, dict) or said.get("d") != lane_id or said.get("n") != number or said.get("n") is True:
        raise UnreadableLineError("bad-author")
    if not is_stamp(said.get("s")):
        raise UnreadableLineError("bad-stamp")
    if not isinstance(said.get("t"), str):
        raise UnreadableLineError("unknown-kind")
    if not isinstance(said.get("r"), str) or not _RECORD_ID.fullmatch(said["r"]):
        raise UnreadableLineError("bad-record-id")
    fields, bases = said.get("f"), said.get("b", {})
    if not isinstance(fields, dict) or not 1 <= len(fields) <= MAX_FIELDS:
        raise UnreadableLineError("no-fields")
    if not isinstance(bases, dict) or not all(
        isinstance(ids, list) and len(ids) <= MAX_FIELDS and all(map(is_id, ids)) for ids in bases.values()
    ):
        raise UnreadableLineError("bad-base")
    for name in ("u", "g", "y", "i"):
        value = said.get(name)
        if value is not None and not (isinstance(value, str) and _RECORD_ID.fullmatch(value)):
            raise UnreadableLineError("bad-envelope")
    for name in ("k", "fixes", "reopens", "was"):
        if said.get(name) is not None and not is_id(said[name]):
            raise UnreadableLineError("bad-envelope")
    return Entry(
        line_id(line), lane_id, number, said["s"], said["t"], said["r"], fields, bases,
        said.get("u"), said.get("g"), said.get("y"), said.get("k"), said.get("fixes"), said.get("o"), said.get("was"), said.get("reopens"), said.get("i"),
    )  # fmt: skip
