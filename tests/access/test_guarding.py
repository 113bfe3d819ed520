"""Every answer's headers, foreign pages, bodies beyond their limit, faults as problem details."""

from __future__ import annotations

import gzip
import re
import sqlite3
import tracemalloc

import pytest

from fieldlog.access.bodies import MAX_SYNC_BYTES, gunzip
from fieldlog.access.headers import CONTENT_SECURITY_POLICY
from fieldlog.disk import disk_full, named
from fieldlog.errors import BadRequest, TooLarge
from fieldlog.package_data import packaged

PATHS = ("/", "/style.css", "/sw.js", "/shell/none/safety.json", "/healthz", "/api/devices", "/api/openapi.json", "/nothing/here", "/calendar/x.ics")


@pytest.mark.parametrize("path", PATHS)
def test_every_answer_carries_the_security_headers(app, path):
    headers = app.test_client().get(path, buffered=True).headers
    assert headers["Content-Security-Policy"] == CONTENT_SECURITY_POLICY
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cross-Origin-Opener-Policy"] == headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert "geolocation=(self)" in headers["Permissions-Policy"]
    assert "microphone=()" in headers["Permissions-Policy"]
    assert "Strict-Transport-Security" not in headers


USES = {
    "geolocation": r"navigator\.geolocation", "screen-wake-lock": r"\bwakeLock\b", "camera": r"getUserMedia|\bcapture=",
    "accelerometer": r"device(?:motion|orientation)|Accelerometer", "gyroscope": r"device(?:motion|orientation)|Gyroscope",
    "magnetometer": r"deviceorientationabsolute|Magnetometer", "microphone": r"getUserMedia", "fullscreen": r"requestFullscreen",
}  # fmt: skip
"""How a screen's text shows that it uses what the policy names."""


def test_what_screens_use_our_own_pages_are_given_and_what_none_uses_no_script(app):
    said = app.test_client().get("/healthz").headers["Permissions-Policy"].split(", ")
    used = {"camera", "geolocation", "screen-wake-lock"}
    unused = {
        "accelerometer", "autoplay", "browsing-topics", "display-capture", "encrypted-media", "fullscreen", "gyroscope", "hid", "idle-detection",
        "local-fonts", "magnetometer", "microphone", "midi", "payment", "picture-in-picture", "publickey-credentials-get", "serial", "usb",
        "xr-spatial-tracking",
    }  # fmt: skip
    assert sorted(said) == sorted([f"{name}=(self)" for name in used] + [f"{name}=()" for name in unused])
    texts = "\n".join(path.read_text("utf-8") for path in packaged("static").rglob("*.js") if "vendor" not in path.parts)
    assert {name for name, text in USES.items() if re.search(text, texts)} == used


def test_the_policy_lets_nothing_in_but_our_own_files():
    said = dict(part.split(" ", 1) for part in CONTENT_SECURITY_POLICY.split("; "))
    assert said["default-src"] == "'none'"
    assert said["require-trusted-types-for"] == "'script'"
    assert said["trusted-types"] == "lit-html fieldlog"
    assert "unsafe" not in CONTENT_SECURITY_POLICY
    assert "http" not in CONTENT_SECURITY_POLICY


def test_over_https_browsers_are_told_to_stay_there(app):
    headers = app.test_client().get("/", base_url="https://field.example", buffered=True).headers
    assert headers["Strict-Transport-Security"] == "max-age=31536000"


@pytest.mark.parametrize("path", ["/api/devices", "/api/nothing", "/api/openapi.json"])
def test_every_answer_of_the_api_is_marked_ours_and_not_kept(app, path):
    headers = app.test_client().get(path, buffered=True).headers
    assert (headers["X-Fieldlog"], headers["Cache-Control"]) == ("1", "no-store")


@pytest.mark.parametrize(
    ("headers", "status"),
    [({"Sec-Fetch-Site": "cross-site"}, 403), ({"Sec-Fetch-Site": "same-site"}, 403), ({"Origin": "https://evil.example"}, 403),
     ({"Origin": "null"}, 403), ({"Sec-Fetch-Site": "same-origin"}, 204), ({"Origin": "http://localhost"}, 204), ({}, 204)],
)  # fmt: skip
def test_what_another_sites_page_sends_is_refused(client_of, headers, status):
    answer = client_of("crew").post("/api/leave", headers=headers)
    assert answer.status_code == status
    if status == 403:
        assert answer.json["word"] == "foreign-page"


def test_a_foreign_page_may_not_even_join(app):
    answer = app.test_client().post("/api/join", json={}, headers={"Sec-Fetch-Site": "cross-site"})
    assert answer.json["word"] == "foreign-page"


@pytest.mark.parametrize(
    ("path", "method", "size", "says"),
    [("/api/join", "POST", 65 * 1024, "64 KB"), ("/api/invitations", "POST", 65 * 1024, "64 KB"),
     ("/api/sync", "POST", MAX_SYNC_BYTES + 1, "8 MB"), (f"/api/photos/{'a' * 64}", "PATCH", 512 * 1024 + 1, "512 KB")],
)  # fmt: skip
def test_a_body_beyond_its_limit_is_a_sentence(client_of, path, method, size, says):
    headers = {"Upload-Offset": "0", "Upload-Length": str(size)}
    answer = client_of("lead").open(path, method=method, data=b" " * size, headers=headers)
    assert (answer.status_code, answer.json["word"]) == (413, "too-large")
    assert says in answer.json["detail"]


def test_a_small_body_that_unpacks_to_gigabytes_costs_no_more_than_the_limit(client_of):
    packed = gzip.compress(gzip.compress(b" " * 300_000_000, 9), 9)
    packed = gzip.decompress(packed)
    tracemalloc.start()
    answer = client_of("crew").post("/api/sync", data=packed, headers={"Content-Encoding": "gzip"})
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert (answer.status_code, answer.json["word"]) == (413, "too-large")
    assert peak < 40_000_000


def test_what_fits_is_unpacked_and_what_is_no_gzip_is_said():
    assert gunzip(gzip.compress(b"a line\n"), 7) == b"a line\n"
    with pytest.raises(TooLarge):
        gunzip(gzip.compress(b"a line\n"), 6)
    with pytest.raises(BadRequest, match="gzip"):
        gunzip(b"no gzip", 100)
    cut = gzip.compress(b"".join(b"line %d\n" % n for n in range(5000)))
    assert gunzip(cut[: len(cut) // 2], 1_000_000).startswith(b"line 0\nline 1\n")


def test_an_unknown_packing_is_said(client_of):
    answer = client_of("crew").post("/api/sync", data=b"x", headers={"Content-Encoding": "br"})
    assert answer.status_code == 400
    assert "gzip" in answer.json["detail"]


@pytest.mark.parametrize(
    ("method", "path", "body", "status"),
    [("GET", "/no/such/page", None, 404), ("POST", "/healthz", None, 405), ("POST", "/api/join", b"{broken", 400),
     ("POST", "/api/join", b"[1]", 400), ("GET", "/../fieldlog/web.py", None, 404), ("GET", "/api/none", None, 404)],
)  # fmt: skip
def test_every_fault_is_problem_details_with_a_word_and_a_sentence(app, method, path, body, status):
    answer = app.test_client().open(path, method=method, data=body)
    assert answer.status_code == status
    assert answer.mimetype == "application/problem+json"
    said = answer.json
    assert set(said) == {"type", "title", "status", "word", "detail", "fields"}
    assert said["status"] == status
    assert said["word"] and said["detail"].endswith(".")


def test_a_fault_of_the_servers_own_says_no_more_than_that(app):
    app.add_url_rule("/api/faulty", "faulty", lambda: 1 / 0)
    app.testing = False
    app.config["PROPAGATE_EXCEPTIONS"] = False
    answer = app.test_client().get("/api/faulty")
    assert answer.status_code == 500
    assert "ZeroDivision" not in answer.text
    assert answer.headers["X-Fieldlog"] == "1"


def test_a_full_disk_is_a_sentence_and_nothing_else(app):
    def full():
        raise disk_full()

    app.add_url_rule("/api/full", "full", full)
    answer = app.test_client().get("/api/full")
    assert (answer.status_code, answer.json["word"]) == (507, "disk-full")
    assert "phones keep their entries" in answer.json["detail"]


def test_one_proxy_is_believed_only_when_the_server_was_told(programme, now, monkeypatch):
    from fieldlog import create_app

    forwarded = {"X-Forwarded-Proto": "https", "X-Forwarded-Host": "field.example", "X-Forwarded-For": "192.0.2.9"}
    for told, secure in (("0", False), ("1", True)):
        monkeypatch.setenv("FIELDLOG_BEHIND_PROXY", told)
        answer = create_app(programme.folder, now).test_client().get("/", headers=forwarded, buffered=True)
        assert ("Strict-Transport-Security" in answer.headers) == secure


def test_the_server_says_that_it_is_well(app):
    assert app.test_client().get("/healthz").json == {"ok": True, "entries": 0, "rebuilding": False}


def test_a_writer_that_waited_too_long_is_a_wait_for_the_phone_and_no_refusal(app):
    def busy():
        fault = sqlite3.OperationalError("database is locked")
        fault.sqlite_errorcode = sqlite3.SQLITE_BUSY
        raise named(fault)

    app.add_url_rule("/api/busy", "busy", busy)
    answer = app.test_client().get("/api/busy")
    assert (answer.status_code, answer.json["word"], answer.headers["Retry-After"]) == (503, "writer-busy", "1")
    assert answer.json["detail"].endswith("try again.")
