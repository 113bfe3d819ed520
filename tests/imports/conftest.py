"""Sheets beside the demo's programme, whose rows, units and people are known."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from fieldlog import create_app
from fieldlog.store import Programme
from tests.conftest import Clock
from tests.imports.sheets import Sheet
from tests.live_server import code_for


@pytest.fixture(scope="session")
def demo(demo_folder: Path) -> Iterator[Programme]:
    """The demo's own folder, which these tests only read."""
    opened = Programme(demo_folder)
    yield opened
    opened.close()


@pytest.fixture
def site_id(demo: Programme) -> str:
    return str(demo.db().conn.execute("SELECT record_id FROM site").fetchone()[0])


@pytest.fixture
def sheet(demo: Programme, site_id: str, tmp_path: Path) -> Callable[..., Sheet]:
    def of(data: bytes | str, **said: Any) -> Sheet:
        return Sheet(demo, tmp_path, data, site_id, **said)

    return of


@pytest.fixture
def demo_app(demo_programme: Programme, now: Clock) -> Iterator[Flask]:
    """The demo's own server, for tests that store something."""
    made = create_app(demo_programme.folder, now)
    yield made
    made.extensions["imports"].wait()
    made.extensions["photo_copies"].close()
    made.extensions["programme"].close()


@pytest.fixture
def lead_of_demo(demo_app: Flask, now: Clock) -> FlaskClient:
    client = demo_app.test_client()
    code = code_for(demo_app.extensions["programme"], "lead", None, int(now().timestamp() * 1000))
    assert client.post("/api/join", json={"code": code, "device_name": "a lead"}).status_code == 200
    return client
