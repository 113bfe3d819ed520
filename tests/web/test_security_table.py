"""The table of DEVELOPERS.md says of each line what holds it, README's list is what is installed, and what both rest on."""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
SECTION = DEVELOPERS.split("## Security, line by line", 1)[1].split("\n## ", 1)[0]
ROWS = [[cell.strip() for cell in line.strip("|").split("|")] for line in SECTION.splitlines() if re.match(r"\| \d", line)]
WEAK = re.compile(
    r"shell=True|os\.system|os\.popen|\beval\(|\bexec\(|\bpickle\b|\bmarshal\b|\byaml\b|xml\.(etree|sax|dom)|lxml|\bmd5\b|\bsha1\(|"
    r"random\.(random|choice|randint)\("
)


def test_each_line_names_a_test_that_is_there_or_says_why_it_does_not_apply():
    assert len(ROWS) >= 50
    for number, _, held_by in ROWS:
        file, _, name = held_by.partition("::")
        if not name:
            assert held_by.startswith(("does not apply, because ", "open: ")), number
            continue
        functions = {node.name for node in ast.walk(ast.parse((ROOT / file).read_text("utf-8"))) if isinstance(node, ast.FunctionDef)}
        assert name in functions, (number, held_by)


def test_no_line_stands_twice_and_all_are_in_order():
    numbers = [tuple(map(int, re.match(r"(\d+)\.(\d+)\.(\d+)", row[0]).groups())) for row in ROWS]
    assert numbers == sorted(set(numbers))
    assert {number[0] for number in numbers} == set(range(1, 16))


def test_the_document_says_how_soon_a_hole_in_a_library_is_closed():
    assert "within 7 days of its being known, any other within 30" in SECTION


def test_readme_lists_each_library_that_is_installed_and_why():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = [name for group, names in project["optional-dependencies"].items() if group not in ("test", "soak") for name in names]
    installed = {re.split(r"[=<>\[ ]", name)[0] for name in project["dependencies"] + extras}
    section = (ROOT / "README.md").read_text("utf-8").split("## What it stands on", 1)[1].split("\n## ", 1)[0]
    listed = dict(re.findall(r"^\| ([\w-]+) \| (\S.*?) \|$", section, re.MULTILINE))
    listed.pop("library")
    assert set(listed) == installed
    assert all(len(why) >= 4 for why in listed.values())


def test_the_code_calls_no_shell_evaluates_nothing_and_hashes_with_nothing_weak():
    found = [f"{path.name}: {match[0]}" for path in (ROOT / "fieldlog").rglob("*.py") for match in WEAK.finditer(path.read_text("utf-8"))]
    assert found == []
    scripts = [path for path in (ROOT / "static").rglob("*.js") if "vendor" not in path.parts]
    assert [path.name for path in scripts if re.search(r"\beval\(|new Function\(|\.innerHTML\b|document\.write", path.read_text("utf-8"))] == []


def test_a_name_that_looks_like_a_query_is_a_name(app, client_of, programme, now):
    from tests.live_server import code_for

    name = "'); DROP TABLE device; -- \" OR 1=1"
    code = code_for(programme, "crew", None, int(now().timestamp() * 1000))
    assert app.test_client().post("/api/join", json={"code": code, "device_name": name}).status_code == 200
    listed = client_of("lead").get("/api/devices").json["devices"]
    assert name in {device["name"] for device in listed}
    assert app.test_client().post("/api/join", json={"code": "' OR '1'='1", "device_name": name}).status_code == 403
