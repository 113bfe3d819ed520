"""Running tests on a copy of the tree that has one fault in it, never on the tree itself."""

from __future__ import annotations

import ast
import contextlib
import importlib
import json
import os
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from tests.mutants import calls

ROOT = Path(__file__).resolve().parents[2]
PARTS = ("fieldlog", "tests", "static", "demo_db")
LONE_FILES = ("pyproject.toml", "README.md", "DEVELOPERS.md", "Makefile")
LEFT_OUT = shutil.ignore_patterns("node_modules", ".hypothesis")

LOADED_ONCE = (
    "numpy", "flask", "flask_limiter", "flask.testing", "marshmallow", "apispec", "sqlite_utils", "ephem", "waitress", "PIL.Image", "segno",
    "playwright.sync_api", "click", "zoneinfo", "pillow_heif", "xml.etree.ElementTree", "sqlite3",
)  # fmt: skip
"""Other people's modules that every run needs: a run is a fork of a process that has them."""

FEWER_STORMS = {"FIELDLOG_STORMS": "200", "FIELDLOG_WATCHED_STORMS": "60"}
"""Of 1,000 and 200: a fault that only the others see survives here."""

MOST_MEMORY = 8 << 30
"""Bytes of addresses; a fault that fills the memory ends itself, not the machine. A browser takes more, so it goes without."""

PASSED, FAILED, NOT_LOADED = 0, 1, (2, 4)
"""What pytest ends with: 2 and 4 where a module or a conftest could not be imported."""

FAR_FASTER, LEAST_S = 4, 60
"""A run that takes so many times as much of a processor as the sound one took of the day, and no less than these seconds, hangs."""

IDLE_S = 60.0
"""A run that uses nothing of a processor for so long waits for what does not come: on a busy machine too, every run gets its turn."""

TICK_S = 1 / os.sysconf("SC_CLK_TCK")

HUNG, PASSES = "hung", "passed"


@dataclass(frozen=True)
class Told:
    """How a run of tests ended."""

    is_killed: bool
    how: str
    processor_s: float = 0.0


@dataclass
class Running:
    """A run of pytest in a process of its own: what it may use of a processor, what it used when last asked, and since when no more."""

    process: int
    within_s: float
    printed: Path
    used_s: float
    since: float


@dataclass(frozen=True)
class SoundRun:
    """The sound run of a room's tests while it lasts."""

    copy: Path
    tests: list[str]
    running: Running
    seen: Path


def load_once() -> None:
    """Import what every run needs, before the first fork."""
    for name in LOADED_ONCE:
        importlib.import_module(name)


def copy_tree(folder: Path) -> Path:
    """A copy of all that the tests need."""
    for part in PARTS:
        shutil.copytree(ROOT / part, folder / part, ignore=LEFT_OUT)
    for name in LONE_FILES:
        shutil.copy2(ROOT / name, folder)
    return folder


def start(copy: Path, arguments: list[str], within_s: float, *, browser: bool, calls_to: Path | None = None) -> Running:
    """Start pytest in a copy."""
    printed = copy / "printed.txt"
    process = os.fork()
    if process == 0:
        _be_the_run(copy, arguments, printed, browser, calls_to)
    return Running(process, within_s, printed, 0.0, time.monotonic())


def _be_the_run(copy: Path, arguments: list[str], printed: Path, browser: bool, calls_to: Path | None) -> None:
    """The rest of a forked process: pytest, and nothing of the one that was forked."""
    status = 3
    try:
        os.setsid()
        file = os.open(printed, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        for stream in (1, 2):
            os.dup2(file, stream)
        if not browser:
            resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
        for name in [name for name in sys.modules if name.split(".")[0] in ("fieldlog", "tests")]:
            del sys.modules[name]
        os.chdir(copy)
        sys.path[:] = [str(copy), *(path for path in sys.path if path != str(ROOT))]
        # Byte code is written by the sound run only: a fault put in within one second at the same length would be overlooked.
        sys.dont_write_bytecode = calls_to is None
        os.environ |= {"PYTHONPATH": str(copy), **FEWER_STORMS, calls.WRITTEN_TO: str(calls_to)}
        os.environ |= {} if calls_to else {"PYTHONDONTWRITEBYTECODE": "1"}
        seeing = ["-p", "tests.mutants.calls"] if calls_to else []
        plain = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", f"--basetemp={copy / 'temporary'}"]
        status = int(pytest.main([*plain, *seeing, *arguments]))
    finally:
        sys.stdout.flush()
        os._exit(status)


def ended(running: Running) -> Told | None:
    """
    How a run ended; None while it runs. What the tests did not clearly see survives.

    Time of a processor is counted, not of the day: a busy machine makes nothing hang.
    """
    process, status, used = os.wait4(running.process, os.WNOHANG)
    if process == 0 and not _hangs(running):
        return None
    with contextlib.suppress(ProcessLookupError):
        os.killpg(running.process, signal.SIGKILL)
    if process == 0:
        used = os.wait4(running.process, 0)[2]
    told = Told(True, HUNG) if process == 0 else judged(os.waitstatus_to_exitcode(status))
    return replace(told, processor_s=used.ru_utime + used.ru_stime)


def _hangs(running: Running) -> bool:
    fields = Path(f"/proc/{running.process}/stat").read_text().rsplit(")", 1)[1].split()
    used_s = TICK_S * sum(int(field) for field in fields[11:15])
    if used_s > running.used_s:
        running.used_s, running.since = used_s, time.monotonic()
    return used_s > running.within_s or time.monotonic() - running.since > IDLE_S


def judged(code: int) -> Told:
    """What an exit code says; negative where a signal ended the run."""
    if code == FAILED:
        return Told(True, "failed")
    if code in NOT_LOADED or code < 0:
        return Told(True, "did not load" if code > 0 else "crashed")
    return Told(False, PASSES if code == PASSED else f"ended with {code}")


@dataclass(frozen=True)
class Sound:
    """The sound run of a room's tests: how long each test took, and which functions it called."""

    copy: Path
    seconds: dict[str, float]
    calls: dict[str, set[str]]

    def within_s(self, tests: list[str]) -> float:
        """How much of a processor these tests may take before they count as hanging."""
        return max(FAR_FASTER * sum(self.seconds[test] for test in tests), LEAST_S)

    def tests_for(self, file: str, line: int) -> list[str]:
        """
        The tests that call the function around a line. For a line outside functions, or in one that only a child process calls: those
        that call any function of the module or of one that imports it or starts it, and those beside them, which may read a
        constant and call nothing; all where none is known to. Those named for the module come first, quick ones before slow ones.
        """
        first = function_at(self.copy / file, line)
        chosen = [test for test, called in self.calls.items() if f"{file}:{first}" in called]
        if not chosen:
            modules = self._with_users(file)
            calling = {test.split("::")[0] for test, called in self.calls.items() if not modules.isdisjoint(call.split(":")[0] for call in called)}
            chosen = [test for test in self.calls if test.split("::")[0] in calling]
        stem = Path(file).stem
        return sorted(chosen or list(self.seconds), key=lambda test: (stem not in test.split("::")[0], self.seconds[test]))

    def _with_users(self, file: str) -> set[str]:
        name, program = re.escape(file.removesuffix(".py").replace("/", ".")), re.escape(Path(file).name)
        uses = re.compile(rf"\bfrom {name} import|[\"']{program}[\"']|\"{name}\"")
        modules = [path for path in (self.copy / "fieldlog").rglob("*.py") if uses.search(path.read_text("utf-8"))]
        return {file, *(path.relative_to(self.copy).as_posix() for path in modules)}


def function_at(file: Path, line: int) -> int:
    """The first line of the outermost function that holds a line, decorators included; 0 where none does."""
    functions = [node for node in ast.walk(ast.parse(file.read_text("utf-8"))) if isinstance(node, ast.FunctionDef)]
    holding = [node for node in functions if node.lineno < line <= (node.end_lineno or 0)]
    firsts = [min([node.lineno, *(one.lineno for one in node.decorator_list)]) for node in holding]
    return min(firsts, default=0)


def start_sound(copy: Path, tests: list[str]) -> SoundRun:
    """Start tests on the sound copy, watched."""
    seen = Path(tempfile.mkstemp(dir=copy, suffix=".json")[1])
    return SoundRun(copy, tests, start(copy, [*tests, "-m", "not browser"], 1800, browser=False, calls_to=seen), seen)


def heard(run: SoundRun, told: Told) -> Sound:
    """What a sound run that ended says. Ends everything where it did not pass: a fault would be seen for nothing."""
    if told.how != PASSES:
        sys.exit(f"{run.running.printed.read_text()}\nThe tests of {' '.join(run.tests)} do not pass on the sound code: {told.how}.")
    said = json.loads(run.seen.read_text("utf-8"))
    return Sound(run.copy, {test: one["s"] for test, one in said.items()}, {test: set(one["calls"]) for test, one in said.items()})


def share_byte_code(copies: list[Path]) -> None:
    """Give each copy what the sound runs compiled in another, so that no trial compiles it again."""
    for one in copies:
        for made in list(one.rglob("__pycache__/*.pyc")):
            for other in copies:
                target = other / made.relative_to(one)
                if not target.exists():
                    target.parent.mkdir(exist_ok=True)
                    shutil.copy2(made, target)
