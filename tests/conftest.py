"""What tests of several rooms start from: an empty programme, an app, devices of each role, a browser, a live server."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
CHROMIUM_ON_MACOS = "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome"
CHROMIUM_ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--no-first-run", "--disable-quic",
]  # fmt: skip


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


def chromium_path() -> str | None:
    """The Chromium to test with; None leaves it to Playwright's own."""
    told = os.environ.get("FIELDLOG_CHROMIUM")
    if told:
        return told
    found = next(filter(None, map(shutil.which, CHROMIUM_NAMES)), None)
    return found or (CHROMIUM_ON_MACOS if Path(CHROMIUM_ON_MACOS).exists() else None)


@pytest.fixture(scope="session")
def playwright():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as running:
        yield running


@pytest.fixture(scope="session")
def chromium_options() -> dict:
    """What a test that starts its own browser gives to `launch` or `launch_persistent_context`."""
    return {"executable_path": chromium_path(), "args": CHROMIUM_ARGUMENTS, "headless": True}


@pytest.fixture(scope="session")
def browser(playwright, chromium_options):
    running = playwright.chromium.launch(**chromium_options)
    yield running
    running.close()
