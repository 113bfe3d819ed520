"""Forgetting a person on a lead's screen: what goes is said, it is asked twice, and the name is typed."""

from __future__ import annotations

import pytest

from views import stage_pack

pytestmark = pytest.mark.browser


def test_a_lead_is_told_what_goes_and_asked_twice(one_page, stage):
    page = one_page
    page.goto(f"{stage}?role=lead#/people/{stage_pack.person_id(5)}")
    page.get_by_role("link", name="What is held about this person").click()
    page.get_by_text("Contacts: 1").wait_for()
    assert page.locator(f"a[href='#/record/visit/{stage_pack.PAST_VISIT}']").inner_text().startswith("Jonah slipped")
    page.get_by_role("button", name="Forget this person").click()
    page.get_by_text("Deleted: Contacts (1).").wait_for()
    page.get_by_text("This cannot be undone.").wait_for()
    page.get_by_role("button", name="Go on").click()
    page.get_by_label("Type the name to delete it for good").fill("Jonah Okafor")
    page.get_by_role("button", name="Delete for good").click()
    page.get_by_role("status").filter(has_text="The name is now J. O.").wait_for()
