"""The faults that `make mutants` draws and plants are faults, each in one place, and its reasons speak of lines that are here."""

from __future__ import annotations

import ast
import time
from collections import Counter
from pathlib import Path

import pytest

from tests.mutants import trying
from tests.mutants.drawing import KINDS, draw, mutants_of
from tests.mutants.planted import PLANTED
from tests.mutants.reasons import REASONS
from tests.mutants.run import TESTS_OF, shares
from tests.mutants.trying import HUNG, PASSES, Sound, function_at, judged, share_byte_code

ROOT = Path(__file__).resolve().parents[2]


def drawn(tmp_path: Path, code: str) -> Counter[tuple[str, str, str]]:
    (tmp_path / "made_up.py").write_text(code)
    made = [make() for _, make in mutants_of(tmp_path, "made_up.py")]
    for one in made:
        ast.parse(one.text)
        assert one.text != ast.unparse(ast.parse(code))
    return Counter((one.kind, one.was, one.is_now) for one in made)


@pytest.mark.parametrize(
    ("code", "change"),
    [
        ("a < 1", ("limit", "a < 1", "a <= 1")),
        ("a >= b", ("limit", "a >= b", "a > b")),
        ("a in b", ("opposite", "a in b", "a not in b")),
        ("x = 7", ("number", "7", "8")),
        ("x = 7", ("number", "7", "6")),
        ("x = 0.5", ("number", "0.5", "0.45")),
        ("f(reverse=True)", ("truth", "True", "False")),
        ("a and b", ("condition", "a and b", "a or b")),
        ("a and b", ("condition", "a and b", "b")),
        ("not a", ("condition", "not a", "a")),
        ("if a:\n    b()", ("branch", "if a", "if False")),
        ("[x for x in y if z]", ("branch", "for x in y if z", "for x in y")),
        ("a - b", ("sign", "a - b", "a + b")),
        ("go()", ("statement removed", "go()", "pass")),
        ("def f():\n    return a", ("nothing returned", "return a", "return None")),
        ("min(a, b)", ("swapped", "min(a, b)", "max(a, b)")),
        ("x = ['a', 'b']", ("member removed", "['a', 'b']", "['a']")),
        ("x = 'SELECT a FROM b WHERE c < 1 AND d = 2'", ("query", "'SELECT a FROM b WHERE c < 1 AND d = 2'", "'SELECT a FROM b WHERE c <= 1 AND d = 2'")),
    ],
)
def test_each_kind_of_fault_is_drawn(tmp_path: Path, code: str, change: tuple[str, str, str]) -> None:
    assert drawn(tmp_path, code)[change] == 1


@pytest.mark.parametrize("code", ['"""Says 7 and not 8."""', "def f(a: tuple[int, 7]) -> Literal[7]: ...", "from a import b", "Row = Mapping[str, int]"])
def test_what_no_test_could_see_is_left_alone(tmp_path: Path, code: str) -> None:
    assert not drawn(tmp_path, code)


def test_the_same_seed_draws_the_same_faults_and_another_draws_others() -> None:
    first, again, other = (draw(ROOT, "survey", 12, seed) for seed in (5, 5, 6))
    assert first == again != other
    assert len({one.text for one in first}) == 12
    assert {one.kind for one in draw(ROOT, "survey", 60, 5)} == set(KINDS) - {"query"}


def test_each_room_gets_its_share() -> None:
    assert shares(400, 6) == [67, 67, 67, 67, 66, 66]
    assert sum(shares(67, 3)) == 67
    assert all((ROOT / "fieldlog" / room).is_dir() and all((ROOT / tests).exists() for tests in told) for room, told in TESTS_OF.items())


def test_a_function_is_found_by_its_lines(tmp_path: Path) -> None:
    file = tmp_path / "made_up.py"
    file.write_text("x = 1\n\n@one\ndef f():\n    def g():\n        return 1\n    return g\n\n\nclass C:\n    def h(self):\n        return 2\n")
    assert [function_at(file, line) for line in (1, 5, 6, 7, 12)] == [0, 3, 3, 3, 11]


@pytest.mark.parametrize(("code", "is_killed"), [(0, False), (1, True), (2, True), (3, False), (4, True), (5, False), (-9, True)])
def test_only_what_the_tests_clearly_saw_is_killed(code: int, is_killed: bool) -> None:
    assert judged(code).is_killed is is_killed


HANGS = "import threading, time\n\ndef test_spins():\n    while True: pass\n\ndef test_waits():\n    threading.Event().wait()\n\ndef test_is_slow():\n    time.sleep(2)\n"


@pytest.mark.parametrize(
    ("test", "within_s", "idle_s", "how"),
    [("test_spins", 1.0, 60.0, HUNG), ("test_waits", 60.0, 1.0, HUNG), ("test_is_slow", 60.0, 20.0, PASSES), ("test_is_slow", 60.0, 0.5, HUNG)],
)
def test_what_uses_up_its_processor_or_none_for_long_hangs_and_what_is_only_slow_does_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, test: str, within_s: float, idle_s: float, how: str
) -> None:
    monkeypatch.setattr(trying, "IDLE_S", idle_s)
    (tmp_path / "test_made_up.py").write_text(HANGS)
    running = trying.start(tmp_path, ["-c", "/dev/null", f"test_made_up.py::{test}"], within_s, browser=False)
    while (told := trying.ended(running)) is None:
        time.sleep(0.02)
    assert told.how == how, running.printed.read_text()


def test_a_constant_is_tried_against_the_tests_beside_those_that_call(tmp_path: Path) -> None:
    """One test calls a function of the module, the one beside it reads a constant and calls nothing."""
    (tmp_path / "fieldlog").mkdir()
    (tmp_path / "fieldlog" / "made_up.py").write_text("LIMIT = 3\n\n\ndef f():\n    return LIMIT\n")
    calls = {"t/test_a.py::calls": {"fieldlog/made_up.py:4"}, "t/test_a.py::reads": set(), "t/test_b.py::other": {"fieldlog/else.py:1"}}
    sound = Sound(tmp_path, dict.fromkeys(calls, 0.1), calls)
    assert sound.tests_for("fieldlog/made_up.py", 1) == ["t/test_a.py::calls", "t/test_a.py::reads"]
    assert sound.tests_for("fieldlog/made_up.py", 5) == ["t/test_a.py::calls"]


def test_what_only_a_child_process_calls_is_tried_against_the_tests_of_what_starts_it(tmp_path: Path) -> None:
    (tmp_path / "fieldlog").mkdir()
    (tmp_path / "fieldlog" / "child.py").write_text("\n\ndef f():\n    return 1\n")
    (tmp_path / "fieldlog" / "parent.py").write_text("PROGRAM = Path(__file__).with_name('child.py')\n")
    calls = {"t/test_a.py::starts": {"fieldlog/parent.py:4"}, "t/test_b.py::other": {"fieldlog/else.py:1"}}
    assert Sound(tmp_path, dict.fromkeys(calls, 0.1), calls).tests_for("fieldlog/child.py", 4) == ["t/test_a.py::starts"]


def test_what_one_copy_compiled_the_other_has_too(tmp_path: Path) -> None:
    copies = [tmp_path / "one", tmp_path / "two"]
    for copy, name in zip(copies, ("a", "b"), strict=True):
        (copy / "room" / "__pycache__").mkdir(parents=True)
        (copy / "room" / "__pycache__" / f"{name}.pyc").write_text(name)
    share_byte_code(copies)
    assert [sorted(file.name for file in copy.rglob("*.pyc")) for copy in copies] == [["a.pyc", "b.pyc"]] * 2


@pytest.mark.parametrize("one", PLANTED, ids=lambda one: f"{one.file}: {one.right}")
def test_a_planted_fault_has_its_one_place_and_its_tests(one) -> None:
    assert (ROOT / one.file).read_text("utf-8").count(one.right) == 1, "its text is gone or stands twice: plant it anew in what stands there now"
    assert one.wrong != one.right
    assert all((ROOT / test).is_file() for test in one.tests)


def test_a_reason_speaks_of_a_line_that_is_here() -> None:
    for one in REASONS:
        assert one.source in (ROOT / one.file).read_text("utf-8"), one
        assert one.why.endswith("."), one
