"""The stage: every screen over a phone of cardboard, served once a file."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.browser.app_page import PHONE_PX
from tests.waiting import PATIENCE_S
from views import stage_pack, stage_server


@pytest.fixture(scope="module")
def stage() -> Iterator[str]:
    """The stage's address; what a page asks of it stands in the query."""
    server = stage_server.serve(stage_pack.stage_pack(), [stage_server.STATIC])
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    server.server_close()


@pytest.fixture(scope="module")
def one_page(browser):
    """One page for all tests of a file, at phone size; no script of it may fail."""
    page = browser.new_page(viewport=PHONE_PX)
    page.set_default_timeout(PATIENCE_S * 1000)
    faults: list[str] = []
    # The blank page between two screens has no localStorage.
    page.on("pageerror", lambda fault: "localStorage" in str(fault) or faults.append(str(fault.stack or fault)))
    yield page
    page.close()
    assert faults == []


@pytest.fixture
def show(one_page, stage):
    """Opens a screen on the one page, at phone size unless said, and gives the page."""

    def at(place: str, query: str = "", size: dict[str, int] = PHONE_PX):
        one_page.set_viewport_size(size)
        one_page.goto("about:blank")
        one_page.goto(f"{stage}{query}{place}")
        one_page.wait_for_selector("html[data-ready]")
        return one_page

    return at
