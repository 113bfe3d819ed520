"""A person's hand at a screen of the stage: it opens a place anew, and taps."""

from __future__ import annotations

import re

from playwright.sync_api import Page

from tests.browser.app_page import CALM_MS
from tests.views.test_screens import show


def at(page: Page, stage: str, query: str, place: str) -> None:
    """Open a place anew, with nothing of what the page was told before."""
    page.goto("about:blank")
    show(page, stage, query, place)


def tap(page: Page, name: str | re.Pattern[str]) -> None:
    """Tap the first button of this whole name, later than a second tap of the one before would be."""
    page.wait_for_timeout(CALM_MS)
    page.get_by_role("button", name=name, exact=isinstance(name, str)).first.click()
