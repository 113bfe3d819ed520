"""A phone that joins a programme whose old data lack what screens need: it gets in, and every screen stands."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from playwright.sync_api import expect

from records.taken_rows import take_rows
from tests.browser.app_page import PHONE_PX, AppPage
from tests.live_server import serving
from tests.sync.lines import REQUIRED

pytestmark = pytest.mark.browser

SITE, UNIT = "01900000-0000-4000-8000-00000000000a", "01900000-0000-4000-8000-00000000000b"
PLACES = {
    "#/visit": "Visit", "#/people": "People", "#/units": "Units", "#/sighting": "Sightings", "#/low-tides": "Low tides", "#/flags": "Flags",
    "#/plan": "Visit plan", "#/turn-back": "Turn-back clock", "#/phone": "This phone", f"#/units/{UNIT}": "No tag yet", "#/today": "Today",
}  # fmt: skip


def row(record_id: str, **fields: object) -> dict[str, object]:
    return {"record_id": record_id, "site_id": SITE, "visit_id": None, "created_by": None, **fields}


def test_a_phone_joins_whatever_old_data_lack(browser, programme) -> None:
    now = datetime.now(UTC)
    soon = now.strftime("%Y-%m-%dT%H:%M:%SZ")
    rows = {
        "site": [row(SITE, **{**REQUIRED["site"], "name": None})],
        "person": [row("01900000-0000-4000-8000-00000000000c", role="leader"), row("01900000-0000-4000-8000-00000000000d", display_name="  ")],
        "unit": [row(UNIT, slot_number=None)],
        "visit_plan": [row("01900000-0000-4000-8000-00000000000e", low_at=soon, made_at=soon, stops="garbled\n1 x\n99 ,,, NaN")],
        "visit": [row("01900000-0000-4000-8000-00000000000f", started_at=soon, observed_at="1970-01-01T00:00:00Z", observed_level_m=0.1, level_datum="MLLW")],
    }  # fmt: skip
    take_rows(programme, rows, int(now.timestamp() * 1000) - 3_600_000)
    with serving(programme, lambda: datetime.now(UTC)) as live:
        context = browser.new_context(viewport=PHONE_PX)
        app = AppPage(context, live)
        app.join("crew", None, None)
        expect(app.page.get_by_role("button", name="No name yet")).to_have_count(2)
        app.page.get_by_role("button", name="No name yet").first.click()
        app.sees("Today")
        for place, heading in PLACES.items():
            app.go(place, heading)
        expect(app.page.locator(".where")).to_have_text("No name yet")
        app.go("#/sighting", "Sightings")
        # As a cut paste may leave it; no keyboard types it.
        app.page.eval_on_selector("#f-taxon", "box => { box.value = 'Dog whelk \\ud83d'; box.dispatchEvent(new Event('input')); }")
        app.save("Save the sighting")
        app.all_taken()
        assert [one["taxon"] for one in programme.db().query("SELECT taxon FROM sighting")] == ["Dog whelk \ufffd"]
        assert app.faults == []
        context.close()
