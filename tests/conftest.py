"""What tests of several rooms start from: an empty programme, an app, devices of each role, a browser, a live server."""

from __future__ import annotations

import mimetypes
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from playwright.sync_api import expect, sync_playwright

from fieldlog import create_app
from fieldlog.demo.build import build_demo
from fieldlog.package_data import packaged
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme, create_programme
from fieldlog.sync.opening import open_programme
from tests.find_chromium import installed, without_window
from tests.live_server import LiveServer, code_for, serving
from tests.waiting import PATIENCE_S

expect.set_options(timeout=PATIENCE_S * 1000)

CHROMIUM_ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--no-first-run", "--disable-quic",
]  # fmt: skip


ORIGIN = "https://phone.invalid"
DEMO_DAY = date(2026, 11, 25)
"""The day before which the demo's visits lie in tests."""


LONGEST_FILES = (
    "tests/views/test_screens.py", "tests/browser/", "tests/commands/test_any_row.py", "tests/phone/test_schedules.py", "tests/views/test_any_row.py",
    "tests/sync/test_watched_storm.py", "tests/sync/test_storm.py",
)  # fmt: skip
"""Begun first: a worker takes a whole file, and who begins a long one last is waited for by all."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Those files first; all else in its own order."""
    last = len(LONGEST_FILES)
    items.sort(key=lambda item: next((place for place, name in enumerate(LONGEST_FILES) if item.nodeid.startswith(name)), last))


class Clock:
    """The time of a test; it stands still until it is moved."""

    def __init__(self, at: datetime) -> None:
        self.at = at

    def __call__(self) -> datetime:
        return self.at

    def forward(self, **how_far: float) -> None:
        self.at += timedelta(**how_far)


@pytest.fixture
def now() -> Clock:
    return Clock(datetime(2026, 11, 25, 6, 0, tzinfo=UTC))


@pytest.fixture(scope="session")
def playwright():
    with sync_playwright() as running:
        yield running


@pytest.fixture(scope="session")
def chromium_options() -> dict:
    """What a test that starts its own browser gives to `launch` or `launch_persistent_context`."""
    return {"executable_path": installed(), "args": CHROMIUM_ARGUMENTS, "headless": True}


@pytest.fixture(scope="session")
def browser(playwright, chromium_options):
    running = playwright.chromium.launch(**{**chromium_options, "executable_path": without_window()})
    yield running
    running.close()


@pytest.fixture
def modules_page(browser):
    """An empty page of its own origin; `import('/records/validate.js')` works in it."""
    page = browser.new_page()

    def answer(route) -> None:
        path = packaged("static") / route.request.url.removeprefix(f"{ORIGIN}/")
        if path.is_file():
            route.fulfill(body=path.read_bytes(), content_type=mimetypes.guess_type(path)[0])
        else:
            route.fulfill(body="<!doctype html><title>Empty</title>", content_type="text/html")

    page.route("**/*", answer)
    page.goto(f"{ORIGIN}/")
    yield page
    page.close()


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory) -> Path:
    """The demo programme as it was built; tests get copies."""
    folder = tmp_path_factory.mktemp("demo") / "programme"
    build_demo(folder, DEMO_DAY)
    return folder


@pytest.fixture
def demo_programme(demo_folder: Path, tmp_path: Path) -> Iterator[Programme]:
    shutil.copytree(demo_folder, tmp_path / "programme")
    opened = open_programme(tmp_path / "programme", CATALOGUE, int(datetime.now(UTC).timestamp() * 1000))
    yield opened
    opened.close()


@pytest.fixture
def programme(tmp_path: Path, now: Clock) -> Iterator[Programme]:
    """An empty programme with this version's record tables."""
    create_programme(tmp_path / "programme", "Skein Bay").close()
    opened = open_programme(tmp_path / "programme", CATALOGUE, int(now().timestamp() * 1000))
    yield opened
    opened.close()


@pytest.fixture
def app(programme: Programme, now: Clock) -> Iterator[Flask]:
    made = create_app(programme.folder, now)
    yield made
    made.extensions["photo_copies"].close()
    made.extensions["programme"].close()


@pytest.fixture
def client_of(app: Flask, programme: Programme, now: Clock) -> Callable[..., FlaskClient]:
    """client_of(role, site_id=None): a client that joined; `.device_id` is its device."""

    def joined(role: str, site_id: str | None = None) -> FlaskClient:
        client = app.test_client()
        code = code_for(programme, role, site_id, int(now().timestamp() * 1000))
        answer = client.post("/api/join", json={"code": code, "device_name": f"{role}'s phone"})
        assert answer.status_code == 200, answer.json
        client.device_id = answer.json["device_id"]
        return client

    return joined


@pytest.fixture
def live_server(programme: Programme) -> Iterator[LiveServer]:
    with serving(programme, lambda: datetime.now(UTC)) as live:
        yield live
