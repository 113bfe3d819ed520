"""What the form of a unit check writes: what fits how the unit was found, and nothing left over from before that was said."""

from __future__ import annotations

import pytest

from tests.browser.app_page import CALM_MS
from views import stage_pack, stage_server

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def stage():
    server = stage_server.serve(stage_pack.stage_pack(), [stage_server.STATIC])
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    server.server_close()


@pytest.fixture
def form(browser, stage):
    page = browser.new_page()
    page.goto(f"{stage}#/units/{stage_pack.unit_id(38)}/check")
    page.wait_for_selector("html[data-ready]")
    yield page
    page.close()


def saved(page) -> dict:
    page.wait_for_timeout(CALM_MS)
    page.get_by_role("button", name="Save").click()
    page.wait_for_function("window.written.length > 0")
    (check,) = [one["fields"] for one in page.evaluate("window.written") if one["kind"] == "unit_check"]
    return check


def fill(page) -> None:
    page.locator("#f-exposed_height_mm").fill("212")
    page.locator("#f-tilt_deg").fill("7")
    page.get_by_role("button", name="Crack").click()
    page.locator("#f-crack_width_mm").fill("2")
    for axis in ("body", "stance", "toe", "cover"):
        page.locator(f"input[name={axis}_grade]").nth(1).click()
    page.locator("#f-note").fill("by the ramp")


def test_a_unit_that_was_seen_keeps_its_measures(form) -> None:
    fill(form)
    check = saved(form)
    assert (check["found_state"], check["exposed_height_mm"], check["tilt_deg"], check["crack_width_mm"]) == ("seen", 212, 7, 2)
    assert [check[f"{axis}_grade"] for axis in ("body", "stance", "toe", "cover")] == [1, 1, 1, 1]


def test_a_crest_level_is_above_the_mark_that_it_names(form) -> None:
    form.get_by_text("Toe, crest level and water").click()
    form.locator("#f-crest_level_mm").fill("1200")
    form.wait_for_timeout(CALM_MS)
    form.get_by_role("button", name="Save").click()
    assert form.evaluate("window.written.length") == 0, "a level means nothing without what it is above"
    form.locator("#f-crest_datum").fill("mark M2")
    check = saved(form)
    assert (check["crest_level_mm"], check["crest_datum"]) == (1200, "mark M2")


def test_less_showing_is_said_as_it_was_read(form) -> None:
    form.locator("#f-exposed_height_mm").fill("12")
    said = form.locator(".said-back")
    assert "mm less showing than last time." in said.inner_text()
    assert "Sediment" not in said.inner_text()


def test_a_unit_that_was_felt_with_the_probe_was_found_and_keeps_them_too(form) -> None:
    fill(form)
    form.get_by_role("radio", name="Felt with the probe", exact=True).click()
    form.locator("#f-probe_depth_mm").fill("180")
    check = saved(form)
    assert (check["found_state"], check["probe_depth_mm"], check["tilt_deg"], check["crack_width_mm"]) == ("probed", 180, 7, 2)


def looks_unchanged(page):
    return page.get_by_role("button", name="Looks unchanged")


def test_a_unit_that_looks_unchanged_is_stored_as_looked_at_and_no_number_is_copied(form) -> None:
    form.wait_for_timeout(CALM_MS)
    looks_unchanged(form).click()
    form.wait_for_function("window.written.length > 0")
    (check,) = [one["fields"] for one in form.evaluate("window.written") if one["kind"] == "unit_check"]
    assert set(check) == {"unit_id", "checked_at", "found_state", "looked_only"}
    assert (check["found_state"], check["looked_only"]) == ("seen", True)


def test_what_was_measured_is_saved_as_measured(form) -> None:
    assert looks_unchanged(form).count() == 1
    form.locator("#f-exposed_height_mm").fill("212")
    assert looks_unchanged(form).count() == 0
    assert "looked_only" not in saved(form)


@pytest.mark.parametrize("found", ["Not found, dry", "Not found, under water", "Not visited"])
def test_a_unit_that_was_not_found_keeps_no_measures_that_were_typed_before(form, found: str) -> None:
    fill(form)
    form.get_by_role("radio", name=found, exact=True).click()
    check = saved(form)
    assert set(check) == {"unit_id", "checked_at", "found_state", "note"}
    assert check["note"] == "by the ramp"
