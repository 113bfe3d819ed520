"""The app's files as a phone keeps them: in three tiers that follow from imports, each version of them under a name of its own."""

from __future__ import annotations

import hashlib
import json
import posixpath
import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from fieldlog.javascript import code_only, imported, imported_when_wanted

PLACEHOLDER = '/*SHELL*/{ version: "", tiers: {} }'
NOT_SHELL = ("online/", "pictures/", "vendor/lazy/", "sw.js")
"""Fetched when they are wanted, or never by the app; screens in online/ can do nothing without the server."""

SHELL_SUFFIXES = (".html", ".js", ".css", ".json", ".webmanifest", ".svg", ".woff2")
"""PNG icons are the installer's, which fetches them itself; no screen shows one."""

SAFETY, SHORE, DESK = TIERS = ("safety", "shore", "desk")
"""In the order in which they come."""

SCREENS = {
    SAFETY: ("join", "today", "visit", "people", "units", "unit-check", "sighting", "plan", "this-phone", "settings", "turn-back"),
    SHORE: ("unit-history", "record", "past-visits", "past-visit", "low-tides", "flags", "flag", "person", "desk", "walk-up", "count-heads", "plots", "plot", "stakes", "plot-reading"),
}
"""The modules in views/ of a tier's screens; every other screen is for the desk, and any other module comes with what imports it."""

ROUTER, PAGE, START = "views/router.js", "index.html", "start.js"
NAMED_BY_PAGE = (START, "worker.js", "style.css")
"""What the page fetches before anything is kept; the worker then has them from the browser's own cache."""

_STYLE_COMMENT = re.compile(r"/\*.*?\*/\n?", re.DOTALL)
"""No text in our style holds such signs (tests/phone/test_shell_files.py)."""

NAME_LETTERS = 16
"""Of a SHA-256: 64 bits are enough to tell a log-in page, or half a file, from the file. They cannot be packed: each letter more costs a first visit 100 bytes."""


@dataclass(frozen=True)
class Shell:
    """One version: its name and, tier by tier, the path of each file and the beginning of its SHA-256; "/" is the page."""

    version: str
    tiers: dict[str, dict[str, str]]


def shell(static: Path) -> Shell:
    """The version that lies in a folder now."""
    return _shell(static, _marks(static))


def tiers_of(static: Path) -> dict[str, tuple[str, ...]]:
    """
    Which file belongs to which tier.

    A module belongs to the first tier of which a screen needs it, at once or when it is wanted; the screens are what the router
    imports. What is no module stands in the first tier.
    """
    return _tiers(static, _marks(static))


def served(static: Path, name: str) -> bytes:
    """A file as it travels: our own modules and style without comments, libraries as they were released."""
    file = static / name
    stat = file.stat()
    return _served(file, name.startswith("vendor/"), stat.st_mtime_ns, stat.st_size)


def page(static: Path) -> str:
    """The page as the server gives it: its files are those of this version."""
    return _page_of(static, shell(static).version)


def kept_page(static: Path) -> str:
    """The page as the phone keeps it: it names the modules of the first screen too, so that they load side by side."""
    return _kept_page(static, shell(static).version)


def first_screen(static: Path) -> list[str]:
    """The modules that stand before the first screen: all that starting and Today import at once."""
    return sorted(_closure(static, ["app.js", "views/today.js"], is_lazy_too=False) - set(NAMED_BY_PAGE))


def pack(static: Path, tier: str) -> str:
    """A tier as one answer: JSON of each path and its text, without what the page fetches itself."""
    files = [path for path in shell(static).tiers[tier] if path.lstrip("/") not in NAMED_BY_PAGE and not path.endswith(".woff2")]
    texts = {path: kept_page(static) if path == "/" else served(static, path[1:]).decode() for path in files}
    return json.dumps(texts, ensure_ascii=False, separators=(",", ":"))


def worker(static: Path) -> str:
    """The service worker's text; it differs when any file of the shell does, and so the browser sees the new version."""
    now = shell(static)
    text = (static / "sw.js").read_text("utf-8")
    return code_only(text.replace(PLACEHOLDER, json.dumps({"version": now.version, "tiers": now.tiers}, indent=0), 1))


def _name(text: bytes) -> str:
    return hashlib.sha256(text).hexdigest()[:NAME_LETTERS]


def _marks(static: Path) -> tuple[tuple[str, int, int], ...]:
    """Each file with what changes when it does: a folder is read anew only then."""
    files = ((file.relative_to(static).as_posix(), file) for file in static.rglob("*") if file.suffix in SHELL_SUFFIXES)
    stats = ((name, file.stat()) for name, file in files if not name.startswith(NOT_SHELL))
    return tuple(sorted((name, stat.st_mtime_ns, stat.st_size) for name, stat in stats))


@lru_cache(maxsize=4)
def _shell(static: Path, marks: tuple[tuple[str, int, int], ...]) -> Shell:
    names = {name: _name(served(static, name)) for name, _, _ in marks}
    tiers = _tiers(static, marks)
    version = _name(json.dumps([tiers, names]).encode())[:16]
    if PAGE in names:
        names[PAGE] = _name(_kept_page(static, version).encode())
    paths = {name: "/" if name == PAGE else f"/{name}" for name in names}
    return Shell(version, {tier: {paths[name]: names[name] for name in tiers[tier]} for tier in TIERS})


@lru_cache(maxsize=4)
def _tiers(static: Path, marks: tuple[tuple[str, int, int], ...]) -> dict[str, tuple[str, ...]]:
    left = {name for name, _, _ in marks}
    screens = _named_by(static, ROUTER, is_lazy_too=True) if ROUTER in left else set()
    starts = {tier: [f"views/{name}.js" for name in names if f"views/{name}.js" in screens] for tier, names in SCREENS.items()}
    starts[SAFETY] += [name for name in left if name in (START, "app.js") or not name.endswith(".js")]
    made = {}
    for tier in TIERS:
        files = left & _closure(static, starts[tier], is_lazy_too=True) if tier in starts else left
        made[tier] = tuple(sorted(files))
        left = left - files
    return made


def _closure(static: Path, starts: list[str], is_lazy_too: bool) -> set[str]:
    """Modules and all that they import; what the router imports when it is wanted are screens, and do not come with it."""
    reached: set[str] = set()
    waiting = list(starts)
    while waiting:
        name = waiting.pop()
        if name not in reached:
            reached.add(name)
            if name.endswith(".js"):
                waiting += _named_by(static, name, is_lazy_too=is_lazy_too and name != ROUTER)
    return reached


def _named_by(static: Path, name: str, is_lazy_too: bool) -> set[str]:
    text = served(static, name).decode()
    folder = posixpath.dirname(name)
    return {posixpath.normpath(posixpath.join(folder, one)) for one in imported(text) | (imported_when_wanted(text) if is_lazy_too else set())}


@lru_cache(maxsize=512)
def _served(file: Path, is_released: bool, _mtime_ns: int, _size: int) -> bytes:
    text = file.read_bytes()
    if is_released or file.suffix not in (".js", ".css"):
        return text
    return (code_only(text.decode()) if file.suffix == ".js" else _STYLE_COMMENT.sub("", text.decode())).encode()


def _page_of(static: Path, version: str) -> str:
    text = (static / PAGE).read_text("utf-8")
    return re.sub(rf'="({"|".join(map(re.escape, NAMED_BY_PAGE))})"', rf'="/shell/{version}/\1"', text)


@lru_cache(maxsize=4)
def _kept_page(static: Path, version: str) -> str:
    """Made once a version: a page that changes is another version."""
    links = "".join(f'<link rel="modulepreload" href="/shell/{version}/{name}">\n' for name in first_screen(static))
    return _page_of(static, version).replace("</head>", f"{links}</head>", 1)
