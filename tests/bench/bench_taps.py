"""Taps beside 5,000 records, one unit with ten years of checks, the CPU slowed: how long to the next paint, and until the screen that was asked for stands."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import BrowserContext, Page

from tests.bench.figures import Figure

SLOWER = 4
SETTLE_MS, CALM_MS, PAINT_MS = 1200, 400, 100
OPENINGS_AGAIN = 2
MOST_TAPS = 6
"""Of what a screen has of one sort, so many are tapped: the fiftieth choice is as quick as the first."""

PLACES = {
    "today": "#/today", "visit": "#/visit", "past visits": "#/visits", "people": "#/people", "units": "#/units", "sighting": "#/sighting",
    "low tides": "#/low-tides", "flags": "#/flags", "this phone": "#/phone", "settings": "#/settings", "clock": "#/turn-back",
    "plan": "#/plan", "set-up": "#/set-up", "set-up, units": "#/set-up/unit", "set-up, people": "#/set-up/person",
    "invitations": "#/access", "devices": "#/access/devices", "held entries": "#/access/tray", "plan to make": "#/plan-making",
    "the site's tide": "#/site-tide",
}  # fmt: skip

OF_A_RECORD = """async () => {
  const { openPhone } = await import('/store/phone.js');
  const phone = await openPhone({ now: () => Date.now() });
  const siteId = phone.me.site_id;
  const [units, [check], visits] = await Promise.all([phone.rows('unit', { siteId }), phone.rows('unit_check', { siteId }), phone.rows('visit', { siteId })]);
  const past = visits.find((one) => one.ended_at);
  const unit = units.find(({ tag }) => tag === 'U0');
  return { history: `#/units/${unit.record_id}`, check: `#/units/${unit.record_id}/check`, record: `#/record/unit_check/${check.record_id}`,
    'a past visit': `#/visits/${past.record_id}`, 'set-up of the site': `#/set-up/site/${siteId}` };
}"""

WATCH = """() => {
  const painted = (then) => requestAnimationFrame(() => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = then;
    port2.postMessage(null);
  });
  let asked = 0;
  globalThis.took = { paint: [], open: [] };
  const watch = (event) => {
    asked = event.timeStamp;
    painted(() => took.paint.push(performance.now() - event.timeStamp));
  };
  addEventListener('click', watch, { capture: true });
  addEventListener('input', watch, { capture: true });
  const title = document.querySelector('title');
  if (title) new MutationObserver(() => painted(() => took.open.push(performance.now() - asked)))
    .observe(title, { childList: true, characterData: true, subtree: true });
  const link = document.createElement('a');
  link.id = 'bench-link';
  link.textContent = 'bench';
  for (const [name, value] of Object.entries({ position: 'fixed', top: 0, left: 0, width: '24px', height: '24px', zIndex: 99, overflow: 'hidden' })) link.style[name] = value;
  document.documentElement.append(link);
}"""
"""From the moment at which the browser got the tap, so what was still going on counts, to the task after the next frame."""

TAPPABLE = "main summary, main label.choice, main button[aria-pressed], main button[aria-expanded]"
HERE = """([selector, most]) => {
  const of = (one) => one.tagName + (one.className || one.parentElement.className);
  const seen = new Map();
  return [...document.querySelectorAll(selector)].map((one, at) => [one, at]).filter(([one]) => one.checkVisibility() && !one.disabled)
    .filter(([one]) => seen.set(of(one), (seen.get(of(one)) ?? 0) + 1).get(of(one)) <= most)
    .map(([one, at]) => [at, one.innerText.slice(0, 24)]);
}"""


@dataclass
class Taps:
    """What was measured, ms, each with what it was."""

    paint: list[tuple[float, str]] = field(default_factory=list)
    first: list[tuple[float, str]] = field(default_factory=list)
    again: list[tuple[float, str]] = field(default_factory=list)


def p95(took: list[float]) -> float:
    return sorted(took)[max(0, int(len(took) * 0.95) - 1)]


def new_page(context: BrowserContext, url: str) -> Page:
    page = context.new_page()
    page.goto(url)
    page.wait_for_selector("html[data-ready]" if "#" in url else "body", state="attached")
    page.wait_for_timeout(SETTLE_MS)
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    page.evaluate(WATCH)
    return page


def came(page: Page, what: str, before: int) -> None:
    """One more of this was measured; the page's policy lets Playwright wait for no expression."""
    for _ in range(200):
        if page.evaluate(f"took.{what}.length") > before:
            return
        page.wait_for_timeout(25)
    raise AssertionError(f"no {what} came at {page.url}")


def paints(page: Page, taps: Taps, what: str, act: Any) -> None:
    """Do it, and keep how long each tap or key of it took to the next paint."""
    before = page.evaluate("took.paint.length")
    act()
    page.wait_for_timeout(PAINT_MS)
    came(page, "paint", before)
    taps.paint += [(ms, what) for ms in page.evaluate("n => took.paint.slice(n)", before)]


def opens(page: Page, place: str) -> float:
    """Tap a link to the place; how long until it stands, ms."""
    before = page.evaluate("([place]) => { document.getElementById('bench-link').href = place; return took.open.length; }", [place])
    page.locator("#bench-link").click()
    came(page, "open", before)
    page.wait_for_timeout(CALM_MS)
    return float(page.evaluate("n => took.open[n]", before))


def tap_all(page: Page, taps: Taps, name: str) -> None:
    """Folds, choices and switches of a screen, then letters in its search."""
    for at, words in page.evaluate(HERE, [TAPPABLE, MOST_TAPS]):
        one = page.locator(TAPPABLE).nth(at)
        if one.count() and one.is_visible():
            paints(page, taps, f"{name}: {words}", lambda one=one: one.click(force=True))
    search = page.locator("main input[type=search]")
    if search.count():
        search.first.click(force=True)
        for letter in "u1":
            paints(page, taps, f"{name}: search {letter}", lambda letter=letter: page.keyboard.type(letter))


def one_screen(context: BrowserContext, url: str, taps: Taps, name: str, place: str) -> None:
    page = new_page(context, f"{url}/#/{'settings' if name == 'today' else 'today'}")
    away = page.url[page.url.index("#") :]
    taps.first.append((opens(page, place), name))
    for _ in range(OPENINGS_AGAIN):
        opens(page, away)
        taps.again.append((opens(page, place), name))
    tap_all(page, taps, name)
    page.close()


def saves(context: BrowserContext, url: str, taps: Taps) -> None:
    """The taps that write: people in and out, checks, sightings."""
    page = new_page(context, f"{url}/#/people")
    for n in range(10):
        page.wait_for_timeout(CALM_MS)
        paints(page, taps, "people: sign in", page.locator("button.row:has-text('sign in')").nth(n).click)
    opens(page, "#/units")
    page.locator(".foot a.do").click()
    for _ in range(10):
        page.wait_for_timeout(SETTLE_MS)
        paints(page, taps, "check: save", page.locator(".foot button.do").last.click)
    opens(page, "#/sighting")
    for _ in range(5):
        page.wait_for_timeout(CALM_MS)
        page.locator("#f-taxon").fill("Rockweed")
        page.wait_for_timeout(CALM_MS)
        paints(page, taps, "sighting: save", page.locator(".foot button.do").click)
    page.close()


def floor_ms(context: BrowserContext, url: str) -> float:
    """The same tap on a page that does nothing."""
    page = new_page(context, f"{url}/healthz")
    taps = Taps()
    for _ in range(40):
        paints(page, taps, "", lambda: page.mouse.click(200, 300))
    page.close()
    return p95([ms for ms, _ in taps.paint])


def worst(took: list[tuple[float, str]], most: int = 4) -> str:
    slowest: dict[str, float] = {}
    for ms, what in took:
        slowest[what] = max(ms, slowest.get(what, 0.0))
    return ", ".join(f"{what} {ms:.0f}" for what, ms in sorted(slowest.items(), key=lambda one: -one[1])[:most])


def tapping(context: BrowserContext, url: str) -> list[Figure]:
    """Every screen opened, and what stands on it tapped, while a visit runs."""
    page = new_page(context, f"{url}/#/visit")
    places = {**PLACES, **page.evaluate(OF_A_RECORD)}
    page.get_by_role("button", name="Start the visit").click()
    page.wait_for_timeout(SETTLE_MS)
    page.close()
    taps = Taps()
    floor = floor_ms(context, url)
    for name, place in places.items():
        one_screen(context, url, taps, name, place)
    saves(context, url, taps)
    many = [ms for ms, _ in taps.paint]
    slowed = f"CPU {SLOWER}x slower"
    return [
        Figure(f"tap to the next paint, {slowed}, p95 of {len(many)}", p95(many), 100, "ms", f"an empty tap: p95 {floor:.0f} ms; slowest: {worst(taps.paint)}", floor),
        Figure(f"  a screen opens, {slowed}, slowest of {len(places)}", max(taps.again)[0], 300, "ms", worst(taps.again), floor),
        Figure("  the first time after the start", max(taps.first)[0], 300, "ms", worst(taps.first), floor),
    ]  # fmt: skip
