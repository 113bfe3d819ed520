"""The shell works without a network, is all of a version or none, and changes at a tap; old and new pages do not deadlock."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from flask import Flask, request
from waitress.server import create_server

from fieldlog import static_files
from fieldlog.access.headers import add_headers
from fieldlog.package_data import packaged
from tests.phone.phone_page import PhonePage

pytestmark = pytest.mark.browser
READY = "html[data-ready]"


@dataclass
class Shell:
    """A server of files alone, from a copy that a test may change."""

    url: str
    folder: Path
    served: list[str]
    broken: set[str]


@pytest.fixture
def shell(tmp_path: Path) -> Iterator[Shell]:
    folder = tmp_path / "static"
    shutil.copytree(packaged("static"), folder)
    app = Flask("shell", static_folder=None)
    made = Shell("", folder, [], set())

    @app.before_request
    def note():
        made.served.append(request.path)
        return "<html>log in first</html>" if request.path in made.broken else None

    app.register_blueprint(static_files.blueprint(folder))
    app.after_request(lambda answer: add_headers(answer, request))
    server = create_server(app, host="127.0.0.1", port=0, threads=8)
    running = threading.Thread(target=server.run)
    running.start()
    made.url = f"http://127.0.0.1:{server.effective_port}"
    yield made
    server.close()
    running.join()


@pytest.fixture
def page(shell: Shell, browser):
    context = browser.new_context()
    opened = context.new_page()
    opened.goto(shell.url)
    opened.wait_for_selector(READY)
    yield opened
    context.close()


def wait_for_worker(page) -> None:
    page.evaluate("navigator.serviceWorker.ready.then(() => null)")


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
    style = shell.folder / "style.css"
    style.write_text(style.read_text("utf-8") + "/* newer */\n", "utf-8")
    shell.served.clear()
    page.evaluate("navigator.serviceWorker.getRegistration().then((found) => found.update())")
    button = page.get_by_role("button", name="Update now")
    button.wait_for()
    assert "waiting" in worker_states(page)
    assert sorted({path for path in shell.served if not path.startswith("/api/")}) == ["/style.css", "/sw.js"]
    assert "newer" not in page.evaluate("fetch('/style.css').then((answer) => answer.text())")
    with page.expect_navigation():
        button.click()
    page.wait_for_selector(READY)
    assert "newer" in page.evaluate("fetch('/style.css').then((answer) => answer.text())")
    assert worker_states(page) == ["active"]
    assert len(page.evaluate("caches.keys()")) == 1


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
    for name in ("style.css", "app.js"):
        file = shell.folder / name
        file.write_text(file.read_text("utf-8") + "/* newer */\n", "utf-8")
    shell.broken.add("/app.js")
    page.evaluate("navigator.serviceWorker.getRegistration().then((found) => found.update())")
    page.wait_for_timeout(800)
    assert worker_states(page) == ["active"]
    page.context.set_offline(True)
    page.reload()
    page.wait_for_selector(READY)
    assert "newer" not in page.evaluate("fetch('/style.css').then((answer) => answer.text())")
    page.context.set_offline(False)
    shell.broken.clear()
    shell.served.clear()
    page.evaluate("navigator.serviceWorker.getRegistration().then((found) => found.update())")
    page.get_by_role("button", name="Update now").wait_for()
    assert "/style.css" not in shell.served, "what had arrived was fetched again"


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
    new.wait_for_timeout(300)
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
    assert page.inner_text("#screen").startswith("This browser keeps nothing on the phone")
    context.close()
