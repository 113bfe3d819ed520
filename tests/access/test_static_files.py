"""The shell's list: every file the app needs without a network, with its hash, inside the service worker."""

from __future__ import annotations

import gzip
import hashlib
import json
import re

import pytest
from flask import Flask

from fieldlog.package_data import packaged
from fieldlog.static_files import blueprint, shell_files, worker


@pytest.fixture
def static(tmp_path):
    files = {
        "index.html": "<!doctype html>", "app.js": "export {};", "sw.js": "const SHELL = /*FILES*/{};\n// worker",
        "store/db.js": "export {};", "pictures/today.png": "png", "vendor/a-1/a.js": "export {};", "vendor/a-1/LICENSE": "x",
        "vendor/ORIGIN.md": "# origin", "vendor/lazy/plot.js": "export {};", "app.webmanifest": "{}",
    }  # fmt: skip
    for name, text in files.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text)
    return tmp_path


@pytest.fixture
def client(static):
    app = Flask("files", static_folder=None)
    app.register_blueprint(blueprint(static))
    return app.test_client()


def listed(text: str) -> dict[str, str]:
    return json.loads(re.search(r"const SHELL = (\{.*?\});", text, re.S).group(1))


def test_the_shell_is_all_but_pictures_what_is_lazy_and_what_people_read(static):
    assert set(shell_files(static)) == {"/", "/app.js", "/store/db.js", "/vendor/a-1/a.js", "/app.webmanifest"}


def test_each_file_is_listed_with_the_hash_of_what_is_served(client):
    files = listed(client.get("/sw.js").text)
    for path, hashed in files.items():
        assert hashlib.sha256(client.get(path, buffered=True).data).hexdigest() == hashed


@pytest.mark.parametrize("name", ["index.html", "store/db.js", "app.webmanifest"])
def test_a_change_in_any_file_changes_the_worker(static, name):
    before = worker(static)
    (static / name).write_text("changed")
    assert worker(static) != before


def test_a_change_outside_the_shell_does_not_change_the_worker(static):
    before = worker(static)
    (static / "pictures/today.png").write_text("another picture")
    assert worker(static) == before


def test_the_worker_may_rule_the_whole_site_and_is_asked_for_anew(client):
    headers = client.get("/sw.js").headers
    assert headers["Service-Worker-Allowed"] == "/"
    assert headers["Cache-Control"] == "no-cache"
    assert headers["Content-Type"].startswith("text/javascript")


@pytest.mark.parametrize(
    ("path", "media_type"),
    [("/", "text/html"), ("/app.js", "text/javascript"), ("/app.webmanifest", "application/manifest+json")],
)
def test_files_are_served_as_what_they_are(client, path, media_type):
    answer = client.get(path, buffered=True)
    assert answer.status_code == 200
    assert answer.mimetype == media_type


@pytest.mark.parametrize("path", ["/none.js", "/../secret", "/%2e%2e/secret", "/store", "/store/../../x"])
def test_nothing_outside_the_folder_is_served(client, static, path):
    (static.parent / "secret").write_text("secret")
    assert client.get(path).status_code == 404


def test_an_unchanged_file_is_not_sent_again(client):
    etag = client.get("/app.js", buffered=True).headers["ETag"]
    assert client.get("/app.js", headers={"If-None-Match": etag}, buffered=True).status_code == 304


def test_the_apps_own_shell_is_listed_whole():
    files = listed(worker(packaged("static")))
    assert {"/", "/app.js", "/style.css", "/app.webmanifest"} <= set(files)
    assert not [path for path in files if path.endswith((".md", "LICENSE")) or path.startswith("/pictures/")]


def test_texts_travel_packed_and_keep_their_name(client, static):
    (static / "app.js").write_text("export const said = 'again and again';\n" * 200)
    plain = client.get("/app.js", buffered=True)
    packed = client.get("/app.js", headers={"Accept-Encoding": "gzip"}, buffered=True)
    assert plain.content_encoding is None
    assert packed.content_encoding == "gzip"
    assert len(packed.data) < len(plain.data) / 10
    assert gzip.decompress(packed.data) == plain.data
    assert "Accept-Encoding" in packed.vary
    same = client.get("/app.js", headers={"Accept-Encoding": "gzip", "If-None-Match": packed.headers["ETag"]}, buffered=True)
    assert same.status_code == 304
    assert gzip.decompress(client.get("/sw.js", headers={"Accept-Encoding": "gzip"}).data).decode() == worker(static)
    (static / "app.js").write_text("changed")
    assert gzip.decompress(client.get("/app.js", headers={"Accept-Encoding": "gzip"}, buffered=True).data) == b"changed"
