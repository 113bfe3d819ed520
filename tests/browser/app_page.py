"""The app in a browser, driven by what a person sees: buttons, labels and headings."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from playwright.sync_api import BrowserContext, BrowserType, Locator, expect

from tests.find_chromium import kill_browser
from tests.live_server import LiveServer

PHONE_PX = {"width": 390, "height": 844}
CALM_MS = 400
LAPTOP_PX = {"width": 1280, "height": 800}

WORKER_READY = """async () => { await navigator.serviceWorker.ready; for (let turn = 0; turn < 100; turn++) {
  if (navigator.serviceWorker.controller && (await caches.keys()).length) return; await new Promise((done) => setTimeout(done, 50)); }
  throw new Error('no worker'); }"""

EVERYTHING_STORED = """async () => {
  const told = {};
  for (const { name, version } of await indexedDB.databases()) {
    const db = await new Promise((done, wrong) => {
      const asked = indexedDB.open(name, version); asked.onsuccess = () => done(asked.result); asked.onerror = () => wrong(asked.error);
    });
    for (const store of db.objectStoreNames) {
      told[`${name}/${store}`] = await new Promise((done) => {
        const asked = db.transaction(store).objectStore(store).getAll(); asked.onsuccess = () => done(JSON.stringify(asked.result));
      });
    }
    db.close();
  }
  return told;
}"""


class AppPage:
    """One page of the app; faults and breaches of the content policy end the test."""

    def __init__(self, context: BrowserContext, shore: LiveServer) -> None:
        self.context = context
        self.shore = shore
        context.clock.install(time=shore.now())
        context.add_init_script(
            "addEventListener('securitypolicyviolation', (breach) => console.error('breach of ' + breach.violatedDirective + ' ' + breach.blockedURI));"
        )
        self.faults: list[str] = []
        self.page = context.pages[0] if context.pages else context.new_page()
        self.page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        self.page.on("console", lambda message: message.type == "error" and self.heard(message.text))

    def heard(self, text: str) -> None:
        """A network that fails is part of the job; anything else that a browser complains of is not."""
        if not re.search("Failed to load resource|ERR_INTERNET_DISCONNECTED|unknown error occurred when fetching the script", text):
            self.faults.append(text)

    def open(self, place: str = "") -> None:
        self.page.goto(f"{self.shore.url}/{place}")
        self.page.wait_for_selector("html[data-ready='']")

    def go(self, place: str, heading: str) -> None:
        """By the address, as a link on another screen would."""
        self.page.evaluate("place => { location.hash = place; }", place)
        self.sees(heading)

    def sees(self, heading: str | re.Pattern[str]) -> None:
        """The screen with this heading stands; the router has put its own content there."""
        expect(self.page.get_by_role("heading", level=1, name=heading, exact=True)).to_be_visible()

    def tap(self, name: str | re.Pattern[str], within: Locator | None = None, exact: bool = True) -> None:
        (within or self.page).get_by_role("button", name=name, exact=exact).first.click()

    def save(self, name: str | re.Pattern[str]) -> None:
        """Tap what saves, as a person does: not within a third of a second of the last such tap or of the screen's opening."""
        self.page.wait_for_timeout(CALM_MS)
        self.tap(name)

    def follow(self, name: str | re.Pattern[str]) -> None:
        self.page.get_by_role("link", name=name).first.click()

    def fill(self, field: str, value: Any) -> None:
        self.page.locator(f"#f-{field}").fill(str(value))

    def choose(self, legend: str, label: str) -> None:
        group = self.page.get_by_role("group", name=legend).or_(self.page.get_by_role("radiogroup", name=legend))
        group.first.get_by_role("radio", name=label, exact=True).click()

    def join(self, role: str, site_id: str | None, who: str | None) -> None:
        """Join by the link, one tap, then say who holds the phone: a name on the roster. A reader is nobody there, and lands on Today."""
        self.page.goto(self.shore.join_link(role, site_id))
        self.page.wait_for_selector("html[data-ready='']")
        self.tap("Join")
        self.sees("Today" if role == "reader" else "Who are you?")
        if who:
            self.page.get_by_role("button", name=who).click()
            self.sees("Today")

    def offline_ready(self) -> None:
        self.page.evaluate(WORKER_READY)

    def offline(self, is_off: bool) -> None:
        self.context.set_offline(is_off)

    def stored(self) -> str:
        """All that this browser's databases hold."""
        return "".join(self.page.evaluate(EVERYTHING_STORED).values())

    def all_taken(self) -> None:
        self.go("#/phone", "This device" if self.page.viewport_size == LAPTOP_PX else "This phone")
        sync = self.page.locator(".foot").get_by_role("button", name=re.compile("^Sync now"))
        expect(sync).to_be_enabled()  # else what comes first is the answer to an earlier one
        with self.page.expect_response("**/api/sync"):
            sync.click()
        expect(self.page.locator(".said-back [role=status]")).to_have_text(re.compile("^Last sync"))
        expect(self.page.get_by_role("link", name="all sent")).to_be_visible(timeout=20_000)


class PhoneInHand:
    """A browser with a profile on the disk, as a phone has one."""

    def __init__(self, browser: BrowserType, options: dict, profile: Path, shore: LiveServer) -> None:
        self.browser, self.options, self.profile, self.shore = browser, options, profile, shore
        self.context: BrowserContext | None = None

    def open(self) -> AppPage:
        self.context = self.browser.launch_persistent_context(self.profile, **self.options, viewport=PHONE_PX)
        self.context.set_default_timeout(10_000)
        return AppPage(self.context, self.shore)

    def kill(self) -> None:
        """As the system does with an app that it wants the memory of."""
        kill_browser(self.context, self.profile)
        self.context = None

    def close(self) -> None:
        if self.context:
            self.context.close()
        self.context = None
