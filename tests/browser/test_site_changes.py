"""The site of a phone changes while a screen stands or opens: in another tab, by a sync, or because a lead removed it."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.waiting import wait_for

UNKNOWN = "00000000-0000-4000-8000-000000000000"

OTHER_TAB = """async (id) => {
  const { openPhone } = await import('/store/phone.js');
  (await openPhone({ now: () => Date.now() })).setSite(id);
}"""

HEARD = f"""async (id) => {{
  const heard = new Promise((done) => {{ new BroadcastChannel('fieldlog:fieldlog').addEventListener('message', () => setTimeout(done)); }});
  await ({OTHER_TAB})(id);
  await heard;
}}"""
"""The same, until the word of it has come to this tab."""

OF_A_SITE = ("today", "visit", "visits", "people", "units", "sighting", "low-tides", "flags", "turn-back", "plan")
SOON = ("today", "units", "low-tides")
"""Tried in each run of the tests; the others in the long ones."""


@pytest.fixture
def lead(joined):
    return joined("lead", "Ruth Okafor-Lind")


@pytest.mark.parametrize("screen", [screen if screen in SOON else pytest.param(screen, marks=pytest.mark.long) for screen in OF_A_SITE])
def test_a_site_that_is_gone_is_said_on_a_screen_that_stands_and_the_screen_comes_back_with_it(lead, site, screen) -> None:
    heading = lead.page.get_by_role("heading", level=1)
    if screen != "today":
        lead.page.evaluate("place => { location.hash = place; }", f"#/{screen}")
        expect(heading).not_to_have_text("Today")
    stood = heading.inner_text()
    lead.page.evaluate(OTHER_TAB, UNKNOWN)
    expect(heading).to_have_text("No site yet")
    lead.page.evaluate(OTHER_TAB, site["record_id"])
    expect(heading).to_have_text(stood)
    assert lead.faults == []


@pytest.mark.parametrize("screen", [screen if screen in SOON else pytest.param(screen, marks=pytest.mark.long) for screen in OF_A_SITE[1:]])
def test_a_site_that_goes_while_a_screen_opens_is_said(joined, screen) -> None:
    lead = joined("lead", "Ruth Okafor-Lind", service_workers="block")
    file = "past-visits" if screen == "visits" else screen
    asked = []
    lead.page.route(f"**/views/{file}*.js", lambda route: asked.append(route))
    lead.page.evaluate("place => { location.hash = place; }", f"#/{screen}")
    wait_for(lead.page, lambda: bool(asked), file)
    lead.page.evaluate(HEARD, UNKNOWN)
    asked[0].continue_()
    expect(lead.page.get_by_role("heading", level=1)).to_have_text("No site yet")
    assert lead.faults == []
