"""Past visits beside ten years of them: how long until the list stands, and the page of one, the CPU slowed."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import BrowserContext, Page

from tests.bench.bench_taps import CALM_MS, OPENINGS_AGAIN, SLOWER, came, new_page, opens
from tests.bench.figures import Figure

VISITS, PEOPLE, CHECKS, SIGHTINGS = 1000, 6, 5, 1
LIST_MS, PAGE_MS = 200, 300
NEWEST = "#/visits"

WRITE_JS = """async ([units, site, count, people, checks, sightings]) => {
  const { openPhone } = await import('/store/phone.js');
  const phone = await openPhone({ now: () => Date.now() });
  const id = () => phone.newId(site);
  const persons = Array.from({ length: 12 }, (_, n) => ({ kind: 'person', recordId: id(), siteId: site, fields: { display_name: `Person ${n}`, role: 'volunteer', minor: false } }));
  await phone.writeMany(persons);
  let last = null;
  for (let n = 0; n < count; n += 1) {
    const visit = last = id();
    const startMs = Date.now() - (count - n) * 86_400_000 * 3.6 - 2 * 86_400_000;
    const at = (minute) => new Date(startMs + minute * 60_000).toISOString();
    const on = (kind, fields) => ({ kind, recordId: id(), siteId: site, visitId: visit, fields });
    await phone.writeMany([
      { kind: 'visit', recordId: visit, siteId: site, visitId: visit, fields: { purpose: 'monitoring', started_at: at(0), ended_at: at(120), leader_id: persons[0].recordId } },
      ...Array.from({ length: people }, (_, k) => on('sign_in', { person_id: persons[(n + k) % 12].recordId, in_at: at(k), out_at: at(100 + k) })),
      ...Array.from({ length: checks }, (_, k) => on('unit_check', { unit_id: units[(n * checks + k) % units.length], checked_at: at(10 + k), found_state: 'seen', exposed_height_mm: 200 + k })),
      ...Array.from({ length: sightings }, (_, k) => on('sighting', { taxon: 'Rockweed', found: 'seen', seen_at: at(50 + k) })),
    ]);
  }
  return last;
}"""

COUNTED_JS = "() => [...document.querySelectorAll('main a.row small')].slice(0, 4).every((row) => /checked/.test(row.textContent))"


def counts_stand_ms(page: Page) -> float:
    """From the tap on, until the first rows say what was done on their visits; those are read after the list stands."""
    before = page.evaluate("() => { document.getElementById('bench-link').href = '#/visits'; return took.open.length; }")
    began = page.evaluate("() => { document.getElementById('bench-link').click(); return performance.now(); }")
    came(page, "open", before)
    while not page.evaluate(COUNTED_JS):
        page.wait_for_timeout(10)
    return float(page.evaluate("performance.now()")) - float(began)


def past_visits(context: BrowserContext, url: str, told: dict[str, Any]) -> list[Figure]:
    """A thousand visits with their people and checks: the list and a page, the first time after the start and again."""
    page = context.new_page()
    page.goto(f"{url}/healthz")
    newest = page.evaluate(WRITE_JS, [told["units"], told["site"], VISITS, PEOPLE, CHECKS, SIGHTINGS])
    page.close()
    made = []
    for what, place, most in (("the list of 1,000 visits opens", NEWEST, LIST_MS), ("a past visit opens, of 1,000", f"#/visits/{newest}", PAGE_MS)):
        page = new_page(context, f"{url}/#/today")
        first = opens(page, place)
        again = []
        for _ in range(OPENINGS_AGAIN):
            opens(page, "#/today")
            again.append(opens(page, place))
        beside = f"again {max(again):.0f} ms"
        if place == NEWEST:
            opens(page, "#/today")
            page.wait_for_timeout(CALM_MS)
            beside += f"; with what was done on the first of them {counts_stand_ms(page):.0f} ms"
        page.close()
        made.append(Figure(f"{what}, CPU {SLOWER}x slower, the first time after the start", first, most, "ms", beside))
    return made
