"""
Takes pictures of every screen and state into pictures/: on a phone, on a narrow one with text of twice the size, on a laptop, each by
day and by night; the newcomer's one into static/pictures/.

``make pictures`` runs it; ``take_pictures.py large night`` takes a part. The demo programme is built anew for a fixed day, behind the
real server, so that two runs differ only where the app does. States that the demo does not reach are drawn over the stage of tests/views.
"""

from __future__ import annotations

import io
import itertools
import re
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests" / "tides")]

from made import beside, tide_of, times, weather  # noqa: E402

from fieldlog.demo.build import build_demo  # noqa: E402
from fieldlog.records.catalogue import CATALOGUE  # noqa: E402
from fieldlog.stations import find  # noqa: E402
from fieldlog.sync.opening import open_programme  # noqa: E402
from tests.browser.app_page import LAPTOP_PX, PHONE_PX, AppPage  # noqa: E402
from tests.conftest import CHROMIUM_ARGUMENTS, DEMO_DAY  # noqa: E402
from tests.find_chromium import installed  # noqa: E402
from tests.live_server import LiveServer, at_an_opening, serving  # noqa: E402
from views import stage_pack, stage_server  # noqa: E402

FOLDER = ROOT / "pictures"
NEWCOMERS = ROOT / "static" / "pictures" / "today.png"
AFTER_OPENING = timedelta(minutes=20)
SIZES = {"phone": PHONE_PX, "large": {"width": 360, "height": 740}, "laptop": LAPTOP_PX}
TEXT_PX = {"phone": 16, "large": 32, "laptop": 16}
"""The reader's own size of text, as a browser's settings have it."""
LIGHTS = ("sun", "night")
SETTLE_MS = 350
PAST_DUE = "now=2026-11-28T13:40:00Z"
STATES = {
    "today, turn back past due": (PAST_DUE, "#/today", ""),
    "today, under half an hour left": ("now=2026-11-28T13:05:00Z", "#/today", ""),
    "turn-back clock, past due": (PAST_DUE, "#/turn-back", ""),
    "no site yet": ("joined=empty", "#/today", ""),
    "not on this phone yet": ("role=lead", "#/flags", "views/flags.js"),
    "needs the server": ("role=lead", "#/access", "online/access.js"),
    "not saved": ("fault", "#/today", ""),
    "network with a login": ("portal", "#/today", ""),
    "phone the server does not know": ("unknown", "#/today", ""),
    "phone whose access ended": ("revoked", "#/today", ""),
    "update": ("update", "#/today", ""),
    "update while a form is open": ("update&draft", "#/today", ""),
    "storage cleared, entries a day old": ("cleared&old", "#/phone", ""),
    "an entry held back": ("held&draft", "#/phone", ""),
    "join again with a code": ("joined=no", "#join=K7QM3XDP", ""),
    "reader, units": ("role=reader&visit=no", "#/units", ""),
    "reader, visits": ("role=reader&visit=no", "#/visits", ""),
    "several sites": ("sites", "#/units", ""),
    "unit history of ten years": ("years", f"#/units/{stage_pack.unit_id(18)}", ""),
    "unit history, only just placed": ("", f"#/units/{stage_pack.unit_id(0)}", ""),
    "desk, a form that came back": ("role=desk&desk&done", "#/desk/0190aaaa-0000-7000-8000-00000000beef", ""),
    "walk-up in Spanish": ("role=desk&desk=es&handed", "#/walk-up", ""),
    "walk-up that is done": ("role=desk&desk&handed&done", "#/walk-up", ""),
    "plots of several types": ("", "#/plots", ""),
    "a stake of a set": ("", f"#/plots/{stage_pack.plot_id(0)}", ""),
    "stakes": ("", f"#/plots/{stage_pack.plot_id(0)}/stakes", ""),
    "a transect": ("", f"#/plots/{stage_pack.plot_id(11)}", ""),
    "a marsh plot's reading": ("", f"#/plots/{stage_pack.plot_id(10)}/cover_reading", ""),
    "people, one out since another day": ("forgotten", "#/people", ""),
}
"""What the demo's day does not reach: what the stage is asked for, the place, and the file that does not come."""


class Camera:
    """Takes one picture of what stands on the page, both as it stands and as far as it scrolls."""

    def __init__(self, app: AppPage, size: str, light: str) -> None:
        self.app, self.size, self.light = app, size, light

    def take(self, name: str) -> bytes:
        return photographed(self.app.page, self.size, self.light, name)

    def at(self, place: str, name: str) -> bytes:
        self.app.page.evaluate("place => { location.hash = place; }", place)
        return self.take(name)


def photographed(page: Page, size: str, light: str, name: str) -> bytes:
    """A page as it stands, and a second picture of all of it where it scrolls."""
    page.wait_for_timeout(SETTLE_MS)
    picture = page.screenshot()
    begin = f"{size} {light} {name}"
    (FOLDER / f"{begin}.png").write_bytes(picture)
    height = page.evaluate("document.documentElement.scrollHeight")
    view = SIZES[size]
    if height > view["height"]:
        page.set_viewport_size({"width": view["width"], "height": height})
        page.wait_for_timeout(SETTLE_MS)
        page.screenshot(path=FOLDER / f"{begin}, all of it.png")
        page.set_viewport_size(view)
    return picture


def lit(browser: Browser, size: str, light: str) -> BrowserContext:
    """A browser's window of one size, whose person has chosen one light."""
    context = browser.new_context(viewport=SIZES[size])
    context.add_init_script(f"if (!localStorage.getItem('fieldlog.shows')) localStorage.setItem('fieldlog.shows', '{{\"theme\": \"{light}\"}}');")
    return context


def plots(camera: Camera) -> None:
    """The plots and one of them, and the ways to read it."""
    camera.at("#/plots", "plots")
    plot = camera.app.page.locator("main a[href^='#/plots/']").first.get_attribute("href").removeprefix("#/plots/")
    camera.at(f"#/plots/{plot}", "a plot")
    camera.at(f"#/plots/{plot}/stakes", "one stake")
    camera.at(f"#/plots/{plot}/stake_reading", "a reading by its form")


def crews_day(camera: Camera, units: dict[str, str], flagged: str, past_visit: str) -> None:
    """The screens of a visit, before, while and after it runs."""
    app = camera.app
    camera.at("#/visits", "past visits")
    camera.at(f"#/visits/{past_visit}", "a past visit")
    camera.at(f"#/visits/{past_visit}/correct", "a visit to correct")
    camera.at(f"#/visits/{past_visit}/correct/person", "a visit's missing person")
    camera.at(f"#/visits/{past_visit}/correct/join", "visits to join")
    camera.at(f"#/visits/{past_visit}/correct/part", "a visit to part")
    camera.at(f"#/add-photos/{past_visit}", "photos to add")
    camera.at("#/sheet", "sheets")
    camera.at("#/sheet/visit", "a sheet's visit")
    camera.at(f"#/sheet/{past_visit}", "a sheet")
    camera.at(f"#/sheet/{past_visit}/people", "a sheet's people")
    camera.at(f"#/sheet/{past_visit}/{next(iter(units.values()))}", "a sheet's unit")
    today = camera.at("#/today", "today, no visit runs")
    if (camera.size, camera.light) == ("phone", "sun"):
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
    app.tap("Yes, I noticed it")
    desk(camera)
    camera.at("#/visit", "visit that runs")
    camera.at("#/today", "today, a visit runs")
    camera.at("#/turn-back", "turn-back clock")
    camera.at("#/units", "units, by the plan")
    plots(camera)
    camera.at(f"#/units/{flagged}", "unit history")
    check_of_a_unit(camera, next(iter(units.values())))


def desk(camera: Camera) -> None:
    """The desk, a walk-up's form in a volunteer's hands and back again, heads counted."""
    page = camera.app.page
    camera.at("#/desk", "desk")
    page.get_by_role("searchbox").fill("a")
    camera.take("desk, a letter typed")
    camera.app.save(re.compile("^New person"))
    number = page.locator(".big-code").inner_text()
    camera.take("desk, about to hand over")
    camera.app.tap("Hand over")
    page.get_by_role("heading", level=1, name="Your sign-in").wait_for()
    camera.at("#/walk-up", "walk-up")
    page.get_by_role("button", name="Desk: hold to come back").click()
    page.get_by_label("The desk\u2019s number").fill(number)
    camera.app.tap("Come back")
    camera.at("#/desk/contacts", "desk, contacts")
    camera.at("#/count-heads", "heads to count")


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


PAPER_SHEET = b"""Block no,Date,Time,exposed in.,lean,OK?,who,remarks
B1,7/5/2025,8:10,16.5,2,seen,AV,algae
B-2,8/6/2025,07:55,16,3,chip,SP,see photo 12
"""


def leads_screens(camera: Camera, flag: str, person: str) -> None:
    camera.at("#/set-up", "set-up")
    camera.at("#/set-up/unit", "set-up, units")
    camera.at("#/set-up/unit/series", "set-up, a series of units")
    camera.at("#/set-up/row/copy", "set-up, copy of a row")
    camera.at("#/set-up/site/new", "set-up, a new site")
    camera.at("#/set-up/site", "set-up, sites")
    camera.at("#/set-up/waiver", "set-up, waiver")
    camera.at("#/set-up/waiver/new", "set-up, new waiver")
    camera.at("#/site-tide", "the tide at this site, nothing brought")
    camera.app.page.set_input_files("#file-logger", {"name": "row-d-post.csv", "mimeType": "text/csv", "buffer": loggers_file()})
    camera.app.page.get_by_role("button", name="Store it and work it out").wait_for()
    camera.take("the tide at this site, how it is read")
    camera.app.tap("Store it and work it out")
    camera.app.page.get_by_role("button", name="Use this tide").first.wait_for(timeout=180_000)
    camera.take("the tide at this site, worked out")
    camera.app.page.locator("summary").filter(has_text="constants").click()
    camera.app.page.locator("summary").filter(has_text="constants").scroll_into_view_if_needed()
    camera.take("the tide at this site, its constants")
    camera.at(f"#/flags/{flag}", "a flag")
    camera.at(f"#/people/{person}", "a person")
    camera.at(f"#/held/{person}", "what is held about a person")
    camera.app.tap("Forget this person")
    camera.take("what is held, asked whether to forget")
    camera.at("#/access", "invitations")
    camera.at("#/access/devices", "devices")
    camera.at("#/access/tray", "held entries")
    camera.at("#/data", "data to download")
    camera.at("#/hours", "hours")
    camera.at(f"#/hours/{person}", "hours of a person")
    camera.at("#/hours/count", "hours to count to an award")
    camera.at("#/own-hours", "your hours")
    camera.at("#/bring-in", "a spreadsheet to import")
    camera.app.page.set_input_files("#sheet-file", {"name": "summer-2025-paper.csv", "mimeType": "text/csv", "buffer": PAPER_SHEET})
    camera.app.page.locator(".askbox").first.wait_for()
    camera.take("a spreadsheet's columns")
    camera.at("#/closing", "close the season")
    camera.at("#/closing/people", "close the season, who leaves")
    camera.app.page.get_by_role("button", name="Sam Petrel leaves").click()
    camera.take("close the season, somebody leaves")
    camera.at("#/closing/open", "close the season, what is open")
    camera.at("#/closing/methods", "close the season, methods")
    camera.at("#/closing/successors", "close the season, for the successors")


def joining(browser: Browser, live: LiveServer, site_id: str, size: str, light: str) -> Camera:
    app = AppPage(lit(browser, size, light), live)
    camera = Camera(app, size, light)
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


def picture_demo(browser: Browser, folder: Path, size: str, light: str) -> None:
    """Every picture of one size in one light, on a demo of its own."""
    build_demo(folder, DEMO_DAY)
    programme = open_programme(folder, CATALOGUE, int(datetime.now(UTC).timestamp() * 1000))
    db = programme.db()
    (site,) = db.query("SELECT * FROM site")
    units = dict(db.execute("SELECT tag, record_id FROM unit ORDER BY tag").fetchall())
    flag, flagged = db.execute("SELECT flag_id, subject_id FROM flag WHERE rule = 'damaged' AND state = 'open'").fetchone()
    (person,) = db.execute("SELECT record_id FROM person ORDER BY display_name LIMIT 1").fetchone()
    (past_visit,) = db.execute("SELECT record_id FROM visit ORDER BY started_at DESC LIMIT 1").fetchone()
    with serving(programme, at_an_opening(programme, DEMO_DAY, AFTER_OPENING)) as live:
        camera = joining(browser, live, site["record_id"], size, light)
        leads_screens(camera, flag, person)
        crews_day(camera, units, flagged, past_visit)
        camera.app.context.close()
    programme.close()


def picture_states(browser: Browser, size: str, light: str) -> None:
    """What the demo's day does not reach, over the stage."""
    stage = stage_server.serve(stage_pack.stage_pack(), [stage_server.STATIC])
    for name, (query, place, lacking) in STATES.items():
        context = lit(browser, size, light)
        if lacking:
            context.route(f"**/{lacking}", lambda route: route.abort())
        page = context.new_page()
        page.goto(f"http://127.0.0.1:{stage.server_port}/?{query}{place}")
        page.wait_for_selector("html[data-ready]")
        photographed(page, size, light, name)
        context.close()
    stage.shutdown()
    stage.server_close()


def main(asked: list[str]) -> None:
    FOLDER.mkdir(exist_ok=True)
    sizes = [size for size in SIZES if size in asked] or list(SIZES)
    lights = [light for light in LIGHTS if light in asked] or list(LIGHTS)
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as playwright:
        for size, light in itertools.product(sizes, lights):
            arguments = [*CHROMIUM_ARGUMENTS, f"--blink-settings=defaultFontSize={TEXT_PX[size]}"]
            browser = playwright.chromium.launch(executable_path=installed(), args=arguments)
            picture_states(browser, size, light)
            picture_demo(browser, Path(scratch) / f"{size} {light}", size, light)
            browser.close()
    print(f"{len(list(FOLDER.glob('*.png')))} pictures in {FOLDER}/")


if __name__ == "__main__":
    main(sys.argv[1:])
