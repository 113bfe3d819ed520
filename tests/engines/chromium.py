"""Chromium through Playwright, on a profile on the disk."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from playwright.sync_api import Playwright

from tests.engines.engine import HEIGHT_PX, WIDTH_PX
from tests.find_chromium import kill_browser


class Chromium:
    name = "Chromium"

    def __init__(self, playwright: Playwright, options: dict[str, Any], profile: Path, before: str) -> None:
        self.profile = profile
        self.context = playwright.chromium.launch_persistent_context(
            profile, **options, viewport={"width": WIDTH_PX, "height": HEIGHT_PX}
        )
        self.context.add_init_script(before)
        self.page = self.context.pages[0]
        self.version = self.page.evaluate("navigator.userAgent.match(/Chrome\\/([\\d.]+)/)[1]")

    def open(self, url: str) -> None:
        self.page.goto(url)

    def js(self, body: str) -> Any:
        return self.page.evaluate(f"async () => {{ {body} }}")

    def tap(self, x: float, y: float) -> None:
        self.page.mouse.click(x, y)

    def type(self, text: str) -> None:
        self.page.keyboard.type(text)

    def attach(self, selector: str, path: Path) -> None:
        self.page.set_input_files(selector, path)

    def close(self) -> None:
        self.context.close()

    def kill(self) -> None:
        kill_browser(self.context, self.profile)
