"""How the house is built: who may import whom, how long things get, and that nothing comes from elsewhere."""

from __future__ import annotations

import ast
import hashlib
import re
from collections.abc import Iterator
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE, STATIC = ROOT / "fieldlog", ROOT / "static"
PYTHON = sorted([*PACKAGE.rglob("*.py"), *(p for p in (ROOT / "tests").rglob("*.py") if "node_modules" not in p.parts)])
SCRIPTS = sorted(p for p in STATIC.rglob("*.js") if "vendor" not in p.parts)
MOST_LINES, MOST_LINES_A_FUNCTION, MOST_LETTERS_A_LINE = 350, 50, 120

MAY_IMPORT = {
    "errors": set(),
    "shown_names": set(),
    "rounding": set(),
    "days": set(),
    "instants": set(),
    "json_text": set(),
    "logs": {"instants"},
    "metrics": set(),
    "readiness": {"errors", "store"},
    "connections": set(),
    "service": {"errors"},
    "migrations": set(),
    "disk": {"errors"},
    "turns": {"errors"},
    "store": {"disk", "errors", "migrations", "turns"},
    "stations": {"errors", "instants", "tides"},
    "records": {"errors", "store"},
    "openapi": {"records"},
    "questions": {"instants", "records", "store", "survey"},
    "tides": {"errors", "rounding"},
    "survey": {"errors", "rounding"},
    "outcomes": set(),
    "zones": set(),
    "windows": {"days", "errors", "instants", "store", "stations", "tides", "access", "rounding", "shown_names", "zones", "questions", "openapi"},
    "child": {"errors"},
    "one_by_one": set(),
    "apostrophes": set(),
    "gauge": {"days", "errors", "access", "child", "one_by_one", "rounding", "stations", "store", "tides", "shown_names", "questions", "openapi"},
    "hours": {"records", "rounding"},
    "timesheets": {"access", "days", "errors", "exports", "flags", "hours", "instants", "openapi", "package_data", "questions", "records", "rounding", "shown_names", "store"},
    "plan": {"access", "child", "days", "errors", "flags", "instants", "package_data", "questions", "records", "rounding", "store", "windows", "shown_names", "openapi"},
    "closing": {"access", "backup", "days", "flags", "instants", "openapi", "plan", "questions", "records", "replica", "rounding", "shown_names", "store"},
    "flags": {"days", "instants", "errors", "questions", "records", "rounding", "survey", "shown_names"},
    "access": {"days", "errors", "json_text", "records", "store", "shown_names", "questions", "openapi"},
    "pack": {"instants", "errors", "access", "flags", "hours", "rounding", "package_data", "records", "stations", "store", "tides", "windows", "questions", "openapi"},
    "rewriting": {"disk", "store"},
    "sync": {"instants", "disk", "errors", "access", "flags", "json_text", "lost_photos", "pack", "questions", "records", "rewriting", "store", "openapi"},
    "soundness": {"access", "migrations", "sync"},
    "durable": {"questions"},
    "lost_photos": {"questions"},
    "backup_file": {"disk", "errors", "soundness", "store"},
    "backup_photos": {"backup_file", "disk", "errors", "replica", "store"},
    "replica": {"backup_file", "disk", "durable", "errors", "rewriting", "soundness", "store"},
    "backup": {"backup_file", "backup_photos", "disk", "durable", "errors", "lost_photos", "replica", "store"},
    "restoring": {"access", "backup_file", "disk", "records", "replica", "rewriting", "store", "sync"},
    "replaying": {"child", "records", "sync"},
    "rebuilding": {"child", "errors", "store", "turns"},
    "backing_up": {"backup", "child", "rewriting", "store"},
    "finding": set(),
    "machine": {"days", "finding", "migrations", "questions", "readiness", "rounding", "shown_names", "store"},
    "doctor": {"days", "finding", "machine", "rounding", "shown_names", "access", "backup", "backup_file", "errors", "flags", "lost_photos", "questions", "records", "replica", "soundness", "store", "sync"},
    "purging": {"access", "backup", "backup_file", "days", "errors", "imports", "json_text", "openapi", "questions", "records", "replica", "rewriting", "shown_names", "store", "sync"},
    "imports": {"access", "apostrophes", "child", "one_by_one", "days", "errors", "instants", "openapi", "questions", "records", "rounding", "shown_names", "store", "sync"},
    "exported": {"access", "errors", "records", "store", "sync"},
    "query": {"errors", "exports", "instants", "questions", "records", "store"},
    "exports": {"access", "apostrophes", "child", "disk", "errors", "flags", "instants", "openapi", "questions", "records", "rounding", "shown_names", "store", "survey", "sync"},
    "demo": {"access", "instants", "package_data", "questions", "records", "stations", "store", "survey", "sync", "tides", "windows"},
    "package_data": set(),
    "javascript": set(),
    "shell": {"javascript"},
    "static_files": {"package_data", "shell"},
}
"""A room on the left may import the rooms on the right. What is not named (web, serving, commands, __main__) may import all."""


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).with_suffix("").parts[0]


def imported_rooms(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("fieldlog."):
            yield node.module.split(".")[1]


@pytest.mark.parametrize("room", MAY_IMPORT)
def test_a_room_imports_only_what_it_may(room: str) -> None:
    files = [path for path in PACKAGE.rglob("*.py") if room_of(path) == room]
    assert files
    found = {imported for path in files for imported in imported_rooms(path)} - {room}
    assert found <= MAY_IMPORT[room]


SCRIPTS_MAY_IMPORT = {
    "rounding": set(),
    "days": set(),
    "instants": set(),
    "idb": set(),
    "idle": set(),
    "exifr": set(),
    "lit-html": set(),
    "worker": set(),
    "alarm": set(),
    "languages": set(),
    "records": {"days", "rounding"},
    "survey": {"rounding"},
    "tides": {"days", "instants", "rounding"},
    "log": {"idb", "idle", "instants"},
    "sync": {"idb", "log"},
    "store": {"idle", "instants", "log", "records", "rounding", "sync", "tides"},
    "views": {"alarm", "days", "exifr", "idle", "instants", "languages", "lit-html", "records", "rounding", "survey", "tides"},
    "online": {"days", "lit-html", "records", "rounding", "tides", "views"},
}
"""The same of the phone's code, names of types too. Doors (start.js, app.js, sw.js and views/router.js, which opens the screens) may import all."""
SCRIPT_DOORS = {"start.js", "app.js", "sw.js", "views/router.js"}
NAMES_A_MODULE = re.compile(r"""(?:\bfrom\s+|\bimport\s*\(?\s*)'(\.[^']+)'""")


def script_room(path: Path) -> str:
    """A folder of static/, a module that stands alone, or a library without its version."""
    first, *rest = path.relative_to(STATIC).with_suffix("").parts
    return rest[0].rpartition("-")[0] if first == "vendor" else first


def named_modules(path: Path, text: str) -> set[Path]:
    return {(path.parent / name).resolve() for name in NAMES_A_MODULE.findall(text)}


@pytest.mark.parametrize("room", SCRIPTS_MAY_IMPORT)
def test_a_room_of_the_phone_imports_only_what_it_may(room: str) -> None:
    files = [path for path in STATIC.rglob("*.js") if script_room(path) == room]
    assert files
    own = [path for path in files if path in SCRIPTS and path.relative_to(STATIC).as_posix() not in SCRIPT_DOORS]
    imported = {script_room(module) for path in own for module in named_modules(path, path.read_text("utf-8"))}
    assert imported - {room} <= SCRIPTS_MAY_IMPORT[room]


def test_every_room_of_the_phone_stands_in_the_table_and_none_leads_back_to_itself() -> None:
    assert {script_room(path) for path in SCRIPTS} - set(SCRIPTS_MAY_IMPORT) == {"start", "app", "sw"}
    TopologicalSorter(SCRIPTS_MAY_IMPORT).prepare()


def test_no_module_of_the_phone_leads_back_to_itself() -> None:
    """Nor one that is loaded when it is needed; names of types load nothing."""
    code = {path: re.sub(r"/\*.*?\*/", "", path.read_text("utf-8"), flags=re.DOTALL) for path in SCRIPTS}
    TopologicalSorter({path: named_modules(path, text) for path, text in code.items()}).prepare()


def test_screens_are_handed_the_phone_by_its_own_type() -> None:
    """So that tsc knows what it has, and which fields a row of each kind has (static/records/rows.d.ts)."""
    assert [path.name for path in SCRIPTS if re.search(r"\bphone: any\b|\{any\} phone\b", path.read_text("utf-8"))] == []


VIEW = re.compile(
    r"^/\*\* @param \{import\('[./a-z]*router\.js'\)\.Stage\} stage"
    r" @returns \{Promise<import\('[./a-z]*router\.js'\)\.Screen>\} \*/\nexport async function view\(stage\) \{$",
    re.MULTILINE,
)


def test_every_screen_is_a_view_of_the_stage() -> None:
    """The one way in: `view(stage)` reads what the screen shows and gives a `Screen`, whose parts draw it."""
    router = STATIC / "views" / "router.js"
    screens = router.read_text("utf-8").split("const SCREENS = {")[1].split("};")[0]
    opened = {router.parent.joinpath(name).resolve() for name in re.findall(r"import\('([^']+)'\)", screens)}
    assert len(opened) > 15
    views = {path for path in SCRIPTS if re.search(r"^export .*\bview\b", path.read_text("utf-8"), re.MULTILINE)}
    assert opened <= views
    assert [path.name for path in sorted(views) if not VIEW.search(path.read_text("utf-8"))] == []


BINDS = re.compile(
    r"\b(?:const|let)\s+(\{[^=;]*?\}|\[[^=;]*?\]|\w+)\s*(?:=|of\b|;)|\bfunction (\w+)|\(([^()]*)\)\s*(?:=>|\{)|(?<![\w.])(\w+) =>",
)
SAYS_NOTHING = re.compile(r"(?<![\w.$'])(?:found|one|said)\b(?!\s*:(?!:))")


def nameless(code: str) -> list[str]:
    """What a piece of JavaScript binds to a name that says nothing. `one` may stand beside its like: other, two or next."""
    bound = [text for groups in BINDS.findall(re.sub(r"/\*.*?\*/|//[^\n]*", "", code, flags=re.DOTALL)) for text in groups if text]
    return [text for text in bound if set(SAYS_NOTHING.findall(text)) - ({"one"} if re.search(r"\b(?:other|two|next)\b", text) else set())]


def test_names_say_what_a_thing_is() -> None:
    """A unit, a low, a person, a flag. What a line says is `said` where lines are read, in log/ and sync/."""
    assert nameless("const one = 1; list.map((one) => one.name); for (const found of list) {} const { a: said } = b;") != []
    assert nameless("list.sort((one, other) => one - other); told({ said: words });") == []
    nothing = {path: nameless(path.read_text("utf-8")) for path in SCRIPTS}
    of_lines = {path for path in SCRIPTS if script_room(path) in {"log", "sync"}}
    assert {path.name: texts for path, texts in nothing.items() if [text for text in texts if path not in of_lines or "said" not in text]} == {}


@pytest.mark.parametrize("word", ["flask", "click"])
def test_only_doors_know_flask_and_click(word: str) -> None:
    knows = re.compile(rf"^(from|import) {word}\b", re.MULTILINE)
    files = {path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py") if knows.search(path.read_text("utf-8"))}
    doors = {
        "flask": r"web\.py|static_files\.py|(\w+)/(\w+_)?routes\.py|access/(guard|bodies|headers|cookies)\.py",
        "click": r"__main__\.py|commands/\w+\.py",
    }
    assert {file for file in files if not re.fullmatch(doors[word], file)} == set()


@pytest.mark.parametrize("room", ["tides", "survey", "outcomes"])
def test_the_science_asks_no_clock_and_no_database(room: str) -> None:
    for path in (PACKAGE / room).glob("*.py"):
        assert not re.search(r"\.now\(|sqlite|\btime\.time\(", path.read_text("utf-8")), path.name


@pytest.mark.parametrize("path", [*PYTHON, *SCRIPTS], ids=lambda path: path.relative_to(ROOT).as_posix())
def test_a_module_stays_short_enough_to_read(path: Path) -> None:
    assert len(path.read_text("utf-8").splitlines()) <= MOST_LINES


TYPED = {"measure-series.js", "record-form.js", "unit-facts.js", "unit-history.js", "readings.js", "surveyed.js", "site-tide.js", "tide-constants.js"}


def test_what_turns_records_into_facts_and_forms_says_what_it_takes() -> None:
    """A field that is misspelt there is tsc's to find: nothing but a kind's fields by name may hold anything."""
    texts = [(path.name, path.read_text("utf-8")) for path in SCRIPTS if path.name in TYPED]
    assert {name for name, _ in texts} == TYPED
    assert [(name, bare) for name, text in texts for bare in re.findall(r"\{any\b|\bany\[\]|<any>|[|:] any\b", text)] == []


def test_a_line_of_the_phones_code_fits_on_a_screen() -> None:
    lines = [(path, n, line) for path in SCRIPTS for n, line in enumerate(path.read_text("utf-8").splitlines(), 1)]
    assert [f"{path.relative_to(ROOT)}:{n}" for path, n, line in lines if len(line) > MOST_LETTERS_A_LINE] == []


def own_lines(function: ast.FunctionDef) -> int:
    """Lines of a function without those of functions inside it and what they are decorated with: a blueprint is a list of its routes."""
    inner = [node for node in ast.walk(function) if isinstance(node, ast.FunctionDef) and node is not function]
    begins = [min([node.lineno, *(decorator.lineno for decorator in node.decorator_list)]) for node in inner]
    return function.end_lineno - function.lineno + 1 - sum(node.end_lineno - begun + 1 for node, begun in zip(inner, begins, strict=True))


def test_a_function_fits_on_a_screen() -> None:
    long = [
        f"{path.relative_to(ROOT)}:{node.name}"
        for path in PYTHON
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.FunctionDef) and own_lines(node) > MOST_LINES_A_FUNCTION
    ]
    assert long == []


def test_the_clock_is_read_at_the_doors_only() -> None:
    reads = re.compile(r"datetime\.now\(|time\.time\(")
    files = {path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py") if reads.search(path.read_text("utf-8"))}
    assert files <= {"__main__.py", "commands/serving.py"}
    assert [path.name for path in SCRIPTS if "Date.now()" in path.read_text("utf-8")] == ["app.js"]


OF_EVERY_SITE = {
    ("access.js", "'site'"), ("shore.js", "'site'"), ("set-up.js", "'site'"), ("settings.js", "'site'"),
    ("data.js", "'site'"), ("join.js", "'person'"), ("person-sites.js", "'person'"), ("person-sites.js", "'site'"),
    ("set-up.js", "target.kind"), ("set-up.js", "'unit'"),
    ("removing.js", "named"), ("removing.js", "'site'"),
}  # fmt: skip
"""Whole lists that screens read: sites themselves, who joins before a site is chosen, whose `same_as` may cross, the site's set-up, how the program's other units are tagged where a site has none, what hangs on a record that is removed."""


def test_screens_read_records_of_one_site() -> None:
    """A phone may have several; what names a record is read by `rowsOf`, which takes the site from that record."""
    reads = [(path.name, *call) for path in SCRIPTS if path.parent.name in ("views", "online") for call in re.findall(r"\.rows\(([\w.']+), (.*?)\)", path.read_text("utf-8"))]
    assert len(reads) > 20
    assert [one for one in reads if not re.match(r"\{ siteId(: phone\.me\.site_id)? \}", one[2]) and (one[0], one[1]) not in OF_EVERY_SITE] == []
    text = {path.name: path.read_text("utf-8") for path in SCRIPTS}
    assert sum(each.count(".rows(") for each in text.values()) == len(reads) + text["phone.js"].count(".rows("), "each call says what it reads"
    assert [name for name, each in text.items() if re.search(r"index\('ref'\)", each)] == ["records.js"]


def test_vendored_files_are_what_their_list_says() -> None:
    vendor = STATIC / "vendor"
    listed = dict(re.findall(r"^\| ([\w./-]+)[^|]*\|[^|]*\|[^|]*\|[^|]*\| ([0-9a-f]{64}) \|$", (vendor / "ORIGIN.md").read_text("utf-8"), re.MULTILINE))
    files = {path.relative_to(vendor).as_posix(): path for path in vendor.rglob("*") if path.is_file() and path.name != "ORIGIN.md"}
    assert set(files) == set(listed)
    for name, path in files.items():
        assert hashlib.sha256(path.read_bytes()).hexdigest() == listed[name], name


def test_the_app_names_no_address_but_its_own() -> None:
    allowed = ("http://www.w3.org/2000/svg", "http://www.w3.org/1999/xhtml")
    for path in [*SCRIPTS, STATIC / "index.html", STATIC / "style.css", STATIC / "app.webmanifest"]:
        found = [one for one in re.findall(r"https?://[^\s'\"`)<]+", path.read_text("utf-8")) if not one.startswith(allowed)]
        assert found == [], path.name


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_documents_name_only_files_that_are_here(name: str) -> None:
    text = (ROOT / name).read_text("utf-8")
    named = set(re.findall(r"`((?:fieldlog|static|tests|demo_db)/[\w./*-]*)`", text)) | set(re.findall(r"\]\(([\w./-]+)\)", text))
    assert named
    assert [one for one in sorted(named) if not list(ROOT.glob(one.rstrip("/")))] == []


def test_numbers_in_sentences_are_written_by_one_rule() -> None:
    """Python's own format and JavaScript's toFixed differ at halves and write "-0.00": both sides have `rounded`."""
    theirs = re.compile(r"\{[^{}\n]*:[^{}\n]*\.\d+f\}|\bformat\([^()]*\.\d+f|toFixed\(|toPrecision\(")
    known = {path.relative_to(ROOT).as_posix() for path in [*PACKAGE.rglob("*.py"), *SCRIPTS] if theirs.search(path.read_text("utf-8"))}
    for_machines = {"fieldlog/metrics.py", "fieldlog/data/build_stations.py"}
    coordinates_of_drawings = {f"static/views/{name}.js" for name in ("ebb", "measure-charts", "position-plan", "tide-curve", "year")}
    assert known - coordinates_of_drawings == {"static/rounding.js"} | for_machines


@pytest.mark.parametrize("name", ["ebb", "measure-charts", "position-plan", "tide-curve"])
def test_a_drawing_rounds_its_coordinates_and_nothing_that_people_read(name: str) -> None:
    text = (STATIC / "views" / f"{name}.js").read_text("utf-8")
    assert re.findall(r"toFixed\((?!1\))", text) == []
    # A coordinate stands in an attribute or in a path, never between tags.
    assert re.findall(r"[>}]\$\{[^{}`]*toFixed\([^{}`]*\}</", text) == []


def test_instants_have_one_form_which_one_place_a_side_knows() -> None:
    """A row's instants are equal as texts where they are as moments, so nobody else writes, strips or rebuilds such a text."""
    theirs = re.compile(r"""removesuffix\(.Z.\)|trim\([^)]*'Z'|%Y-%m-%dT%H:%M|isoformat\(timespec|"\+00:00", |f"\{\w+\}Z|toISOString|replace\([^)]*'Z'""")
    known = {path.relative_to(ROOT).as_posix() for path in [*PACKAGE.rglob("*.py"), *SCRIPTS] if theirs.search(path.read_text("utf-8"))}
    known -= {"fieldlog/commands/tides.py", "fieldlog/tides/curve.py"}  # sentences that say a moment back to whoever asked for it
    assert known == {"fieldlog/instants.py", "static/instants.js"}


TIMED = {"tests/phone/test_killed.py", "tests/test_house.py"}
"""Who may name a time: a browser that is killed at any moment."""


def test_a_browser_test_waits_for_a_state_and_for_no_time_but_a_second_taps() -> None:
    """A busy machine needs longer than any time; and Playwright takes the promise of an async function for true, so it waits for nothing."""
    tests = {path.relative_to(ROOT).as_posix(): path.read_text("utf-8") for path in PYTHON if path.name.startswith("test_")}
    waits = {name: re.findall(r"wait_for_timeout\((.*)\)", text) for name, text in tests.items() if name not in TIMED}
    assert {name: times for name, times in waits.items() if [one for one in times if "CALM_MS" not in one]} == {}
    assert [name for name, text in tests.items() if re.search(r"wait_for_function\(\s*f?[\"']+\s*async", text)] == []
    assert [name for name, text in tests.items() if re.search(r"evaluate\(f?\"+\s*[\w.]+ = (?:async )?\(?[\w, ]*\)? ?=>", text)] == []
