"""Figures of a large programme over HTTP: pushes, a sync with nothing new, the pack, whole pulls, ingest, memory."""

from __future__ import annotations

import statistics
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.bench.figures import Figure
from tests.bench.large import Floor, Phone, lead_of, log_kept, median_ms, phone_of, served, wait_for_backup
from tests.bench.story import Shape
from tests.bench.wal import commits_since, wal_end
from tests.bench.write_programme import write_programme

SMALL = Shape(sites=1, units=250, months=1)
"""About 1,000 entries: one site and its first visit."""


@contextmanager
def _floor(folder: Path, copy: Path) -> Iterator[Floor]:
    floor = Floor(folder, copy)
    try:
        yield floor
    finally:
        floor.close()
        for end in ("", "-wal", "-shm"):
            Path(f"{copy}{end}").unlink(missing_ok=True)


def pushes(folder: Path, scratch: Path) -> list[Figure]:
    """A push of 1 and of 500 checks by a crew phone, of 1 by the lead of all sites; the same at about 1,000 entries."""
    write_programme(scratch / "small", SMALL, int(time.time() * 1000))
    at_small = {}
    with _floor(scratch / "small", scratch / "small.floor") as floor, served(scratch / "small") as (server, told):
        phone = phone_of(server, told, 0, 1)
        for count, runs in ((1, 15), (500, 3)):
            at_small[count] = _push(phone, floor, count, runs)[0]
    figures = []
    with _floor(folder, scratch / "large.floor") as floor, served(folder) as (server, told):
        wait_for_backup(server)
        phone, lead = phone_of(server, told, 0, 1), lead_of(server, told)
        phone.stand_at_the_end()
        for count, runs, limit_ms in ((1, 15, 30), (500, 5, 700)):
            took, bare, beside = _push(phone, floor, count, runs)
            figures.append(Figure(f"push of {count} over HTTP, pack tag included", took, limit_ms, "ms", beside, bare))
            if count == 500:
                figures.append(Figure("  times bare SQLite", took / bare, 4, "x"))
            figures.append(Figure("  times the same at 1,000 entries", took / at_small[count], 2, "x", f"there {at_small[count]:.3g} ms"))
        lead.stand_at_the_end()
        took, bare, beside = _push(lead, floor, 1, 7)
        figures.append(Figure("push of 1 by the lead of all sites", took, 30, "ms", beside, bare))
    return figures


def _push(phone: Phone, floor: Floor, count: int, runs: int) -> tuple[float, float, str]:
    """Medians in milliseconds: the push, and the same rows in the floor's file right after it; and what to say of both."""
    phone.checks(count)
    phone.push(1)
    took, bare, commits, worked = [], [], [], 0.0
    wal = phone.server.folder / "fieldlog.sqlite-wal"
    for _ in range(runs):
        phone.checks(count)
        with log_kept(phone.server.folder / "fieldlog.sqlite"):
            before_s, end = phone.server.cpu_s(), wal_end(wal)
            seconds, lines = phone.push(1)
            worked += phone.server.cpu_s() - before_s
            commits.append(commits_since(wal, end))
        took.append(seconds)
        bare.append(floor.seconds(lines, commits[-1]))
    took_ms, bare_ms = statistics.median(took) * 1000, statistics.median(bare) * 1000
    return took_ms, bare_ms, f"processor {worked / runs * 1000:.3g} ms; bare SQLite in as many commits ({max(commits)}) {bare_ms:.3g} ms"


def nothing_new(folder: Path) -> list[Figure]:
    """A sync without lines: again, right after another phone's push, and for the lead of all sites."""
    with served(folder) as (server, told):
        wait_for_backup(server)
        one, other, lead = phone_of(server, told, 0, 1), phone_of(server, told, 0, 2), lead_of(server, told)
        elsewhere = phone_of(server, told, len(told["sites"]) - 1, 1)
        began = time.perf_counter()
        entries, size = one.catch_up()
        crew_s = time.perf_counter() - began
        lead.stand_at_the_end()
        elsewhere.stand_at_the_end()
        health = median_ms(lambda: one.get("/healthz")[0], 20)
        beside = f"/healthz {health:.3g} ms"

        def after(asking: Phone) -> float:
            other.checks(1)
            other.push(1)
            return asking.nothing().took_s

        figures = [
            Figure(what, median_ms(work, 15), 8, "ms", beside, health)
            for what, work in (
                ("sync with nothing new", lambda: one.nothing().took_s),
                ("  right after another phone's push, same site", lambda: after(one)),
                ("  right after a push at another site", lambda: after(elsewhere)),
                ("  lead of all sites", lambda: lead.nothing().took_s),
                ("  lead of all sites, right after a push", lambda: after(lead)),
            )
        ]
        rate = entries / crew_s
        said = f"{entries} entries, {size / 2**20:.1f} MB unpacked, {crew_s:.2f} s"
        return [*figures, Figure("whole pull of one site: entries a second the server gives", rate, 2000, "/s", said, at_least=True)]


def starting(folder: Path) -> list[Figure]:
    """From the command to the first answered sync."""
    took = []
    for _ in range(3):
        began = time.perf_counter()
        with served(folder) as (server, told):
            phone = phone_of(server, told, 0, 1)
            phone.nothing()
            took.append(time.perf_counter() - began)
    return [Figure("start-up to the first answer", sorted(took)[1], 2, "s", f"all {', '.join(f'{one:.2f}' for one in took)}")]


def ingest(folder: Path, scratch: Path) -> list[Figure]:
    """One phone sends 500 at a time; beside it the same rows into bare SQLite."""
    figures = []
    with _floor(folder, scratch / "ingest.floor") as floor, served(folder) as (server, told):
        wait_for_backup(server)
        phone, wal = phone_of(server, told, 1 % len(told["sites"]), 2), folder / "fieldlog.sqlite-wal"
        phone.stand_at_the_end()
        for what, write, limit in (("checks", phone.checks, 1200), ("sightings", phone.sightings, 2500)):
            took = bare = 0.0
            before_s = server.cpu_s()
            for _ in range(8):
                write(500)
                with log_kept(folder / "fieldlog.sqlite"):
                    end = wal_end(wal)
                    seconds, lines = phone.push(1)
                    commits = commits_since(wal, end)
                took += seconds
                bare += floor.seconds(lines, commits)
            worked = server.cpu_s() - before_s
            rate, floor_rate = 4000 / took, 4000 / bare
            figures.append(Figure(f"ingest over HTTP: {what} a second", rate, limit, "/s", f"bare SQLite {floor_rate:,.0f}; {1e6 * worked / 4000:,.0f} µs of processor each", at_least=True))
            figures.append(Figure("  as a part of bare SQLite", rate / floor_rate, 1 / 3, "", at_least=True))
        figures.append(Figure("server memory, highest, after this", server.peak_mb(), 200, "MB"))
    return figures

