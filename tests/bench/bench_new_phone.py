"""A new phone in Chromium joins one site of a large programme over 1 Mbit/s: when it can be used, and when it has all."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

from tests.bench.bench_server import ROOT
from tests.bench.figures import Figure
from tests.bench.large import served, wait_for_backup
from tests.bench.story import DAY_MS, iso
from tests.conftest import CHROMIUM_ARGUMENTS
from tests.find_chromium import installed

SLOW = {"offline": False, "latency": 50, "uploadThroughput": 125_000, "downloadThroughput": 125_000}
"""1 Mbit/s both ways, 50 ms there and back."""

LOADED_JS = """async () => {
  const { openPhone } = await import('/store/phone.js');
  globalThis.phone = await openPhone({ now: () => Date.now() });
  await phone.online();
}"""

JOIN_JS = """async ([code, units, since]) => {
  const kept = (name) => phone.store.run([name], 'readonly', (tx) => tx.objectStore(name).count());
  const began = performance.now();
  let usable = null, first = 0, isOver = false;
  const look = async () => {
    const [all, visits] = await Promise.all([phone.rows('unit'), phone.rows('visit')]);
    if (all.length < units || !phone.pack()?.etag || !visits.some((visit) => visit.started_at >= since)) return;
    usable = performance.now() - began;
    usableNow();
    first = await kept('others');
  };
  const looking = (async () => {
    while (usable === null && !isOver) { await look(); await new Promise((done) => setTimeout(done, 50)); }
  })();
  await phone.join(code, 'bench');
  await phone.syncNow();
  const whole = performance.now() - began;
  if (usable === null) await look();
  isOver = true;
  await looking;
  return { usable, first, whole, entries: await kept('others') };
}"""


def new_phone(folder: Path) -> list[Figure]:
    """Usable: units, the newest visit and the pack are there. The app itself has been loaded before the line gets slow."""
    with served(folder) as (server, told), tempfile.TemporaryDirectory() as profile, sync_playwright() as running:
        wait_for_backup(server)
        site = told["sites"][0]
        context = running.chromium.launch_persistent_context(
            profile, executable_path=installed(), args=CHROMIUM_ARGUMENTS, headless=True, viewport={"width": 390, "height": 844},
        )  # fmt: skip
        page = context.new_page()
        page.goto(f"http://localhost:{server.port}/healthz")
        page.evaluate(LOADED_JS)
        link = context.new_cdp_session(page)
        link.send("Network.enable")
        sizes: list[float] = []
        link.on("Network.loadingFinished", lambda event: sizes.append(event["encodedDataLength"]))
        link.send("Network.emulateNetworkConditions", SLOW)
        since = iso(told["now_ms"] - 45 * DAY_MS)
        at_usable: list[float] = []
        page.expose_function("usableNow", lambda: at_usable.append(sum(sizes)))
        found: dict[str, Any] = page.evaluate(JOIN_JS, [_code(folder, site["site_id"]), len(site["units"]), since])
        context.close()
    assert found["usable"] is not None, found
    line_s = at_usable[0] / SLOW["downloadThroughput"]
    said = f"{found['first']} entries kept by then; {at_usable[0] / 1024:.0f} KB take {line_s:.2g} s on the line"
    figures = [Figure("new phone at 1 Mbit/s in Chromium, usable after", found["usable"] / 1000, 3, "s", said, line_s)]
    rest_s = (found["whole"] - found["usable"]) / 1000
    if rest_s > 0.5:
        rate = (found["entries"] - found["first"]) / rest_s
        figures.append(Figure("  the past after it, entries a second", rate, 2000, "/s", f"{found['entries']} in all after {found['whole'] / 1000:.1f} s", at_least=True))
    return figures


def _code(folder: Path, site_id: str) -> str:
    command = [sys.executable, "-m", "fieldlog", "--data", str(folder), "--json", "invite", "--role", "crew", "--site", site_id]
    made = subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    code: str = json.loads(made.stdout)["code"]
    return code

