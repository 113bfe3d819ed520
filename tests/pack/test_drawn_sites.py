"""A site that is ready, with numbers at their limits and rows that the tables can hold about it, never breaks a pack."""

from __future__ import annotations

import json
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from random import Random

from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from fieldlog.access.devices import Device
from fieldlog.pack.build import build_document, build_index
from fieldlog.pack.kept import KeptParts
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import create_programme
from fieldlog.sync.opening import open_programme
from records.drawn_rows import SITE_ID, Drawing
from records.taken_rows import take_rows

NOW = datetime(2026, 11, 28, 11, 44, tzinfo=UTC)
NOW_MS = int(NOW.timestamp() * 1000)
READY = {
    "lat_deg": 42.35, "lon_deg": -71.05, "zone": "America/New_York", "tide_station": "noaa/8443970", "level_datum": "MLLW",
    "work_level_m": 0.6, "route_low_level_m": 1.2, "walk_out_min": 10, "muster_min": 5, "least_usable_min": 30,
    "check_every_days": 30,
}  # fmt: skip
OF_A_SITE = ("row", "unit", "closure", "datum_offset", "unit_check", "unit_event")


@settings(max_examples=4, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(seed=st.integers(0, 2**32))
def test_any_ready_site_has_its_parts_whatever_its_numbers_and_rows(seed: int) -> None:
    drawn, dice = Drawing(seed, NOW).rows(), Random(seed)
    site = drawn["site"][0]
    numbers = [name for name in READY if site.get(name) is not None and name not in ("tide_station", "level_datum")]
    as_drawn = dice.sample(numbers, min(2, len(numbers)))
    rows = {kind: drawn[kind] for kind in OF_A_SITE} | {"site": [site | {name: value for name, value in READY.items() if name not in as_drawn}]}
    with tempfile.TemporaryDirectory() as folder:
        create_programme(Path(folder) / "p", "Skein Bay").close()
        programme = open_programme(Path(folder) / "p", CATALOGUE, NOW_MS)
        take_rows(programme, rows, NOW_MS - 86_400_000)
        kept, lead = KeptParts(), Device("d" * 32, "lead", None, None, False)
        document = build_document(kept, programme.db(), CATALOGUE, lead, NOW)
        index = build_index(kept, programme.db(), CATALOGUE, lead, NOW)
        programme.close()
    assert document["sites"][SITE_ID]["windows"]["levels"]["site"]
    assert f"sites/{SITE_ID}/state" in index["parts"]
    json.dumps(document, allow_nan=False).encode()
