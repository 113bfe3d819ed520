"""The demo programme behind the production server, at the hour its next safe window opens."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest

from fieldlog.store import Programme
from tests.browser.app_page import PHONE_PX, AppPage, PhoneInHand
from tests.conftest import DEMO_DAY
from tests.live_server import LiveServer, at_an_opening, serving

AFTER_OPENING = timedelta(minutes=6)

@pytest.fixture
def site(demo_programme: Programme) -> dict:
    (row,) = demo_programme.db().query("SELECT * FROM site")
    return row


@pytest.fixture
def shore(demo_programme: Programme) -> Iterator[LiveServer]:
    """The server; its clock runs on from a few minutes after the first safe window of the demo opens."""
    with serving(demo_programme, at_an_opening(demo_programme, DEMO_DAY, AFTER_OPENING)) as live:
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
