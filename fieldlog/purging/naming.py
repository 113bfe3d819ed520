"""Texts that name a person: a purge leaves them as they are, for somebody to look at."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from dataclasses import asdict, dataclass
from typing import Any

from sqlite_utils import Database

from fieldlog.json_text import read
from fieldlog.records.catalogue import Catalogue

SHORTEST_PART = 3
"""A part of a name with fewer letters stands in too many words to be looked for alone."""

MOST_TOLD = 200


@dataclass(frozen=True)
class Naming:
    """
    A text that says a name or a part of it: of which record it is and in which field, or of which device or file.

    `is_former`: another text has taken its place since; the log has it still.
    """

    what: str
    kind: str | None
    record_id: str | None
    site_id: str | None
    text: str
    hit: str
    is_former: bool = False


def pattern_of(names: Collection[str]) -> re.Pattern[str] | None:
    """What matches these names and their parts as whole words, whatever their case; None where there is nothing to look for."""
    words = [name.split() for name in names]
    told = [" ".join(parts) for parts in words]
    told += [part for parts in words for part in parts if len(part) >= SHORTEST_PART]
    wanted = sorted({re.escape(text).replace("\\ ", r"\s+") for text in told if text}, key=lambda text: (-len(text), text))
    return re.compile(rf"(?<!\w)(?:{'|'.join(wanted)})(?!\w)", re.IGNORECASE) if wanted else None


def texts_naming(db: Database, catalogue: Catalogue, names: Collection[str], goes: Collection[tuple[str, str]]) -> list[dict[str, Any]]:
    """
    The texts that name somebody, in what stands in the log and the tray, and in the names of devices; the first 200.

    Args:
        goes: the records that the purge takes anyway, as kind and id.
    """
    pattern = pattern_of(names)
    if pattern is None:
        return []
    found = [*_in_log(db, catalogue, pattern, set(goes)), *_in_tray(db, pattern), *_in_devices(db, pattern)]
    return [asdict(one) for one in found[:MOST_TOLD]]


def _in_log(db: Database, catalogue: Catalogue, pattern: re.Pattern[str], goes: set[tuple[str, str]]) -> Iterator[Naming]:
    db.conn.create_function("names_them", 1, lambda line: pattern.search(line.decode("utf-8", "replace")) is not None, deterministic=True)
    rows = db.conn.execute("SELECT kind, record_id, site_id, line FROM log WHERE length(line) > 0 AND names_them(line) ORDER BY seq DESC").fetchall()
    newest: set[tuple[str, str, str]] = set()
    for kind, record_id, site_id, line in rows:
        if (kind, record_id) in goes or kind not in catalogue.kinds:
            continue
        for field, value in read(line)["f"].items():
            declared = catalogue.kinds[kind].fields.get(field)
            hit = pattern.search(value) if isinstance(value, str) else pattern.search(str(value)) if isinstance(value, list) else None
            if hit is None or declared is None:
                continue
            where = (kind, record_id, field)
            yield Naming(
                f"{catalogue.kinds[kind].title}: {declared.title}", kind, record_id, site_id, str(value), hit[0], is_former=where in newest
            )
            newest.add(where)


def _in_tray(db: Database, pattern: re.Pattern[str]) -> Iterator[Naming]:
    for lane_id, number, line in db.conn.execute("SELECT lane_id, number, line FROM tray WHERE length(line) > 0 ORDER BY received_at DESC"):
        hit = pattern.search(line.decode("utf-8", "replace"))
        if hit is not None:
            yield Naming(f"An entry held back, line {number} of lane {lane_id}", None, None, None, "", hit[0])


def _in_devices(db: Database, pattern: re.Pattern[str]) -> Iterator[Naming]:
    for device_id, name in db.conn.execute("SELECT device_id, name FROM device ORDER BY made_at DESC"):
        hit = pattern.search(name)
        if hit is not None:
            yield Naming("The name of a device", None, device_id, None, name, hit[0])
