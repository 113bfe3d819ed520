"""
The printed texts for real: systemd's own check of the unit, and Caddy before a running server, with certificates of its own.

    python -m tests.web.soak_service

Needs Debian's caddy and systemd (`make soak` installs them or fails). Ends with status 1 where anything is not so.
"""

from __future__ import annotations

import gzip
import json
import os
import socket
import ssl
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path

import brotli

from fieldlog.access.invitations import invite
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import create_programme
from fieldlog.sync.opening import open_programme

ROOT = Path(__file__).parents[2]
FOREVER_S = 60


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


def until(what: str, holds: Callable[[], bool], seconds: float = FOREVER_S) -> None:
    """Wait for something, or end with a sentence."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if holds():
            return
        time.sleep(0.2)
    sys.exit(f"{what}: not within {seconds:g} s")


def is_listening(port: int) -> bool:
    with socket.socket() as visitor:
        return visitor.connect_ex(("127.0.0.1", port)) == 0


def check_unit(unit: str, folder: Path) -> None:
    file = folder / "fieldlog.service"
    file.write_text(unit)
    said = subprocess.run(["systemd-analyze", "verify", "--man=no", str(file)], capture_output=True, text=True)
    about_it = [line for line in said.stderr.splitlines() if "fieldlog.service" in line]
    if about_it:
        sys.exit("systemd-analyze verify: " + " / ".join(about_it))
    print("systemd-analyze verify has nothing to say against the unit")


def try_packing(address: str, trusting: ssl.SSLContext) -> None:
    """What the server packs goes on as it is, and is had by its name; what it leaves is packed by Caddy."""
    def asked(place: str, **headers: str) -> tuple[int, str | None, str | None, bytes]:
        wanted = urllib.request.Request(f"{address}{place}", headers={"Accept-Encoding": "gzip, br", **headers})
        try:
            with urllib.request.urlopen(wanted, timeout=20, context=trusting) as answer:
                return answer.status, answer.headers["Content-Encoding"], answer.headers["ETag"], answer.read()
        except urllib.error.HTTPError as refusal:
            return refusal.code, None, None, b""
    status, packing, tag, body = asked("/style.css")
    if (status, packing) != (200, "br") or brotli.decompress(body) != (ROOT / "static" / "style.css").read_bytes():
        sys.exit(f"a file of the app came as {packing}, {len(body)} bytes")
    if asked("/style.css", **{"If-None-Match": tag or ""})[0] != 304:
        sys.exit("a file that the browser has came again")
    status, packing, _, body = asked("/api/openapi.json")
    if (status, packing) != (200, "gzip") or not json.loads(gzip.decompress(body)):
        sys.exit(f"what the server leaves as it is came as {packing}, {len(body)} bytes")
    print("Caddy packs what the server does not, and nothing twice")


def try_proxy(address: str, https_port: int, root_certificate: Path, code: str) -> None:
    trusting = ssl.create_default_context(cafile=str(root_certificate))
    body = json.dumps({"code": code, "device_name": "a phone"}).encode()
    asked = urllib.request.Request(f"{address}/api/join", body, {"Content-Type": "application/json"})
    with urllib.request.urlopen(asked, timeout=20, context=trusting) as answer:
        cookie = answer.headers["Set-Cookie"]
    if not cookie.startswith("__Host-fieldlog=") or "Secure" not in cookie:
        sys.exit(f"the server did not believe that it is behind HTTPS: {cookie.split('=')[0]}")
    print("a phone joins over HTTPS, with a cookie bound to it")
    try_packing(address, trusting)
    with socket.create_connection(("127.0.0.1", https_port)) as plain, trusting.wrap_socket(plain, server_hostname="localhost") as slow:
        slow.sendall(b"GET /healthz HTTP/1.1\r\nHost: localhost\r\nX-Slow: ")
        begun = time.monotonic()
        slow.settimeout(60)
        while slow.recv(1000):
            pass
        if time.monotonic() - begun > 30:
            sys.exit("Caddy kept a visitor who never ends the headers for over 30 s")
        print(f"Caddy drops a visitor who never ends the headers after {time.monotonic() - begun:.0f} s")


def main() -> None:
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        port, https_port = free_port(), free_port()
        address = f"https://localhost:{https_port}"
        now_ms = time.time_ns() // 1_000_000
        create_programme(folder / "programme", "Skein Bay").close()
        code = invite(open_programme(folder / "programme", CATALOGUE, now_ms).db(), None, "crew", None, 5, 24, now_ms).code
        fieldlog = [sys.executable, "-m", "fieldlog", "--data", str(folder / "programme")]
        printed = json.loads(subprocess.run(
            [*fieldlog, "service", "--json", "--address", address, "--port", str(port), "--local-certs"],
            capture_output=True, text=True, check=True, cwd=ROOT,
        ).stdout)  # fmt: skip
        check_unit(printed["unit"], folder)
        # Of the printed lines nothing is left out; these keep the trial off the machine's own trust store and ports.
        apart = f"    local_certs\n    skip_install_trust\n    admin off\n    http_port {free_port()}\n"
        (folder / "Caddyfile").write_text(printed["caddyfile"].replace("    local_certs\n", apart))
        home = {**os.environ, "HOME": made, "XDG_DATA_HOME": made, "XDG_CONFIG_HOME": made}
        serve = [*fieldlog, "serve", "--port", str(port)]
        server = subprocess.Popen(serve, cwd=ROOT, env={**os.environ, "FIELDLOG_BEHIND_PROXY": "1"}, stderr=subprocess.DEVNULL)
        caddy = subprocess.Popen(["caddy", "run", "--config", str(folder / "Caddyfile")], env=home, stderr=subprocess.DEVNULL)
        try:
            root_certificate = folder / "caddy" / "pki" / "authorities" / "local" / "root.crt"
            until("the server and Caddy listen", lambda: is_listening(port) and is_listening(https_port) and root_certificate.exists())
            time.sleep(2)
            try_proxy(address, https_port, root_certificate, code)
        finally:
            for process in (caddy, server):
                process.terminate()
                process.wait(60)


if __name__ == "__main__":
    main()
