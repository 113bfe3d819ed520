"""The app comes in tiers: the first fits a slow line and is enough to start; each is whole, kept, and of one version."""

from __future__ import annotations

import pytest

from fieldlog.shell import tiers_of
from tests.phone.conftest import Shell
from tests.phone.test_versions import LOOK_FOR_UPDATE, READY, wait_for_worker
from tests.waiting import wait_for, wait_until

pytestmark = pytest.mark.browser
MOST_BYTES = {"safety": 150 * 1024, "shore": 120 * 1024, "desk": 400 * 1024}
MOST_REQUESTS = 60
KEEP_OPEN = "let turn = 0; navigator.serviceWorker?.addEventListener('controllerchange', (event) => { if (turn++) event.stopImmediatePropagation(); });"
"""A page that does not load itself anew when another takes a new version: as one that sleeps in the background."""

HELD = """async () => {
  const whole = {};
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    whole[name] = [];
    for (const tier of ['safety', 'shore', 'desk']) if (await cache.match(`/whole/${tier}`)) whole[name].push(tier);
  }
  return whole;
}"""
VERSION = "document.querySelector('link[rel=stylesheet]').href.split('/').at(-2)"
OF_OWN_VERSION = f"(name) => import(`/shell/${{{VERSION}}}/${{name}}`).then((module) => module.version ?? 'old', () => 'none')"


HAS_SAFETY = "caches.match('/whole/safety').then(Boolean)"


def shore_is_asked_for(page, shell: Shell) -> None:
    """The first tier is whole, and what the network answers for the next has come."""
    wait_until(page, HAS_SAFETY)
    wait_for(page, lambda: any(path.endswith("shore.json") for path in shell.served), "shore.json")


def opened(shell: Shell, context):
    page = context.new_page()
    page.goto(shell.url)
    page.wait_for_selector(READY)
    return page


@pytest.fixture
def context(browser):
    made = browser.new_context()
    yield made
    made.close()


def test_a_first_visit_gets_what_is_needed_on_the_shore_in_few_requests_and_then_the_rest(shell: Shell, context) -> None:
    page = opened(shell, context)
    wait_for_worker(page)
    paths = [path for path, _ in shell.wire]
    shore, desk = paths.index(f"/shell/{shell.version}/shore.json"), paths.index(f"/shell/{shell.version}/desk.json")
    parts = {"safety": shell.wire[:shore], "shore": shell.wire[shore:desk], "desk": shell.wire[desk:]}
    for tier, answers in parts.items():
        assert sum(size for _, size in answers) <= MOST_BYTES[tier], (tier, answers)
        assert len(answers) <= MOST_REQUESTS
    assert len(parts["safety"]) < 15, "the tier came as one"
    assert {path.rsplit("/", 1)[-1] for path in paths if path.endswith(".js")} == {"start.js", "worker.js", "sw.js"}


def test_every_screen_opens_without_a_network_once_the_rest_is_here(shell: Shell, context) -> None:
    page = opened(shell, context)
    wait_for_worker(page)
    context.set_offline(True)
    modules = [name for names in tiers_of(shell.folder).values() for name in names if name.startswith("views/")]
    came = page.evaluate(f"(names) => Promise.all(names.map({OF_OWN_VERSION}))", modules)
    assert len(came) > 50
    assert "none" not in came


def test_a_tier_that_did_not_come_is_asked_for_again_and_the_first_works_without_it(shell: Shell, context) -> None:
    shell.broken.add("shore.json")
    page = opened(shell, context)
    shore_is_asked_for(page, shell)
    assert page.evaluate(HELD) == {f"shell-{shell.version}": ["safety"]}
    context.set_offline(True)
    page.reload()
    page.wait_for_selector(READY)
    assert page.evaluate(OF_OWN_VERSION, "views/low-tides.js") == "none"
    shell.broken.clear()
    context.set_offline(False)
    page.evaluate("navigator.serviceWorker.controller.postMessage('bring-rest')")
    wait_for_worker(page)
    assert page.evaluate(HELD) == {f"shell-{shell.version}": ["safety", "shore", "desk"]}


def test_a_first_tier_that_a_log_in_page_answers_for_leaves_the_app_to_come_file_by_file(shell: Shell, context) -> None:
    shell.broken.add("safety.json")
    page = opened(shell, context)
    assert page.title().endswith("Fieldlog")
    wait_until(page, "caches.keys().then((names) => names.length)")
    assert page.evaluate(HELD) == {f"shell-{shell.version}": []}


def test_the_tiers_of_two_versions_do_not_mix_when_the_server_goes_on_between_them(shell: Shell, context) -> None:
    shell.broken.add("shore.json")
    page = opened(shell, context)
    shore_is_asked_for(page, shell)
    old = shell.version
    shell.change("views/low-tides.js", "export const version = 'new';\n")
    shell.broken.clear()
    shell.served.clear()
    page.evaluate("navigator.serviceWorker.controller.postMessage('bring-rest')")
    shore_is_asked_for(page, shell)
    assert page.evaluate(HELD) == {f"shell-{old}": ["safety"]}
    assert page.evaluate(OF_OWN_VERSION, "views/low-tides.js") == "none", "rather than one of another version"


def test_an_update_is_offered_with_all_that_the_version_before_had(shell: Shell, context) -> None:
    page = opened(shell, context)
    wait_for_worker(page)
    shell.change("views/low-tides.js", "export const version = 'new';\n")
    shell.served.clear()
    page.evaluate(LOOK_FOR_UPDATE)
    button = page.get_by_role("button", name="Update now")
    button.wait_for()
    assert page.evaluate(HELD)[f"shell-{shell.version}"] == ["safety", "shore", "desk"]
    with page.expect_navigation():
        button.click()
    page.wait_for_selector(READY)
    assert {path for path in shell.served if path.startswith("/shell/")} == {f"/shell/{shell.version}/", f"/shell/{shell.version}/views/low-tides.js"}
    context.set_offline(True)
    assert page.evaluate(OF_OWN_VERSION, "views/low-tides.js") == "new"
    held = "navigator.locks.query().then((locks) => locks.held.map((lock) => lock.name).filter((name) => name.startsWith('shell')).join())"
    wait_until(page, f"{held}.then((names) => names === 'shell-{shell.version}')")  # files of both are the new one's now
    loaded = "performance.getEntriesByType('resource').map((one) => one.name).filter((name) => name.includes('/shell/'))"
    assert {name.split("/")[4] for name in page.evaluate(loaded)} == {shell.version}


def test_an_old_page_keeps_its_own_version_until_it_is_left(shell: Shell, context) -> None:
    old = context.new_page()
    old.add_init_script(KEEP_OPEN)
    old.goto(shell.url)
    old.wait_for_selector(READY)
    wait_for_worker(old)
    was = shell.version
    shell.change("views/low-tides.js", "export const version = 'new';\n")
    page = opened(shell, context)
    page.evaluate(LOOK_FOR_UPDATE)
    with page.expect_navigation():
        page.get_by_role("button", name="Update now").click()
    page.wait_for_selector(READY)
    assert page.evaluate(OF_OWN_VERSION, "views/low-tides.js") == "new"
    assert old.evaluate(OF_OWN_VERSION, "views/low-tides.js") == "old"
    assert set(page.evaluate(HELD)) == {f"shell-{was}", f"shell-{shell.version}"}
    old.close()
    wait_until(page, "(navigator.serviceWorker.controller.postMessage('bring-rest'), caches.keys().then((names) => names.length === 1))")
    assert page.evaluate("caches.keys()") == [f"shell-{shell.version}"]
