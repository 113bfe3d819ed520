"""
The spine: what a phone sent becomes log, tables, flags and receipts, in one transaction.

The order of `receive` is the path of an observation: header, lane, then for each line known? -> read -> check ->
permission -> log or tray; after the last line merge -> tables -> flags; then the pull and the reply.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.errors import BadHeader
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import write
from fieldlog.sync import judge
from fieldlog.sync.apply import apply_entries, release_waiting
from fieldlog.sync.clock import START, effective
from fieldlog.sync.log import Entry, chain, is_id, is_lane_id, is_short_text, is_whole, line_id, read
from fieldlog.sync.release import FOR_A_PERSON
from fieldlog.sync.rows import INSERT_LOG, log_row
from fieldlog.sync.send import pull

PROTOCOL = 1
REVOKED_TRAY_BYTES = 5 * 1024 * 1024
"""What a revoked device may still leave in the tray, so that a day's work is not lost with the phone's rights."""


@dataclass(frozen=True)
class Header:
    """The first line of a sync body; `number` is the n of the line that follows it."""

    request_id: str
    lane_id: str
    number: int
    previous: str
    mine: int
    cursor: tuple[int, str] | None
    want: int
    now_ms: int
    app: str | None
    person_id: str | None


@dataclass
class Lane:
    """One device's numbered sequence as the server knows it, and its chain up to where this request has come."""

    lane_id: str
    top: int
    top_id: str
    durable: int
    ch: str = ""


@dataclass
class Batch:
    """What one request adds; written at its end, a statement a table."""

    taken: list[tuple[Entry, str]] = field(default_factory=list)
    log_rows: list[tuple[Any, ...]] = field(default_factory=list)
    tray_rows: list[tuple[Any, ...]] = field(default_factory=list)
    acks: list[list[Any]] = field(default_factory=list)


def receive(db: Database, body: bytes, catalogue: Catalogue, device: Device, now_ms: int) -> dict[str, Any]:
    """
    Take one sync request.

    Args:
        db: the programme's database.
        body: a header line, then entry lines, each ended by a newline; a last piece without one is a cut upload
            and is left for the phone to send again.
        catalogue: the record kinds this server knows.
        device: who is asking; its role is judged here and never again.
        now_ms: the server's clock, milliseconds since 1970 UTC.

    Returns:
        The reply: rid, now, err, acks, top, pull, cursor, more, reset, durable, revoked, schema.

    Raises:
        BadHeader: the first line is no header. The phone keeps everything.
        DiskFull: nothing of this request was kept.
    """
    header_line, *lines = body.split(b"\n")[:-1] or [b""]
    header = read_header(header_line)
    with write(db):
        lane = _open_lane(db, header.lane_id, device)
        err = _match_chain(db, header, lane, device, lines)
        batch = Batch()
        if err is None:
            err = _take_lines(db, header, lane, lines, catalogue, device, now_ms, batch)
        _store(db, lane, catalogue, now_ms, batch)
        _note_device(db, device, header, lane, now_ms)
        pulled = pull(db, device, header.lane_id, header.mine, header.cursor, header.want)
    return {
        "rid": header.request_id, "now": now_ms, "err": err, "acks": batch.acks, "top": [lane.top, lane.top_id],
        "durable": lane.durable, "revoked": device.revoked, "schema": catalogue.version, **pulled,
    }  # fmt: skip


def read_header(line: bytes) -> Header:
    """
    The header in a body's first line.

    Raises:
        BadHeader: it is not JSON, or a member is missing or of the wrong shape.
    """
    try:
        said = read(line)
    except (ValueError, RecursionError):
        said = None
    if not isinstance(said, dict):
        raise BadHeader("The sync body does not begin with a header line in JSON. Update the app; nothing is lost.")
    cursor = said.get("cursor")
    rules = {
        "p": said.get("p") == PROTOCOL,
        "rid": isinstance(said.get("rid"), str) and 1 <= len(said["rid"]) <= 64,
        "d": is_lane_id(said.get("d")),
        "from": is_whole(said.get("from")) and said["from"] >= 1,
        "prev": said.get("prev") == "" or is_id(said.get("prev")),
        "mine": is_whole(said.get("mine")),
        "cursor": cursor is None
        or (isinstance(cursor, list) and len(cursor) == 2 and is_whole(cursor[0]) and (cursor[1] == "" or is_id(cursor[1]))),
        "want": is_whole(said.get("want", 500)),
        "now": is_whole(said.get("now")),
        "app": is_short_text(said.get("app")),
        "person": is_short_text(said.get("person")),
    }
    wrong = [name for name, right in rules.items() if not right]
    if wrong:
        raise BadHeader(
            f"The sync header's {', '.join(wrong)} cannot be read. Update the app; nothing is lost.",
            dict.fromkeys(wrong, "missing or of the wrong shape"),
        )
    return Header(
        said["rid"], said["d"], said["from"], said["prev"], said["mine"],
        None if cursor is None else (cursor[0], cursor[1]), said.get("want", 500), said["now"], said.get("app"),
        said.get("person"),
    )  # fmt: skip


def _open_lane(db: Database, lane_id: str, device: Device) -> Lane:
    row = db.conn.execute("SELECT top, top_id, durable FROM lane WHERE lane_id = ?", (lane_id,)).fetchone()
    if row is None:
        db.conn.execute(
            "INSERT INTO lane(lane_id, device_id, top, top_id) VALUES (?, ?, 0, '')", (lane_id, device.device_id)
        )
        row = (0, "", 0)
    return Lane(lane_id, *row)


def _match_chain(db: Database, header: Header, lane: Lane, device: Device, lines: list[bytes]) -> str | None:
    """Whether phone and server agree on all that comes before this request; a lane's new owner proves it so too."""
    if header.number > lane.top + 1:
        return "gap"
    stored = "" if header.number == 1 else _known(db, lane.lane_id, header.number - 1)[4]
    if stored != header.previous:
        return "diverged"
    lane.ch = stored
    (owner,) = db.conn.execute("SELECT device_id FROM lane WHERE lane_id = ?", (lane.lane_id,)).fetchone()
    if owner == device.device_id or (header.number == 1 and not lines):
        return None
    first_known = lines and lane.top and _known(db, lane.lane_id, header.number)
    proven = header.number > 1 or (first_known and first_known[0] == line_id(lines[0]))
    if not proven:
        return "fork"
    db.conn.execute("UPDATE lane SET device_id = ? WHERE lane_id = ?", (device.device_id, lane.lane_id))
    return None


def _known(db: Database, lane_id: str, number: int) -> tuple[Any, ...]:
    """(entry id, "ok", seq, eff, chain) or (entry id, "q", 0, why, chain, sentence) of a line that is here."""
    row = db.conn.execute(
        "SELECT entry_id, 'ok', seq, eff, ch FROM log WHERE lane_id = ? AND number = ?", (lane_id, number)
    ).fetchone()
    if row is None:
        row = db.conn.execute(
            "SELECT entry_id, 'q', 0, why, ch, sentence FROM tray WHERE lane_id = ? AND number = ?", (lane_id, number)
        ).fetchone()
    found: tuple[Any, ...] = row
    return found


def _take_lines(
    db: Database, header: Header, lane: Lane, lines: list[bytes], catalogue: Catalogue, device: Device, now_ms: int,
    batch: Batch,
) -> str | None:  # fmt: skip
    known = max(0, min(len(lines), lane.top - header.number + 1))
    for number, line in enumerate(lines[:known], header.number):
        entry_id, verdict, seq, what, ch, *sentence = _known(db, lane.lane_id, number)
        if entry_id != line_id(line):
            return "fork"
        batch.acks.append([number, entry_id, verdict, seq, what, *sentence])
        lane.ch = ch
    if lines[known:]:
        _take_new(db, header.number + known, lane, lines[known:], catalogue, device, now_ms, batch)
    return None


def _take_new(
    db: Database, number: int, lane: Lane, lines: list[bytes], catalogue: Catalogue, device: Device, now_ms: int,
    batch: Batch,
) -> None:  # fmt: skip
    seq, h = db.conn.execute("SELECT seq, h FROM log ORDER BY seq DESC LIMIT 1").fetchone() or (0, "")
    newest = db.conn.execute("SELECT max(eff) FROM log").fetchone()[0] or START
    court = judge.Court(db, catalogue, device, lines)
    room = REVOKED_TRAY_BYTES - _tray_bytes(db, lane.lane_id) if device.revoked else 0
    for n, line in enumerate(lines, number):
        verdict: Entry | judge.Held = judge.REVOKED
        if device.revoked:
            room -= len(line)
            if room < 0:
                return
        else:
            verdict = court.verdict(line, lane.lane_id, n)
        entry_id = line_id(line)
        lane.ch = chain(lane.ch, entry_id)
        lane.top, lane.top_id = n, entry_id
        if isinstance(verdict, judge.Held):
            batch.tray_rows.append((lane.lane_id, n, entry_id, line, verdict.why, verdict.sentence, lane.ch, now_ms))
            batch.acks.append([n, entry_id, "q", 0, verdict.why, verdict.sentence])
            continue
        eff = effective(verdict.stamp, now_ms, newest)
        newest = max(newest, eff)
        seq += 1
        h = chain(h, entry_id + eff)
        batch.taken.append((verdict, eff))
        batch.log_rows.append(log_row(seq, verdict, eff, line, catalogue, h, lane.ch, now_ms))
        batch.acks.append([n, entry_id, "ok", seq, eff])


def _tray_bytes(db: Database, lane_id: str) -> int:
    (total,) = db.conn.execute(
        """SELECT coalesce(sum(length(line)), 0) FROM tray WHERE why = 'revoked' AND lane_id IN
           (SELECT lane_id FROM lane WHERE device_id = (SELECT device_id FROM lane WHERE lane_id = ?))""",
        (lane_id,),
    ).fetchone()
    return int(total)


def _store(db: Database, lane: Lane, catalogue: Catalogue, now_ms: int, batch: Batch) -> None:
    """Log and tray, then merge -> tables -> flags for what was taken."""
    if not batch.log_rows and not batch.tray_rows:
        return
    db.conn.executemany(INSERT_LOG, batch.log_rows)
    db.conn.executemany(
        "INSERT INTO tray(lane_id, number, entry_id, line, why, sentence, ch, received_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        batch.tray_rows,
    )
    db.conn.execute("UPDATE lane SET top = ?, top_id = ? WHERE lane_id = ?", (lane.top, lane.top_id, lane.lane_id))
    db.conn.executemany(
        "UPDATE tray SET resolved_by = ? WHERE entry_id = ?", [(e.entry_id, e.fixes) for e, _ in batch.taken if e.fixes]
    )
    apply_entries(db, catalogue, batch.taken)
    if any(entry.kind == "person" for entry, _ in batch.taken):
        release_waiting(db, catalogue, now_ms, FOR_A_PERSON)


def _note_device(db: Database, device: Device, header: Header, lane: Lane, now_ms: int) -> None:
    unsent = max(0, header.mine - lane.top)
    db.conn.execute(
        """UPDATE device SET skew_ms = ?, seen_at = ?, app = ?, unsent = ?, person_id = coalesce(?, person_id)
           WHERE device_id = ?""",
        (header.now_ms - now_ms, now_ms, header.app, unsent, header.person_id, device.device_id),
    )
