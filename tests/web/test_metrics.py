"""Health, readiness and numbers: what a watching program asks."""

from __future__ import annotations

import shutil
import urllib.request
from collections import namedtuple

import pytest
from prometheus_client.parser import text_string_to_metric_families

from fieldlog.metrics import MEDIA_TYPE, Requests, open_metrics, page
from fieldlog.readiness import gauges
from fieldlog.serving import is_loopback


def test_the_numbers_are_what_prometheus_own_parser_reads(app, programme):
    client = app.test_client()
    for path in ("/healthz", "/healthz", "/nothing", "/calendar/a.ics"):
        client.get(path, buffered=True)
    families = {family.name: family for family in text_string_to_metric_families(page(app.extensions["requests"], lambda: gauges(programme)))}
    answers = {(one.labels["route"], one.labels["status"]): one.value for one in families["fieldlog_requests"].samples}
    assert answers["/healthz", "200"] == 2
    assert answers["/<path:name>", "404"] == 1
    assert answers["/calendar/<secret>.ics", "404"] == 1
    seconds = families["fieldlog_request_seconds"]
    assert seconds.type == "histogram"
    counts = {one.labels["le"]: one.value for one in seconds.samples if one.name.endswith("_bucket") and one.labels["route"] == "/healthz"}
    assert counts["+Inf"] == 2
    assert list(counts.values()) == sorted(counts.values())
    assert families["fieldlog_entries"].samples[0].value == 0
    assert families["fieldlog_disk_free_bytes"].samples[0].value > 0


def test_a_label_is_escaped():
    requests = Requests()
    requests.note('a"b\\c\nd', "GET", 200, 0.5)
    (family, _) = list(text_string_to_metric_families(page(requests, dict)))[:2]
    assert family.samples[0].labels["route"] == 'a"b\\c\nd'


def test_numbers_are_given_at_a_port_of_this_machine(app, programme):
    server = open_metrics(0, app.extensions["requests"], lambda: gauges(programme))
    host, port = server.server_address[:2]
    assert host == "127.0.0.1"
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics", timeout=10) as answer:
        assert answer.headers["Content-Type"] == MEDIA_TYPE
        assert b"fieldlog_held_lines 0" in answer.read()
    with pytest.raises(urllib.request.HTTPError) as other:
        urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=10)
    assert other.value.code == 404
    other.value.close()
    server.shutdown()
    server.server_close()


def test_ready_is_who_has_a_database_and_room(app, programme, monkeypatch):
    client = app.test_client()
    assert client.get("/readyz").json == {"ready": True}
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: namedtuple("Usage", "free")(1024 * 1024))
    full = client.get("/readyz")
    assert (full.status_code, full.json["word"]) == (503, "not-ready")
    assert full.json["detail"].startswith("The disk has 1 MB left; 200 MB are needed.")
    assert client.get("/healthz").status_code == 200


def test_a_database_that_does_not_answer_is_not_ready(app, programme):
    programme.db().conn.execute("ALTER TABLE log RENAME TO gone")
    answer = app.test_client().get("/readyz")
    assert (answer.status_code, answer.json["word"]) == (503, "not-ready")


@pytest.mark.parametrize(
    ("host", "alone"),
    [("127.0.0.1", True), ("localhost", True), ("::1", True), ("0.0.0.0", False), ("192.0.2.7", False), ("reef.example.org", False)],
)
def test_which_addresses_only_this_machine_reaches(host, alone):
    assert is_loopback(host) == alone
