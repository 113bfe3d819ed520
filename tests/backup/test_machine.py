"""The doctor says what the machine that serves a programme lacks, each in a sentence with what to do, and says so where all is well."""

from __future__ import annotations

import shutil
import ssl
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from fieldlog import machine
from fieldlog.doctor import examine
from fieldlog.machine import look_at_machine
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme, set_setting
from tests.a_phone import Phone

PAIR = Path(__file__).parents[1] / "data" / "tls" / "localhost.pem"
SITE = "00000000-0000-4000-8000-00000000000a"
NOW_MS = int(datetime(2026, 11, 25, 6, 0, tzinfo=UTC).timestamp() * 1000)
ENDS_MS = int(ssl.cert_time_to_seconds(ssl._ssl._test_decode_cert(str(PAIR))["notAfter"]) * 1000)  # type: ignore[attr-defined]
DAY_MS = 24 * 3600 * 1000


class Answering(BaseHTTPRequestHandler):
    """As the server's /healthz, or as a proxy whose server is away."""

    is_fieldlog = True

    def do_GET(self) -> None:
        body = b'{"ok": true, "entries": 3, "rebuilding": false}' if self.is_fieldlog else b"Bad gateway"
        self.send_response(200 if self.is_fieldlog else 502)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_said: object) -> None:
        pass


@pytest.fixture
def https() -> Iterator[str]:
    """An HTTPS server with the test's own certificate: its address."""

    class Quiet(HTTPServer):
        def handle_error(self, *_request: object) -> None:
            """Who does not trust the certificate hangs up."""

    server = Quiet(("127.0.0.1", 0), Answering)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(PAIR)
    server.socket = context.wrap_socket(server.socket, server_side=True)
    running = threading.Thread(target=server.serve_forever, daemon=True)
    running.start()
    yield f"https://localhost:{server.server_port}"
    server.shutdown()
    server.server_close()
    running.join(10)


@pytest.fixture
def trusted(monkeypatch) -> None:
    monkeypatch.setenv("SSL_CERT_FILE", str(PAIR))


def found(programme: Programme, now_ms: int = NOW_MS) -> dict[str, tuple[bool, str]]:
    return {one.word: (one.ok, one.sentence) for one in look_at_machine(programme, now_ms)}


def reached(programme: Programme, address: str, now_ms: int = NOW_MS) -> tuple[tuple[bool, str], tuple[bool, str]]:
    set_setting(programme.db(), "address", address)
    said = found(programme, now_ms)
    return said["address"], said["certificate"]


def test_an_address_that_phones_cannot_use_is_said(programme: Programme) -> None:
    assert found(programme)["address"][1].startswith("Invitations name no address, which only this machine reaches.")
    address, certificate = reached(programme, "http://localhost:8080")
    assert address == (
        False,
        "Invitations name http://localhost:8080, which only this machine reaches. Give the address that phones use: fieldlog serve --address https://reef.example.org",
    )
    assert certificate == (False, "Without an HTTPS address there is no certificate. README, On phones, has three ways to one.")
    (ok, sentence), _ = reached(programme, "http://192.0.2.7:8080")
    assert (ok, sentence.split(",")[0]) == (False, "Phones keep data only over HTTPS")


def test_an_address_where_nobody_answers_is_said(programme: Programme) -> None:
    address, certificate = reached(programme, "https://localhost:1")
    assert address == (
        False,
        "https://localhost:1 does not answer this machine (Connection refused). Look at the name, the firewall and whether the proxy runs. Phones keep their entries.",
    )
    assert certificate == (False, "The certificate of localhost could not be read, since https://localhost:1 does not answer.")


def test_a_certificate_that_nobody_trusts_is_said(programme: Programme, https: str) -> None:
    _, (ok, sentence) = reached(programme, https)
    assert not ok
    assert sentence.startswith("This machine does not trust the certificate of localhost (self-signed certificate). See the proxy's log.")


def test_a_certificate_is_told_with_its_end_and_soon_before_it(programme: Programme, https: str, trusted: None) -> None:
    address, certificate = reached(programme, https)
    assert address == (True, f"Phones reach the server at {https}, and it answers.")
    day = f"{datetime.fromtimestamp(ENDS_MS / 1000, UTC):%b} {datetime.fromtimestamp(ENDS_MS / 1000, UTC).day}, {datetime.fromtimestamp(ENDS_MS / 1000, UTC).year}"
    assert certificate == (True, f"The certificate of localhost is valid until {day}.")
    assert reached(programme, https, ENDS_MS - 14 * DAY_MS)[1][0] is True
    assert reached(programme, https, ENDS_MS - 14 * DAY_MS + 1)[1] == (
        False, f"The certificate of localhost ends on {day}, in 13 days. The proxy should have renewed it: see its log.",
    )  # fmt: skip
    assert reached(programme, https, ENDS_MS + 1)[1][1].startswith(f"The certificate of localhost ended on {day}, so phones cannot sync.")


def test_a_proxy_whose_server_is_away_is_said(programme: Programme, https: str, trusted: None, monkeypatch) -> None:
    monkeypatch.setattr(Answering, "is_fieldlog", False)
    address, (certificate_ok, _) = reached(programme, https)
    assert address == (
        False, f"{https} answers, but not as Fieldlog (status 502). Start fieldlog serve, and look at which port the proxy passes on to.",
    )  # fmt: skip
    assert certificate_ok


def test_time_zones_and_the_clock_are_told(programme: Programme, client_of, monkeypatch) -> None:
    assert found(programme)["zone"] == (True, "There is no site yet, so no time zone is needed.")
    lead = Phone(client_of("lead"), NOW_MS)
    lead.note("site", SITE, SITE, name="Alder Spit", zone="America/New_York")
    lead.sync()
    assert found(programme)["zone"] == (True, "The server's clock says Wed, Nov 25, 01:00 in America/New_York. Compare it with a phone's.")
    programme.db().execute("UPDATE site SET zone = 'America/Nowhere'")
    assert found(programme)["zone"] == (
        False, "This machine does not know the time zone America/Nowhere of Alder Spit. Update its zones: pip install --upgrade tzdata",
    )  # fmt: skip
    programme.db().execute("UPDATE site SET zone = NULL")
    assert found(programme)["zone"] == (False, "Alder Spit has no time zone, so it has no low tides. A lead sets it under Set-up, Site.")


@pytest.mark.parametrize(
    ("free", "backup_bytes", "said"),
    [
        (48_200_000_000, 0, (True, "The disk has 48.2 GB left.")),
        (150 * 1024 * 1024, 0, (False, "The disk has 150 MB left; 200 MB are needed. Make room; phones keep their entries.")),
        (
            900_000_000, 1_500_000_000,
            (False, "The disk has 900 MB left, and the last backup took 1.5 GB: the next may not fit. Move old backups elsewhere."),
        ),
    ],
)  # fmt: skip
def test_the_disk_is_told(programme: Programme, monkeypatch, free: int, backup_bytes: int, said: tuple[bool, str]) -> None:
    usage = shutil.disk_usage(programme.folder)._replace(free=free)
    monkeypatch.setattr(shutil, "disk_usage", lambda _place: usage)
    if backup_bytes:
        with (programme.backups_folder / "fieldlog-000001.zip").open("wb") as file:
            file.truncate(backup_bytes)
    assert found(programme)["disk"] == said


def test_the_version_is_told_and_a_folder_of_a_newer_one(programme: Programme) -> None:
    ok, sentence = found(programme)["version"]
    assert ok
    assert sentence.startswith(f"Fieldlog {machine.version('fieldlog')}, on Python 3.")
    programme.db()["_sqlite_migrations"].insert({"migration_set": "fieldlog", "name": "m999_tomorrow", "applied_at": "2027-01-01"})
    ok, sentence = found(programme)["version"]
    assert not ok
    assert sentence.startswith("A newer version of Fieldlog opened this folder")
    assert "m999_tomorrow" in sentence


def test_the_doctor_asks_for_a_second_lead(programme: Programme, client_of) -> None:
    def leads() -> tuple[bool, str]:
        return next((one.ok, one.sentence) for one in examine(programme.folder, CATALOGUE, NOW_MS) if one.word == "leads")

    assert leads() == (False, "No lead has joined yet. Invite two: fieldlog invite --role lead")
    client_of("lead")
    client_of("crew", None)
    assert leads() == (
        False, "Only one lead has joined. Without that person's device nobody can invite or end access. Invite a second: fieldlog invite --role lead",
    )  # fmt: skip
    client_of("lead")
    assert leads() == (True, "Leads that have joined: 2.")
