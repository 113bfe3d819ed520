"""Who wrote on a device: kept counts, so that a device that writes as someone else is shown with both names."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from typing import Any

from sqlite_utils import Database

from fieldlog.questions.people import people_known


def count_authors(db: Database, device_id: str, authors: Iterable[str | None], now_ms: int) -> None:
    """Count entries that were taken from a device's lanes, by author. Must be called inside the `write` that takes them."""
    db.conn.executemany(
        """INSERT INTO device_author(device_id, person_id, entries, last_at) VALUES (?, ?, ?, ?)
           ON CONFLICT(device_id, person_id) DO UPDATE SET entries = entries + excluded.entries, last_at = excluded.last_at""",
        [(device_id, author, entries, now_ms) for author, entries in Counter(authors).items() if author is not None],
    )


def authors_of_devices(db: Database, sites: frozenset[str] | None) -> dict[str, list[dict[str, Any]]]:
    """
    By device, who wrote on it, the most first: person_id, person_name, entries, last_at (milliseconds since 1970 UTC).

    Names are told of people of `sites` (None is all) and of the whole programme only.
    """
    found: dict[str, list[dict[str, Any]]] = defaultdict(list)
    rows = list(db.query("SELECT device_id, person_id, entries, last_at FROM device_author ORDER BY entries DESC, person_id"))
    people = people_known(db, (row["person_id"] for row in rows), sites)
    for row in rows:
        found[row.pop("device_id")].append({**row, "person_name": people.get(row["person_id"])})
    return found
