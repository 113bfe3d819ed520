"""The reference phone's half of a purge: what it lets go of, and when."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tests.sync.model_phone import Line, ModelPhone

Purged = dict[tuple[str, str], tuple[str | None, str | None]]
"""Of each purged record: up to which stamp its entries are gone, None for ever; the one that stays."""


def parsed(text: bytes) -> dict[str, Any] | None:
    """What a browser's JSON.parse makes of a line that this phone wrote; None for garbage."""
    try:
        said = json.loads(text.decode(), parse_constant=_no_json)
    except (ValueError, RecursionError):
        return None
    return said if isinstance(said, dict) and isinstance(said.get("f"), dict) else None


def _no_json(text: str) -> None:
    raise ValueError(f"{text} is not JSON")


def key_of(text: bytes) -> tuple[str, str] | None:
    """The kind and record that a line names."""
    said = parsed(text)
    return (said["t"], said["r"]) if said is not None and "t" in said and "r" in said else None


def carry_out(phone: ModelPhone, pulled: list[list[Any]], answered: list[Line]) -> None:
    """Let go of what a purge names, and of own lines of such records once they are answered for."""
    keys: set[Any] = {key_of(line.text) for line in answered if line.text is not None}
    for said in [json.loads(text)["f"] for *_, text in pulled if text is not None and '"t":"purge"' in text]:
        for kind, record_id, keeps in said["records"]:
            until, kept = phone.purged.get((kind, record_id), ("", None))
            until = None if until is None or said["until"] is None else max(until, said["until"])
            phone.purged[kind, record_id] = (until, keeps or kept)
            keys.add((kind, record_id))
    for key in keys & phone.purged.keys():
        until, keeps = phone.purged[key]
        for line, stamp in _own_lines(phone, key):
            if line.state != "phone" and line.entry_id != keeps and (until is None or stamp <= until):
                line.text = None
        gone = [
            entry_id for entry_id, (eff, text) in phone.others.items()
            if key_of(text.encode()) == key and entry_id != keeps and (until is None or eff <= until)
        ]  # fmt: skip
        for entry_id in gone:
            del phone.others[entry_id]


def _own_lines(phone: ModelPhone, key: tuple[str, str]) -> Iterator[tuple[Line, str]]:
    """A record's own lines that have their text, each with the stamp that orders it."""
    for line in (line for lane in phone.lanes.values() for line in lane if line.text is not None):
        if key_of(line.text) == key:
            yield line, line.eff or parsed(line.text)["s"]
