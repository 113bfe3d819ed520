"""
The spine: what a phone sent becomes log, tables, flags and receipts, a slice at a time.

The order of `receive` is the path of an observation: header, then slice by slice who? -> whose lane? -> chain -> for each
line known? -> read -> check -> rights -> log or tray; merge -> tables -> flags; and at last the pull and the reply.

A slice is one transaction and equals a request of its own: nothing is remembered from one to the next but the number, the
chain and the receipts, so that others' requests may come between two of them, and a crash leaves whole slices.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from time import monotonic
from typing import Any

from sqlite_utils import Database

from fieldlog.access.authors import count_authors
from fieldlog.access.devices import Device
from fieldlog.lost_photos import asked_of
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import is_closed, one_snapshot, others_wait, undo_in_memory, write
from fieldlog.sync import judge
from fieldlog.sync.apply import apply_entries, release_confirmed, release_some
from fieldlog.sync.file_parts import note_part
from fieldlog.sync.fixes import settle_held
from fieldlog.sync.forgetting import Arrivals, Gone
from fieldlog.sync.header import Header, read_header
from fieldlog.sync.imported import is_turning, turn_some
from fieldlog.sync.lanes import Lane, chain_before, is_proven, lane_of, line_at, refuse_unproven, store_lane
from fieldlog.sync.log import BLANK, Entry, chain, line_id
from fieldlog.sync.purges import GONE, blank_row
from fieldlog.sync.release import has_ready, is_releasing, let_go
from fieldlog.sync.rows import INSERT_LOG, log_end, log_row
from fieldlog.sync.send import Asked, pull

REVOKED_TRAY_BYTES = 5 * 1024 * 1024
"""What a revoked device may still leave in the tray, so that a day's work is not lost with the phone's rights."""

SLICE_S = 0.035
"""A slice ends after the first lines past this where others wait to write."""

LONGEST_SLICE_S = 1.0
"""A slice that nobody waits for ends after this: a crash costs no more, and other processes wait by SQLite's lock."""

LINES_AT_ONCE = 25
"""Lines judged, stored and flagged together within a slice, before its time is looked at."""

SEEN_EVERY_MS = 60_000
"""A phone that has nothing to send is noted once a minute."""

Who = Callable[[], Device]
IsOver = Callable[[int], bool]
"""Told how many lines a slice has taken, says whether the slice ends."""


def timed_slice(db: Database) -> IsOver:
    """A slice that ends by time, begun when this is called: soon where others wait to write."""
    began = monotonic()
    return lambda _lines: monotonic() - began > (SLICE_S if others_wait(db) else LONGEST_SLICE_S)


@dataclass
class Slice:
    """What one slice does; `is_last` where the request ends with it."""

    db: Database
    catalogue: Catalogue
    device: Device
    lane: Lane
    now_ms: int
    may_hold: Callable[[], bool]
    err: str | None = None
    is_last: bool = False
    acks: list[list[Any]] = field(default_factory=list)


@dataclass
class Batch:
    """What a few lines add, written at their end, a statement a table; `begun` are the entries with which a record began."""

    taken: list[tuple[Entry, str]] = field(default_factory=list)
    begun: list[Entry] = field(default_factory=list)
    log_rows: list[tuple[Any, ...]] = field(default_factory=list)
    tray_rows: list[tuple[Any, ...]] = field(default_factory=list)


def receive(
    db: Database, body: bytes, catalogue: Catalogue, who: Who, now_ms: Callable[[], int],
    new_slice: Callable[[Database], IsOver] = timed_slice, may_hold: Callable[[], bool] = lambda: True,
) -> dict[str, Any]:  # fmt: skip
    """
    Take one sync request.

    Args:
        db: the programme's database.
        body: a header line, then entry lines, each ended by a newline; a last piece without one is a cut upload
            and is left for the phone to send again.
        catalogue: the record kinds this server knows.
        who: who is asking, asked anew in each slice; a line is judged by its role at its arrival and never again.
        now_ms: the server's clock, milliseconds since 1970 UTC, read anew in each slice.
        new_slice: begins a slice and says when it ends.
        may_hold: asked before each new line that will be held; the request ends before one that may not be.

    Returns:
        The reply: rid, now, err, acks, top, pull, cursor, more, reset, durable, revoked, schema; photos: lost ones that the phone may have.

    Raises:
        BadHeader: the first line is no header. The phone keeps everything.
        DiskFull: nothing of the slice under way was kept.
    """
    header_line, *lines = body.split(b"\n")[:-1] or [b""]
    header = read_header(header_line)
    undo_in_memory(db)
    number, previous, brings = header.number, header.previous, bool(lines)
    acks: list[list[Any]] = []
    while True:
        part = _slice(db, catalogue, header, who, now_ms, number, previous, lines, new_slice, may_hold)
        acks += part.acks
        number, previous, lines = number + len(part.acks), part.lane.ch, lines[len(part.acks) :]
        if part.is_last or not lines:
            _release_rest(db, catalogue, now_ms, brings)
            return _reply(db, catalogue, header, who, part, acks)


def _release_rest(db: Database, catalogue: Catalogue, now_ms: Callable[[], int], brings: bool) -> None:
    """
    Release what waits no more, a transaction at a time, also what an earlier request was cut off before.

    A request that brings something lets some records follow their import. Of what devices wrote before they were confirmed, which may be all they have, a request carries a few lines further.
    """
    while has_ready(db):
        with write(db):
            release_some(db, catalogue, now_ms())
    if is_releasing(db):
        with write(db):
            release_confirmed(db, catalogue, now_ms())
    if brings and is_turning(db):
        with write(db):
            turn_some(db, catalogue)


def _reply(
    db: Database, catalogue: Catalogue, header: Header, who: Who, last: Slice, acks: list[list[Any]]
) -> dict[str, Any]:
    with one_snapshot(db):
        device = who()
        own = header.lane_id if is_proven(db, header, device) else None
        asked = Asked(own, header.mine, header.cursor, header.want, header.season, header.past, header.older, header.purges)
        pulled = pull(db, device, asked, last.now_ms)
        lost = [] if device.revoked or device.unconfirmed else asked_of(db, device.device_id, own)
    return {
        "rid": header.request_id, "now": last.now_ms, "err": last.err, "acks": acks, "top": [last.lane.top, last.lane.top_id],
        "durable": last.lane.durable, "revoked": device.revoked, "schema": catalogue.version, **pulled,
        **({"photos": lost} if lost else {}),
    }  # fmt: skip


def _slice(
    db: Database, catalogue: Catalogue, header: Header, who: Who, now_ms: Callable[[], int], number: int, previous: str,
    lines: list[bytes], new_slice: Callable[[Database], IsOver], may_hold: Callable[[], bool],
) -> Slice:  # fmt: skip
    if not lines:
        quiet = _quiet(db, catalogue, header, who(), now_ms())
        if quiet is not None:
            return quiet
    with write(db):
        device = who()
        part = Slice(db, catalogue, device, lane_of(db, header.lane_id), now_ms(), may_hold)
        if not is_proven(db, header, device):
            stands = refuse_unproven(db, header, device, bool(lines), part.now_ms)
            part.lane = Lane(header.lane_id, stands)
            part.err, part.is_last = "fork" if lines else None, True
        else:
            part.err = _match_chain(db, part.lane, number, previous)
            part.is_last = part.err is not None
            if part.err is None:
                _take_lines(part, number, lines, new_slice(db))
            _note_device(db, device, header, part.lane, part.now_ms)
    return part


def _quiet(db: Database, catalogue: Catalogue, header: Header, device: Device, now_ms: int) -> Slice | None:
    """A request without lines asks for nothing to be written: by a phone that was seen a moment ago, or while nobody may write."""
    row = db.conn.execute(
        "SELECT seen_at, unsent, app, person_id FROM device WHERE device_id = ?", (device.device_id,)
    ).fetchone()
    lane = lane_of(db, header.lane_id)
    told = (max(0, header.mine - lane.top), header.app, header.person_id or device.person_id)
    seen = row is not None and row[0] is not None and 0 <= now_ms - row[0] < SEEN_EVERY_MS and row[1:] == told
    if not seen and not is_closed(db):
        return None
    if not is_proven(db, header, device):
        return None
    part = Slice(db, catalogue, device, lane, now_ms, lambda: True, is_last=True)
    part.err = _match_chain(db, lane, header.number, header.previous)
    return part


def _match_chain(db: Database, lane: Lane, number: int, previous: str) -> str | None:
    """Whether phone and server agree on all that comes before these lines."""
    if number > lane.top + 1:
        return "gap"
    stored = chain_before(db, lane.lane_id, number)
    if stored != previous:
        return "diverged"
    lane.ch = stored
    return None


def _take_lines(part: Slice, number: int, lines: list[bytes], is_over: IsOver) -> None:
    if not lines:
        return
    store_lane(part.db, part.lane, part.device)
    court = judge.Court(part.db, part.catalogue)
    room = REVOKED_TRAY_BYTES - _tray_bytes(part.db, part.device) if part.device.revoked else 0
    while len(part.acks) < len(lines) and not part.is_last:
        first = len(part.acks)
        some = lines[first : first + LINES_AT_ONCE]
        known = _acknowledge_known(part, number + first, some)
        if not part.is_last and some[known:]:
            room = _take_new(part, court, number + first + known, some[known:], room)
        if is_over(len(part.acks)):
            return


def _acknowledge_known(part: Slice, number: int, lines: list[bytes]) -> int:
    """Receipts of lines that are here already. Returns how many those are."""
    known = max(0, min(len(lines), part.lane.top - number + 1))
    for n, line in enumerate(lines[:known], number):
        row = line_at(part.db, part.lane.lane_id, n)
        if row is None or row[0] != line_id(line):
            part.err, part.is_last = "fork", True
            break
        entry_id, verdict, seq, what, ch, *sentence = row
        part.acks.append([n, entry_id, verdict, seq, what, *sentence])
        part.lane.ch = ch
    return known


def _take_new(part: Slice, court: judge.Court, number: int, lines: list[bytes], room: int) -> int:
    """Judge and store lines that are new. Returns the room that is left in the tray for a revoked device, bytes."""
    db, lane, device = part.db, part.lane, part.device
    seq, h, newest = log_end(db)
    batch, arrivals = Batch(), Arrivals(db, part.catalogue)
    for n, line in enumerate(lines, number):
        verdict = arrivals.verdict(line, lane.lane_id, n, part.now_ms, newest) or _judged(part, court, n, line)
        if verdict is judge.REVOKED:
            room -= len(line)
            if room < 0:
                part.is_last = True
                break
        if isinstance(verdict, judge.Held) and not part.may_hold():
            part.is_last = True
            break
        entry_id = line_id(line)
        lane.ch = chain(lane.ch, entry_id)
        lane.top, lane.top_id = n, entry_id
        if isinstance(verdict, judge.Held):
            text, by = (BLANK, GONE) if verdict.why == GONE else (line, None)
            batch.tray_rows.append(
                (lane.lane_id, n, entry_id, text, verdict.why, verdict.sentence, lane.ch, part.now_ms, verdict.waits_for, by)
            )
            part.acks.append([n, entry_id, "q", 0, verdict.why, verdict.sentence])
            continue
        eff, begins = (verdict.eff, False) if isinstance(verdict, Gone) else court.takes(verdict, device, part.now_ms, newest)
        newest = max(newest, eff)
        seq += 1
        h = chain(h, entry_id + eff)
        part.acks.append([n, entry_id, "ok", seq, eff])
        if isinstance(verdict, Gone):
            batch.log_rows.append(blank_row(seq, entry_id, lane.lane_id, n, eff, h, lane.ch, part.now_ms))
            continue
        if begins:
            batch.begun.append(verdict)
        batch.taken.append((verdict, eff))
        batch.log_rows.append(log_row(seq, verdict, eff, line, part.catalogue, h, lane.ch, part.now_ms))
    released = _store(part, batch)
    court.are_stored()
    if arrivals.tell(part.now_ms) or released:
        court.ask_anew()
    return room


def _judged(part: Slice, court: judge.Court, number: int, line: bytes) -> Entry | judge.Held:
    """What becomes of a line that keeps its text."""
    if part.device.revoked:
        return judge.REVOKED
    if part.device.unconfirmed:
        return judge.unconfirmed(part.lane.lane_id)
    return court.verdict(line, part.lane.lane_id, number, part.device)


def _store(part: Slice, batch: Batch) -> int:
    """Log and tray, then merge -> tables -> flags for what was taken, then what waited for it. Returns how many lines had waited."""
    db = part.db
    store_lane(db, part.lane, part.device)
    stored = len(batch.log_rows) + len(batch.tray_rows)
    if stored and part.device.continues is not None:
        note_part(db, part.lane.lane_id, part.lane.top + 1 - stored, part.lane.top, part.device)
    db.conn.executemany(INSERT_LOG, batch.log_rows)
    db.conn.executemany(
        """INSERT INTO tray(lane_id, number, entry_id, line, why, sentence, ch, received_at, waits_for, resolved_by)
           VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)""",
        batch.tray_rows,
    )
    for entry, _eff in batch.taken:
        settle_held(db, entry, part.device)
    count_authors(db, part.device.device_id, (entry.made_by for entry, _eff in batch.taken), part.now_ms)
    apply_entries(db, part.catalogue, batch.taken)
    let_go(db, batch.begun)
    return release_some(db, part.catalogue, part.now_ms)


def _tray_bytes(db: Database, device: Device) -> int:
    (total,) = db.conn.execute(
        """SELECT coalesce(sum(length(line)), 0) FROM tray
           WHERE why = 'revoked' AND lane_id IN (SELECT lane_id FROM lane WHERE device_id = ?)""",
        (device.device_id,),
    ).fetchone()
    return int(total)


def _note_device(db: Database, device: Device, header: Header, lane: Lane, now_ms: int) -> None:
    unsent = max(0, header.mine - lane.top)
    db.conn.execute(
        "UPDATE device SET skew_ms = ?, seen_at = ?, app = ?, unsent = ? WHERE device_id = ?",
        (header.now_ms - now_ms, now_ms, header.app, unsent, device.device_id),
    )
    if header.person_id not in (None, device.person_id):
        # By a statement of its own: leads' packs count who leads, so writing this moves a mark.
        db.conn.execute("UPDATE device SET person_id = ? WHERE device_id = ?", (header.person_id, device.device_id))
