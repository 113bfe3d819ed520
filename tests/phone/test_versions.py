"""The shell works without a network, is all of a version or none, and changes at a tap; old and new pages do not deadlock."""

from __future__ import annotations

import pytest

from tests.phone.conftest import Shell
from tests.phone.phone_page import PhonePage
from tests.waiting import wait_until

pytestmark = pytest.mark.browser
READY = "html[data-ready]"


@pytest.fixture
def page(shell: Shell, browser):
    context = browser.new_context()
    opened = context.new_page()
    opened.goto(shell.url)
    opened.wait_for_selector(READY)
    yield opened
    context.close()


LOOK_FOR_UPDATE = "navigator.serviceWorker.getRegistration().then((found) => found.update())"
STYLE = "fetch(document.querySelector('link[rel=stylesheet]').href).then((answer) => answer.text())"


def wait_for_worker(page) -> None:
    """Until all tiers are here."""
    wait_until(page, "Promise.all(['safety', 'shore', 'desk'].map((tier) => caches.match(`/whole/${tier}`))).then((whole) => whole.every(Boolean))")


def worker_states(page) -> list[str]:
    return page.evaluate("""async () => {
      const found = await navigator.serviceWorker.getRegistration();
      return ['installing', 'waiting', 'active'].filter((state) => found[state]);
    }""")


def test_the_app_opens_without_a_network_at_any_of_its_addresses(page, shell: Shell) -> None:
    wait_for_worker(page)
    page.context.set_offline(True)
    for address in ("/", "/?from=a-poster#/today", "/some/link"):
        page.goto(shell.url + address)
        page.wait_for_selector(READY)
        assert page.title().endswith("Fieldlog")


@pytest.mark.parametrize("address", ["/api/sync", "/calendar/x.ics", "/reports/2026", "/healthz"])
def test_the_servers_addresses_are_never_answered_from_the_phone(page, shell: Shell, address: str) -> None:
    wait_for_worker(page)
    shell.served.clear()
    page.goto(shell.url + address)
    assert address in shell.served


def test_a_new_version_waits_for_a_tap_and_fetches_only_what_changed(page, shell: Shell) -> None:
    wait_for_worker(page)
    page.reload()
    page.wait_for_selector(READY)
    shell.change("style.css", ".newer { margin: 0; }\n")
    shell.served.clear()
    page.evaluate(LOOK_FOR_UPDATE)
    button = page.get_by_role("button", name="Update now")
    button.wait_for()
    assert "waiting" in worker_states(page)
    of_shell = {path for path in shell.served if not path.startswith("/api/")}
    assert sorted(of_shell) == [f"/shell/{shell.version}/", f"/shell/{shell.version}/style.css", "/sw.js"]
    assert "newer" not in page.evaluate(STYLE)
    with page.expect_navigation():
        button.click()
    page.wait_for_selector(READY)
    assert "newer" in page.evaluate(STYLE)
    assert worker_states(page) == ["active"]
    wait_until(page, "caches.keys().then((names) => names.length === 1)")
    assert page.evaluate("caches.keys()") == [f"shell-{shell.version}"]


def test_a_new_version_is_not_taken_while_a_form_is_open(page, shell: Shell) -> None:
    wait_for_worker(page)
    page.reload()
    page.wait_for_selector(READY)
    page.evaluate("""async () => {
      const { openPhone } = await import('/store/phone.js');
      const phone = await openPhone({ now: () => Date.now() });
      phone.keepDraft('sighting:new', { count: 1 });
      await phone.drafts();
      let isTaken = false;
      phone.offerUpdate(() => { isTaken = true; });
      await phone.recount();
      phone.takeUpdate();
      if (isTaken) throw new Error('taken over a form');
      await phone.dropDraft('sighting:new');
      await phone.recount();
      phone.takeUpdate();
      if (!isTaken) throw new Error('not taken');
    }""")


def test_a_portals_page_does_not_become_a_file_of_the_app(page, shell: Shell) -> None:
    wait_for_worker(page)
    page.reload()
    page.wait_for_selector(READY)
    for name in ("style.css", "views/words.js"):
        shell.change(name, "export const newer = 1;\n")
    shell.broken.add("/views/words.js")
    page.evaluate(LOOK_FOR_UPDATE)
    wait_until(page, "navigator.serviceWorker.getRegistration().then((found) => !found.installing)")
    assert worker_states(page) == ["active"]
    page.context.set_offline(True)
    page.reload()
    page.wait_for_selector(READY)
    assert "newer" not in page.evaluate(STYLE)
    page.context.set_offline(False)
    shell.broken.clear()
    shell.served.clear()
    page.evaluate(LOOK_FOR_UPDATE)
    page.get_by_role("button", name="Update now").wait_for()
    assert f"/shell/{shell.version}/style.css" not in shell.served, "what had arrived was fetched again"


def test_an_old_page_lets_the_new_version_have_the_database(bench_url, browser) -> None:
    context = browser.new_context()
    old = PhonePage(context, bench_url, "/blank")
    old.write()
    new = context.new_page()
    new.goto(f"{bench_url}/blank")
    told = new.evaluate("""async () => {
      const { Store, SCHEMA_VERSION } = await import('/log/db.js');
      const store = new Store('fieldlog', { onFault: () => {}, version: SCHEMA_VERSION + 1 });
      return store.run(['lines'], 'readonly', (tx) => tx.store.count());
    }""")
    assert told == 1
    said = old.do("return tell(() => phone.write('species', null, { scientific_name: 'x' }));")
    assert said.startswith("A newer version of Fieldlog is open in another window.")
    assert set(old.do("return faults;")) == {said}
    context.close()


def test_an_old_shell_that_holds_the_database_is_named_and_waited_for(bench_url, browser) -> None:
    context = browser.new_context()
    old = context.new_page()
    old.goto(f"{bench_url}/blank")
    old.evaluate("""() => new Promise((resolve) => {
      const asked = indexedDB.open('fieldlog', 1);
      asked.onsuccess = () => { globalThis.held = asked.result; resolve(); };
    })""")
    new = context.new_page()
    new.goto(f"{bench_url}/blank")
    new.evaluate("""async () => {
      const { Store } = await import('/log/db.js');
      globalThis.said = [];
      const store = new Store('fieldlog', { onFault: (sentence) => said.push(sentence), version: 2 });
      globalThis.opening = store.connection().then(() => 'open');
    }""")
    new.wait_for_function("said.length > 0")
    assert new.evaluate("said") == [
        "Another window of Fieldlog holds on to an older version. Close the other windows; this one then goes on."
    ]
    old.close()
    assert new.evaluate("opening") == "open"
    context.close()


def test_a_browser_that_keeps_nothing_is_named_at_opening(shell: Shell, browser) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.add_init_script("IDBFactory.prototype.open = () => { throw new DOMException('no', 'SecurityError'); };")
    page.goto(shell.url)
    page.wait_for_selector("html[data-ready=failed]")
    assert page.inner_text("#screen").startswith("This browser keeps nothing on this device")
    context.close()
