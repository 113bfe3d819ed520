"""Firefox through WebDriver BiDi, which it speaks itself: no driver beside it is needed, and Debian has none."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from pathlib import Path
from typing import Any

import websocket

from tests.engines.engine import HEIGHT_PX, WIDTH_PX, end, waited

NAMES = ("firefox-esr", "firefox")

PREFERENCES = {
    "app.update.enabled": False,
    "browser.newtabpage.enabled": False,
    "browser.safebrowsing.update.enabled": False,
    "browser.sessionstore.resume_from_crash": False,
    "browser.startup.page": 0,
    "datareporting.policy.dataSubmissionEnabled": False,
    "extensions.getAddons.cache.enabled": False,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "services.settings.server": "data:,",
    "toolkit.startup.max_resumed_crashes": -1,
    "toolkit.telemetry.server": "",
}
"""It asks nothing of the network by itself, and starts as usual after it was killed."""


def firefox() -> str | None:
    """Where it is on this machine, or None."""
    return next(filter(None, map(shutil.which, NAMES)), None)


class Firefox:
    name = "Firefox"

    def __init__(self, profile: Path, before: str) -> None:
        profile.mkdir(exist_ok=True)
        lines = [f"user_pref({json.dumps(name)}, {json.dumps(value)});\n" for name, value in PREFERENCES.items()]
        (profile / "user.js").write_text("".join(lines))
        told = profile / "WebDriverBiDiServer.json"
        told.unlink(missing_ok=True)
        (profile / "lock").unlink(missing_ok=True)
        with (profile / "log.txt").open("ab") as log:
            self.process = subprocess.Popen(
                [str(firefox()), "--headless", "--profile", str(profile), "--remote-debugging-port=0", "about:blank"],
                stdout=log, stderr=subprocess.STDOUT, env={**os.environ, "HOME": str(profile)},
            )  # fmt: skip
        where = json.loads(waited("Firefox", lambda: told.exists() and told.read_text()))
        self.socket = websocket.create_connection(f"ws://{where['ws_host']}:{where['ws_port']}/session", timeout=90, suppress_origin=True)
        self.asked = 0
        self.version = self._ask("session.new", capabilities={})["capabilities"]["browserVersion"]
        self.window = self._ask("browsingContext.getTree")["contexts"][0]["context"]
        self._ask("script.addPreloadScript", functionDeclaration=f"() => {{ {before} }}")
        self._here("browsingContext.setViewport", viewport={"width": WIDTH_PX, "height": HEIGHT_PX})

    def _ask(self, method: str, **params: Any) -> Any:
        self.asked += 1
        self.socket.send(json.dumps({"id": self.asked, "method": method, "params": params}))
        while True:
            answer = json.loads(self.socket.recv())
            if answer.get("id") == self.asked:
                assert answer["type"] == "success", f"{method}: {answer.get('error')} {answer.get('message', '')[:300]}"
                return answer["result"]

    def _here(self, method: str, **params: Any) -> Any:
        return self._ask(method, context=self.window, **params)

    def open(self, url: str) -> None:
        self._here("browsingContext.navigate", url=url, wait="complete")

    def js(self, body: str) -> Any:
        answer = self._ask(
            "script.evaluate",
            expression=f"(async () => JSON.stringify((await (async () => {{ {body} }})()) ?? null))()",
            target={"context": self.window}, awaitPromise=True,
        )  # fmt: skip
        assert answer["type"] == "success", answer["exceptionDetails"]["text"]
        return json.loads(answer["result"]["value"])

    def _act(self, kind: str, actions: list[dict[str, Any]]) -> None:
        self._here("input.performActions", actions=[{"type": kind, "id": kind, "actions": actions}])

    def tap(self, x: float, y: float) -> None:
        moved = {"type": "pointerMove", "x": round(x), "y": round(y)}
        self._act("pointer", [moved, {"type": "pointerDown", "button": 0}, {"type": "pointerUp", "button": 0}])

    def type(self, text: str) -> None:
        self._act("key", [{"type": way, "value": letter} for letter in text for way in ("keyDown", "keyUp")])

    def attach(self, selector: str, path: Path) -> None:
        (node,) = self._here("browsingContext.locateNodes", locator={"type": "css", "value": selector})["nodes"]
        self._here("input.setFiles", element={"sharedId": node["sharedId"]}, files=[str(path)])

    def close(self) -> None:
        self._ask("browser.close")
        self.process.wait(timeout=60)
        self.socket.close()

    def kill(self) -> None:
        end(self.process)
        self.socket.close()
