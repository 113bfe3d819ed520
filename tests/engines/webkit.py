"""
WebKitGTK through Debian's WebKitWebDriver, in a window of our own (webkit_window.py) on a display of no screen.

The browser that comes with the driver is never narrower than 447 px and forgets its store; a restart would show nothing.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import socket
import subprocess
import urllib.request
from pathlib import Path
from typing import Any
from urllib.error import HTTPError, URLError

from tests.engines.engine import waited

WINDOW = Path(__file__).with_name("webkit_window.py")
SYSTEMS_PYTHON = "/usr/bin/python3"
"""Debian's binding of the engine is for its own Python."""

ELEMENT = "element-6066-11e4-a52e-4f735466cecf"
"""The name that WebDriver gives a reference to an element (W3C WebDriver, section 12.2)."""

WAIT_MS = 60_000


def webkit() -> str | None:
    """The driver, or None where it, its display or the engine's binding is not here."""
    asked = "import gi; gi.require_version('Gtk', '3.0'); gi.require_version('WebKit2', '4.1'); from gi.repository import Gtk, WebKit2"
    has_binding = Path(SYSTEMS_PYTHON).exists() and subprocess.run([SYSTEMS_PYTHON, "-c", asked], capture_output=True).returncode == 0
    return shutil.which("WebKitWebDriver") if has_binding and shutil.which("Xvfb") else None


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        return int(listening.getsockname()[1])


def display() -> tuple[subprocess.Popen[bytes], str]:
    """A display of no screen, and its name."""
    read, write = os.pipe()
    process = subprocess.Popen(["Xvfb", "-displayfd", str(write), "-screen", "0", "800x1000x24"], pass_fds=[write], stderr=subprocess.DEVNULL)
    os.close(write)
    with os.fdopen(read) as told:
        return process, f":{told.readline().strip()}"


class WebKit:
    name = "WebKitGTK"

    def __init__(self, profile: Path, before: str) -> None:
        profile.mkdir(exist_ok=True)
        script = profile / "before.js"
        script.write_text(before)
        port = free_port()
        self.driver = f"http://127.0.0.1:{port}"
        self.display, number = display()
        with (profile / "log.txt").open("ab") as log:
            self.process = subprocess.Popen(
                [str(webkit()), f"--port={port}", "--host=127.0.0.1"], stdout=log, stderr=subprocess.STDOUT,
                start_new_session=True, env={**os.environ, "GDK_BACKEND": "x11", "DISPLAY": number},
            )  # fmt: skip
        waited("WebKitWebDriver", self._is_ready)
        options = {"binary": SYSTEMS_PYTHON, "args": [str(WINDOW), str(profile), str(script)]}
        begun = self._ask("POST", "/session", {"capabilities": {"alwaysMatch": {"webkitgtk:browserOptions": options}}})
        self.session = f"/session/{begun['sessionId']}"
        self.version = begun["capabilities"]["browserVersion"]
        self._ask("POST", f"{self.session}/timeouts", {"script": WAIT_MS, "pageLoad": WAIT_MS})

    def _is_ready(self) -> bool:
        try:
            return bool(self._ask("GET", "/status")["ready"])
        except URLError:
            return False

    def _ask(self, verb: str, path: str, body: dict[str, Any] | None = None) -> Any:
        data = json.dumps(body or {}).encode() if verb == "POST" else None
        asked = urllib.request.Request(self.driver + path, method=verb, data=data, headers={"Content-Type": "application/json"})
        try:
            with urllib.request.urlopen(asked, timeout=WAIT_MS / 1000) as answer:
                return json.load(answer)["value"]
        except HTTPError as refused:
            raise AssertionError(f"{verb} {path}: {refused.read().decode()[:400]}") from refused

    def open(self, url: str) -> None:
        self._ask("POST", f"{self.session}/url", {"url": url})

    def js(self, body: str) -> Any:
        script = f"const done = arguments[arguments.length - 1]; (async () => {{ {body} }})().then((value) => done({{ value: value ?? null }}), (error) => done({{ error: String(error) }}));"
        answer = self._ask("POST", f"{self.session}/execute/async", {"script": script, "args": []})
        assert "error" not in answer, answer["error"]
        return answer["value"]

    def _act(self, kind: str, actions: list[dict[str, Any]]) -> None:
        self._ask("POST", f"{self.session}/actions", {"actions": [{"type": kind, "id": kind, "actions": actions}]})

    def tap(self, x: float, y: float) -> None:
        moved = {"type": "pointerMove", "x": round(x), "y": round(y), "duration": 0}
        self._act("pointer", [moved, {"type": "pointerDown", "button": 0}, {"type": "pointerUp", "button": 0}])

    def type(self, text: str) -> None:
        self._act("key", [{"type": way, "value": letter} for letter in text for way in ("keyDown", "keyUp")])

    def attach(self, selector: str, path: Path) -> None:
        found = self._ask("POST", f"{self.session}/element", {"using": "css selector", "value": selector})
        self._ask("POST", f"{self.session}/element/{found[ELEMENT]}/value", {"text": str(path)})

    def close(self) -> None:
        self._end(signal.SIGTERM)

    def kill(self) -> None:
        self._end(signal.SIGKILL)

    def _end(self, how: signal.Signals) -> None:
        """Driver, window and the engine's own processes: they are one session of processes, begun here."""
        os.killpg(self.process.pid, how)
        self.process.wait(timeout=30)
        self.display.terminate()
        self.display.wait(timeout=30)
