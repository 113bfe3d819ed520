"""A lead closes the season step by step, stops in between, and another lead goes on: devices out, initials, notes, and a page that prints."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.app_page import LAPTOP_PX, PHONE_PX, AppPage
from tests.browser.test_real_screens import faults_of
from tests.screen_checks import words_in
from tests.waiting import wait_for

pytestmark = pytest.mark.browser


def step(app: AppPage, link: str, heading: str) -> None:
    app.page.get_by_role("link", name=link).click()
    app.sees(heading)


def let_go(app: AppPage) -> None:
    """Zora leaves, with her name as initials."""
    page = app.page
    step(app, "1 Who leaves", "Who leaves")
    page.get_by_label("Find by name").fill("zora")
    page.get_by_role("button", name="Zora Plover leaves").click()
    expect(page.get_by_text("Ends the access of")).to_have_count(1)
    page.get_by_label("Show initials").check(force=True)
    expect(page.get_by_text("Screens and new exports show Z. P.")).to_be_visible()
    assert faults_of(page) == []
    app.save("Leaves the program")
    expect(page.get_by_text("Zora Plover has left. Access ended: 1 device.")).to_be_attached()
    expect(page.get_by_role("button", name="Z. P. is back")).to_be_visible()
    app.save("Everyone who leaves is named")


def note_a_change(app: AppPage) -> None:
    page = app.page
    step(app, "3 What changed", "What changed in methods")
    page.get_by_label("Positions", exact=True).check(force=True)
    page.get_by_label("Since").fill("2026-04-02")
    page.get_by_label("What changed, and why").fill("Tapes are read from M4 first.")
    assert faults_of(page) == []
    app.save("Add this note")
    expect(page.get_by_role("link", name="Positions, since Apr 2, 2026")).to_be_visible()


def go_on_and_close(app: AppPage) -> None:
    """What the first lead left undone."""
    page = app.page
    app.go("#/closing", "Close the season")
    step(app, "3 What changed", "What changed in methods")
    app.save("All changes are noted")
    app.sees("Close the season")
    step(app, "5 For your", "For your successors")
    page.get_by_label("Contacts, a line each").fill("Harbor office, 555 0142")
    page.get_by_label("What the next leads should know").fill("Renew the permit in March.")
    assert faults_of(page) == []
    app.save("Save")
    app.sees("Close the season")
    expect(page.get_by_text("5 of 5 done")).to_be_visible()
    app.save("Close season 2026")
    expect(page.get_by_text("Closed on Nov")).to_be_visible()
    app.all_taken()


def test_a_season_is_closed_by_two_leads(joined, shore) -> None:
    db = shore.programme.db()
    leaver = joined("crew", "Zora Plover")
    leaver.go("#/phone", "This phone")
    leaver.tap("Sync now")
    app = joined("lead", "Ruth Okafor-Lind")
    held = "SELECT 1 FROM device JOIN person ON person.record_id = device.person_id WHERE display_name = 'Zora Plover'"
    wait_for(app.page, lambda: db.execute(held).fetchone(), "the server to know whose phone it is")
    app.go("#/closing", "Close the season")
    for size in (LAPTOP_PX, PHONE_PX):
        app.page.set_viewport_size(size)
        assert faults_of(app.page) == []
    let_go(app)
    app.sees("Close the season")
    step(app, "2 What is open", "What is open")
    expect(app.page.get_by_text("Open flags:")).to_be_visible()
    assert faults_of(app.page) == []
    app.save("Hand on what is open")
    app.sees("Close the season")
    note_a_change(app)
    app.all_taken()
    other = joined("lead", "Ines Calder")
    go_on_and_close(other)
    other.go("#/closing", "Close the season")
    with other.context.expect_page() as opened:
        other.page.get_by_role("link", name="Page for your successors").click()
    letter = opened.value
    said = words_in(letter.locator("body"))
    assert "Harbor office, 555 0142" in said
    assert "Tapes are read from M4 first." in said
    assert "Zora" not in said
    for size in (LAPTOP_PX, PHONE_PX):
        letter.set_viewport_size(size)
        assert letter.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
    ended = "SELECT left_on, revoked_at FROM person JOIN device ON device.person_id = person.record_id WHERE display_name = 'Z. P.'"
    assert all(all(row) for row in db.execute(ended).fetchall())
    assert (app.faults, other.faults) == ([], [])
