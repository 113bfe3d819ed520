"""The sheet on paper: its times, its units in the plan's order or row by row, a box for every field of a check, nothing that could run."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from fieldlog import create_app
from fieldlog.errors import NoWindow
from fieldlog.plan.making import Asked, as_lists, as_text, make_plan
from fieldlog.plan.sheet import Sheet, page, sheet_of
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme, write
from fieldlog.windows.beds import ground_of
from tests.live_server import code_for

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


def site_of(programme: Programme) -> dict[str, Any]:
    return next(iter(programme.db().query("SELECT * FROM site")))


def made(programme: Programme, number: int = 1) -> Sheet:
    return sheet_of(programme.db(), site_of(programme), number, NOW)


class Texts(HTMLParser):
    """What of a page is read, and the tags that it has."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def test_without_a_plan_every_unit_stands_on_it_row_by_row_from_the_sea(demo_programme: Programme) -> None:
    programme = demo_programme
    with write(programme.db()) as db:
        db.conn.execute("DELETE FROM visit_plan")
    sheet = made(programme)
    expected = [
        tag for (tag,) in programme.db().conn.execute(
            "SELECT unit.tag FROM unit JOIN row ON row.record_id = unit.row_id WHERE unit.deleted = 0 ORDER BY row.order_number, unit.slot_number"
        )
    ]  # fmt: skip
    assert [unit.tag for unit in sheet.units] == expected and len(expected) == 48
    assert {unit.team for unit in sheet.units} == {None}
    assert sheet.order == "row by row from the sea, slot by slot"


@pytest.mark.parametrize("is_older", [False, True], ids=["lists", "the text of an older app"])
def test_with_a_plan_it_has_the_plans_stops_in_its_order_with_their_times(demo_programme: Programme, is_older: bool) -> None:
    db = demo_programme.db()
    planned = make_plan(db, site_of(demo_programme), Asked(teams=2, samples=True), NOW)
    of_plan = as_text(planned) if is_older else {**as_text(planned), "stops": "read by older apps alone", **as_lists(planned)[0]}
    row = {**of_plan, "made_at": "2026-11-25T12:00:00.000Z", "record_id": "f" * 8, "site_id": site_of(demo_programme)["record_id"], "deleted": 0}
    with write(db):
        db.conn.execute("DELETE FROM visit_plan")
        names = ", ".join(f'"{name}"' for name in row)
        db.conn.execute(f"INSERT INTO visit_plan({names}) VALUES ({', '.join('?' * len(row))})", [value if not isinstance(value, list) else json.dumps(value) for value in row.values()])
    sheet = made(demo_programme)
    assert [(unit.team, unit.tag) for unit in sheet.units] == [(stop["team"], stop["tag"]) for stop in planned["stops"]]
    assert all(re.fullmatch(r"\d\d:\d\d", unit.begins or "") for unit in sheet.units)
    assert sheet.order == "as planned, team by team"
    assert made(demo_programme, 2).order.startswith("row by row"), "the plan is of the first low alone"


def test_its_times_are_those_of_the_low(demo_programme: Programme) -> None:
    planned = make_plan(demo_programme.db(), site_of(demo_programme), Asked(), NOW)["window"]
    ground = ground_of(demo_programme.db(), site_of(demo_programme))
    times = dict(made(demo_programme).times)

    def clock(text: str) -> str:
        return f"{datetime.fromisoformat(text).astimezone(ZoneInfo(ground.rules.zone)):%H:%M}"

    assert times["Work from"] == clock(planned["usable_from"])
    assert times["Turn back by"] == f"{clock(planned['turn_back_at'])}: {planned['turn_back_reason']}"
    assert times["Low"].startswith(clock(planned["low_at"]))


def test_every_field_of_a_check_has_its_box(demo_programme: Programme) -> None:
    titles = {box.title for box in made(demo_programme).boxes}
    fields = CATALOGUE.kinds["unit_check"].fields
    by_place = {"unit_id", "checked_at", "time_known", "looked_only", "crest_datum", "in_visit"}
    assert titles == {declared.title for name, declared in fields.items() if name not in by_place and name != "_deleted"}


def test_what_people_wrote_is_text_and_never_a_tag(demo_programme: Programme) -> None:
    with write(demo_programme.db()) as db:
        db.conn.execute("UPDATE site SET name = '<script>alert(1)</script>', emergency_card = '<img src=x onerror=y>'")
        db.conn.execute("UPDATE unit SET tag = '\"><b>' WHERE slot_number = 1")
    read = Texts(page(made(demo_programme)))
    assert {"script", "img"} & set(read.tags) == set()
    assert any("<script>alert(1)</script>" in words for words in read.words)


def test_it_names_nobody_and_cautions_as_the_work_needs(demo_programme: Programme) -> None:
    text = page(made(demo_programme))
    names = [name for (name,) in demo_programme.db().conn.execute("SELECT display_name FROM person")]
    assert names and not [name for name in names if name in text.replace(site_of(demo_programme)["emergency_card"], "")]
    for caution in ("trust what you see", "Local rules and your leader come first", "lift in pairs", "Never alone", "turn-back time"):
        assert caution in text


def test_a_low_that_is_not_there_is_named_with_what_there_is(demo_programme: Programme) -> None:
    with pytest.raises(NoWindow, match=r"has \d+ usable lows in the next 60 days; there is no number 999"):
        made(demo_programme, 999)
    with write(demo_programme.db()) as db:
        db.conn.execute("UPDATE site SET least_usable_min = 600")
    with pytest.raises(NoWindow, match="no usable low"):
        made(demo_programme)


def test_the_command_writes_a_file_that_stands_alone_and_overwrites_none(demo_programme: Programme, tmp_path: Path) -> None:
    out = tmp_path / "sheet.html"
    command = [sys.executable, "-m", "fieldlog", "--data", str(demo_programme.folder), "sheet", "--out", str(out)]
    assert subprocess.run(command, capture_output=True, text=True).returncode == 0
    text = out.read_text("utf-8")
    assert "<style>" in text and "<link" not in text and "@page" in text
    again = subprocess.run(command, capture_output=True, text=True)
    assert (again.returncode, "is there already" in again.stderr) == (2, True)


def test_crew_and_leads_open_it_in_the_app_and_readers_do_not(demo_programme: Programme) -> None:
    app = create_app(demo_programme.folder, lambda: NOW)
    site_id = site_of(demo_programme)["record_id"]
    seen = {}
    for role in ("lead", "crew", "reader", "desk"):
        client = app.test_client()
        code = code_for(demo_programme, role, None if role == "lead" else site_id, int(NOW.timestamp() * 1000))
        client.post("/api/join", json={"code": code, "device_name": role})
        answer = client.get(f"/api/sites/{site_id}/sheet")
        seen[role] = answer.status_code
        if role == "lead":
            assert answer.mimetype == "text/html" and 'href="/online/sheet.css"' in answer.text and "<style" not in answer.text
    assert seen == {"lead": 200, "crew": 200, "reader": 403, "desk": 403}
