"""
Which versions of browsers the phone's code needs: features that it uses, beside the table of who has them since when.

The table comes from @mdn/browser-compat-data (CC0-1.0), pinned in tests/node/package.json. A part of it is kept in
tests/data/compat, for machines without Node: `python -m tests.phone.least_versions` writes it anew.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

TESTS = Path(__file__).parents[1]
STATIC = TESTS.parent / "static"
WHOLE = TESTS / "node" / "node_modules" / "@mdn" / "browser-compat-data" / "data.json"
KEPT = TESTS / "data" / "compat" / "least_versions.json"
BROWSERS = ("chrome", "chrome_android", "firefox", "safari", "safari_ios")

USED = {
    "javascript.builtins.Object.hasOwn": r"Object\.hasOwn\(",
    "javascript.builtins.Array.at": r"\.at\(-1\)",
    "javascript.builtins.Array.findLast": r"\.findLast\(",
    "javascript.builtins.Array.findLastIndex": r"\.findLastIndex\(",
    "javascript.builtins.String.replaceAll": r"\.replaceAll\(",
    "javascript.builtins.Error.Error.options_cause_parameter": r"super\(sentence, \{ cause \}\)",
    "javascript.operators.nullish_coalescing_assignment": r"\?\?= ",
    "javascript.operators.optional_chaining": r"\?\.",
    "javascript.operators.import": r"await import\(",
    "javascript.regular_expressions.unicode_character_class_escape": r"\\p\{Surrogate\}",
    "api.IDBTransaction.commit": r"tx\.commit\(\)",
    "api.Element.replaceChildren": r"\.replaceChildren\(",
    "api.createImageBitmap.options_resizeWidth_parameter": r"resizeWidth: ",
    "api.AbortController": r"new AbortController\(",
    "css.properties.aspect-ratio": r"aspect-ratio: ",
    "css.properties.inset": r"inset: 0",
    "css.selectors.focus-visible": r":focus-visible",
    "css.selectors.is": r":is\(",
    "css.properties.overflow-wrap.anywhere": r"overflow-wrap: anywhere",
    "css.types.min": r"min\(27vw",
}
"""What the app does not do without, and where it is used."""

DOES_WITHOUT = {
    "CompressionStream": "bodies go unpacked", "wakeLock": "the screen may sleep", "vibrate": "the alarm sounds and is seen",
    "userActivation": "the alarm asks for a tap", "userAgentData": "the platform is told otherwise",
    "share": "the file is downloaded", "canShare": "the file is downloaded", "estimate": "no space is told",
    "trustedTypes": "only where they are asked for", "getDirectory": "nothing is said of a private window",
    "requestIdleCallback": "the reserve is laid a little later",
}  # fmt: skip
"""What is asked for before it is used, and what happens without it."""

OWN = {"connection"}
"""A name of our own that the platform uses for something young."""

PLATFORM = (
    "api.Navigator", "api.Window", "api.Document", "api.Element", "api.HTMLElement", "api.HTMLDialogElement", "api.AbortSignal", "api.Blob",
    "api.Response", "api.Request", "api.URL", "api.StorageManager", "api.Crypto", "builtins.Array", "builtins.String", "builtins.Object",
    "builtins.Map", "builtins.Set", "builtins.Promise", "builtins.Math", "builtins.Intl", "builtins.Number", "builtins.Uint8Array",
)  # fmt: skip
"""Whose members are looked for in the code by their names; and globals."""


def script() -> str:
    """All JavaScript of the app without its comments."""
    text = "\n".join(path.read_text("utf-8") for path in sorted(STATIC.rglob("*.js")))
    return re.sub(r"/\*.*?\*/|(?<!:)//[^\n]*", "", text, flags=re.DOTALL)


def names_in(code: str) -> set[str]:
    """What could be a member of the platform, called or of the navigator, or one of its globals."""
    found = re.findall(r"(?:\.([a-z]\w*)\??\.?\(|navigator\)?\.(\w+)|window\)?\.(\w+)|\bnew ([A-Z]\w+)|'(\w+)' in |\b([A-Z]\w+)\.)", code)
    return {name for groups in found for name in groups if name}


def number(version: str | None) -> tuple[int, ...]:
    """A version to be compared; none is later than all."""
    return tuple(int(part) for part in version.split(".")) if version else (9999,)


def since(support: dict[str, Any], browser: str) -> str | None:
    """From which version on a browser has a feature under its own name and for everybody; None: it has it not."""
    told = support.get(browser, [])
    plain = [
        one for one in (told if isinstance(told, list) else [told])
        if not {"flags", "prefix", "alternative_name", "version_removed"} & set(one)
    ]  # fmt: skip
    added = plain[0].get("version_added") if plain else None
    found = re.fullmatch(r"≤?(\d[\d.]*)", added) if isinstance(added, str) else None
    return found.group(1) if found else None


def features(table: dict[str, Any], path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every feature of the table by its path, with its support."""
    for name, node in table.items():
        if name.startswith("__") or not isinstance(node, dict):
            continue
        here = f"{path}.{name}" if path else name
        if "__compat" in node:
            yield here, node["__compat"]["support"]
        yield from features(node, here)


def extract() -> dict[str, Any]:
    """The part of the whole table that the tests read."""
    table = json.loads(WHOLE.read_text("utf-8"))
    used = {path: {browser: since(support, browser) for browser in BROWSERS} for path, support in features(table) if path in USED}
    least = least_of(used)
    youngest: dict[str, bool] = {}
    for path, support in [*features({"api": table["api"]}), *features({"builtins": table["javascript"]["builtins"]})]:
        owner, name = path.rsplit(".", 1)
        if owner not in (*PLATFORM, "api", "builtins"):
            continue
        is_young = any(number(since(support, browser)) > number(least[browser]) for browser in BROWSERS)
        youngest[name] = youngest.get(name, True) and is_young
    meta = table["__meta"]
    return {
        "source": f"@mdn/browser-compat-data {meta['version']}, {meta['timestamp'][:10]}", "licence": "CC0-1.0",
        "since": used, "younger": " ".join(sorted(name for name, is_young in youngest.items() if is_young and re.fullmatch(r"\w+", name))),
    }  # fmt: skip


def least_of(used: dict[str, dict[str, str | None]]) -> dict[str, str | None]:
    """The oldest version of each browser that has all of it."""
    return {browser: max((one[browser] for one in used.values()), key=number) for browser in BROWSERS}


if __name__ == "__main__":
    KEPT.write_text(json.dumps(extract(), indent=1, sort_keys=True) + "\n", "utf-8")
