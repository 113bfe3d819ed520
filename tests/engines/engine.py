"""What an engine must be able to do for the main day, and what every page is given before its own scripts."""

from __future__ import annotations

import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol

WIDTH_PX, HEIGHT_PX = 390, 844
PATIENCE_S = 90
"""A browser that starts, and a screen, may take so long on a machine that does other things; nothing here is about speed."""

BEFORE_THE_PAGE = """(() => {
  const Real = Date;
  globalThis.Date = class extends Real {
    constructor(...given) { if (given.length) super(...given); else super(Real.now() + AHEAD_MS); }
    static now() { return Real.now() + AHEAD_MS; }
  };
  window.faults = [];
  addEventListener('securitypolicyviolation', (breach) => window.faults.push(`breach of ${breach.violatedDirective} ${breach.blockedURI}`));
  addEventListener('error', (event) => window.faults.push(`error ${event.message} ${event.filename}:${event.lineno}`));
  addEventListener('unhandledrejection', (event) => window.faults.push(`rejection ${event.reason} ${event.reason?.stack ?? ''}`));
})()"""
"""The phone's clock is as far ahead as the server's; what nobody caught, and breaches of the content policy, are kept."""


def before_the_page(ahead_ms: int) -> str:
    return BEFORE_THE_PAGE.replace("AHEAD_MS", str(ahead_ms))


class Engine(Protocol):
    """A browser of one engine, on a profile that outlives it."""

    name: str
    version: str

    def open(self, url: str) -> None:
        """Load a page and wait until it is."""

    def js(self, body: str) -> Any:
        """Run the body of an async function in the page; what it returns is JSON."""

    def tap(self, x: float, y: float) -> None:
        """Press and let go there, in CSS pixels of the window."""

    def type(self, text: str) -> None:
        """A key after the other into what has the focus."""

    def attach(self, selector: str, path: Path) -> None:
        """Choose a file in the one input that this selector finds."""

    def close(self) -> None:
        """End it as a person does; what it keeps of cookies is on the disk then."""

    def kill(self) -> None:
        """End it as the system ends an app that it wants the memory of."""


def waited(what: str, ask: Callable[[], Any]) -> Any:
    """What `ask` gives once that is true; a sentence where it never is."""
    until = time.monotonic() + PATIENCE_S
    while not (answer := ask()):
        assert time.monotonic() < until, f"{what} did not come within {PATIENCE_S} s"
        time.sleep(0.05)
    return answer


def end(process: subprocess.Popen[bytes]) -> None:
    """Kill a process that this test started, and wait until it is gone."""
    process.kill()
    process.wait(timeout=30)
