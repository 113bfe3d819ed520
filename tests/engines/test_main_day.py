"""
The main day in three engines: joined at home, signed in, offline, killed, opened again, sent once.

Chromium with every change, all three by `make engines`. A browser writes its cookies some time after they come (Chromium
after 30 s): whoever is killed before that joins again and goes on, so the app is closed once after joining, as it would be.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from sqlite_utils import Database

from fieldlog.store import Programme
from tests.conftest import DEMO_DAY
from tests.engines.chromium import Chromium
from tests.engines.engine import Engine, before_the_page, waited
from tests.engines.firefox import Firefox
from tests.engines.hand import Hand
from tests.engines.webkit import WebKit
from tests.live_server import LiveServer, at_an_opening, code_for, serving
from tests.some_pictures import drawn, encoded

pytestmark = pytest.mark.browser

NAME = "Wren Saltmarsh"
AFTER_OPENING = timedelta(minutes=6)
DRAFT_S = 0.35
"""A draft is kept within 300 ms of a keystroke."""

WORKER_READY = """await navigator.serviceWorker.ready;
return Boolean(navigator.serviceWorker.controller) && (await caches.keys()).length > 0;"""

NEWEST_PHOTO = """SELECT c.unit_id, f.complete_at, f.fault FROM photo p JOIN unit_check c ON c.record_id = p.of_id
  LEFT JOIN photo_file f ON f.sha256 = p.sha256 ORDER BY p.taken_at DESC LIMIT 1"""


@pytest.fixture(params=["chromium", *(pytest.param(name, marks=pytest.mark.engines) for name in ("firefox", "webkit"))])
def begun(request, tmp_path: Path) -> Iterator[Callable[[str], Engine]]:
    """begun(before): the engine on one profile, as often as it is asked for; the last one is ended."""
    engines: list[Engine] = []

    def begin(before: str) -> Engine:
        profile = tmp_path / "profile"
        if request.param == "chromium":
            options = request.getfixturevalue("chromium_options")
            engines.append(Chromium(request.getfixturevalue("playwright"), options, profile, before))
        else:
            engines.append({"firefox": Firefox, "webkit": WebKit}[request.param](profile, before))
        return engines[-1]

    yield begin
    for engine in engines[-1:]:
        engine.kill()


def joins(hand: Hand, server: LiveServer, site_id: str) -> None:
    """By a code that is typed; she adds herself."""
    hand.open(f"{server.url}/")
    hand.fill("code", code_for(server.programme, "crew", site_id, int(server.now().timestamp() * 1000)))
    hand.tap("^Join$")
    hand.heading("Who are you\\?")
    hand.tap("^Add myself$")
    hand.fill("f-display_name", NAME)
    hand.choose("Role", "Student")
    hand.choose("Under 18", "No")
    hand.save("^That is me$")
    hand.heading("Today")
    hand.sees("all sent")
    waited("the worker", lambda: hand.engine.js(WORKER_READY))


def starts_the_visit(hand: Hand) -> None:
    hand.tap("^Start a visit$", "a")
    hand.heading("Visit")
    hand.save("^Start the visit$")
    hand.heading("People")
    for out in (1, 2):
        hand.save("sign in$", "button.row")
        hand.sees(f"{out} out on this visit")
    hand.save("^All heard the briefing$")
    hand.sees("all briefed")


def checks_three(hand: Hand, photo: Path) -> str:
    """The first is measured, the second damaged, the third has a photo; the tag of the next one."""
    hand.tap("^Units", "nav a")
    hand.tap("^Check ", "a")
    tag = ""
    for number in (1, 2, 3):
        hand.sees("Exposed height")
        tag = hand.engine.js("return document.querySelector('h1').innerText;")
        hand.fill("f-exposed_height_mm", str(300 - number))
        hand.fill("f-tilt_deg", str(number))
        hand.tap("^Piece off$" if number == 2 else "^None$")
        if number == 2:
            hand.fill("f-chip_depth_mm", "60")
            hand.fill("f-lost_volume_pct", "30")
        if number == 3:
            hand.attach("Choose a photo", photo)
            hand.sees("Photo kept on this phone")
            hand.choose("People recognizable?", "No")
            hand.sees("Photo saved on this phone")
        hand.save("^Save, go to ")
        hand.sees(f"{tag} saved on this phone")
        waited("the next unit", lambda tag=tag: hand.engine.js("return document.querySelector('h1').innerText;") != tag)
    return hand.engine.js("return document.querySelector('h1').innerText;")


def notes_a_sighting(hand: Hand, species: str, count: str) -> None:
    hand.tap("^Sightings", "nav a")
    hand.heading("Sightings")
    hand.tap(species, ".species button")
    hand.fill("f-count", count)
    hand.save("^Save the sighting$")
    hand.sees("Sighting saved on this phone")


def writes_on_offline(hand: Hand, unit_id: str) -> None:
    """Another sighting, then half a check, which nobody saves."""
    notes_a_sighting(hand, "", "12")
    hand.engine.js(f"location.hash = '#/units/{unit_id}/check'")
    hand.fill("f-exposed_height_mm", "212")
    time.sleep(DRAFT_S)


def finds_all_again(hand: Hand, url: str, tag: str) -> None:
    """No network, a new start of the browser: people, checks, photo and the half form are there; it is filled in and saved."""
    hand.open(f"{url}/")
    hand.heading("Today")
    hand.tap("^Units", "nav a")
    hand.sees("3 of \\d+ checked")
    hand.tap("^People", "nav a")
    hand.sees("2 out on this visit")
    hand.tap("^This phone", "nav a")
    hand.sees(f"{tag}, check")
    hand.tap("^open$", "a")
    hand.heading(tag)
    assert hand.value("f-exposed_height_mm") == "212"
    hand.fill("f-tilt_deg", "2")
    hand.tap("^None$")
    hand.save("^Save, ")
    hand.sees(f"{tag} saved on this phone")


def shows_the_photo(hand: Hand, unit_id: str) -> None:
    hand.engine.js(f"location.hash = '#/units/{unit_id}'")
    width = "const one = document.querySelector('.strip img'); one?.scrollIntoView(); return one?.complete ? one.naturalWidth : 0;"
    assert waited("the photo", lambda: hand.engine.js(width)) > 0


def ends_the_visit(hand: Hand) -> None:
    hand.tap("^People", "nav a")
    hand.save("^Sign out all 2$")
    hand.save("^Sign out these 2$")
    hand.sees("Nobody is out")
    hand.engine.js("location.hash = '#/visit'")
    hand.save("^End the visit$")
    hand.save("^End it$")
    hand.heading("This phone")


def sends_all(hand: Hand) -> None:
    hand.tap("^This phone", "nav a")
    hand.save("^Sync now")
    hand.sees("all sent")
    hand.sees("Only on this phone 0 ")


def counted(db: Database) -> dict[str, int]:
    """How much is in the log, and how much is held."""
    return {table: db.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in ("log", "tray")}


def each_entry_is_in_the_log_once(db: Database, before: dict[str, int]) -> None:
    assert counted(db)["tray"] == before["tray"]
    rows = db.execute("SELECT entry_id, line FROM log ORDER BY seq").fetchall()[before["log"] :]
    assert len({entry for entry, _ in rows}) == len(rows)
    lines = [json.loads(line) for _, line in rows]
    assert all(later["n"] == earlier["n"] + 1 for earlier, later in pairwise(lines)), "each number of her lane once and in order"
    kinds = [kind for kind, _ in {(line["t"], line["r"]) for line in lines}]
    wanted = {"person": 1, "visit": 1, "visit_part": 1, "sign_in": 2, "unit_check": 4, "sighting": 2, "photo": 1}
    assert {kind: kinds.count(kind) for kind in {*kinds, *wanted}} == wanted


def test_the_main_day(begun: Callable[[str], Engine], demo_programme: Programme, tmp_path: Path, record_property: Callable[[str, str], None]) -> None:
    db = demo_programme.db()
    (site_id,) = db.execute("SELECT record_id FROM site").fetchone()
    lines_before = counted(db)
    photo = tmp_path / "unit.jpg"
    photo.write_bytes(encoded(drawn(3000, 2000)))
    now = at_an_opening(demo_programme, DEMO_DAY, AFTER_OPENING)
    before = before_the_page(int((now() - datetime.now(UTC)).total_seconds() * 1000))

    hand = Hand(begun(before))
    with serving(demo_programme, now) as server:
        joins(hand, server, site_id)
        faults = hand.faults()
        hand.engine.close()
        hand = Hand(begun(before))
        hand.open(f"{server.url}/")
        starts_the_visit(hand)
        tag = checks_three(hand, photo)
        notes_a_sighting(hand, "", "3")
    (unit_id,) = db.execute("SELECT record_id FROM unit WHERE tag = ?", [tag]).fetchone()
    writes_on_offline(hand, unit_id)
    faults += hand.faults()
    hand.engine.kill()

    hand = Hand(begun(before))
    record_property("engine", f"{hand.engine.name} {hand.engine.version}")
    finds_all_again(hand, server.url, tag)
    with serving(demo_programme, now, port=int(server.url.rsplit(":", 1)[1])):
        sends_all(hand)
        unit_id, stored_at, fault = db.execute(NEWEST_PHOTO).fetchone()
        assert stored_at and fault is None
        shows_the_photo(hand, unit_id)
        ends_the_visit(hand)
        sends_all(hand)
        faults += hand.faults()
    assert faults == []
    each_entry_is_in_the_log_once(db, lines_before)
