"""Who was not asked for their age counts as a minor, and the screen says that nobody asked."""

from __future__ import annotations

import pytest

from tests.views.test_screens import page, show  # noqa: F401

pytestmark = pytest.mark.browser


def test_who_was_not_asked_counts_as_a_minor_and_is_told_apart(page, stage):  # noqa: F811
    show(page, stage, "?out=8", "#/people")
    board = page.locator(".board .note").inner_text()
    out = page.locator(".board .figure").inner_text()
    assert out == "8"
    assert board.startswith("2 minors (1 of them not asked, so counted as minors)")
    assert page.get_by_text("age not asked").count() == 1
