"""The past over HTTP: few bytes an entry, and where it goes on is said before the answer is through."""

from __future__ import annotations

import gzip
import json
from typing import Any

import pytest
from werkzeug.test import TestResponse

from tests.a_phone import Phone

SITE = "00000000-0000-4000-8000-00000000000a"
OLD = "UPDATE log SET received_at = 1 WHERE kind = 'sighting'"
SIGHTINGS = 400


@pytest.fixture
def reader(client_of, app, now) -> Phone:
    """A new phone beside a site with sightings of long ago."""
    writer, new = (Phone(client_of("lead"), int(now().timestamp() * 1000)) for _ in range(2))
    for number in range(SIGHTINGS):
        writer.note("sighting", f"{number:08d}-0000-4000-8000-000000000000", SITE, found="seen", seen_at="2026-09-22T06:12:00Z", count=number)
    assert all(ack[2] == "ok" for ack in writer.sync().json["acks"])
    app.extensions["programme"].db().conn.execute(OLD)
    return new


def ask(phone: Phone, **more: Any) -> tuple[TestResponse, dict[str, Any]]:
    header, *lines = phone.body().split(b"\n")
    body = b"\n".join([json.dumps({**json.loads(header), "older": True, **more}).encode(), *lines])
    answer = phone.client.post("/api/sync", data=body, headers={"Accept-Encoding": "gzip"})
    text = gzip.decompress(answer.data) if answer.content_encoding == "gzip" else answer.data
    return answer, json.loads(text)


def goes_on(reply: dict[str, Any]) -> str:
    return f"{reply['cursor'][0]} {reply['cursor'][1]} {reply['past']}"


def test_the_head_of_an_answer_says_where_the_past_goes_on(reader) -> None:
    answer, first = ask(reader, cursor=None, season=True, want=100)
    assert answer.headers["Fieldlog-Next"] == goes_on(first)
    answer, second = ask(reader, cursor=first["cursor"], past=first["past"], want=100)
    assert len(second["older"]) == 100
    assert answer.headers["Fieldlog-Next"] == goes_on(second)
    _, last = ask(reader, cursor=second["cursor"], past=second["past"], want=SIGHTINGS)
    assert "past" not in last
    assert len(last["older"]) == SIGHTINGS - 100


def test_no_head_promises_what_the_answer_may_change(reader) -> None:
    _, first = ask(reader, cursor=None, season=True, want=100)
    reader.note("sighting", "99999999-0000-4000-8000-000000000000", SITE, found="seen", seen_at="2026-09-22T06:12:00Z")
    with_receipts, reply = ask(reader, cursor=first["cursor"], past=first["past"], want=100)
    assert reply["acks"]
    assert "Fieldlog-Next" not in with_receipts.headers
    begun_again, reply = ask(reader, cursor=[first["cursor"][0], "0" * 32], past=1, season=True, want=100)
    assert reply["reset"] is True
    assert "Fieldlog-Next" not in begun_again.headers
    at_the_end, reply = ask(reader, cursor=first["cursor"], past=first["past"], want=2 * SIGHTINGS)
    assert "past" not in reply
    assert "Fieldlog-Next" not in at_the_end.headers


def test_the_past_takes_half_the_bytes_that_a_pull_takes(reader) -> None:
    _, first = ask(reader, cursor=None, season=True, want=100)
    alone, _ = ask(reader, cursor=first["cursor"], past=first["past"], want=SIGHTINGS)
    whole, _ = ask(reader, cursor=first["cursor"], past=first["past"], want=SIGHTINGS, older=False)
    assert len(alone.data) < 0.55 * len(whole.data)
