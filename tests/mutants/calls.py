"""
A pytest plugin of the sound run: which functions of the code each test calls, and how long it takes.

What a fixture of more than one test calls counts for every test of the file. It writes {test: {"s": ..., "calls": [...]}},
each call as "file:line" of the function's first line. Calls in child processes go unseen; a function that no test calls
here is tried against all of them.
"""

from __future__ import annotations

import json
import os
import sys
import threading
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FrameType

import pytest

WRITTEN_TO = "FIELDLOG_CALLS"
HERE = str(Path(__file__).resolve().parents[2]) + os.sep
CODE = HERE + "fieldlog" + os.sep

_now: set[CodeType] = set()
_of_test: dict[str, set[CodeType]] = defaultdict(set)
_of_file: dict[str, set[CodeType]] = defaultdict(set)
_seconds: dict[str, float] = defaultdict(float)


def _seen(frame: FrameType, _event: str, _told: object) -> None:
    """Asked at each call; without an answer no line of the frame is traced, which makes it cheaper than a profile."""
    _now.add(frame.f_code)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Collect the calls of one test, fixtures included."""
    _now.clear()
    sys.settrace(_seen)
    threading.settrace(_seen)
    try:
        return (yield)
    finally:
        sys.settrace(None)
        threading.settrace(None)
        _of_test[item.nodeid] |= _now


@pytest.hookimpl(wrapper=True)
def pytest_fixture_setup(fixturedef: pytest.FixtureDef, request: pytest.FixtureRequest) -> Iterator[None]:
    """What a shared fixture calls is called for the whole file."""
    before = set(_now)
    try:
        return (yield)
    finally:
        if fixturedef.scope != "function":
            _of_file[request.node.nodeid.split("::")[0]] |= _now - before


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Add up a test's set-up, call and end."""
    _seconds[report.nodeid] += report.duration


def _places(codes: set[CodeType]) -> list[str]:
    return sorted({f"{one.co_filename.removeprefix(HERE)}:{one.co_firstlineno}" for one in codes if one.co_filename.startswith(CODE)})


def pytest_sessionfinish() -> None:
    """Write what was seen."""
    shared: set[CodeType] = set().union(*_of_file.values())
    told = {
        test: {"s": seconds, "calls": _places(_of_test[test] | (shared if _of_file.get(test.split("::")[0]) else set()))}
        for test, seconds in _seconds.items()
    }
    Path(os.environ[WRITTEN_TO]).write_text(json.dumps(told), "utf-8")
