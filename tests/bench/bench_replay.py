"""Figures of rebuilding: replay with its flags, its memory, the file's size, the pack on a new day."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from fieldlog.records.catalogue import CATALOGUE
from tests.bench.bench_server import ROOT
from tests.bench.figures import Figure

PAGE = 5000


def replaying(folder: Path, scratch: Path) -> list[Figure]:
    """`fieldlog replay` in a process of its own. Floor: the rows it makes, put into bare tables, indexes at the end."""
    took, peak_mb = _run("--data", str(folder), "replay")
    source = sqlite3.connect(folder / "fieldlog.sqlite")
    (entries,) = source.execute("SELECT count(*) FROM log").fetchone()
    (flags,) = source.execute("SELECT count(*) FROM flag WHERE state IN ('open', 'reopened')").fetchone()
    (size,) = source.execute("SELECT (page_count - freelist_count) * page_size FROM pragma_page_count, pragma_freelist_count, pragma_page_size").fetchone()
    bare = _bare_tables(source, scratch / "bare.sqlite")
    source.close()
    million = took / entries * 1e6
    return [
        Figure("replay with flags, a million entries", million, 75, "s", f"{entries:,} entries, {flags:,} open flags: {took:.1f} s"),
        Figure("  times the same rows into bare tables", took / bare, 3, "x", f"bare {bare / entries * 1e6:.3g} s a million"),
        Figure("  its memory, highest", peak_mb, 200, "MB"),
        Figure("database, an entry", size / entries / 1024, 2.2, "KB", "pages in use"),
    ]


def _run(*arguments: str) -> tuple[float, float]:
    """A command of the product in a process of its own: seconds, and its highest memory in MB, as it stands in the kernel's file."""
    began, peak_kb = time.perf_counter(), 0
    child = subprocess.Popen([sys.executable, "-m", "fieldlog", *arguments], cwd=ROOT, stdout=subprocess.DEVNULL)
    while child.poll() is None:
        text = Path(f"/proc/{child.pid}/status").read_text() if sys.platform == "linux" else ""
        peak_kb = max([peak_kb, *(int(line.split()[1]) for line in text.splitlines() if line.startswith("VmHWM"))])
        time.sleep(0.05)
    assert child.returncode == 0, arguments
    return time.perf_counter() - began, peak_kb / 1024


def _bare_tables(source: sqlite3.Connection, path: Path) -> float:
    """Seconds to put every record's row and every flag into tables of the same columns and indexes; reading is not counted."""
    path.unlink(missing_ok=True)
    bare = sqlite3.connect(path, isolation_level=None)
    for pragma in ("journal_mode=WAL", "synchronous=FULL"):
        bare.execute(f"PRAGMA {pragma}")
    took, indexes = 0.0, []
    bare.execute("BEGIN")
    for table in (*CATALOGUE.kinds, "flag", "disagreement"):
        for kind, text in source.execute("SELECT type, sql FROM sqlite_master WHERE tbl_name = ? AND sql IS NOT NULL", (table,)):
            if kind == "table":
                bare.execute(text)
            elif kind == "index":
                indexes.append(text)
        for rows in _pages(source, table):
            marks = ", ".join("?" * len(rows[0]))
            began = time.perf_counter()
            bare.executemany(f'INSERT INTO "{table}" VALUES ({marks})', rows)
            took += time.perf_counter() - began
    began = time.perf_counter()
    for text in indexes:
        bare.execute(text)
    bare.execute("COMMIT")
    took += time.perf_counter() - began
    bare.close()
    path.unlink()
    return took


def _pages(source: sqlite3.Connection, table: str) -> Iterator[list[tuple[object, ...]]]:
    names = [row[1] for row in source.execute(f'PRAGMA table_info("{table}")')]
    quoted = ", ".join(f'"{name}"' for name in names)
    found = source.execute(f'SELECT {quoted} FROM "{table}"')
    while rows := found.fetchmany(PAGE):
        yield rows
