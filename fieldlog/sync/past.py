"""
A new phone gets this season first and the past after it, backwards.

A record travels whole, every entry of it, so that what a phone shows and changes is never half of one. The phone stands at a
cursor F and at `past` P, and has exactly the entries up to F of the records that a site is made of, and of the others those
whose newest entry up to F is numbered P or higher. Each step keeps that true:

- forwards to F': an entry of a record that was not sent yet brings all of the record along;
- backwards to P': the records whose newest entry lies in P' <= n < P, and only when the phone has all up to the log's end, so
  that their newest entry is the newest of all.
"""

from __future__ import annotations

from fieldlog.sync.reading import MADE_OF, Reading, Row

SEASON_MS = 92 * 86_400_000
"""What came in so long before now is this season's."""

SEASON_PAGES = 4
"""The first answer holds at most so many times what a phone wants at once, beside what a site is made of."""


def first_page(reading: Reading, want: int, now_ms: int) -> tuple[list[Row], int | None]:
    """What a site is made of and this season: the entries, and how far back they reach, None where that is all."""
    rows, past = _page(reading, reading.top() + 1, SEASON_PAGES * want, now_ms - SEASON_MS)
    return sorted(reading.made_of() + rows), past


def next_page(reading: Reading, past: int, want: int) -> tuple[list[Row], int | None]:
    """The records before `past`, at least one and about `want` entries; None with the last of them."""
    rows, before = _page(reading, past, want, None)
    return sorted(rows), before


def unsent_before(reading: Reading, rows: list[Row], start: int, past: int) -> list[Row]:
    """The entries after `start`, and with them those before it of records that were not sent yet."""
    touched = {(row[7], row[8]) for row in rows if row[6] and row[7] not in MADE_OF}
    older: list[Row] = []
    for kind, record_id in sorted(touched):
        before = reading.of_record(kind, record_id, start)
        if before and before[-1][0] < past:
            older += before
    return sorted(older) + rows


def _page(reading: Reading, before: int, want: int, oldest_ms: int | None) -> tuple[list[Row], int | None]:
    rows: list[Row] = []
    past = before
    for seq, kind, record_id, came_ms in reading.newest_first(before):
        if len(rows) >= want or (oldest_ms is not None and came_ms < oldest_ms):
            return rows, past
        rows += reading.of_record(kind, record_id)
        past = seq
    return rows, None
