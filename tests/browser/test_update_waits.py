"""A new version is fetched whole, waits for a tap and for open forms, and keeps what is on the phone."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from flask import Flask
from playwright.sync_api import expect

from fieldlog import static_files
from fieldlog.package_data import packaged
from tests.waiting import wait_until

pytestmark = pytest.mark.browser

LOOK_FOR_UPDATE = "navigator.serviceWorker.getRegistration().then((found) => found.update())"


@pytest.fixture
def own_files(shore, tmp_path) -> Path:
    """The server's files, in a folder that a test may change."""
    folder = tmp_path / "static"
    shutil.copytree(packaged("static"), folder)
    own = Flask("own files", static_folder=None)
    own.register_blueprint(static_files.blueprint(folder))
    shore.app.view_functions.update(own.view_functions)
    return folder


def version_shown(app) -> str:
    return app.page.evaluate("import('/views/words.js').then((words) => words.version ?? 'old')")


def test_a_new_version_waits_for_open_forms_and_a_tap(joined, own_files, shore) -> None:
    app = joined("crew", "Zora Plover")
    app.offline_ready()
    app.go("#/sighting", "Sightings")
    app.page.locator(".species button").first.click()
    app.page.evaluate("window.isSamePage = true")

    words = own_files / "views" / "words.js"
    words.write_text(words.read_text("utf-8") + "\nexport const version = 'new';\n", "utf-8")
    app.page.evaluate(LOOK_FOR_UPDATE)
    expect(app.page.get_by_text("A new version is ready. Save or drop 1 open form first.")).to_be_visible()
    assert app.page.get_by_role("button", name="Update now").count() == 0
    assert version_shown(app) == "old"

    app.fill("count", 4)
    app.save("Save the sighting")
    take = app.page.get_by_role("button", name="Update now")
    expect(take).to_be_visible()
    assert app.page.evaluate("window.isSamePage") is True, "nothing reloads unasked"
    with app.page.expect_event("framenavigated"):
        take.click()
    app.page.wait_for_selector("html[data-ready='']")
    assert version_shown(app) == "new"
    app.sees("Sightings")
    expect(app.page.get_by_text("4 seen").first).to_be_visible()
    assert app.faults == []


def test_a_new_version_of_which_a_file_did_not_arrive_whole_is_not_offered(joined, own_files, shore) -> None:
    app = joined("crew", "Zora Plover")
    app.offline_ready()
    words = own_files / "views" / "words.js"
    words.write_text(words.read_text("utf-8") + "\nexport const version = 'new';\n", "utf-8")
    served = shore.app.view_functions["files.file_of_version"]
    shore.app.view_functions["files.file_of_version"] = lambda version, name: "<h1>Log in</h1>" if name == "views/words.js" else served(version, name)
    app.page.evaluate(LOOK_FOR_UPDATE)
    wait_until(app.page, "navigator.serviceWorker.getRegistration().then((found) => !found.installing)")
    assert app.page.evaluate("navigator.serviceWorker.getRegistration().then((found) => found.waiting)") is None
    assert app.page.get_by_text("A new version is ready").count() == 0
    app.offline(True)
    app.page.reload()
    app.page.wait_for_selector("html[data-ready='']")
    assert version_shown(app) == "old"
    app.sees("Today")
