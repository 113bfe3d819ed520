"""An empty programme that knows a device of each role, and a crew's lane."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from sqlite_utils import Database

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import create_programme
from fieldlog.sync.opening import open_programme
from tests.sync.lines import START_MS, Lane
from tests.sync.taking import CREW, DESK, LEAD, READER, SITE


@pytest.fixture
def db(tmp_path: Path) -> Database:
    create_programme(tmp_path, "Alder Spit").close()
    db = open_programme(tmp_path, CATALOGUE, START_MS).db()
    for device in (LEAD, CREW, DESK, READER):
        db.execute(
            "INSERT INTO device(device_id, token_sha256, role, sites, name, made_at) VALUES (?, ?, ?, ?, 'a phone', 0)",
            (device.device_id, device.device_id, device.role, device.sites and json.dumps(sorted(device.sites))),
        )
    return db


@pytest.fixture
def crew() -> Lane:
    return Lane("crew", SITE)
