"""A long answer travels packed: a new phone waits for its bytes, not for the server."""

from __future__ import annotations

import gzip
import json

import brotli

from tests.a_phone import Phone


def test_a_long_answer_is_packed_for_who_takes_gzip_and_says_the_same(client_of, now) -> None:
    phone, new = (Phone(client_of("lead"), int(now().timestamp() * 1000)) for _ in range(2))
    for number in range(60):
        phone.note("species", f"{number:08d}-0000-4000-8000-000000000000", None, scientific_name=f"Invented {number}")
    assert phone.sync().status_code == 200
    plain = new.client.post("/api/sync", data=new.body())
    packed = new.client.post("/api/sync", data=new.body(), headers={"Accept-Encoding": "gzip"})
    assert plain.content_encoding is None
    assert packed.content_encoding == "gzip"
    assert len(packed.data) < len(plain.data) / 3
    assert json.loads(gzip.decompress(packed.data))["pull"] == plain.json["pull"]
    smaller = new.client.post("/api/sync", data=new.body(), headers={"Accept-Encoding": "gzip, deflate, br, zstd"})
    assert smaller.content_encoding == "br"
    assert len(smaller.data) < len(packed.data)
    assert json.loads(brotli.decompress(smaller.data))["pull"] == plain.json["pull"]
    assert len(plain.json["pull"]) == 60
    assert "Accept-Encoding" in packed.vary
    assert "Accept-Encoding" in plain.vary


def test_a_short_answer_is_not(client_of, now) -> None:
    client = client_of("lead")
    phone = Phone(client, int(now().timestamp() * 1000))
    assert client.post("/api/sync", data=phone.body(), headers={"Accept-Encoding": "gzip"}).content_encoding is None
