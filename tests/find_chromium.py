"""
A Chromium for the tests: the one that is told, one that is installed, Playwright's own, or Debian's package. Beside it, where Debian's
package can be had, the same without a window: its pages open in half the time. What needs a profile on the disk takes the whole one.

`make test` runs this once. It prints what it found or what it is doing, and fails with a sentence.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
WITHOUT_WINDOW = "chromium-headless-shell"
"""Debian's package and its program."""

ON_MACOS = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
)


def installed() -> str | None:
    """The path of a Chromium on this machine, or None; FIELDLOG_CHROMIUM goes before all."""
    told = os.environ.get("FIELDLOG_CHROMIUM")
    if told:
        return told
    on_path = next(filter(None, map(shutil.which, NAMES)), None)
    return on_path or next((path for path in ON_MACOS if Path(path).exists()), None)


def without_window() -> str | None:
    """The path of a Chromium that has no window at all, the one of `installed` where there is none."""
    return (None if os.environ.get("FIELDLOG_CHROMIUM") else shutil.which(WITHOUT_WINDOW)) or installed()


def playwrights_own() -> bool:
    """Whether Playwright's own Chromium could be fetched (it keeps it outside the project)."""
    print("No Chromium is installed; fetching Playwright's own (about 150 MB) ...", flush=True)
    return subprocess.run([sys.executable, "-m", "playwright", "install", "chromium"]).returncode == 0


def debians_package(name: str) -> bool:
    """Whether one of Debian's packages could be installed; that needs root."""
    if shutil.which("apt-get") is None or os.geteuid() != 0:
        return False
    print(f"Installing Debian's {name} ...", flush=True)
    install = ["apt-get", "install", "-y", "-q", "--no-install-recommends", name]
    if subprocess.run(install, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL).returncode == 0:
        return True
    subprocess.run(["apt-get", "update", "-q"])
    return subprocess.run(install).returncode == 0


def main() -> None:
    found = installed()
    if found is not None:
        print(f"The tests use {found}")
    elif not playwrights_own() and not debians_package("chromium"):
        sys.exit("No Chromium could be found or fetched. Install one, or name it: FIELDLOG_CHROMIUM=/path make test")
    if without_window() == installed() and not os.environ.get("FIELDLOG_CHROMIUM") and not debians_package(WITHOUT_WINDOW):
        print("The one without a window is not to be had: the tests take longer.")


def process_of(profile: Path) -> int:
    """The browser that runs on a profile."""
    found = subprocess.run(["pgrep", "-f", "-o", f"user-data-dir={profile}"], capture_output=True, text=True, check=True)
    return int(found.stdout.split()[0])


def kill_browser(context: BrowserContext, profile: Path) -> None:
    """
    Kill the browser of a persistent context as the system does with an app that it wants the memory of.

    Returns once the context knows and no process of it is left: one that still ends would hold the profile's files.
    """
    with context.expect_event("close"):
        os.kill(process_of(profile), signal.SIGKILL)
    while subprocess.run(["pkill", "-KILL", "-f", f"user-data-dir={profile}"]).returncode == 0:
        time.sleep(0.02)


if __name__ == "__main__":
    main()
