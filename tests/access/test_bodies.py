"""What a JSON body may hold: whatever a stranger sends, the answer is a sentence, never a fault of the server's own."""

from __future__ import annotations

import itertools
import json
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from ipaddress import IPv4Address
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fieldlog import create_app
from tests.live_server import code_for
from tests.service_document import service_document

NOW = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
DEEP = b"[" * 50_000
ODD_BODIES = {
    "no body": b"",
    "nested 17 deep": b'{"code":' + b"[" * 16 + b"]" * 16 + b"}",
    "nested 100,000 deep": b'{"code":' + b"[" * 30_000 + b"]" * 30_000 + b"}",
    "opened and never closed": DEEP,
    "objects in objects": b'{"a":' * 10_000,
    "a lone surrogate": b'{"code":"\\ud800","device_name":"x","role":"\\ud800","window_id":"\\udfff","text":"\\ud83d"}',
    "a surrogate as a name": b'{"\\udc00":1}',
    "an integer of 5,000 digits": b'{"uses":' + b"9" * 5_000 + b"}",
    "an integer beyond 2^53": b'{"uses":9007199254740993,"teams":9007199254740993,"hours":1}',
    "a number beyond a double": b'{"uses":1e999}',
    "no number": b'{"uses":NaN,"hours":Infinity}',
    "a key twice": b'{"code":"a","code":"b"}',
    "a byte-order mark": b"\xef\xbb\xbf{}",
    "a null character": b'{"code":"a\x00b"}',
    "not UTF-8": b'{"code":"\xff"}',
    "UTF-16": '{"code":"a"}'.encode("utf-16"),
    "a list": b"[]",
    "a text": b'"x"',
    "null": b"null",
    "cut": b'{"code":"a',
}
BODIES = {
    "/api/join": ("code", "device_name"),
    "/api/invitations": ("role", "site_id", "uses", "hours"),
    "/api/devices/{device}": ("role", "sites"),
    "/api/sites/{site}/plan": ("window_id", "teams", "samples", "everything"),
    "/api/sites/{site}/water-records/look": ("text", "columns", "barometer", "control", "name"),
    "/api/sites/{site}/water-records": (
        "text", "columns", "barometer", "control", "name", "salinity_psu", "temperature_c", "zero_above_chart_datum_m",
    ),
    "/api/exports": ("as", "site_id", "from_day", "to_day", "kinds", "names", "private", "history"),
    "/api/imports/{upload}/look": ("kind", "sheet", "header_row", "zone", "columns", "constants", "wide"),
    "/api/import-mappings": ("name", "mapping", "site_id"),
    "/api/people/{person}/purge": ("tag", "name"),
}  # fmt: skip
"""Each address that takes a JSON body, and the members it reads."""

COLUMNS = ("delimiter", "first_line", "time", "date", "value", "time_form", "zone", "unit", "decimal_comma", "other")
LOGGER = "time,level m\n" + "\n".join(f"2026-11-{day:02d} 06:12,{day / 10}" for day in range(1, 25)) + "\n"

numbers = st.one_of(
    st.integers(), st.floats(), st.sampled_from([0, -1, 1, True, 2**53, 2**63, 2**64, 10**400, 1e308, -0.0, 0.5])
)
words = st.one_of(
    st.text(st.characters(exclude_categories=()), max_size=60),
    st.sampled_from(["", " ", "lead", "crew", "UTC", "m", ",", "iso", "\ud800", "\0", "a" * 300, "2222-2222", "%d%d", LOGGER]),
)
values = st.recursive(
    st.one_of(st.none(), st.booleans(), numbers, words),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(words, inner, max_size=4)),
    max_leaves=12,
)
columns = st.dictionaries(st.sampled_from(COLUMNS), values, max_size=4)
texts = st.one_of(values, st.just(LOGGER), st.text("0123456789-: ,;.\t\n\"'/\0\rTZ+", max_size=300).map(lambda end: LOGGER + end))
files = st.one_of(values, st.fixed_dictionaries({"text": texts}, optional={"columns": columns}))
OF_ITS_OWN = {"text": texts, "columns": st.one_of(values, columns), "barometer": files, "control": files}


@pytest.fixture(scope="module")
def served(demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Flask, FlaskClient, dict[str, str]]]:
    """The demo's application, a lead's client, and what stands in addresses."""
    folder = tmp_path_factory.mktemp("odd") / "programme"
    shutil.copytree(demo_folder, folder)
    app = create_app(folder, lambda: NOW)
    programme, client = app.extensions["programme"], app.test_client()
    code = code_for(programme, "lead", None, int(NOW.timestamp() * 1000))
    device = client.post("/api/join", json={"code": code, "device_name": "a lead"}).json["device_id"]
    (site,) = [row[0] for row in programme.db().conn.execute("SELECT record_id FROM site")]
    upload = client.post(f"/api/imports?site_id={site}", data=b"tag,Date,found\nB019,7/5/2025,chip\n").json["upload_id"]
    person = programme.db().conn.execute("SELECT record_id FROM person ORDER BY record_id").fetchone()[0]
    yield app, client, {"site": site, "device": device, "upload": upload, "person": person}
    app.extensions["works"].wait()
    app.extensions["photo_copies"].close()
    programme.close()


NUMBERS = itertools.count()


def send(client: FlaskClient, path: str, body: bytes):
    """One request; each from an address of its own, so that the limit on failed joins does not answer instead."""
    address = str(IPv4Address("198.18.0.0") + next(NUMBERS))
    method = "PATCH" if "/devices/" in path else "POST"
    return client.open(path, method=method, data=body, environ_base={"REMOTE_ADDR": address})


@pytest.mark.parametrize("path", BODIES)
@pytest.mark.parametrize("body", ODD_BODIES.values(), ids=ODD_BODIES.keys())
def test_what_no_browser_reads_alike_is_a_bad_request_in_a_sentence(served, path, body):
    _, client, names = served
    answer = send(client, path.format(**names), body)
    assert (answer.status_code, answer.json["word"]) == (400, "bad-request"), answer.text
    assert answer.json["detail"].endswith(".")


def test_every_json_body_of_the_service_is_tried_here():
    takes_json = {
        path.replace("{device_id}", "{device}").replace("{site_id}", "{site}").replace("{upload_id}", "{upload}").replace("{person_id}", "{person}")
        for path, operations in service_document()["paths"].items()
        for said in operations.values()
        if "application/json" in said.get("requestBody", {}).get("content", {})
    }
    assert takes_json == set(BODIES)


def test_a_body_that_is_refused_says_why(served):
    _, client, _ = served
    assert "nested deeper than 16" in send(client, "/api/join", ODD_BODIES["nested 17 deep"]).json["detail"]
    assert "surrogate" in send(client, "/api/join", ODD_BODIES["a lone surrogate"]).json["detail"]


@pytest.mark.parametrize("window_id", [["a"], {"a": 1}, 1.5, -1, 0, True, False, "", 2**53 - 1, "none"])
def test_a_plan_for_what_is_no_window_is_a_sentence(served, window_id):
    _, client, names = served
    answer = client.post(f"/api/sites/{names['site']}/plan", json={"window_id": window_id})
    assert answer.status_code in (400, 409)
    assert answer.json["word"] in ("bad-request", "no-window")


def test_letters_in_strings_are_not_nesting(served):
    _, client, names = served
    answer = client.post(f"/api/sites/{names['site']}/water-records/look", json={"text": LOGGER + "[{" * 1000})
    assert answer.status_code == 200


@pytest.mark.parametrize("path", BODIES)
def test_no_json_body_is_a_fault_of_the_servers_own(served, path):
    _, client, names = served
    members = BODIES[path]
    asked = {name: OF_ITS_OWN.get(name, values) for name in members}
    if path.endswith("/plan"):
        asked["window_id"] = values.filter(lambda value: value not in (None, 1))  # else each draw waits for the solver
        asked = {"window_id": asked.pop("window_id")} | asked

    @settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck), database=None)
    @given(st.data())
    def fuzz(data) -> None:
        needed = {"window_id": asked["window_id"]} if "window_id" in asked else {}
        optional = {name: shape for name, shape in asked.items() if name not in needed}
        said = data.draw(st.fixed_dictionaries(needed, optional=optional))
        answer = send(client, path.format(**names), json.dumps(said).encode())
        assert answer.status_code < 500, answer.text
        assert answer.status_code < 400 or answer.json["detail"].endswith("."), answer.text

    fuzz()


def test_no_sync_body_is_a_fault_of_the_servers_own(served):
    _, client, _ = served
    header = {"p": 1, "rid": "a", "d": "odd-lane-0001", "from": 1, "prev": "", "mine": 1, "cursor": None, "want": 1, "now": 1}
    line = {"v": 1, "d": "odd-lane-0001", "n": 1, "s": "0199c0ffee000000", "t": "sighting", "r": "a-1", "f": {"note": "x"}, "b": {}}

    @settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck), database=None)
    @given(st.dictionaries(st.sampled_from([*header, "app", "person"]), values, max_size=2), st.dictionaries(st.sampled_from([*line, "o", "u", "g", "k"]), values, max_size=3))
    def fuzz(wrong_header: dict, wrong_line: dict) -> None:
        body = "".join(json.dumps(part) + "\n" for part in (header | wrong_header, line | wrong_line))
        answer = client.post("/api/sync", data=body.encode())
        assert answer.status_code in (200, 400), answer.text

    fuzz()
