"""A hand that does in any engine what a person does: finds by what is read, taps where it stands, types keys."""

from __future__ import annotations

import json
import re
import time
from pathlib import Path
from typing import Any

from tests.engines.engine import Engine, waited

CALM_S = 0.4
"""What saves takes no tap within a third of a second of the last one, or of the screen's opening."""

WHERE = """
const named = (one) => (one.getAttribute('aria-label') ?? one.innerText ?? '').replace(/\\s+/g, ' ').trim();
const wanted = [...document.querySelectorAll(selector)].find((one) => one.checkVisibility() && !one.disabled && new RegExp(pattern).test(named(one)));
if (!wanted) return null;
wanted.scrollIntoView({ block: 'center', behavior: 'instant' });
await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
const { left, top, width, height } = wanted.getBoundingClientRect();
const [x, y] = [left + width / 2, top + height / 2];
const hit = document.elementFromPoint(x, y);
return hit && (wanted.contains(hit) || hit.contains(wanted)) ? [x, y] : null;
"""
"""Where to tap what is seen, is not disabled, and has nothing over it."""

SEEN = "return document.body.innerText.replace(/\\s+/g, ' ');"


def script(body: str, **values: Any) -> str:
    return f"{''.join(f'const {name} = {json.dumps(value)};' for name, value in values.items())} {body}"


class Hand:
    """One person with one phone."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine

    def open(self, url: str) -> None:
        self.engine.open(url)
        waited("the first screen", lambda: self.engine.js("return document.documentElement.dataset.ready === ''"))

    def tap(self, name: str, selector: str = "button") -> None:
        """`name` is a pattern of what is read on it, or of its label."""

        def tapped() -> bool:
            where = self.engine.js(script(WHERE, selector=selector, pattern=name))
            if where:
                self.engine.tap(*where)
            return bool(where)

        try:
            waited(f"{selector} \u201c{name}\u201d", tapped)
        except AssertionError as never:
            raise AssertionError(f"{never}; there is: {self.reads()[:600]}") from never

    def save(self, name: str, selector: str = "button") -> None:
        time.sleep(CALM_S)
        self.tap(name, selector)

    def choose(self, legend: str, label: str) -> None:
        """A radio of a group, by the words beside it."""
        marked = script(
            """const group = [...document.querySelectorAll('fieldset')].find((one) => one.querySelector('legend').innerText.trim().startsWith(legend));
            group?.querySelectorAll('label').forEach((one) => one.classList.toggle('to-choose', one.innerText.trim() === label)); return Boolean(group);""",
            legend=legend, label=label,
        )  # fmt: skip
        waited(f"the choice {legend}", lambda: self.engine.js(marked))
        self.tap("", "label.to-choose")

    def fill(self, field: str, text: str) -> None:
        """Tap into an empty box, and type."""
        self.tap("", f"#{field}")
        self.engine.type(text)
        waited(f"\u201c{text}\u201d in {field}", lambda: self.value(field) == text)

    def value(self, field: str) -> str | None:
        return self.engine.js(script("return document.getElementById(id)?.value ?? null;", id=field))

    def attach(self, label: str, path: Path) -> None:
        self.engine.attach(f"input[type=file][aria-label='{label}']", path)

    def reads(self) -> str:
        return self.engine.js(SEEN)

    def sees(self, words: str) -> str:
        """A pattern that comes to stand on the page; the words that fit it."""

        def found() -> re.Match[str] | None:
            return re.search(words, self.reads())

        try:
            return waited(f"\u201c{words}\u201d", found)[0]
        except AssertionError as never:
            raise AssertionError(f"{never}; there is: {self.reads()[:900]}") from never

    def heading(self, words: str) -> None:
        heading = "return document.querySelector('h1')?.innerText.trim() ?? '';"
        waited(f"the screen {words}", lambda: re.fullmatch(words, self.engine.js(heading)))

    def faults(self) -> list[str]:
        return self.engine.js("return window.faults;")
