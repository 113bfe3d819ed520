"""Health, readiness and numbers: what a watching program asks."""

from __future__ import annotations

import json
import shutil
import socket
import subprocess
import sys
import urllib.request
from collections import namedtuple
from pathlib import Path

import pytest
from prometheus_client.parser import text_string_to_metric_families

from fieldlog.metrics import MEDIA_TYPE, Requests, open_metrics, page
from fieldlog.readiness import gauges
from fieldlog.serving import is_loopback
from fieldlog.store import REPLAYING, ProgrammeLock, create_programme

ROOT = Path(__file__).parents[2]


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


def test_numbers_that_cannot_be_made_are_a_503_and_one_line_of_the_log(app, programme, written):
    programme.db().conn.execute("ALTER TABLE tray RENAME TO gone")
    server = open_metrics(0, app.extensions["requests"], lambda: gauges(programme))
    try:
        with pytest.raises(urllib.request.HTTPError) as refused:
            urllib.request.urlopen(f"http://127.0.0.1:{server.server_address[1]}/metrics", timeout=10)
        assert refused.value.code == 503
        refused.value.close()
    finally:
        server.shutdown()
        server.server_close()
    (line,) = [json.loads(text) for text in written.getvalue().splitlines()]
    assert (line["level"], line["fault"]) == ("error", "OperationalError")


def test_what_nobody_foresaw_is_one_line_of_the_log_too(app, programme, written, capfd):
    def unforeseen() -> dict:
        raise KeyError("something that nobody foresaw")

    server = open_metrics(0, app.extensions["requests"], unforeseen)
    try:
        with pytest.raises(OSError), urllib.request.urlopen(f"http://127.0.0.1:{server.server_address[1]}/metrics", timeout=10):
            pass
    finally:
        server.shutdown()
        server.server_close()
    (line,) = [json.loads(text) for text in written.getvalue().splitlines()]
    assert (line["level"], line["fault"]) == ("error", "KeyError")
    assert capfd.readouterr().err == ""


def test_a_backup_that_is_dropped_meanwhile_stops_no_numbers(programme):
    (programme.backups_folder / "dropped.zip").symlink_to("gone.zip")
    assert gauges(programme)["fieldlog_newest_backup_timestamp_seconds"][1] == 0


def test_ready_is_who_has_a_database_and_room(app, programme, monkeypatch):
    client = app.test_client()
    assert client.get("/readyz").json == {"ready": True}
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: namedtuple("Usage", "free")(1024 * 1024))
    full = client.get("/readyz")
    assert (full.status_code, full.json["word"]) == (503, "not-ready")
    assert full.json["detail"].startswith("The disk has 1 MB left; 200 MB are needed.")
    assert client.get("/healthz").status_code == 200


def test_while_the_tables_are_rebuilt_the_server_is_not_ready(app, programme):
    client = app.test_client()
    with ProgrammeLock(programme.folder, REPLAYING):
        answer = client.get("/readyz")
        assert (answer.status_code, answer.json["word"]) == (503, "not-ready")
        assert "rebuilt" in answer.json["detail"]
    assert client.get("/readyz").status_code == 200


def test_a_database_that_does_not_answer_is_not_ready(app, programme):
    programme.db().conn.execute("ALTER TABLE log RENAME TO gone")
    answer = app.test_client().get("/readyz")
    assert (answer.status_code, answer.json["word"]) == (503, "not-ready")


def test_serve_warns_of_plain_http_beyond_this_machine_logs_json_and_gives_numbers(tmp_path):
    create_programme(tmp_path / "programme", "Skein Bay").close()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        metrics_port = free.getsockname()[1]
    command = [sys.executable, "-m", "fieldlog", "--data", str(tmp_path / "programme"), "serve", "--host", "0.0.0.0", "--port", "0"]
    served = subprocess.Popen(
        [*command, "--metrics-port", str(metrics_port)], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert served.stdout is not None
    try:
        assert served.stdout.readline().startswith("Serving at http://0.0.0.0:")
        with urllib.request.urlopen(f"http://127.0.0.1:{metrics_port}/metrics", timeout=20) as answer:
            assert b"fieldlog_entries 0" in answer.read()
        served.terminate()
        _, errors = served.communicate(timeout=60)
    finally:
        served.kill()
        served.wait()
        served.stdout.close()
    assert served.returncode == 0
    said = [json.loads(line) for line in errors.splitlines()]
    (warning,) = [line["says"] for line in said if line["level"] == "warning"]
    assert warning.startswith("Serving plain HTTP beyond this machine, at 0.0.0.0.")


@pytest.mark.parametrize(
    ("host", "alone"),
    [("127.0.0.1", True), ("localhost", True), ("::1", True), ("0.0.0.0", False), ("192.0.2.7", False), ("reef.example.org", False)],
)
def test_which_addresses_only_this_machine_reaches(host, alone):
    assert is_loopback(host) == alone
