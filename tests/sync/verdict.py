"""What must be true of a storm with hostile devices when it is quiet."""

from __future__ import annotations

import json
from typing import Any

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import write
from fieldlog.sync.replay import replay
from tests.sync.hostile_device import A, B
from tests.sync.model_phone import fold, link, short_hash
from tests.sync.watched_storm import WatchedStorm
from tests.sync.watcher import READERS


def verdict(storm: WatchedStorm) -> None:
    """What must be true when it is quiet."""
    log = storm.db.execute("SELECT seq, entry_id, lane_id, number, eff, line, kind, record_id, site_id, h FROM log ORDER BY seq").fetchall()
    tray = storm.db.execute("SELECT entry_id, lane_id, number, why, line FROM tray").fetchall()
    _chains_hold(storm, log, tray)
    _honest_entries_are_taken(storm, log, tray)
    entries = [(row[1], row[4], json.loads(row[5])) for row in log]
    folded = fold(entries)
    for phone in storm.phones:
        role, sites = storm.base[id(phone)]
        own = {line.entry_id for lane in phone.lanes.values() for line in lane}
        may = [
            (row[1], row[4], json.loads(row[5])) for row in log
            if row[1] in own or (role in READERS[row[6]] and (sites is None or row[8] is None or row[8] in sites))
        ]  # fmt: skip
        assert fold(phone.entries()) == fold(may), "phone and server differ"
    assert folded == fold(reversed(entries))
    _what_a_site_shows_hangs_on_its_own_entries(storm, log)


def _chains_hold(storm: WatchedStorm, log: list[Any], tray: list[Any]) -> None:
    assert [row[0] for row in log] == list(range(1, len(log) + 1))
    assert len({row[1] for row in log}) == len(log)
    numbers: dict[str, list[int]] = {}
    for lane, number in [(row[2], row[3]) for row in log] + [(row[1], row[2]) for row in tray]:
        numbers.setdefault(lane, []).append(number)
    assert all(sorted(found) == list(range(1, len(found) + 1)) for found in numbers.values())
    assert dict(storm.db.execute("SELECT lane_id, top FROM lane WHERE top > 0").fetchall()) == {lane: len(found) for lane, found in numbers.items()}
    h = ""
    for row in log:
        h = link(h, row[1] + row[4])
        assert h == row[9], "the log's chain is broken"


def _honest_entries_are_taken(storm: WatchedStorm, log: list[Any], tray: list[Any]) -> None:
    """Nothing honest is lost or held, but where an older name or lane was taken by others after a restore."""
    have = {(said["t"], said["r"], name, json.dumps(value)) for row in log for said in [json.loads(row[5])] for name, value in said["f"].items()}
    honest = {id(person) for person in storm.people.values()}
    # After a restore a hostile device may make a person whom it knows before the one who did.
    begun: dict[str, str] = {}
    for row in log:
        begun.setdefault(row[7], row[2])
    squatted = {record for record, lane in begun.items() if storm.restores and id(storm.owner[lane]) not in honest}
    if storm.restores:
        # What made a record may never be sent again, where its author is no honest phone or is lost. The texts are kept for leads.
        kept = [(why, json.loads(line)) for _, _, _, why, line in tray if why in ("not-permitted", "waits-for-first")]
        # What makes a person and was written anew under another lane is no longer named as others' changes name it: held for a lead.
        said_of = [said for why, said in kept if why == "waits-for-first" or (said["t"] == "person" and (said["r"] in squatted or said.get("was")))]
        have |= {(said["t"], said["r"], name, json.dumps(value)) for said in said_of for name, value in said["f"].items()}
    for phone in storm.phones:
        for kind, record, name, value in phone.made:
            assert (kind, record, name, json.dumps(value)) in have or (storm.restores and record[14] != "8"), ("lost", kind, record, name)
    for _entry_id, lane, _number, why, line in tray:
        if id(storm.owner[lane]) not in honest:
            continue
        said = json.loads(line)
        is_own_doing = said["f"] == {"_deleted": True} and why == "not-yours"
        is_own_doing |= why == "waits-for-first" and storm.restores > 0
        is_own_doing |= said["t"] == "person" and why == "not-permitted" and (said["r"] in squatted or (storm.restores > 0 and "was" in said))
        assert is_own_doing or (storm.restores and (not lane.startswith("k-") or said["r"][14] != "8")), ("held", why, said)
    taken, held = {row[1] for row in log}, {row[0] for row in tray}
    for phone in storm.phones:
        for line in (line for lane in phone.lanes.values() for line in lane):
            is_known = line.entry_id in (taken if line.state == "taken" else held)
            assert is_known or (storm.restores and line.entry_id in taken | held), "a receipt for what is not there"


def _what_a_site_shows_hangs_on_its_own_entries(storm: WatchedStorm, log: list[Any]) -> None:
    shown = sorted(storm.db.execute("SELECT * FROM flag").fetchall(), key=repr)
    apart: list[Any] = []
    columns = storm.db.execute("SELECT * FROM log ORDER BY seq").fetchall()
    place = [row[0] for row in storm.db.execute("SELECT name FROM pragma_table_info('log')")].index("site_id")
    for site in (A, B, None):
        alone = storm.opened(None)
        some = [row for row in columns if row[place] == site or row[place] is None]
        alone.conn.executemany(f"INSERT INTO log VALUES ({', '.join('?' * len(columns[0]))})" if columns else "SELECT 1", some)
        with write(alone):
            replay(alone, CATALOGUE)
        apart += alone.execute("SELECT * FROM flag WHERE site_id IS ?", (site,)).fetchall()
        alone.conn.close()
    assert shown == sorted(apart, key=repr), "a site shows what another wrote"
    assert len({short_hash(repr(row).encode()) for row in shown}) == len(shown)
