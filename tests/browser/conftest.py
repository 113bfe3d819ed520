"""The demo programme behind the production server, at the hour its next safe window opens."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from fieldlog.commands.windows import site_windows
from fieldlog.demo.build import build_demo
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme
from fieldlog.sync.opening import open_programme
from tests.browser.app_page import PHONE_PX, AppPage, PhoneInHand
from tests.live_server import LiveServer, serving

TODAY = date(2026, 11, 25)
AFTER_OPENING = timedelta(minutes=6)


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory) -> Path:
    """The demo programme as it was built; tests get copies."""
    folder = tmp_path_factory.mktemp("demo") / "programme"
    build_demo(folder, TODAY)
    return folder


@pytest.fixture
def demo_programme(demo_folder: Path, tmp_path: Path) -> Iterator[Programme]:
    shutil.copytree(demo_folder, tmp_path / "programme")
    opened = open_programme(tmp_path / "programme", CATALOGUE, int(datetime.now(UTC).timestamp() * 1000))
    yield opened
    opened.close()


@pytest.fixture
def site(demo_programme: Programme) -> dict:
    (row,) = demo_programme.db().query("SELECT * FROM site")
    return row


@pytest.fixture
def shore(demo_programme: Programme, site: dict) -> Iterator[LiveServer]:
    """The server; its clock runs on from a few minutes after the first safe window of the demo opens."""
    windows, _ = site_windows(demo_programme.db(), site, TODAY, 30, rows=False)
    opens = next(window["opens_at"] for window in windows if window["safe"])
    ahead = datetime.fromisoformat(opens) + AFTER_OPENING - datetime.now(UTC)
    with serving(demo_programme, lambda: datetime.now(UTC) + ahead) as live:
        yield live


@pytest.fixture
def phone_in_hand(playwright, chromium_options, tmp_path, shore: LiveServer):
    """A browser on a profile of its own that can be killed and opened again."""
    phone = PhoneInHand(playwright.chromium, chromium_options, tmp_path / "profile", shore)
    yield phone
    phone.close()


@pytest.fixture
def joined(browser, shore: LiveServer, site: dict):
    """joined(role, who=None, **options): an app page in a browser of its own, joined and named."""
    contexts = []

    def join(role: str, who: str | None = None, **options) -> AppPage:
        context = browser.new_context(viewport=PHONE_PX, **options)
        contexts.append(context)
        app = AppPage(context, shore)
        app.join(role, site["record_id"], who)
        return app

    yield join
    for context in contexts:
        context.close()
