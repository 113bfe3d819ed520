"""What is served of the app's files: each under its version, tiers as one, everything packed and with its name."""

from __future__ import annotations

import gzip
import hashlib
import json
import re

import brotli
import pytest
from flask import Flask

from fieldlog.package_data import packaged
from fieldlog.shell import shell, worker
from fieldlog.static_files import blueprint


@pytest.fixture
def static(tmp_path):
    files = {
        "index.html": '<!doctype html><head><link rel="stylesheet" href="style.css"><script src="start.js"></script></head>',
        "start.js": "import('./app.js');", "app.js": "import { a } from './store/db.js'; // why\nexport { a };",
        "style.css": "p { margin: 0 }", "sw.js": 'const SHELL = /*SHELL*/{ version: "", tiers: {} };\n// worker',
        "store/db.js": "/** what a is */\nexport const a = 1;", "pictures/today.png": "png", "vendor/a-1/a.js": "/* licence */ export {};",
        "vendor/a-1/LICENSE": "x", "vendor/ORIGIN.md": "# origin", "vendor/lazy/plot.js": "export {};", "app.webmanifest": "{}",
        "views/today.js": "import '../vendor/a-1/a.js'; export const view = 1;", "views/router.js": "const S = { t: () => import('./today.js') };",
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


def listed(text: str) -> dict[str, dict[str, str]]:
    return json.loads(re.search(r"const SHELL =\s*(\{.*?\});", text, re.S).group(1))


def files_of(text: str) -> dict[str, str]:
    return {path: name for files in listed(text)["tiers"].values() for path, name in files.items()}


def test_the_shell_is_all_but_pictures_what_is_lazy_and_what_people_read(static):
    assert set(files_of(worker(static))) == {
        "/", "/start.js", "/style.css", "/app.js", "/store/db.js", "/vendor/a-1/a.js", "/app.webmanifest", "/views/today.js", "/views/router.js",
    }  # fmt: skip


def test_each_file_is_listed_with_the_hash_of_what_is_served(client, static):
    version = shell(static).version
    files = files_of(client.get("/sw.js").text)
    for path, hashed in files.items():
        assert hashlib.sha256(client.get(f"/shell/{version}{path}", buffered=True).data).hexdigest().startswith(hashed)
        assert len(hashed) == 16


def test_a_tier_is_one_answer_with_the_same_texts(client, static):
    version, tiers = shell(static).version, shell(static).tiers
    texts = client.get(f"/shell/{version}/safety.json").json
    assert set(texts) == set(tiers["safety"]) - {"/start.js", "/style.css"}, "the page fetches those itself"
    for path, text in texts.items():
        assert client.get(f"/shell/{version}{path}", buffered=True).text == text


def test_comments_do_not_travel_and_nothing_else_moves(client):
    assert client.get("/app.js").text == "import { a } from './store/db.js';\nexport { a };"
    assert client.get("/store/db.js").text == "\nexport const a = 1;"
    assert client.get("/vendor/a-1/a.js").text == "/* licence */ export {};", "as it was released"


def test_the_page_names_its_files_by_its_version_and_once_kept_the_modules_of_the_first_screen_too(client, static):
    version = shell(static).version
    page = client.get("/").text
    assert re.findall(r'(?:href|src)="([^"]+)"', page) == [f"/shell/{version}/style.css", f"/shell/{version}/start.js"]
    kept = client.get(f"/shell/{version}/").text
    assert re.findall(r'modulepreload" href="([^"]+)"', kept) == [
        f"/shell/{version}/{name}" for name in ("app.js", "store/db.js", "vendor/a-1/a.js", "views/today.js")
    ]


@pytest.mark.parametrize("name", ["index.html", "store/db.js", "app.webmanifest", "start.js"])
def test_a_change_in_any_file_changes_the_worker_and_the_version(static, name):
    before, version = worker(static), shell(static).version
    (static / name).write_text("export const changed = 1;")
    assert worker(static) != before
    assert shell(static).version != version


@pytest.mark.parametrize("path", ["", "app.js", "style.css", "safety.json", "online/x.js"])
def test_a_page_of_another_version_gets_no_file_of_this_one(client, static, path):
    version = shell(static).version
    (static / "online").mkdir()
    (static / "online/x.js").write_text("export {};")
    (static / "app.js").write_text("export const newer = 1;")
    assert client.get(f"/shell/{version}/{path}").status_code == 404
    answer = client.get(f"/shell/{shell(static).version}/{path}", buffered=True)
    assert answer.status_code == 200
    assert "immutable" in answer.headers["Cache-Control"]


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


@pytest.mark.parametrize("path", ["/none.js", "/../secret", "/%2e%2e/secret.js", "/store", "/store/../../x", "/shell/x/../../../secret.js"])
def test_nothing_outside_the_folder_is_served(client, static, path):
    (static.parent / "secret").write_text("secret")
    (static.parent / "secret.js").write_text("secret")
    assert client.get(path).status_code == 404


@pytest.mark.parametrize("path", ["/app.js", "/", "/pictures/today.png"])
def test_an_unchanged_file_is_not_sent_again(client, path):
    etag = client.get(path, buffered=True).headers["ETag"]
    assert client.get(path, headers={"If-None-Match": etag}, buffered=True).status_code == 304


def test_the_apps_own_shell_is_listed_whole():
    files = files_of(worker(packaged("static")))
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
    smaller = client.get("/app.js", headers={"Accept-Encoding": "gzip, deflate, br, zstd"}, buffered=True)
    assert smaller.content_encoding == "br"
    assert brotli.decompress(smaller.data) == plain.data
    assert client.get("/app.js", headers={"Accept-Encoding": "gzip, br;q=0"}, buffered=True).content_encoding == "gzip"
    same = client.get("/app.js", headers={"Accept-Encoding": "gzip", "If-None-Match": packed.headers["ETag"]}, buffered=True)
    assert same.status_code == 304
    assert gzip.decompress(client.get("/sw.js", headers={"Accept-Encoding": "gzip"}).data).decode() == worker(static)
    (static / "app.js").write_text("changed")
    assert gzip.decompress(client.get("/app.js", headers={"Accept-Encoding": "gzip"}, buffered=True).data) == b"changed"
