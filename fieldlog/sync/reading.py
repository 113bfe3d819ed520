"""Reading the log for one device: what its role and sites may see, forwards, from the end, and a record at a time."""

from __future__ import annotations

import heapq
import json
from collections.abc import Iterator
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.json_text import read

SEES = {
    "reader": ("open",),
    "crew": ("open", "crew"),
    "desk": ("open", "crew"),
    "lead": ("open", "crew", "leader", "medical"),
}
"""The privacy classes that travel down to a role."""

MADE_OF = (
    "site", "closure", "datum_offset", "row", "control_mark", "unit_design", "casting_batch", "unit", "plot", "species",
    "person", "person_private", "unit_event", "plot_event", "instrument", "own_field", "waiver",
)  # fmt: skip
"""The kinds that a site is made of: a phone needs all of them, however old."""

FAR = 5_000
"""Entries after which a phone's own sites are read by their index, and not all that came since."""

Row = tuple[Any, ...]
"""seq, entry id, eff, line, lane, number, whether the device may read it, kind, record id."""

_READ = """({0}.privacy IN (SELECT value FROM json_each(:privacy)) AND
    (:sites IS NULL OR {0}.site_id IN (SELECT value FROM json_each(:sites))
     OR ({0}.site_id IS NULL AND {0}.privacy IN ('open', 'crew'))))"""
"""Private lines of no site, which older apps wrote, are for leads of the whole programme."""

_MAY_READ = _READ.format("log")
_COLUMNS = f"seq, entry_id, eff, line, lane_id, number, {_MAY_READ} AS may_read, kind, record_id"
_NEWEST = f"""SELECT seq, kind, record_id, received_at FROM log WHERE seq < :before AND {{place}} AND {_MAY_READ}
    AND kind NOT IN (SELECT value FROM json_each(:made_of)) AND NOT EXISTS (SELECT 1 FROM log later WHERE
        later.kind = log.kind AND later.record_id = log.record_id AND later.seq > log.seq AND {_READ.format("later")})
    ORDER BY seq DESC"""


def values_of(db: Database, kind: str, record_id: str, field: str) -> Iterator[tuple[int, Any]]:
    """The values that a record's entries give to a field, null left out: (the entry's number in the log, value), in the log's order."""
    # Read as JSON: the same name may be written with escapes, which SQLite 3.40 does not see through.
    for seq, line in db.conn.execute("SELECT seq, line FROM log WHERE kind = ? AND record_id = ? ORDER BY seq", (kind, record_id)):
        value = read(line)["f"].get(field)
        if value is not None:
            yield seq, value


class Reading:
    """The log as one device may read it; `lane_id` is the lane of its own whose news it hears besides."""

    def __init__(self, db: Database, device: Device, lane_id: str | None) -> None:
        self._db = db
        self._sites = None if device.sites is None else sorted(device.sites)
        self._told = {
            "lane": lane_id,
            "privacy": json.dumps(SEES[device.role]),
            "sites": None if self._sites is None else json.dumps(self._sites),
            "made_of": json.dumps(MADE_OF),
        }

    def top(self) -> int:
        """The log's last number, 0 where it is empty."""
        return int(self._db.conn.execute("SELECT coalesce(max(seq), 0) FROM log").fetchone()[0])

    def after(self, start: int, most: int) -> list[Row]:
        """The entries after a number and the news of the own lane, in order, at most so many."""
        if self._sites is None or self.top() - start < FAR:
            return self._rows("seq > :start AND (may_read OR lane_id = :lane) ORDER BY seq LIMIT :most", start=start, most=most)
        places: list[tuple[str, str | None]] = [("site_id = :site", site) for site in self._sites]
        places += [("site_id IS NULL", None)]
        parts = [
            self._rows(
                f"{place} AND seq > :start AND (may_read OR lane_id = :lane) ORDER BY seq LIMIT :most",
                site=site, start=start, most=most,
            )
            for place, site in places
        ]  # fmt: skip
        found = {row[0]: row for part in parts for row in part}
        # Of the own lane only what belongs before the end of this page: a phone may have written tens of thousands of lines, nearly all
        # of which are among those already. The plus keeps SQLite with the lane's index, which holds each number.
        until = sorted(found)[most - 1] if len(found) >= most else self.top()
        own = self._rows(
            "lane_id = :lane AND +seq > :start AND +seq <= :until AND NOT may_read ORDER BY +seq LIMIT :most", start=start, until=until, most=most
        )
        return sorted({**found, **{row[0]: row for row in own}}.values())[:most]

    def made_of(self) -> list[Row]:
        """All entries of the kinds that a site is made of."""
        return self._rows("kind IN (SELECT value FROM json_each(:made_of)) AND may_read ORDER BY seq")

    def of_record(self, kind: str, record_id: str, until: int | None = None) -> list[Row]:
        """All entries of one record, or those up to a number."""
        where = "kind = :kind AND record_id = :record AND may_read AND (:until IS NULL OR seq <= :until) ORDER BY seq"
        return self._rows(where, kind=kind, record=record_id, until=until)

    def newest_first(self, before: int) -> Iterator[tuple[int, str, str, int]]:
        """
        Records of the other kinds by their newest entry, the latest first.

        Yields:
            (seq of the newest entry, kind, record id, when it came in milliseconds since 1970), each seq below `before`.
        """
        if self._sites is None:
            yield from self._db.conn.execute(_NEWEST.format(place="1"), {**self._told, "before": before})
            return
        places = [*(("site_id = :site", site) for site in self._sites), ("site_id IS NULL", None)]
        streams = [
            self._db.conn.execute(_NEWEST.format(place=place), {**self._told, "before": before, "site": site})
            for place, site in places
        ]
        yield from heapq.merge(*streams, key=lambda row: -row[0])

    def _rows(self, where: str, **told: Any) -> list[Row]:
        found: list[Row] = self._db.conn.execute(f"SELECT {_COLUMNS} FROM log WHERE {where}", {**self._told, **told}).fetchall()
        return found
