"""Figures of the pack of a large programme: its sizes as they travel, and how long its parts take."""

from __future__ import annotations

import statistics
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from fieldlog.pack.kept import KeptParts
from fieldlog.pack.parts import day_of, state_part, windows_part
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.sync.opening import open_programme
from tests.bench.bench_server import Server
from tests.bench.figures import Figure
from tests.bench.large import Phone, lead_of, median_ms, phone_of, served, unpacked, wait_for_backup

ASKED = 9


def packs(folder: Path) -> list[Figure]:
    """A crew phone's pack, the lead's, a part kept, after a change, and on a new day."""
    with served(folder) as (server, told):
        wait_for_backup(server)
        crew, lead = phone_of(server, told, 0, 1), lead_of(server, told)
        figures = [*_sizes(crew, lead), *_times(server, crew, told)]
    return [*figures, *_new_day(folder)]


def _sizes(crew: Phone, lead: Phone) -> list[Figure]:
    sizes = {path: _size(crew, path) for path in _paths(crew, crew.lane.site_id)}
    flags = _flags(crew)
    said = ", ".join(f"{path.rsplit('/', 1)[-1]} {size / 1024:.1f}" for path, size in sizes.items())
    of_lead = [_size(lead, path) / 1024 for path in ("/api/pack/index", "/api/pack/tray")]
    return [
        Figure("pack of a phone of one site, gzipped, all parts", sum(sizes.values()) / 1024, 60, "KB", f"{said} KB; {flags}"),
        Figure("what the lead of all sites fetches before a site is shown", sum(of_lead), 60, "KB", "index and held lines"),
    ]


def _paths(phone: Phone, site_id: str | None) -> list[str]:
    return ["/api/pack/index", "/api/pack/forms", f"/api/pack/sites/{site_id}/windows", f"/api/pack/sites/{site_id}/state"]


def _size(phone: Phone, path: str) -> int:
    _, status, data, _ = phone.get(path)
    assert status == 200, (path, status, data[:300])
    return len(data)


def _flags(phone: Phone) -> str:
    _, _, data, headers = phone.get(f"/api/pack/sites/{phone.lane.site_id}/state")
    said: dict[str, Any] = unpacked(data, headers)
    return f"{len(said['flags'])} flags of the site go along"


def _times(server: Server, crew: Phone, told: dict[str, Any]) -> list[Figure]:
    other = phone_of(server, told, 0, 2)
    state, windows = (f"/api/pack/sites/{crew.lane.site_id}/{part}" for part in ("state", "windows"))
    health = median_ms(lambda: crew.get("/healthz")[0], ASKED)
    beside = f"/healthz {health:.3g} ms"

    def changed() -> float:
        other.checks(1)
        other.push(1)
        return crew.get(state)[0]

    def kept() -> float:
        return max(crew.get(state)[0], crew.get(windows)[0])

    return [
        Figure("a part kept, the slower of state and windows", median_ms(kept, ASKED), 20, "ms", beside, health),
        Figure("the state after a change of its site", median_ms(changed, ASKED), 100, "ms", beside, health),
    ]


def _new_day(folder: Path) -> list[Figure]:
    """In this process, as the server does it: the first site of a day, and all of them."""
    now = datetime.now(UTC)
    programme = open_programme(folder, CATALOGUE, int(now.timestamp() * 1000))
    db, kept, day = programme.db(), KeptParts(), day_of(now + timedelta(days=1))
    took, worked_s = [], time.process_time()
    for (site_id,) in db.conn.execute("SELECT record_id FROM site ORDER BY record_id").fetchall():
        began = time.perf_counter()
        state_part(kept, db, site_id, day, "crew")
        windows_part(kept, db, site_id, day, "crew")
        took.append((time.perf_counter() - began) * 1000)
    worked_ms = (time.process_time() - worked_s) * 1000 / len(took)
    programme.close()
    said = f"processor {worked_ms:.0f} ms; all {len(took)} sites {sum(took) / 1000:.2f} s; the server makes them before a day begins"
    return [Figure("state and windows of a site on a new day", statistics.median(took), 600, "ms", said)]
