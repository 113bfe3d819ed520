"""What must be true of a storm that has come to rest: nothing lost, nothing doubled, all phones and the tables alike."""

from __future__ import annotations

import json
from typing import Any

from sqlite_utils import Database

from fieldlog.store import write
from fieldlog.sync.purges import PURGE
from fieldlog.sync.replay import replay
from tests.sync.model_phone import MERGES, Line, ModelPhone, fold
from tests.sync.storm import Storm
from tests.sync.storm_kinds import PRIVATE


def check_invariants(storm: Storm) -> None:
    """I1 to I8 and I10 of the protocol, on a storm that has come to rest."""
    db = storm.server.db
    log = db.execute("SELECT seq, entry_id, lane_id, number, eff, line FROM log ORDER BY seq").fetchall()
    tray = db.execute("SELECT entry_id, lane_id, number FROM tray").fetchall()
    _once_and_contiguous(log, tray)
    _nothing_lost(storm, log, tray)
    entries = [(row[1], row[4], json.loads(row[5])) for row in log if row[5]]
    folded = fold(entries)
    storm.rnd.shuffle(entries)
    assert fold(entries) == folded
    _phones_agree(storm, folded)
    _every_write_is_accounted_for(storm, entries, folded)
    _tables_say_what_the_log_says(storm, folded)


def _once_and_contiguous(log: list[Any], tray: list[Any]) -> None:
    assert [row[0] for row in log] == list(range(1, len(log) + 1))
    assert len({row[1] for row in log}) == len(log)
    numbers: dict[str, list[int]] = {}
    for lane_id, number in [(row[2], row[3]) for row in log] + [(row[1], row[2]) for row in tray]:
        numbers.setdefault(lane_id, []).append(number)
    for lane_id, found in numbers.items():
        assert sorted(found) == list(range(1, len(found) + 1)), lane_id


def _nothing_lost(storm: Storm, log: list[Any], tray: list[Any]) -> None:
    said = [one for one in (json.loads(row[5]) for row in log if row[5]) if one["t"] != PURGE]
    purged = set(storm.server.db.execute("SELECT kind, record_id FROM purged").fetchall())
    stored = {(one["t"], one["r"], name, value) for one in said for name, value in one["f"].items()}
    in_tray = {row[0] for row in tray}
    in_log = {row[1] for row in log}
    for phone in storm.phones:
        assert {made for made in phone.made if made[:2] not in purged} <= stored
        assert set(phone.broken) <= in_tray
        for line in (line for lane in phone.lanes.values() for line in lane):
            # One that was purged is not asked for again: a restored server may have the other verdict of it.
            there = in_log | in_tray if line.text is None else in_log if line.state == "taken" else in_tray if line.state == "held" else ()
            assert line.entry_id in there
    not_theirs = {
        entry_id for entry_id, line in storm.server.db.execute("SELECT entry_id, line FROM tray WHERE why = 'not-yours' AND length(line) > 0")
        if json.loads(line)["f"] == {"_deleted": True}
    }  # fmt: skip
    gone = {row[0] for row in storm.server.db.execute("SELECT entry_id FROM tray WHERE length(line) = 0")}
    assert in_tray <= storm.ever_held | not_theirs | gone, "a valid line was held"


def _visible(folded: dict[Any, Any], phone: ModelPhone, role: str) -> dict[Any, Any]:
    own = {(said["t"], said["r"]) for _, _, said in phone.entries()}
    return {cell: value for cell, value in folded.items() if cell[0] != PRIVATE or role == "lead" or cell[:2] in own}


def _phones_agree(storm: Storm, folded: dict[Any, Any]) -> None:
    for phone in storm.phones:
        role = storm.device(phone).role
        assert fold(phone.entries()) == _visible(folded, phone, role)
        if role == "crew":
            lines: list[Line] = [line for lane in phone.lanes.values() for line in lane]
            assert not any(b'"t":"private_note"' in line.text for line in lines if line.text)
            assert not any('"t":"private_note"' in text for _eff, text in phone.others.values())


def _every_write_is_accounted_for(storm: Storm, entries: list[Any], folded: dict[Any, Any]) -> None:
    eff = {entry_id: stamp for entry_id, stamp, _ in entries}
    for stamp, arrived in storm.server.db.execute("SELECT eff, received_at FROM log"):
        assert int(stamp[:12], 16) <= arrived + 300_000, "an entry from the far future"
    named = {
        (said["t"], said["r"], name, base)
        for _, _, said in entries for name in said["f"] for base in said["b"].get(name, [])
    }  # fmt: skip
    for entry_id, stamp, said in entries:
        if not storm.server.restores:
            assert all(eff[base] < stamp for ids in said["b"].values() for base in ids if base in eff)
        for name, value in said["f"].items():
            cell = (said["t"], said["r"], name)
            winner, winning_id, others = folded[cell]
            is_shown = entry_id == winning_id or value == winner or json.dumps(value) in others
            assert (*cell, entry_id) in named or is_shown or name in MERGES


def _tables_say_what_the_log_says(storm: Storm, folded: dict[Any, Any]) -> None:
    db = storm.server.db
    kinds = [name for name in ("quadrat", PRIVATE, "import") if name in storm.server.catalogue.kinds]
    before = _tables(db, kinds)
    for (kind, record_id, name), (value, _id, others) in folded.items():
        if kind == PURGE:
            continue
        column = "deleted" if name == "_deleted" else name
        (stored,) = db.execute(f'SELECT "{column}" FROM "{kind}" WHERE record_id = ?', (record_id,)).fetchone()
        assert stored == value
        row = db.execute(
            "SELECT values_json FROM disagreement WHERE kind = ? AND record_id = ? AND field = ?", (kind, record_id, name)
        ).fetchone()
        assert sorted(json.dumps(v) for v in json.loads(row[0])[1:]) == list(others) if row else not others
    with write(db):
        replay(db, storm.server.catalogue)
    assert _tables(db, kinds) == before


def _tables(db: Database, kinds: list[str]) -> dict[str, list[Any]]:
    return {name: sorted(db.execute(f'SELECT * FROM "{name}"').fetchall(), key=repr) for name in (*kinds, "disagreement", "flag", "record_state", "purged")}
