"""
A large programme, written straight into a folder: log, lanes, devices with sound chains, and the tables by replay.

    python -m tests.bench.write_programme FOLDER --months 36

What the phones need to go on (tokens, keys, units) stands in FOLDER/bench.json. `--odd-share 0.15` gives about 92,000 open
flags at a million entries, `--held-share` a tray to match; `--visits 2` doubles the entries a month.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Iterator
from dataclasses import asdict, fields
from pathlib import Path
from random import Random

from sqlite_utils import Database

from fieldlog.access.devices import add_device
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import create_programme, write
from fieldlog.sync.judge import Held, read_entry
from fieldlog.sync.log import chain
from fieldlog.sync.opening import open_programme
from fieldlog.sync.replay import replay
from fieldlog.sync.rows import INSERT_LOG, log_row
from tests.bench.lanes import BenchLane
from tests.bench.story import PHONES, BenchSite, Shape, begin_ms, set_up, years

PAGE = 20_000
"""Lines a transaction."""


class Cast:
    """Everybody who writes: the lead and five phones a site, each with a token."""

    def __init__(self, db: Database, shape: Shape, begun_ms: int) -> None:
        self._db, self._begun_ms = db, begun_ms
        self.shape, self.dice, self.sites = shape, Random(shape.seed), list[BenchSite]()
        self.lead = self._lane("lead", None, None)

    def story(self) -> Iterator[BenchLane]:
        """The lane that has just written, again and again; its lines wait in it."""
        for site in set_up(self.shape, self.lead, self._begun_ms, self.dice):
            self.sites.append(site)
            yield self.lead
            site.phones += [self._lane("crew", site.site_id, site.people[place]) for place in range(PHONES)]
        yield from years(self.shape, self.sites, self._begun_ms, self.dice)

    def lanes(self) -> list[BenchLane]:
        return [self.lead, *(lane for site in self.sites for lane in site.phones)]

    def _lane(self, role: str, site_id: str | None, person_id: str | None) -> BenchLane:
        with write(self._db):
            device, token = add_device(self._db, role, None if site_id is None else frozenset([site_id]), "bench phone", self._begun_ms)
        return BenchLane(f"{self.dice.getrandbits(128):032x}", device, token, person_id, site_id)


def write_programme(folder: Path, shape: Shape, now_ms: int) -> dict[str, float]:
    """
    Make the folder and fill it.

    Returns:
        entries; seconds for the log, seconds for the tables.
    """
    create_programme(folder, "Ten years").close()
    programme = open_programme(folder, CATALOGUE, now_ms)
    db = programme.db()
    began = time.perf_counter()
    # What is lost at a power cut is made again, so nothing waits for the disk while the log is written.
    db.conn.execute("PRAGMA synchronous=OFF")
    db.conn.execute("PRAGMA cache_size=-262144")
    cast = Cast(db, shape, begin_ms(shape, now_ms))
    entries = _write_log(db, cast)
    logged = time.perf_counter()
    with write(db):
        replay(db, CATALOGUE)
    replayed = time.perf_counter()
    _keep_cast(folder, cast, now_ms)
    db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    programme.close()
    return {"entries": entries, "log_s": logged - began, "tables_s": replayed - logged}


def _write_log(db: Database, cast: Cast) -> int:
    seq, h = 0, ""
    log_rows, tray_rows = [], []
    for lane in cast.story():
        for one in lane.taken_over():
            entry = one.entry
            if one.held:
                verdict = read_entry(one.line, entry.lane_id, entry.number, CATALOGUE)
                assert isinstance(verdict, Held)
                tray_rows.append((
                    entry.lane_id, entry.number, entry.entry_id, one.line, verdict.why, verdict.sentence, one.ch, one.at_ms, None,
                ))  # fmt: skip
                continue
            seq += 1
            h = chain(h, entry.entry_id + entry.stamp)
            log_rows.append(log_row(seq, entry, entry.stamp, one.line, CATALOGUE, h, one.ch, one.at_ms))
        if len(log_rows) >= PAGE:
            _flush(db, log_rows, tray_rows)
    _flush(db, log_rows, tray_rows)
    with write(db):
        db.conn.executemany(
            "INSERT INTO lane(lane_id, device_id, top, top_id) VALUES (?, ?, ?, ?)",
            [(lane.lane_id, lane.device.device_id, lane.number, lane.top_id) for lane in cast.lanes()],
        )
    return seq


def _flush(db: Database, log_rows: list[tuple[object, ...]], tray_rows: list[tuple[object, ...]]) -> None:
    with write(db):
        db.conn.executemany(INSERT_LOG, log_rows)
        db.conn.executemany(
            """INSERT INTO tray(lane_id, number, entry_id, line, why, sentence, ch, received_at, resolved_by)
               VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)""",
            tray_rows,
        )
    log_rows.clear()
    tray_rows.clear()


def _keep_cast(folder: Path, cast: Cast, now_ms: int) -> None:
    def kept(lane: BenchLane) -> dict[str, str | None]:
        return {"lane_id": lane.lane_id, "key": lane.key, "token": lane.token, "person_id": lane.person_id}

    told = {
        "now_ms": now_ms, "shape": asdict(cast.shape), "lead": kept(cast.lead),
        "sites": [
            {"site_id": site.site_id, "units": [unit[0] for unit in site.units], "phones": [kept(lane) for lane in site.phones]}
            for site in cast.sites
        ],
    }  # fmt: skip
    (folder / "bench.json").write_text(json.dumps(told))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    for one in fields(Shape):
        default = one.default
        parser.add_argument(f"--{one.name.replace('_', '-')}", type=type(default), default=default)
    asked = vars(parser.parse_args())
    folder = asked.pop("folder")
    told = write_programme(folder, Shape(**asked), int(time.time() * 1000))
    size = (folder / "fieldlog.sqlite").stat().st_size
    rate = told["entries"] / (told["log_s"] + told["tables_s"])
    print(
        f"{told['entries']:,.0f} entries: log {told['log_s']:.1f} s, tables {told['tables_s']:.1f} s, {rate:,.0f} entries a second,"
        f" {size / told['entries']:,.0f} bytes an entry"
    )


if __name__ == "__main__":
    main()
