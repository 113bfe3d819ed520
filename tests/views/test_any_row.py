"""Every screen survives any row that the tables can hold: nothing throws, nothing stays empty, a name is always there."""

from __future__ import annotations

import json
import re
from copy import deepcopy
from datetime import UTC, datetime
from random import Random
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from fieldlog.records.catalogue import CATALOGUE
from records.drawn_rows import SITE_ID, Drawing
from views import stage_pack, stage_server

pytestmark = pytest.mark.browser

NOW = datetime.fromisoformat(stage_pack.NOW).astimezone(UTC)
ROLES = ("lead", "crew", "desk", "reader")
PLACES = (
    "#/today", "#/visit", "#/people", "#/units", "#/sighting", "#/low-tides", "#/flags", "#/phone", "#/settings", "#/turn-back", "#/plan", "#/plan-making",
    "#/site-tide", "#/visits", "#/set-up", "#/access", "#/access/devices", "#/access/tray", f"#/held/{stage_pack.person_id(5)}", "#/data", "#/bring-in", "#/closing", "#/closing/people", "#/closing/methods", "#/join", "#/own-hours", "#/hours/count",
    "#/desk", "#/desk/contacts", "#/count-heads", "#/set-up/waiver", "#/plots",
)  # fmt: skip
SET_UP = ("site", "closure", "datum_offset", "row", "control_mark", "unit_design", "casting_batch", "unit", "plot", "instrument", "own_field", "species", "person", "award", "rate")
DRAWS = 3
"""One to three seconds each, so that every run of the tests has some hundred screens; the seeds differ from run to run."""

UNSAID = re.compile(r"\b(?:undefined|NaN|null|Infinity|Invalid Date)\b|\[object")
"""What no person should read; no drawn text holds any of it."""


@pytest.fixture(scope="module")
def page(browser):
    """One page for all draws; `faults` are what the browser complains of."""
    server = stage_server.serve(stage_pack.stage_pack(), [stage_server.STATIC])
    opened = browser.new_page(viewport={"width": 390, "height": 844})
    opened.faults = []
    opened.on("pageerror", lambda fault: opened.faults.append(f"page: {fault.stack or fault}"))
    opened.on("console", lambda message: message.type == "error" and opened.faults.append(f"console: {message.text}"))
    opened.goto(f"http://127.0.0.1:{server.server_port}/?role=lead")
    opened.wait_for_selector("html[data-ready]")
    opened.evaluate("async () => { stage.walk = (await import('/stage/stage_rows.js')).walk; }")
    opened.faults.clear()
    yield opened
    opened.close()
    server.shutdown()
    server.server_close()


def hashes(drawing: Drawing) -> list[str]:
    units = [f"#/units/{unit}{check}" for unit in drawing.ids["unit"] for check in ("", "/check")]
    forms = [f"#/set-up/{kind}{place}" for kind in SET_UP for place in ("", "/new", f"/{drawing.ids[kind][0]}")]
    units += [f"#/plots/{plot}{way}" for plot in drawing.ids["plot"] for way in ("", "/stakes", "/cover_reading", "/level_run")]
    visits = [f"#/visits/{visit}{way}" for visit in drawing.ids["visit"] for way in ("", "/correct/times", "/correct/join", "/correct/part")]
    return [*PLACES, *units, *visits, *forms]


def flags_of(dice: Random, drawing: Drawing) -> list[dict[str, Any]]:
    """Flags of records that are here, of ones that are not, with evidence of every shape."""
    made = []
    for number, flag in enumerate(stage_pack.FLAGS):
        kind = dice.choice(["unit", "unit_check", "photo", "site", "visit"])
        subject = {"kind": kind, "id": dice.choice([*drawing.ids[kind], "0" * 36])}
        evidence = dice.choice([{}, None, {"a": None, "b_m": -0.0, "of_id": "x", "list": [[], {}, None]}, flag["evidence"]])
        made.append({**deepcopy(flag), "flag_id": str(number) * 32, "subject": subject, "evidence": evidence})
    return made


def entries_of(dice: Random, rows: dict[str, list[dict[str, Any]]]) -> list[dict[str, Any]]:
    """This phone's own entries: of kinds that its forms do not know, let go of, held for words that it has never heard."""
    made = []
    for number in range(8):
        kind = dice.choice([*CATALOGUE.kinds, "a_kind_of_tomorrow", ""])
        fields = {} if kind not in rows else {name: value for name, value in dice.choice(rows[kind]).items() if name in CATALOGUE.kinds[kind].fields}
        state = dice.choice(["phone", "taken", "held"])
        why = dice.choice([None, "", "word-of-tomorrow:field", "other-site"]) if state == "held" else None
        made.append({
            "lane": "a" * 32, "n": number, "entryId": f"{number:032x}", "kind": kind, "recordId": dice.choice([None, "0" * 36]), "at_ms": dice.choice([0, 1795600000000]),
            "state": state, "why": why, "sentence": dice.choice([None, "", "Too long."]), "fields": {**fields, "field_of_tomorrow": None}, "visitId": None,
        })  # fmt: skip
    return made


def told_of(dice: Random) -> dict[str, Any]:
    """What leads are told: held lines, devices and incidents with whatever may be missing of them."""
    name, person = dice.choice(["", "\u202e\u200b", "x" * 80, "\U0001f468\u200d\U0001f469" * 20]), dice.choice([None, "p"])
    device = {
        "device_id": "d", "name": name, "role": dice.choice(["lead", "role of tomorrow"]), "sites": None, "person_id": person, "person_name": None,
        "seen_at": dice.choice([None, 1795520000000]), "skew_ms": dice.choice([None, -(2**53)]), "unsent": dice.choice([None, 2**53]), "revoked_at": None,
        "authors": [{"person_id": "q", "person_name": dice.choice([None, " "]), "entries": 1, "last_at": 0}],
    }  # fmt: skip
    incident = {
        "device_id": "d", "device_name": name, "role": device["role"], "person_id": person, "person_name": None, "what": "lane",
        "whose": dice.choice(["own", "other", "unknown"]), "holder_name": dice.choice([None, ""]), "first_at": 0, "last_at": 0, "times": 2**31,
    }  # fmt: skip
    line = {**stage_pack.TRAY, "line": dice.choice(["", "\u0000\ufffd", "{" * 2000]), "sentence": dice.choice([None, ""]), "received_at": None}
    return {"devices": [device, *stage_pack.DEVICES], "incidents": [incident], "tray": [line, stage_pack.TRAY]}


def walked(
    page, rows: dict[str, list[dict[str, Any]]], me: dict[str, Any], part: dict[str, Any] | None, places: list[str], told: dict[str, Any] | None = None
) -> dict[str, Any]:  # fmt: skip
    return page.evaluate(
        "async ([rows, me, part, places, told]) => { stage.show(rows, me, part, told); return stage.walk(stage.phone, places); }",
        [json.loads(json.dumps(rows)), me, part, places, told or {}],
    )


@settings(max_examples=DRAWS, deadline=None, phases=[Phase.explicit, Phase.generate])  # a smaller seed is no simpler programme
@given(seed=st.integers(0, 2**32))
def test_every_screen_survives_any_row(page, seed) -> None:
    drawing, dice = Drawing(seed, NOW), Random(seed + 1)
    part = stage_pack.stage_pack()["sites"][SITE_ID] if dice.random() < 0.7 else None
    if part:
        part["flags"] = flags_of(dice, drawing)
    me = {"role": dice.choice(ROLES), "person_id": dice.choice([*drawing.ids["person"], "0" * 36, None]), "site_id": SITE_ID}
    rows = drawing.rows()
    rows["entries"] = entries_of(dice, rows)
    found = walked(page, rows, me, part, hashes(drawing), told_of(dice))
    assert found["faults"] + page.faults == []
    assert {place: odd for place, text in found["texts"].items() if (odd := UNSAID.findall(text))} == {}


def test_what_has_no_name_is_listed_and_can_be_chosen(page) -> None:
    rows = Drawing(0, NOW).rows()
    rows["person"] = [{"record_id": f"{n}" * 36, "site_id": SITE_ID, "display_name": name} for n, name in enumerate([None, "", "  ", "Ines Calder", "\u200b\u200b"])]
    del rows["person"][0]["display_name"]
    rows["site"] = [{**stage_pack.SITE, "site_id": SITE_ID, "name": None}]
    rows["visit_plan"] = [{"record_id": "9" * 36, "site_id": SITE_ID, "low_at": stage_pack.NOW, "made_at": stage_pack.NOW, "stops": "garbled\n1\n2 x y z"}]
    part = stage_pack.stage_pack()["sites"][SITE_ID]
    found = walked(page, rows, {"role": "crew", "person_id": None, "site_id": SITE_ID}, part, ["#/join"])
    assert found["faults"] + page.faults == []
    assert found["texts"]["#/join"].count("No name yet") == 4
    assert "Ines Calder" in found["texts"]["#/join"]
    me = {"role": "lead", "person_id": "3" * 36, "site_id": SITE_ID}
    found = walked(page, rows, me, part, ["#/today", "#/people", "#/set-up/person", "#/plan"])
    assert found["faults"] + page.faults == []
    assert "No name yet" in found["texts"]["#/today"]
    assert found["texts"]["#/set-up/person"].count("No name yet") == 4
