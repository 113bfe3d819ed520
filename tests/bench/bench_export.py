"""Figures of exports: a million checks to CSV and Parquet, 100,000 rows of 30 columns to XLSX, each in a process of its own."""

from __future__ import annotations

import csv
import json
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zipfile import ZIP_DEFLATED, ZipFile

import duckdb

from fieldlog.exports.columns import Column
from fieldlog.exports.parts import FAST
from fieldlog.exports.workbook import MOST_ROWS, Book
from fieldlog.instants import written
from fieldlog.questions.whole_tables import columns_of
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import create_programme
from fieldlog.sync.opening import open_programme
from tests.bench.figures import Figure

CHECKS, UNITS, VISITS = 1_000_000, 2_000, 5_000
AT_ONCE = 10_000
KIND = CATALOGUE.kinds["unit_check"]
NOW_MS = 1_790_000_000_000

_EXPORT = """
import sys, time
from fieldlog import keep_pandas_out
keep_pandas_out()
from datetime import UTC, datetime
from pathlib import Path
from fieldlog.exports.formats import FORMATS
from fieldlog.exports.opening import open_export
from fieldlog.exports.tables import Wanted
from fieldlog.records.catalogue import CATALOGUE
folder, form, out = sys.argv[1:]
began = time.perf_counter()
with open_export(Path(folder) / "fieldlog.sqlite", CATALOGUE, Wanted(kinds=("unit_check",)), datetime.now(UTC)) as export, open(out, "wb") as file:
    FORMATS[form].write(export, file, lambda rows: None)
took = time.perf_counter() - began
# A program's own peak: what getrusage says begins with that of the process which started it.
peak_kb = next(int(line.split()[1]) for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmHWM"))
print(took, peak_kb / 1024)
"""

_STORED = """
import sys, time
from pathlib import Path
from fieldlog.exports.csv_package import cells_of, write_csv
from fieldlog.exports.columns import Table, column_of, Column
from fieldlog.questions.whole_tables import columns_of, one_state, rows_of
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.kind import ENVELOPE
folder, out = sys.argv[1:]
kind = CATALOGUE.kinds["unit_check"]
columns = tuple(Column(name, name, "whole" if name == "deleted" else "text") for name in ENVELOPE) + tuple(column_of(*field) for field in kind.fields.items())
table = Table("unit_check", "Checks", columns)
began = time.perf_counter()
with one_state(Path(folder) / "fieldlog.sqlite") as db, open(out, "wb") as file:
    write_csv(columns_of(kind), cells_of(table, rows_of(db, kind)), file, lambda rows: None)
print(time.perf_counter() - began)
"""


def make_checks(folder: Path, count: int = CHECKS) -> None:
    """A programme with so many checks, straight into its table: what they say varies as people's do."""
    create_programme(folder, "A million checks").close()
    programme = open_programme(folder, CATALOGUE, NOW_MS)
    db = programme.db()
    db.conn.execute("PRAGMA synchronous = OFF")
    db.conn.execute("BEGIN")
    db.execute("INSERT INTO site(record_id, site_id, deleted, name, zone, lat_deg, lon_deg) VALUES ('site', 'site', 0, 'Alder Spit', 'America/New_York', 32, -81)")
    db.execute("INSERT INTO unit_design(record_id, deleted, name, height_mm) VALUES ('design', 0, 'Block', 450)")
    db.execute("INSERT INTO row(record_id, site_id, deleted, name) VALUES ('row', 'site', 0, 'A')")
    units = [(f"unit-{n:05}", f"A{n:05}") for n in range(UNITS)]
    db.conn.executemany("INSERT INTO unit(record_id, site_id, deleted, tag, row_id, design_id) VALUES (?, 'site', 0, ?, 'row', 'design')", units)
    db.conn.executemany(
        "INSERT INTO unit_event(record_id, site_id, deleted, unit_id, event, event_at) VALUES ('e' || ?1, 'site', 0, ?1, 'placed', '2016-01-01T00:00:00.000Z')",
        [(unit_id,) for unit_id, _ in units],
    )
    columns = columns_of(KIND)
    db.conn.executemany(f"INSERT INTO unit_check({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})", _checks(columns, count))
    db.conn.execute("COMMIT")
    programme.close()


def _checks(columns: list[str], count: int) -> Iterator[tuple[object, ...]]:
    dice = random.Random(5)
    start = datetime(2016, 1, 2, tzinfo=UTC)
    for n in range(count):
        row: dict[str, object] = dict.fromkeys(columns)
        row |= {
            "record_id": f"{n:08x}-0000-4000-8000-{dice.getrandbits(48):012x}", "site_id": "site", "visit_id": f"visit-{n % VISITS:06}", "deleted": 0,
            "created_by": f"person-{n % 40}", "created_eff": f"{NOW_MS + n:012x}0000", "changed_by": f"person-{n % 40}", "changed_eff": f"{NOW_MS + n:012x}0000",
            "unit_id": f"unit-{dice.randrange(UNITS):05}", "checked_at": written(start + timedelta(seconds=n * 300)), "found_state": "seen",
            "body_grade": dice.randrange(5), "stance_grade": dice.randrange(5), "toe_grade": 0, "cover_grade": dice.randrange(5),
            "exposed_height_mm": float(dice.randrange(450)), "tilt_deg": float(dice.randrange(40)), "crack_width_mm": dice.randrange(30) / 10,
            "scour_depth_mm": float(dice.randrange(200)), "rocking": dice.randrange(2), "looked_only": 0, "note": "Loose stones at the toe" if n % 7 == 0 else None,
        }  # fmt: skip
        yield tuple(row.values())


def _run(script: str, *arguments: object) -> list[float]:
    ran = subprocess.run([sys.executable, "-c", script, *map(str, arguments)], check=True, capture_output=True, text=True)
    return [float(word) for word in ran.stdout.split()]


_ROWS = f"SELECT {', '.join(columns_of(KIND))} FROM unit_check WHERE deleted = 0 ORDER BY site_id, checked_at, record_id"


def _csv_floor(folder: Path, out: Path) -> float:
    """The same rows of stored columns, read and written by Python and nothing more. Seconds."""
    began = time.perf_counter()
    with closing(sqlite3.connect(folder / "fieldlog.sqlite")) as conn, out.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(conn.execute(_ROWS))
    return time.perf_counter() - began


def _command_floor(folder: Path, out: Path) -> float | None:
    """The same by SQLite's own command line. Seconds; None where the command is not here (Debian: sqlite3)."""
    command = shutil.which("sqlite3")
    if command is None:
        return None
    began = time.perf_counter()
    with out.open("wb") as file:
        subprocess.run([command, "-readonly", "-csv", str(folder / "fieldlog.sqlite"), _ROWS], check=True, stdout=file)
    return time.perf_counter() - began


def checks_to_csv(folder: Path, scratch: Path) -> list[Figure]:
    """A million checks, all columns packed as a download is; and the stored columns alone beside the floor."""
    seconds, resident_mb = _run(_EXPORT, folder, "csv", scratch / "checks.zip")
    (scratch / "checks.zip").unlink()
    floor_s = _csv_floor(folder, scratch / "floor.csv")
    command_s = _command_floor(folder, scratch / "command.csv")
    (stored_s,) = _run(_STORED, folder, scratch / "stored.csv")
    rows = sum(1 for _ in (scratch / "floor.csv").open(encoding="utf-8"))
    figures = [
        Figure(f"{rows:,} checks to CSV, all columns, packed", seconds, 30, "s", "rows read and written plainly", floor_s),
        Figure("  memory", resident_mb, 200, "MB"),
        Figure("  stored columns alone, times plain reading and writing", stored_s / floor_s, 3, "x", f"{stored_s:.3g} s"),
    ]
    if command_s is not None:
        figures.append(Figure("  stored columns alone, times `sqlite3 -csv`", stored_s / command_s, 3, "x", f"that takes {command_s:.3g} s"))
    for name in ("floor.csv", "command.csv", "stored.csv"):
        (scratch / name).unlink(missing_ok=True)
    return figures


def checks_to_parquet(folder: Path, scratch: Path) -> list[Figure]:
    """A million checks, and whether each stored value is read back by DuckDB."""
    seconds, resident_mb = _run(_EXPORT, folder, "parquet", scratch / "checks.zip")
    with ZipFile(scratch / "checks.zip") as package:
        package.extract("unit_check.parquet", scratch)
        (rows,) = [one["rows"] for one in json.loads(package.read("datapackage.json"))["resources"]]
    unequal = _unequal(folder, scratch / "unit_check.parquet")
    return [
        Figure(f"{rows:,} checks to Parquet", seconds, 60, "s"), Figure("  memory", resident_mb, 400, "MB"),
        Figure("  stored values that are not read back as they are", unequal, 0, ""),
    ]  # fmt: skip


def _unequal(folder: Path, parquet: Path) -> int:
    """How many stored values differ from what DuckDB reads, both sorted by record; rows are held against each other many at a time."""
    names = ["record_id", *KIND.fields]
    read = ", ".join(f'epoch_ms("{name}")' if name.endswith("_at") else f'"{name}"' for name in names)
    # Whole milliseconds, by whole numbers alone.
    stored = ", ".join(f"unixepoch(substr({name}, 1, 19)) * 1000 + substr({name}, 21, 3)" if name.endswith("_at") else name for name in names)
    differ = 0
    with duckdb.connect() as ours, closing(sqlite3.connect(folder / "fieldlog.sqlite")) as conn:
        theirs = ours.execute(f"SELECT {read} FROM '{parquet}' ORDER BY record_id")
        wanted = conn.execute(f"SELECT {stored} FROM unit_check WHERE deleted = 0 ORDER BY record_id")
        while mine := wanted.fetchmany(AT_ONCE):
            yours = theirs.fetchmany(AT_ONCE)
            if mine != yours:
                differ += len(mine) * len(names) if len(mine) != len(yours) else sum(a != b for one, other in zip(mine, yours, strict=True) for a, b in zip(one, other, strict=True))
        return differ + len(theirs.fetchall())


def rows_to_xlsx(scratch: Path, count: int = 100_000) -> list[Figure]:
    """100,000 rows of 30 columns, as a check's: ids, words, moments, numbers."""
    types = ["id"] * 3 + ["text"] * 7 + ["instant", "local"] + ["number"] * 14 + ["yesno"] * 2 + ["choice"] * 2
    columns = [Column(f"column_{n}", f"Column {n}", kind) for n, kind in enumerate(types)]
    value = {
        "id": "d6c03663-36cb-52a7-83a2-5f8f39507aa8", "text": "Loose stones, at the toe", "instant": "2026-06-14T10:30:00.000Z",
        "local": "2026-06-14T06:30:00-04:00", "yesno": 1, "choice": "not_found_dry",
    }  # fmt: skip
    rows = (tuple(n / 8 if kind == "number" else value[kind] for kind in types) for n in range(count))
    began = time.perf_counter()
    with ZipFile(scratch / "rows.xlsx", "w", ZIP_DEFLATED, compresslevel=FAST) as package:
        book = Book(package, "2026-11-25T06:00:00.000Z")
        book.sheet("Rows", [column.header for column in columns], columns, rows, lambda _rows: None, MOST_ROWS)
        book.end()
    return [Figure(f"{count:,} rows of {len(types)} columns to XLSX", time.perf_counter() - began, 60, "s")]


def all_figures(count: int = CHECKS) -> list[Figure]:
    """Every figure of exports."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "programme"
        make_checks(folder, count)
        return [*checks_to_csv(folder, Path(scratch)), *checks_to_parquet(folder, Path(scratch)), *rows_to_xlsx(Path(scratch))]
