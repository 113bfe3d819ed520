"""What every screen is held to, whatever fills it: axe-core's rules, targets for wet fingers, its frame."""

from __future__ import annotations

import re
from pathlib import Path

import axe_playwright_python

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text("utf-8")
LEAST_TARGET_PX = 48
"""WCAG 2.2 asks for 24 (2.5.8) and 44 (2.5.5, AAA); wet fingers and gloves get more."""

_MONTHS = "Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec"
ODD_DAY = re.compile(rf"\b\d{{1,2}} (?:{_MONTHS})\b|\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) (?:\d|{_MONTHS})|\b\d{{4}}-\d\d-\d\d\b")
"""A day before its month, a weekday without its comma, or a day as records write it: nothing that a person should read."""

OVERLAPPED = """() => {
  const seen = document.querySelectorAll(
    'a, button, summary, select, textarea, label.choice, .box, label.file, input:not(.choice input, .box input, .file input)');
  return [...seen].filter((one) => one.checkVisibility() && !one.classList.contains('skip'))
    .map((one) => [one.tagName, one.innerText.slice(0, 30), Math.round(one.getBoundingClientRect().height), Math.round(one.getBoundingClientRect().width)])
    .filter(([, , height, width]) => height < LEAST || width < LEAST);
}"""


def small_targets(page) -> list[list]:
    """What can be tapped and is smaller than a wet finger needs: element, words, height, width."""
    return page.evaluate(OVERLAPPED.replace("LEAST", str(LEAST_TARGET_PX)))


CUT_OFF = """() => [...document.querySelectorAll('input:not([type=radio], [type=checkbox], [type=file])')]
  .filter((one) => one.checkVisibility() && one.value && one.scrollWidth > one.clientWidth + 1 && (one.inputMode || one.classList.contains('code')))
  .map((one) => [one.id, one.value])"""


def cut_off(page) -> list[list[str]]:
    """Numbers and codes that their boxes do not show whole: a cut one reads as another. Box, value."""
    return page.evaluate(CUT_OFF)


PARTED = re.compile(rf"[^\n]{{0,20}}(?:\d (?:mm|cm|m|km|ft|min|h|d|s|%|psu|kB|MB|GB)(?![^\W_])|\b(?:{_MONTHS}) \d)[^\n]{{0,10}}")


def parted_units(page) -> list[str]:
    """Numbers that a line's end may part from their unit, and days from their month: a space that breaks stands between them."""
    return PARTED.findall(page.locator("#screen").inner_text())


def words_in(place) -> str:
    """What a place says, with plain spaces where numbers and units are kept together."""
    return place.inner_text().replace("\u00a0", " ")


SQUEEZED = """() => [...document.querySelectorAll('.row .said')].filter((one) => one.checkVisibility() && !one.matches('a, button'))
  .map((one) => [one.innerText.slice(0, 40), Math.round(one.getBoundingClientRect().width), one.getBoundingClientRect().height,
    one.closest('.row').getBoundingClientRect().width])
  .filter(([, width, height, row]) => height > 75 && width < Math.min(160, row * 0.4)).map(([words, width]) => [words, width])"""


def squeezed_words(page) -> list[list]:
    """Words of a row that stand on four lines and more beside something that takes the room: words, width."""
    return page.evaluate(SQUEEZED)


def unroll(page) -> None:
    """Make the window as high as the page and a list beside a record, so that nothing lies under what stays at its foot or is half scrolled away."""
    width, height = page.viewport_size["width"], page.viewport_size["height"]
    page.evaluate("document.querySelectorAll('.list').forEach((one) => { one.style.maxHeight = 'none'; })")
    page.set_viewport_size({"width": width, "height": max(height, page.evaluate("document.documentElement.scrollHeight"))})


def axe(page, *more: str) -> list[str]:
    """What axe-core finds, with the rules that are off by default named in `more`."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    rules = {rule: {"enabled": True} for rule in more}
    found = page.evaluate("rules => axe.run(document, { rules, resultTypes: ['violations'] })", rules)
    return [f"{one['id']}: {node['html'][:160]} {node['failureSummary'][-160:]}" for one in found["violations"] for node in one["nodes"]]
