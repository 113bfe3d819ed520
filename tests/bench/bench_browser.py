"""Figures of the app in a real browser: first load, opening, saving, sending, the pack."""

from __future__ import annotations

import json
import statistics
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import brotli
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
from waitress.server import create_server

from fieldlog import create_app
from fieldlog.access.invitations import invite
from fieldlog.demo.build import build_demo
from fieldlog.package_data import packaged
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.shell import TIERS
from fieldlog.store import Programme, create_programme
from fieldlog.sync.opening import open_programme
from tests.bench.bench_taps import tapping
from tests.bench.bench_visits import past_visits
from tests.bench.figures import Figure
from tests.bench.wire import line_to
from tests.conftest import CHROMIUM_ARGUMENTS
from tests.find_chromium import installed

SLOWER = 4
RECORDS, OWN_LINES = 5000, 50_000
SEED_JS = Path(__file__).with_name("seed.js").read_text()
READINGS = Path(__file__).parents[1] / "vectors" / "survey_readings.json"
FAR = {"offline": False, "latency": 300, "uploadThroughput": 125_000, "downloadThroughput": 375_000}
"""300 ms there and back, 1 Mbit/s up, 3 down."""

SLOW_LINE = {"far_s": 0.15, "rate": 200_000.0}
"""150 ms there and back, 1.6 Mbit/s down: a phone at the edge of a town's network."""

TIERS_WHOLE_JS = """async (tiers) => {
  const whole = async () => (await Promise.all(tiers.map((tier) => caches.match(`/whole/${tier}`)))).every(Boolean);
  while (!await whole()) await new Promise((done) => setTimeout(done, 20));
}"""


def first_load(browser: Browser, url: str) -> list[Figure]:
    """
    A browser that has nothing yet, and what goes over the wire: until the first screen stands and its tier is kept, then each later
    tier. Floor: the two vendored libraries alone, packed. Then the same over a slow line.
    """
    static = packaged("static")
    vendor = sum(len(brotli.compress(file.read_bytes())) for file in static.rglob("vendor/**/*.js")) / 1024
    with line_to(url) as line:
        visit_first(browser, line.url, TIERS)
    asked = [exchange.path.rsplit("/", 1)[-1] for exchange in line.exchanges]
    places = [0, asked.index("shore.json"), asked.index("desk.json"), len(asked)]
    made = []
    for tier, most, (first, end) in zip(TIERS, (150, 120, 400), pairwise(places), strict=True):
        part = line.exchanges[first:end]
        beside = f"{len(part)} requests" + (f"; lit-html and idb: {vendor:.1f} KB" if tier == TIERS[0] else "")
        made.append(Figure(f"{tier} tier on the wire, both ways with headers", sum(one.size for one in part) / 1024, most, "KB", beside))
    with line_to(url, **SLOW_LINE) as line:
        took = [visit_first(browser, line.url, TIERS[:1]) for _ in range(3)]
    made.append(Figure("first visit over a slow line, to its first screen", statistics.median(took), 3, "s", "150 ms there and back, 1.6 Mbit/s"))
    return made


def visit_first(browser: Browser, url: str, tiers: tuple[str, ...]) -> float:
    """Seconds to the first screen in a browser that has nothing; ends once these tiers are kept."""
    context = browser.new_context()
    page = context.new_page()
    began = time.perf_counter()
    page.goto(url, wait_until="commit")
    page.wait_for_selector("html[data-ready]", state="attached")
    took = time.perf_counter() - began
    page.evaluate(TIERS_WHOLE_JS, list(tiers))
    context.close()
    return took


@contextmanager
def served(programme: Programme) -> Iterator[str]:
    """The production server on a free port."""
    app = create_app(programme.folder, lambda: datetime.now(UTC))
    server = create_server(app, host="127.0.0.1", port=0, threads=8, max_request_body_size=9_000_000)
    running = threading.Thread(target=server.run)
    running.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    server.close()
    running.join()
    app.extensions["photo_copies"].close()


def now_ms() -> int:
    return int(time.time() * 1000)


def code(programme: Programme) -> str:
    return invite(programme.db(), None, "lead", None, 5, 24, now_ms()).code


def seeded(context: BrowserContext, url: str, programme: Programme) -> tuple[dict[str, Any], Page]:
    """A phone that joined, wrote 5,000 records and sent them."""
    page = context.new_page()
    page.goto(f"{url}/healthz")
    told = page.evaluate(SEED_JS, [code(programme), RECORDS])
    return told, page


def opening(context: BrowserContext, url: str) -> list[Figure]:
    """Offline, the CPU slowed: from the address to a drawn Today. Floor: a blank page."""
    page = context.new_page()
    page.goto(url)
    page.wait_for_selector("html[data-ready]", state="attached")
    page.evaluate("navigator.serviceWorker.ready.then(() => null)")
    page.wait_for_timeout(2500)
    page.close()
    context.set_offline(True)
    took = [_open(context, url, "html[data-ready]") for _ in range(9)]
    floor = [_open(context, "about:blank", "body") for _ in range(5)]
    context.set_offline(False)
    beside = f"a blank page: {statistics.median(floor):.2f} s; all runs {min(took):.2f} to {max(took):.2f}"
    return [Figure(f"opening offline, {RECORDS} records, CPU {SLOWER}x slower", statistics.median(took), 0.8, "s", beside)]


def _open(context: BrowserContext, url: str, drawn: str) -> float:
    page = context.new_page()
    slow(context, page)
    page.goto(url, wait_until="commit")
    page.wait_for_selector(drawn, state="attached")
    ms = page.evaluate("() => new Promise((done) => requestAnimationFrame(() => setTimeout(() => done(performance.now()), 0)))")
    page.close()
    return float(ms) / 1000


def slow(context: BrowserContext, page: Page) -> None:
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})


def saving(context: BrowserContext, url: str, units: list[str]) -> list[Figure]:
    """The real check form on a visit: from the tap on Save to durable and painted. Floor: one strict put into IndexedDB and a paint."""
    page = context.new_page()
    page.goto(f"{url}/healthz")
    page.evaluate(OPEN_JS)
    page.evaluate(VISIT_JS)
    page.goto(f"{url}/#/units")
    page.wait_for_selector("html[data-ready]", state="attached")
    slow(context, page)
    took = []
    for place, unit in enumerate(units[:40]):
        page.goto(f"{url}/#/units/{unit}/check")
        page.wait_for_selector(f"h1:text-is('U{place}')")
        page.fill("#f-exposed_height_mm", "265")
        page.wait_for_timeout(1500)  # the screen stands, and the last save's sync is over
        took.append(page.evaluate(SAVE_JS))
        page.wait_for_selector(f"h1:text-is('U{place}')", state="detached")  # the app goes on to the next unit by itself
    floor = page.evaluate(FLOOR_JS)
    page.close()
    p95 = sorted(took)[int(len(took) * 0.95) - 1]
    beside = f"p95 {p95:.0f} ms, median {statistics.median(took):.0f} ms; one strict put and a paint: p95 {floor:.0f} ms"
    return [Figure(f"saving a check over the floor, CPU {SLOWER}x slower, p95", p95 - floor, 25, "ms", beside)]


VISIT_JS = """() => phone.write('visit', null, { purpose: 'monitoring', started_at: new Date().toISOString() }, { siteId: phone.me.site_id })"""
SAVE_JS = """() => new Promise((done) => {
  const save = [...document.querySelectorAll('button.do')].find((one) => one.textContent.startsWith('Save'));
  const tag = document.querySelector('h1').textContent;
  let began = 0;
  const watch = new MutationObserver(() => {
    if (!document.querySelector('.told')?.textContent.includes(`${tag} saved on this phone`)) return;
    watch.disconnect();
    requestAnimationFrame(() => setTimeout(() => done(performance.now() - began), 0));
  });
  watch.observe(document.body, { subtree: true, childList: true, characterData: true });
  began = performance.now();
  save.click();
})"""

FLOOR_JS = """async () => {
  const db = await new Promise((done, fail) => { const ask = indexedDB.open('floor', 1);
    ask.onupgradeneeded = () => ask.result.createObjectStore('line', { autoIncrement: true }); ask.onsuccess = () => done(ask.result); ask.onerror = fail; });
  const took = [];
  for (let i = 0; i < 40; i++) {
    const began = performance.now();
    await new Promise((done, fail) => { const tx = db.transaction('line', 'readwrite', { durability: 'strict' }); tx.objectStore('line').add('x'.repeat(330)); tx.oncomplete = done; tx.onerror = fail; });
    await new Promise((done) => requestAnimationFrame(() => setTimeout(done, 0)));
    took.push(performance.now() - began);
  }
  db.close();
  return took.sort((a, b) => a - b)[37];
}"""

WRITE_JS = """async ([units, site]) => {
  const more = units.length ? Array.from({ length: 1000 }, (_, i) => ({ kind: 'unit_check', recordId: phone.newId(site), siteId: site, fields: {
    unit_id: units[i % units.length], checked_at: new Date().toISOString(), found_state: 'seen', body_grade: i % 2, exposed_height_mm: 200 + i % 90, tilt_deg: i % 9, note: 'as last time, barnacles on the seaward face' } })) : [];
  for (let i = 0; i < more.length; i += 100) await phone.writeMany(more.slice(i, i + 100));
  const { sync } = await phone.online();
  const spent = { apply: 0 };
  const timed = (owner, name) => {
    const own = owner[name];
    owner[name] = async function (...given) {
      const from = performance.now();
      try { return await own.apply(this, given); } finally { spent.apply += performance.now() - from; }
    };
    return () => { owner[name] = own; };
  };
  const untimed = [timed(sync.exchange, 'response'), timed(phone, 'recount')];
  const began = performance.now();
  let receiptsMs = null;
  phone.on('change', () => { if (!phone.counts().phone) receiptsMs ??= performance.now() - began; });
  await phone.syncNow();
  const counts = phone.counts();
  if (counts.phone) throw new Error(`${counts.phone} entries are still on the phone`);
  untimed.forEach((end) => end());
  return [receiptsMs ?? performance.now() - began, performance.now() - began, spent.apply];
}"""

OPEN_JS = """async () => {
  const { openPhone } = await import('/store/phone.js');
  globalThis.phone = await openPhone({ now: () => Date.now() });
}"""

OWN_LINES_JS = """async ([units, site, count]) => {
  const more = Array.from({ length: count }, (_, i) => ({ kind: 'unit_check', recordId: phone.newId(site), siteId: site, fields: {
    unit_id: units[i % units.length], checked_at: new Date().toISOString(), found_state: 'seen', body_grade: 0 } }));
  for (let i = 0; i < more.length; i += 500) await phone.writeMany(more.slice(i, i + 500));
  await phone.syncNow();
  if (phone.counts().phone) throw new Error('the lines were not taken');
}"""

PHOTOS_JS = """async () => {
  const { keepPicture } = await import('/store/photos.js');
  for (let i = 0; i < 50; i++) {
    const bytes = new Uint8Array(300000);
    for (let at = 0; at < 300000; at += 60000) crypto.getRandomValues(bytes.subarray(at, at + 60000));
    await keepPicture(phone.store, { bytes: bytes.buffer, type: 'image/jpeg' }, Date.now());
  }
  await phone.recount();
  const began = performance.now();
  await phone.syncNow();
  const counts = phone.counts();
  if (counts.photos_waiting) throw new Error(`${counts.photos_waiting} photos are still waiting`);
  return performance.now() - began;
}"""


def sending(context: BrowserContext, page: Page, told: dict[str, Any]) -> list[Figure]:
    """The phone's own exchange, on loopback and far away."""
    where = [told["units"], told["site"]]
    near = sorted(page.evaluate(WRITE_JS, where) for _ in range(3))[1]
    _, nothing, _ = page.evaluate(WRITE_JS, [[], told["site"]])
    photos = min(page.evaluate(PHOTOS_JS) for _ in range(3)) / 1000
    link = context.new_cdp_session(page)
    link.send("Network.enable")
    link.send("Network.emulateNetworkConditions", FAR)
    far = page.evaluate(WRITE_JS, where)[1] / 1000
    link.send("Network.emulateNetworkConditions", {**FAR, "latency": 0, "uploadThroughput": -1, "downloadThroughput": -1})
    return [
        Figure(
            "sync of 1,000 new entries to the last receipt, browser, loopback", near[0] / 1000, 0.45, "s",
            f"with the pack that changed: {near[1] / 1000:.3g} s",
        ),
        Figure("  of it on the phone: the answer applied, lines counted", near[2], 40, "ms"),
        Figure("sync with nothing new, browser, loopback", nothing, 100, "ms", "the server's share stands above"),
        Figure("50 photos of 300 KB to the last receipt, browser, best of 3", photos, 1.3, "s"),
        Figure("1,000 new entries at 300 ms and 1 Mbit/s up", far, 3, "s", "their text alone would take 3.7 s unpacked"),
    ]  # fmt: skip


def many_own_lines(context: BrowserContext, url: str, told: dict[str, Any]) -> list[Figure]:
    """The same phone, years later."""
    page = context.new_page()
    page.goto(f"{url}/healthz")
    page.evaluate(OPEN_JS)
    where = [told["units"], told["site"]]
    page.evaluate(OWN_LINES_JS, [*where, OWN_LINES - RECORDS])
    whole_ms, _, on_phone_ms = sorted(page.evaluate(WRITE_JS, where) for _ in range(3))[1]
    page.close()
    what = f"1,000 new entries beside {OWN_LINES:,} own lines: applied and counted on the phone"
    return [Figure(what, on_phone_ms, 40, "ms", f"to the last receipt {whole_ms / 1000:.3g} s")]


VERDICT_JS = """async ({ marks, planned, cases }) => {
  const { comparedWithZero } = await import('/views/readings.js');
  const [fix] = cases[0].fixes;
  const read = (n) => ({ ...fix, fixed_at: new Date(Date.UTC(2010, n, 2)).toISOString(), survey: `${n}`, record_id: `${n}` });
  const fixes = Array.from({ length: 120 }, (_, n) => read(n));
  const known = { marks, planned: { east_m: planned[0], north_m: planned[1] }, surveyOf: (one) => one.survey, events: [], azimuthDeg: 0, fixes, scale: { factor: 1.5, dof: 200 } };
  const now = { ...fix, fixed_at: '2026-01-01T00:00:00Z', survey: 'now', record_id: 'now' };
  const took = [];
  for (let n = 0; n < 70; n += 1) {
    const began = performance.now();
    if (!comparedWithZero(now, known).movement) throw new Error('nothing was compared');
    took.push(performance.now() - began);
  }
  return took.slice(20).sort((one, other) => one - other)[25];
}"""


def unit_verdict(context: BrowserContext, url: str) -> list[Figure]:
    """What the phone says of a position while at the unit, beside ten years of them."""
    page = context.new_page()
    page.goto(f"{url}/healthz")
    slow(context, page)
    took = page.evaluate(VERDICT_JS, json.loads(READINGS.read_text("utf-8")))
    page.close()
    return [Figure(f"a unit's verdict on the phone, CPU {SLOWER}x slower, 120 positions before it", took, 5, "ms")]


def demo_pack(folder: Path) -> list[Figure]:
    """The demo site: 400 days of windows of five levels."""
    build_demo(folder, date(2026, 11, 25))
    programme = open_programme(folder, CATALOGUE, now_ms())
    app = create_app(folder, lambda: datetime.now(UTC))
    client = app.test_client()
    client.post("/api/join", json={"code": code(programme), "device_name": "bench"})
    body = client.get("/api/pack", headers={"Accept-Encoding": "gzip"}).data
    app.extensions["photo_copies"].close()
    return [Figure("the demo site's pack, gzipped", len(body) / 1024, 80, "KB")]


def all_figures() -> list[Figure]:
    """Everything that needs a browser."""
    figures = []
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as running:
        figures += demo_pack(Path(folder) / "demo")
        create_programme(Path(folder) / "programme", "Bench").close()
        programme = open_programme(Path(folder) / "programme", CATALOGUE, now_ms())
        with served(programme) as url:
            browser = running.chromium.launch(executable_path=installed(), args=CHROMIUM_ARGUMENTS, headless=True)
            figures += first_load(browser, url)
            browser.close()
            context = running.chromium.launch_persistent_context(
                str(Path(folder) / "profile"), executable_path=installed(), args=CHROMIUM_ARGUMENTS, headless=True,
                viewport={"width": 390, "height": 844},
            )  # fmt: skip
            told, page = seeded(context, url, programme)
            figures += sending(context, page, told)
            page.close()
            figures += opening(context, url) + tapping(context, url)  # starts a visit on the screen; saving begins one without
            figures += saving(context, url, told["units"]) + unit_verdict(context, url)
            figures += many_own_lines(context, url, told) + past_visits(context, url, told)
            context.close()
    return figures
