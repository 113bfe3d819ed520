"""A fault that nobody expected is said in the app, with a way to save what is on this phone."""

from __future__ import annotations

import json
import re

import pytest
from playwright.sync_api import expect

from tests.phone.phone_page import PhonePage
from tests.waiting import wait_until

pytestmark = pytest.mark.browser

SHARES = """
Object.defineProperty(navigator, 'canShare', { configurable: true, value: ({ files }) => files[0].name.endsWith('.txt') });
Object.defineProperty(navigator, 'share', { configurable: true, value: async ({ files }) => {
  window.shared = [files[0].name, (await files[0].text()).trim().split('\\n').length];
  if (window.refusal) throw new DOMException('no', window.refusal);
} });"""
PERSIST_WAITS = "navigator.storage.persist = () => new Promise(() => {});"
NO_WORKER = "navigator.serviceWorker.register = async () => { throw new DOMException('no', 'SecurityError'); };"


@pytest.fixture
def app(lead: PhonePage, context, live_server):
    """The app itself on a phone with two entries of its own."""
    lead.write(2)
    context.add_init_script(PERSIST_WAITS + NO_WORKER)
    page = context.new_page()
    page.goto(live_server.url)
    page.wait_for_selector("html[data-ready='']")
    return page


def test_neither_a_prompt_that_nobody_answers_nor_a_worker_that_is_refused_stops_the_app(app) -> None:
    wait_until(app, """async () => {
      const db = await new Promise((done) => { const asked = indexedDB.open('fieldlog'); asked.onsuccess = () => done(asked.result); });
      const count = await new Promise((done) => {
        const asked = db.transaction('ballast').objectStore('ballast').count(); asked.onsuccess = () => done(asked.result);
      });
      db.close();
      return count === 8;
    }""")
    assert app.locator("html").get_attribute("data-ready") == ""
    expect(app.get_by_role("heading", level=1)).to_be_visible()
    unexpected_fault(app)


def unexpected_fault(app) -> None:
    """It is a sentence with a way to save what is here."""
    said = app.get_by_role("alert").filter(has_text="Something in Fieldlog failed")
    app.evaluate("() => { setTimeout(() => { null.gone; }); }")
    expect(said).to_be_visible()
    assert "reading 'gone'" in said.inner_text(), "whom one tells can say what it was"
    with app.expect_download() as awaited:
        said.get_by_role("button", name="Save what is on this device").click()
    assert awaited.value.suggested_filename == "fieldlog-export.ndjson"
    lines = awaited.value.path().read_text("utf-8").splitlines()
    assert [json.loads(line).get("mine", 0) for line in lines] == [2, 0, 0]
    expect(said).to_contain_text("File saved. A lead can import it on a laptop.")
    said.get_by_role("button", name="I have read this").click()
    expect(said).to_be_hidden()
    app.evaluate("() => { Promise.reject(Object.assign(new Error('x'), { sentence: 'The server refused this.' })); }")
    expect(app.get_by_role("alert").filter(has_text="The server refused this.")).to_be_visible()
    assert app.evaluate("[...document.querySelectorAll('#broken button')].every((one) => one.offsetHeight >= 48)")


def test_the_file_is_shared_where_this_browser_can_and_a_broken_screen_leaves_it_to_be_saved(app) -> None:
    app.evaluate(f"() => {{ {SHARES} location.hash = '#/phone'; }}")
    save, told = app.get_by_role("button", name=re.compile("own entries as a file")), app.locator(".told")
    save.click()
    expect(told).to_contain_text("File shared.")
    assert app.evaluate("window.shared") == ["fieldlog-export.txt", 3]
    app.evaluate("() => { window.refusal = 'AbortError'; }")
    save.click()
    expect(told).to_contain_text("File not shared. Everything is still here; try again.")
    app.evaluate("() => { window.refusal = 'NotAllowedError'; }")
    with app.expect_download():
        save.click()
    expect(told).to_contain_text("File saved.")
    app.evaluate("""() => {
      Object.defineProperty(Intl.DateTimeFormat.prototype, 'format', { get() { throw new RangeError('no zone'); } });
      location.hash = '#/phone';
    }""")
    with app.expect_download():
        app.get_by_role("button", name="Save what is on this device").click()
