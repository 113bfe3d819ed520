"""A lead signs for a volunteer's month; a student adds preparation hours without a network and reads the own sum."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser


def test_a_lead_signs_for_a_month_and_a_student_adds_hours_offline(joined, shore) -> None:
    db = shore.programme.db()
    volunteer_id, name = db.execute("SELECT record_id, display_name FROM person WHERE role = 'volunteer' ORDER BY display_name LIMIT 1").fetchone()
    lead = joined("lead", "Ruth Okafor-Lind")
    lead.go("#/hours", "Hours")
    expect(lead.page.get_by_text("of 213 sign-ins on record, all years")).to_be_visible()
    expect(lead.page.get_by_text("All hours").locator("..")).to_contain_text("217.82")
    lead.go(f"#/hours/{volunteer_id}", name)
    buttons = lead.page.get_by_role("button", name="Sign for ")
    waiting = buttons.count()
    lead.save(re.compile("^Sign for "))
    expect(buttons).to_have_count(waiting - 1)
    assert db.execute("SELECT count(*) FROM hours_signed WHERE person_id = ?", [volunteer_id]).fetchone() == (1,)
    student = joined("crew", "Zora Plover")
    student.all_taken()
    student.offline(True)
    student.go("#/own-hours", "Your hours")
    total = student.page.locator(".bar", has_text="Hours").first
    expect(total).to_contain_text("10.08")
    student.tap("Add preparation hours")
    student.fill("spent_h", "1.5")
    student.save("Save")
    expect(total).to_contain_text("11.58")
    assert lead.faults + student.faults == []
