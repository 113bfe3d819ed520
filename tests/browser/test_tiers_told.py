"""Which screens are not on the phone yet is said on Today, and a screen that is not says so instead of failing."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.waiting import wait_for

pytestmark = pytest.mark.browser


def test_today_says_what_is_not_here_yet_and_such_a_screen_leads_back(joined, shore) -> None:
    served = shore.app.view_functions["files.file_of_version"]
    shore.app.view_functions["files.file_of_version"] = lambda version, name: (
        "<h1>Log in</h1>" if name in ("shore.json", "views/low-tides.js") else served(version, name)
    )
    app = joined("crew", "Zora Plover")
    lacking = app.page.get_by_text(
        "Not on this phone yet: Low tides, Flags, Past visits, Unit history, Corrections, Count heads, Plots, Type in a sheet, Add photos, Your hours."
    )
    expect(lacking).to_be_visible()
    assert "Set-up" not in lacking.inner_text(), "a crew has no use for it"
    app.offline(True)
    app.go("#/low-tides", "Not on this phone yet")
    expect(app.page.get_by_text("It comes by itself where there is a network. What you wrote is saved.")).to_be_visible()
    app.follow("Back")
    app.sees("Today")
    shore.app.view_functions["files.file_of_version"] = served
    asked: list[str] = []
    app.page.on("request", lambda request: asked.append(request.url))
    app.offline(False)
    expect(lacking).to_have_count(0)
    # Once it is here, what is opened next is read while nobody waits.
    wait_for(app.page, lambda: any(url.endswith("views/unit-history.js") for url in asked), "the code of a unit's history")
    app.go("#/low-tides", "Low tides")
    assert app.faults == []
