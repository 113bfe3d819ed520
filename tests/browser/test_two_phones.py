"""Two phones without a network on one shore: nothing is lost, nothing doubled, and what they disagree on is shown."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.app_page import CALM_MS

pytestmark = pytest.mark.browser


def start_visit(app) -> None:
    app.go("#/visit", "Visit")
    app.tap("Start the visit")
    app.sees("People")


def test_two_phones_on_one_visit_make_one_visit_and_one_sign_in_a_person(joined, shore) -> None:
    db = shore.programme.db()
    (visits,) = db.execute("SELECT count(*) FROM visit").fetchone()
    phones = [joined("crew", "Zora Plover"), joined("crew", "Fatou Ellery")]
    for app in phones:
        app.offline_ready()
        app.offline(True)
        start_visit(app)
        app.go("#/people", "People")
        app.page.wait_for_timeout(CALM_MS)
        app.page.get_by_role("button", name=re.compile("Gwen Tidewell")).click()
        expect(app.page.locator(".board .figure")).to_have_text("1")
    for app in [*phones, phones[0]]:
        app.offline(False)
        app.all_taken()
    assert db.execute("SELECT count(*) FROM visit").fetchone() == (visits + 1,)
    gwen = "SELECT count(*) FROM sign_in WHERE out_at IS NULL AND person_id = (SELECT record_id FROM person WHERE display_name = ?)"
    assert db.execute(gwen, ["Gwen Tidewell"]).fetchone() == (1,)
    for app in phones:
        app.go("#/people", "People")
        expect(app.page.locator(".board .figure")).to_have_text("1")
        assert app.faults == []


def test_two_corrections_of_one_value_are_shown_to_the_lead(joined, shore) -> None:
    db = shore.programme.db()
    unit = next(db.query("SELECT * FROM unit ORDER BY tag"))
    phones = [joined("crew", "Zora Plover"), joined("crew", "Fatou Ellery")]
    start_visit(phones[0])
    phones[0].go(f"#/units/{unit['record_id']}/check", unit["tag"])
    phones[0].fill("exposed_height_mm", 250)
    phones[0].save(re.compile("^Save, "))
    expect(phones[0].page.get_by_role("heading", level=1)).not_to_have_text(unit["tag"])
    for app in phones:
        app.all_taken()
        app.offline_ready()
        app.offline(True)
    for app, height_mm in zip(phones, (240, 260), strict=True):
        app.go(f"#/units/{unit['record_id']}/check", unit["tag"])
        expect(app.page.locator("#f-exposed_height_mm")).to_have_value("250")
        app.fill("exposed_height_mm", height_mm)
        app.save("Save the correction")
        app.sees("Units")
    for app in phones:
        app.offline(False)
        app.all_taken()
        assert app.faults == []
    (flag,) = db.query("SELECT * FROM flag WHERE rule = 'disagreement' AND subject_kind = 'unit_check' AND state = 'open' AND evidence LIKE '%240%'")
    lead = joined("lead", "Ruth Okafor-Lind")
    lead.go("#/flags", "Flags")
    told = re.compile(rf"^{unit['tag']}, visit of .+: two phones wrote 2[46]0\smm \((Zora Plover|Fatou Ellery), .+\) and 2[46]0\smm \(.+\) for Exposed height")
    said = lead.page.get_by_text(told).first
    expect(said).to_be_visible()
    assert "240" in flag["sentence"] + flag["evidence"] and "260" in flag["sentence"] + flag["evidence"]
    said.click()
    row = lead.page.locator(".row.wrap", has_text="240 mm")
    expect(row).to_contain_text("Zora Plover")
    lead.page.wait_for_timeout(CALM_MS)
    row.get_by_role("button", name="Keep this one").click()
    expect(lead.page.get_by_text("Already settled").first).to_be_visible()
    lead.all_taken()
    assert db.execute("SELECT state FROM flag WHERE flag_id = ?", [flag["flag_id"]]).fetchone() in (None, ("settled",))
    kept = db.execute("SELECT exposed_height_mm FROM unit_check WHERE record_id = ?", [flag["subject_id"]]).fetchone()
    assert kept == (240,)
    assert lead.faults == []


def test_a_double_tap_saves_once_and_signs_in_one_person(joined, shore) -> None:
    db = shore.programme.db()
    app = joined("crew", "Zora Plover")
    start_visit(app)
    app.page.wait_for_timeout(CALM_MS)
    app.page.locator("button.row:has-text('sign in')").first.dblclick()
    expect(app.page.locator(".board .figure")).to_have_text("1")
    app.go("#/units", "Units")
    app.follow(re.compile("^Check "))
    first = app.page.get_by_role("heading", level=1)
    expect(first).not_to_have_text("Units")
    tag = first.inner_text()
    (before,) = db.execute("SELECT count(*) FROM unit_check").fetchone()
    app.page.wait_for_timeout(CALM_MS)
    app.page.get_by_role("button", name=re.compile("^Looks unchanged, go to ")).dblclick()
    expect(first).not_to_have_text(tag)
    app.all_taken()
    assert db.execute("SELECT count(*) FROM unit_check").fetchone() == (before + 1,)
    assert db.execute("SELECT count(*) FROM sign_in WHERE out_at IS NULL").fetchone() == (1,)
    assert app.faults == []
