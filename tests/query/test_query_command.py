"""`fieldlog query`: a table, CSV and JSON; and the examples of README on the demo."""

from __future__ import annotations

import csv
import io
import re
import subprocess
import sys
from pathlib import Path

import pytest

from fieldlog.commands.query import WIDEST, table_lines
from tests.commands.conftest import call, refused  # noqa: F401
from tests.exports.conftest import HOSTILE, shore_folder  # noqa: F401

ROOT = Path(__file__).parents[2]
SECTION = re.search(r"^## Ask the data\n(.*?)^## ", (ROOT / "README.md").read_text("utf-8"), re.DOTALL | re.MULTILINE)
EXAMPLES = re.findall(r"^    fieldlog query \"(.+?)\"$", SECTION[1] if SECTION else "", re.DOTALL | re.MULTILINE)


def test_readme_has_five_examples_or_more() -> None:
    assert len(EXAMPLES) >= 5
    assert len(set(EXAMPLES)) == len(EXAMPLES)


def test_readmes_examples_work_on_the_demo(call, demo_folder: Path) -> None:  # noqa: F811
    for sql in EXAMPLES:
        said = call("query", " ".join(sql.split()), data=demo_folder)
        assert (said.status, said.err) == (0, ""), sql
        assert int(said.out.splitlines()[-1].split()[0]) > 0, sql


def test_a_table_has_a_head_a_rule_its_rows_and_their_number(call, shore_folder: Path) -> None:  # noqa: F811
    said = call("query", "SELECT tag, slot_number, NULL AS nothing_yet, 450.0 AS height_mm FROM units", data=shore_folder)
    assert said.out.splitlines() == ["tag   slot_number  nothing_yet  height_mm", "----  -----------  -----------  ---------", "A018  1                         450", "1 row"]


def test_a_cell_is_cut_and_what_a_terminal_obeys_is_written_out() -> None:
    lines = list(table_lines(("a",), [("x" * 100,), ("\x1b[2J",), (b"\x01",)]))
    assert [line.strip() for line in lines] == ["a", "-" * WIDEST, "x" * (WIDEST - 1) + "…", "\\x1b[2J", "01", "3 rows"]
    assert list(table_lines(("a",), [])) == ["a", "-", "0 rows"]


def test_csv_gives_every_text_back(call, shore_folder: Path) -> None:  # noqa: F811
    said = subprocess.run(
        [sys.executable, "-m", "fieldlog", "--data", shore_folder, "query", "SELECT note, exposed_height_mm FROM checks WHERE note IS NOT NULL", "--as", "csv"],
        capture_output=True, check=True, cwd=ROOT,
    )  # fmt: skip
    head, *rows = csv.reader(io.StringIO(said.stdout.decode(), newline=""))
    assert head == ["note", "exposed_height_mm"]
    assert sorted(note.removeprefix("'") for note, _ in rows) == sorted(HOSTILE)
    assert [note for note, _ in rows if note[:1] in ("=", "+", "-", "@", "\t", "\r")] == []
    assert "240" in [height for _, height in rows]


def test_json_is_a_list_of_rows(call, shore_folder: Path) -> None:  # noqa: F811
    assert call("query", "SELECT tag FROM units", "--json", data=shore_folder).document == [{"tag": "A018"}]
    assert call("query", "SELECT tag FROM units WHERE 0", "--json", data=shore_folder).document == []


def test_a_refusal_is_one_sentence(refused, shore_folder: Path) -> None:  # noqa: F811
    assert refused("query", "SELECT * FROM log", data=shore_folder).startswith("The table log is not open to questions. There are: sites, ")


def test_whoever_stops_reading_a_long_answer_ends_it_quietly(shore_folder: Path) -> None:  # noqa: F811
    sql = "WITH RECURSIVE t(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM t) SELECT n FROM t"
    with subprocess.Popen(
        [sys.executable, "-m", "fieldlog", "--data", shore_folder, "query", sql], stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT
    ) as running:  # fmt: skip
        assert running.stdout is not None
        assert running.stderr is not None
        assert [running.stdout.readline() for _ in range(3)] == [b"n\n", b"---\n", b"1\n"]
        running.stdout.close()
        assert running.stderr.read() == b""
        assert running.wait() == 0


@pytest.mark.long
def test_an_answer_that_needs_too_much_memory_is_refused(shore_folder: Path) -> None:  # noqa: F811
    """In a process of its own: the limit holds for all of one."""
    sql = "SELECT " + ", ".join("printf('%.900000c', 'a')" for _ in range(400))
    said = subprocess.run([sys.executable, "-m", "fieldlog", "--data", shore_folder, "query", sql], capture_output=True, text=True, check=False, cwd=ROOT)
    assert (said.returncode, said.stdout, said.stderr) == (2, "", "The answer needs more than 256 MB of memory. Ask for less at once.\n")
