"""Tables that are made from the log are read in one room."""

from __future__ import annotations

import ast
import re
from pathlib import Path

from fieldlog.records.catalogue import CATALOGUE

PACKAGE = Path(__file__).parents[2] / "fieldlog"

DERIVED = {*CATALOGUE.kinds, "flag", "survey", "survey_verdict", "site_tapes", "disagreement", "record_state"}
"""The tables that are made from the log (`fieldlog replay`)."""

READS_A_TABLE = re.compile(r"""(?<!DELETE )\b(?:FROM|JOIN)\s+["']?(\w+|\{[^}]*\})""")

READ_DERIVED_TABLES = {
    "sync/states.py": "what it writes is made from what stands there",
    "pack/marks.py": "triggers and the marks that they draw",
    "access/calendar_rights.py": "ends addresses of its own by a condition",
    "durable.py": "lines of the log and of the tray that name a file",
    "exports/parquet.py": "reads lines of its own into a table of DuckDB's",
    "lost_photos.py": "lines of the log and of the tray that name a file",
    "sync/forgetting.py": "takes rows away whose lines are purged, and asks whose they were", "purging/aged.py": "what is old enough to go, of any kind that is about a person",
    "query/views.py": "makes the views that people ask",
    "doctor.py": "counts the log and the lanes", "backup_file.py": "counts the log and the tray", "soundness.py": "looks at each of its own tables",
}  # fmt: skip
"""Modules outside `questions` with statements that read such a table, or one named by a variable, each with its reason."""


def tables_read(path: Path) -> set[str]:
    """The derived tables that a module's texts read, and those that a variable names."""
    tree = ast.parse(path.read_text("utf-8"))
    told = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)}
    inside = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in ast.walk(node) if part is not node}
    texts = [
        node.value if isinstance(node, ast.Constant) else "".join(part.value if isinstance(part, ast.Constant) else f"{{{ast.unparse(part.value)}}}" for part in node.values)
        for node in ast.walk(tree)
        if id(node) not in told | inside and (isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str)))
    ]  # fmt: skip
    return {table for text in texts for table in READS_A_TABLE.findall(text) if table in DERIVED or table.startswith("{")}


def test_derived_tables_are_asked_in_the_room_of_questions_alone() -> None:
    """So that a question has one answer: exports, imports and reports ask there, and bring no statements of their own."""
    reads = {path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py") if path.parent.name != "questions" and tables_read(path)}
    assert reads == set(READ_DERIVED_TABLES)
    rooms = {path.stem: tables_read(path) for path in (PACKAGE / "questions").glob("*.py")}
    assert rooms["flags"] >= {"flag", "flag_decision"}
    assert {"{kind}"} <= rooms["records"]
