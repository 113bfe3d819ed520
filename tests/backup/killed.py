"""Work that is killed before one of its steps on the disk, in a process of its own."""

from __future__ import annotations

import gc
import os
import shutil
import signal
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

from fieldlog.store import Connection

MOST_STEPS = 250
"""A process ends with its number of steps, and an exit status ends at 255."""

FAILED = 255
BEGINS = ("COMMIT", "CREATE UNIQUE INDEX")
"""Statements that are steps: a transaction's end, and within a replay's one each table that it makes anew."""


def steps_of(work: Callable[[], object]) -> int:
    """How many steps `work` has, after it did all of them."""
    status = _forked(work, MOST_STEPS + 1)
    steps = os.WEXITSTATUS(status)
    assert os.WIFEXITED(status) and 0 < steps <= MOST_STEPS, f"the work failed by itself, or has too many steps: {status}"
    return steps


def kill_at(step: int, work: Callable[[], object]) -> None:
    """Let `work` be killed right before its step of this number."""
    assert os.WTERMSIG(_forked(work, step)) == signal.SIGKILL


def _forked(work: Callable[[], object], last: int) -> int:
    """
    How a process ended that did `work`, killed before step number `last`.

    Steps are what changes a disk: a file settled, renamed, copied or removed, a folder made, and the statements above. No connection of
    this process may have the programme open, since a process that forks must not carry one along.
    """
    process = os.fork()
    if process == 0:
        ended = FAILED
        try:
            gc.disable()
            left = _count_to(last)
            work()
            ended = last - left[0]
        finally:
            if ended == FAILED:
                traceback.print_exc()
            os._exit(ended)
    return os.waitpid(process, 0)[1]


def _count_to(last: int) -> list[int]:
    """Let this process kill itself when it comes to a step; how many are left until then, as they are taken."""
    left = [last]

    def step() -> None:
        left[0] -= 1
        if left[0] == 0:
            os.kill(os.getpid(), signal.SIGKILL)

    def counted(real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*told: Any, **named: Any) -> Any:
            step()
            return real(*told, **named)

        return call

    execute = Connection.execute

    def statement(conn: Connection, sql: str, *told: Any) -> Any:
        if sql.startswith(BEGINS):
            step()
        return execute(conn, sql, *told)

    Connection.execute = statement  # type: ignore[assignment, method-assign]
    os.fsync = counted(os.fsync)
    shutil.copyfile = counted(shutil.copyfile)
    for name in ("rename", "replace", "unlink", "mkdir"):
        setattr(Path, name, counted(getattr(Path, name)))
    return left
