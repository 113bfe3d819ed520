"""
The OpenAPI document is kept: requests that it allows, and ones that it does not, are answered as it says, for each role.

About 500 requests here, the same each time; FIELDLOG_REQUESTS asks for more, drawn anew (`make soak`).
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
import schemathesis
from flask import Flask
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from fieldlog import create_app
from tests.live_server import code_for
from tests.service_document import service_document

NOW = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
REQUESTS = int(os.environ.get("FIELDLOG_REQUESTS", "500"))
CALLERS = ("lead", "crew", "desk", "reader", "nobody")
CHECKS = [status_code_conformance, content_type_conformance, response_headers_conformance, response_schema_conformance]
MODES = [schemathesis.GenerationMode.POSITIVE, schemathesis.GenerationMode.NEGATIVE]


@schemathesis.serializer("application/x-ndjson")
def lines(_context: object, value: object) -> bytes:
    return value if isinstance(value, bytes) else str(value).encode("utf-8", "replace")


@schemathesis.deserializer("image/jpeg")
def picture(_context: object, answer: object) -> str:
    """Its bytes are another test's matter."""
    return "a picture"


SCHEMA = schemathesis.openapi.from_dict(service_document())
SCHEMA.config.generation.update(with_security_parameters=False)
OPERATIONS = {operation.ok().label: operation.ok() for operation in SCHEMA.get_all_operations()}
EACH = -(-REQUESTS // (len(OPERATIONS) * len(CALLERS)))


@pytest.fixture(scope="module")
def served(demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    folder = tmp_path_factory.mktemp("requests") / "programme"
    shutil.copytree(demo_folder, folder)
    app = create_app(folder, lambda: NOW)
    yield app
    app.extensions["works"].wait()
    app.extensions["photo_copies"].close()
    app.extensions["programme"].close()


def joined(app: Flask, role: str) -> tuple[dict[str, str], str]:
    """A new device of a role: its cookies and its id; nobody has none."""
    if role == "nobody":
        return {}, "none"
    client = app.test_client()
    code = code_for(app.extensions["programme"], role, None, int(NOW.timestamp() * 1000))
    # An address that no test guesses from, whatever was tried before.
    answer = client.post("/api/join", json={"code": code, "device_name": role}, environ_base={"REMOTE_ADDR": "198.51.100.7"})
    return {"fieldlog": client.get_cookie("fieldlog").value}, answer.json["device_id"]


def names_of(app: Flask) -> dict[str, str]:
    """What is really there, for addresses."""
    db = app.extensions["programme"].db()
    first = {
        name: db.conn.execute(f"SELECT {column} FROM {table} LIMIT 1").fetchone()
        for name, column, table in (
            ("site_id", "record_id", "site"), ("person_id", "record_id", "person"),
            ("invitation_id", "invitation_id", "invitation"), ("sha256", "sha256", "photo_file"),
        )
    }  # fmt: skip
    return {name: row[0] for name, row in first.items() if row} | {"device_id": joined(app, "crew")[1]}


def read_out(app: Flask) -> Callable[..., list[bytes]]:
    """The application with each answer read to its end and closed, as a server does it."""

    def answer(environ: dict, start_response: Callable[..., object]) -> list[bytes]:
        parts = app(environ, start_response)
        try:
            return list(parts)
        finally:
            parts.close()

    return answer


@pytest.mark.parametrize("caller", CALLERS)
@pytest.mark.parametrize("label", OPERATIONS)
def test_each_request_is_answered_as_the_document_says(served, label, caller):
    operation, (cookies, _), there = OPERATIONS[label], joined(served, caller), names_of(served)

    @settings(
        max_examples=EACH, deadline=None, database=None, derandomize="FIELDLOG_REQUESTS" not in os.environ,
        phases=[Phase.generate], suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(st.data())
    def send(data) -> None:
        case = data.draw(st.sampled_from(MODES).flatmap(lambda mode: operation.as_strategy(generation_mode=mode)))
        for name in set(case.path_parameters or {}) & set(there):
            if data.draw(st.booleans()):
                case.path_parameters[name] = there[name]
        answer = case.call(cookies=cookies, headers={"Accept-Encoding": "identity"}, app=read_out(served))
        assert answer.status_code != 500, answer.text
        case.validate_response(answer, checks=CHECKS)

    send()
