"""Waits for a state where Playwright's own waiting cannot: `wait_for_function` takes any promise for true."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

PATIENCE_S = 20.0
"""As long as a busy machine may need; a test that ends well never waits so long."""


def wait_until(page: Any, holds: str, told: Any = None) -> None:
    """Ask the page until an expression, or a function of `told`, says what counts as true; it may be asynchronous."""
    wait_for(page, lambda: bool(page.evaluate(holds, told)), holds)


def wait_for(page: Any, holds: Callable[[], bool], what: str) -> None:
    """Ask until it holds, while the page and its routes go on; a page's clock that stands does not matter."""
    until_s = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < until_s, f"waited in vain: {what}"
        page.wait_for_timeout(20)
