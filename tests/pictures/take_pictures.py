"""
Takes pictures of every screen and state, at phone and laptop size, into pictures/; the newcomer's one into static/pictures/.

``make pictures`` runs it. The demo programme is built anew for a fixed day, behind the real server, so that two runs differ
only where the app does.
"""

from __future__ import annotations

import io
import re
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from PIL import Image
from playwright.sync_api import Browser, sync_playwright

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "tides")]

from made import beside, tide_of, times, weather  # noqa: E402

from fieldlog.demo.build import build_demo  # noqa: E402
from fieldlog.records.catalogue import CATALOGUE  # noqa: E402
from fieldlog.stations import find  # noqa: E402
from fieldlog.sync.opening import open_programme  # noqa: E402
from tests.browser.app_page import LAPTOP_PX, PHONE_PX, AppPage  # noqa: E402
from tests.conftest import CHROMIUM_ARGUMENTS, DEMO_DAY  # noqa: E402
from tests.find_chromium import installed  # noqa: E402
from tests.live_server import LiveServer, at_an_opening, serving  # noqa: E402

FOLDER = ROOT / "pictures"
NEWCOMERS = ROOT / "static" / "pictures" / "today.png"
AFTER_OPENING = timedelta(minutes=20)
SIZES = {"phone": PHONE_PX, "laptop": LAPTOP_PX}
SETTLE_MS = 350


class Camera:
    """Takes one picture of what stands on the page, both as it stands and as far as it scrolls."""

    def __init__(self, app: AppPage, size: str) -> None:
        self.app, self.size = app, size

    def take(self, name: str) -> bytes:
        self.app.page.wait_for_timeout(SETTLE_MS)
        picture = self.app.page.screenshot()
        (FOLDER / f"{self.size} {name}.png").write_bytes(picture)
        height = self.app.page.evaluate("document.documentElement.scrollHeight")
        view = SIZES[self.size]
        if height > view["height"]:
            self.app.page.set_viewport_size({"width": view["width"], "height": height})
            self.app.page.wait_for_timeout(SETTLE_MS)
            self.app.page.screenshot(path=FOLDER / f"{self.size} {name}, all of it.png")
            self.app.page.set_viewport_size(view)
        return picture

    def at(self, place: str, name: str) -> bytes:
        self.app.page.evaluate("place => { location.hash = place; }", place)
        return self.take(name)

    def light(self, theme: str) -> None:
        self.app.page.evaluate("theme => localStorage.setItem('fieldlog.shows', JSON.stringify({ theme }))", theme)
        self.app.page.reload()
        self.app.page.wait_for_selector("html[data-ready='']")


def crews_day(camera: Camera, units: dict[str, str], flagged: str, past_visit: str) -> None:
    """The screens of a visit, before, while and after it runs."""
    app = camera.app
    camera.at("#/visits", "past visits")
    camera.at(f"#/visits/{past_visit}", "a past visit")
    today = camera.at("#/today", "today, no visit runs")
    if camera.size == "phone":
        NEWCOMERS.parent.mkdir(exist_ok=True)
        Image.open(io.BytesIO(today)).convert("P", palette=Image.Palette.ADAPTIVE, colors=96).save(NEWCOMERS, optimize=True)
    camera.at("#/low-tides", "low tides")
    app.page.get_by_role("radio", name="Best first").check(force=True)
    camera.take("low tides, best first")
    camera.at("#/plan-making", "plan to make")
    app.page.get_by_role("radio", name="2", exact=True).check(force=True)
    app.page.get_by_role("radio", name="Yes", exact=True).check(force=True)
    app.tap("Plan the visit")
    app.page.get_by_role("button", name="Use this plan").wait_for(timeout=20_000)
    camera.take("plan, proposed")
    app.tap("Use this plan")
    app.sees("Visit plan")
    camera.at("#/plan", "visit plan")
    camera.at("#/visit", "visit to start")
    app.tap("Start the visit")
    app.sees("People")
    camera.take("people, nobody in yet")
    for _ in range(5):
        app.page.locator(".row .pill:text-is('sign in')").first.click()
        app.page.wait_for_timeout(400)
    camera.at("#/people", "people out")
    camera.at("#/visit", "visit that runs")
    camera.at("#/today", "today, a visit runs")
    camera.at("#/turn-back", "turn-back clock")
    camera.at("#/units", "units, by the plan")
    camera.at(f"#/units/{flagged}", "unit history")
    check_of_a_unit(camera, next(iter(units.values())))
    camera.light("night")
    camera.at("#/today", "today, a visit runs, night")
    camera.at(f"#/units/{flagged}/check", "unit check, night")
    camera.light("sun")


def check_of_a_unit(camera: Camera, unit: str) -> None:
    """A damaged unit's check, saved without a network, and what waits on the phone."""
    app = camera.app
    camera.at(f"#/units/{unit}/check", "unit check")
    app.fill("tilt_deg", "400")
    app.tap("Piece off")
    camera.take("unit check, a value out of bounds")
    app.fill("tilt_deg", "3")
    app.fill("lost_volume_pct", "30")
    app.page.locator("summary", has_text="Position").click()
    camera.take("unit check, damaged, with position")
    app.offline(True)
    app.save(re.compile("^Save, "))
    app.page.wait_for_timeout(SETTLE_MS)
    camera.at("#/sighting", "sightings")
    camera.at("#/flags", "flags")
    camera.at("#/phone", "this phone, entries waiting")
    record = app.page.get_by_role("link", name=re.compile("^See: ")).first.get_attribute("href") or ""
    camera.at(f"#/record/{record.removeprefix('#/record/')}", "record")
    camera.at("#/settings", "settings")
    app.offline(False)


def loggers_file() -> bytes:
    """A made record near the demo's reference port, with a gap, a spike and lows at which it fell dry."""
    rng = np.random.default_rng(4)
    begin = datetime(2026, 8, 1, tzinfo=UTC)
    t = times(begin, 75)
    level = tide_of(beside(find("noaa/8670870"), rng), begin, 75)(t) + weather(len(t), 360.0, 0.06, rng)
    level = np.maximum(level, -0.05)
    level[8000] += 1.2
    lines = [f"{datetime.fromtimestamp(at, UTC):%Y-%m-%d %H:%M},{z + 1.4:.3f}" for at, z in zip(t, level, strict=True)]
    del lines[3000:3200]
    return "\n".join(["time UTC,level m", *lines]).encode()


def leads_screens(camera: Camera, flag: str, person: str) -> None:
    camera.at("#/set-up", "set-up")
    camera.at("#/set-up/unit", "set-up, units")
    camera.at("#/set-up/unit/series", "set-up, a series of units")
    camera.at("#/set-up/row/copy", "set-up, copy of a row")
    camera.at("#/set-up/site/new", "set-up, a new site")
    camera.at("#/set-up/site", "set-up, sites")
    camera.at("#/site-tide", "the tide at this site, nothing brought")
    camera.app.page.set_input_files("#file-logger", {"name": "row-d-post.csv", "mimeType": "text/csv", "buffer": loggers_file()})
    camera.app.page.get_by_role("button", name="Store it and work it out").wait_for()
    camera.take("the tide at this site, how it is read")
    camera.app.tap("Store it and work it out")
    camera.app.page.get_by_role("button", name="Use this tide").first.wait_for(timeout=30_000)
    camera.take("the tide at this site, worked out")
    camera.app.page.locator("summary").filter(has_text="constants").click()
    camera.app.page.locator("summary").filter(has_text="constants").scroll_into_view_if_needed()
    camera.take("the tide at this site, its constants")
    camera.at(f"#/flags/{flag}", "a flag")
    camera.at(f"#/people/{person}", "a person")
    camera.at("#/access", "invitations")
    camera.at("#/access/devices", "devices")
    camera.at("#/access/tray", "held entries")


def joining(browser: Browser, live: LiveServer, site_id: str, size: str) -> Camera:
    app = AppPage(browser.new_context(viewport=SIZES[size]), live)
    camera = Camera(app, size)
    app.page.goto(live.join_link("lead", site_id))
    app.page.wait_for_selector("html[data-ready='']")
    camera.take("join")
    app.tap("Join")
    app.sees("Who are you?")
    app.page.get_by_role("button", name="Ruth Okafor-Lind").wait_for()
    camera.at("#/join", "who are you")
    app.page.get_by_role("button", name="Ruth Okafor-Lind").click()
    app.sees("Today")
    return camera


def picture_demo(browser: Browser, folder: Path, size: str) -> None:
    """Every picture of one size, on a demo of its own."""
    build_demo(folder, DEMO_DAY)
    programme = open_programme(folder, CATALOGUE, int(datetime.now(UTC).timestamp() * 1000))
    db = programme.db()
    (site,) = db.query("SELECT * FROM site")
    units = dict(db.execute("SELECT tag, record_id FROM unit ORDER BY tag").fetchall())
    flag, flagged = db.execute("SELECT flag_id, subject_id FROM flag WHERE rule = 'damaged' AND state = 'open'").fetchone()
    (person,) = db.execute("SELECT record_id FROM person ORDER BY display_name LIMIT 1").fetchone()
    (past_visit,) = db.execute("SELECT record_id FROM visit ORDER BY started_at DESC LIMIT 1").fetchone()
    with serving(programme, at_an_opening(programme, DEMO_DAY, AFTER_OPENING)) as live:
        camera = joining(browser, live, site["record_id"], size)
        leads_screens(camera, flag, person)
        crews_day(camera, units, flagged, past_visit)
        camera.app.context.close()
    programme.close()


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=installed(), args=CHROMIUM_ARGUMENTS)
        for size in SIZES:
            picture_demo(browser, Path(scratch) / size, size)
        browser.close()
    print(f"{len(list(FOLDER.glob('*.png')))} pictures in {FOLDER.relative_to(ROOT)}/")


if __name__ == "__main__":
    main()
