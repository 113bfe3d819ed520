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
    page.on("pageerror", lambda fault: faults.append(str(fault.stack or fault)))
    yield page
    page.close()
    assert faults == []
