"""The browser takes a phone's storage while the app is open: the screen says what went, and work goes on."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.app_page import WORKER_READY

pytestmark = pytest.mark.browser

EVICTED = "indexeddb,cache_storage,service_workers,file_systems"


def save_a_sighting(app, count: int) -> None:
    app.go("#/today", "Today")
    app.go("#/sighting", "Sightings")
    app.page.locator(".species button").first.click()
    app.fill("count", count)
    app.save("Save the sighting")
    expect(app.page.locator(".told")).to_contain_text(re.compile("saved", re.IGNORECASE))


def test_the_screen_says_what_the_browser_took_and_the_next_sighting_is_saved_and_sent(joined, shore) -> None:
    app = joined("crew", "Zora Plover")
    app.offline_ready()
    app.offline(True)
    save_a_sighting(app, 41)
    session = app.context.new_cdp_session(app.page)
    session.send("Storage.clearDataForOrigin", {"origin": shore.url, "storageTypes": EVICTED})
    save_a_sighting(app, 57)
    said = "The browser deleted what this phone had stored, with 1 entry or photo not known to be sent. Sync, then write again what is missing, and tell your lead."
    expect(app.page.get_by_text(said)).to_be_visible()
    assert app.page.get_by_text("NOT SAVED").count() == 0
    app.offline(False)
    app.all_taken()
    stored = [row["count"] for row in shore.programme.db().query("SELECT count FROM sighting WHERE count IN (41, 57)")]
    assert stored == [57], "what went cannot come back, and the next one is there"
    app.tap("I have read this")
    expect(app.page.get_by_text("The browser deleted")).to_have_count(0)
    app.page.evaluate(WORKER_READY)
    app.offline(True)
    app.page.reload()
    app.page.wait_for_selector("html[data-ready='']")
    app.sees("This phone")
    expect(app.page.get_by_text("The browser deleted")).to_have_count(0)
    assert not app.faults
