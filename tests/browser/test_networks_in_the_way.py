"""A captive portal's page, a server that is down, one that answers nonsense: a wait each, never a loss."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

PORTAL = {"status": 200, "content_type": "text/html", "body": "<html><h1>Harbour Guest Wi-Fi</h1>Log in</html>"}
ANSWERS = {
    "portal": PORTAL,
    "redirecting portal": {"status": 302, "headers": {"Location": "http://portal.invalid/"}},
    "server down": {"status": 503, "content_type": "text/plain", "body": "down"},
    "proxy's page": {"status": 502, "content_type": "text/html", "body": "<h1>Bad gateway</h1>"},
    "cut answer": {"status": 200, "content_type": "application/json", "body": '{"cursor": [1'},
}
SOON = ("portal", "server down", "cut answer")
"""Tried in each run of the tests; the others in the long ones."""


def note_sighting(app) -> None:
    app.go("#/sighting", "Sightings")
    app.page.locator(".species button").first.click()
    app.fill("count", 2)
    app.save("Save the sighting")
    expect(app.page.get_by_text("Sighting saved on this phone.")).to_be_visible()


@pytest.mark.parametrize("name", [name if name in SOON else pytest.param(name, marks=pytest.mark.long) for name in ANSWERS])
def test_what_is_not_the_programmes_answer_is_a_wait(joined, shore, name) -> None:
    app = joined("crew", "Zora Plover")
    app.context.route("**/api/sync", lambda route: route.fulfill(**ANSWERS[name]))
    note_sighting(app)
    app.go("#/phone", "This phone")
    app.page.locator(".foot button").click()
    said = app.page.locator(".said-back [role=status]")
    expect(said).not_to_have_text("Syncing now.")
    expect(app.page.get_by_role("link", name="1 on this phone")).to_be_visible()
    if "portal" in name:
        expect(app.page.get_by_text("This network needs a login first").first).to_be_visible()
    app.context.unroute("**/api/sync")
    app.all_taken()
    (count,) = shore.programme.db().execute("SELECT count(*) FROM log WHERE kind = 'sighting' AND lane_id = (SELECT lane_id FROM log ORDER BY seq DESC LIMIT 1)").fetchone()
    assert count == 1
    assert app.faults == []
