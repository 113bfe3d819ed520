"""
Heavy work in a process of its own: its memory is given back when it ends, and a crash costs nothing else.

The parent writes one JSON document to the child's standard input and reads JSON lines: {"step": ...} while it works, at
last {"result": ...} or {"fault": sentence, "word": ...}.
"""

from __future__ import annotations

import json
import os
import runpy
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from typing import IO, Any

from fieldlog import keep_pandas_out
from fieldlog.errors import FieldlogError, WorkFailed

PATIENCE_S = 120.0
LOOK_S = 0.2
PART_BYTES = 65536
END_S = 5.0
"""How long a child that is told to end may put its files away."""

Tell = Callable[[str], None]


def run(
    module: str, job: dict[str, Any], tell: Tell = lambda _step: None, patience_s: float = PATIENCE_S,
    stop: threading.Event | None = None,
) -> Any:  # fmt: skip
    """
    Do a job in a child process.

    Args:
        module: a module of ours that ends with `answer(work)`.
        job: what JSON can say.
        tell: is called with each step's name.
        stop: ends the child when it is set.

    Raises:
        WorkFailed: the child found the job faulty (its sentence), stopped without an answer, or took too long.
    """
    process = subprocess.Popen(
        [sys.executable, "-m", "fieldlog.child", module], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    watch = threading.Timer(patience_s, process.kill)
    watch.start()
    if stop is not None:
        threading.Thread(target=_end_when, args=(stop, process), daemon=True).start()
    said: list[str] = []
    assert process.stdin and process.stdout and process.stderr
    # Standard error is read beside, so that a child that writes much of it does not wait for us.
    ear = threading.Thread(target=lambda: said.extend(process.stderr or ()), daemon=True)
    ear.start()
    try:
        answer = _answer_of(process, job, tell)
    finally:
        watch.cancel()
        process.kill()
        process.wait()
        ear.join(1)
        process.stdout.close()
        process.stderr.close()
    if "fault" in answer:
        raise WorkFailed(answer["fault"])
    if "result" not in answer:
        last = said[-1].strip() if said else "none"
        raise WorkFailed(f"The work stopped without an answer. Its last message: {last}. Nothing was changed; try again.")
    return answer["result"]


def streamed(module: str, job: dict[str, Any], tell: Tell, stop: threading.Event) -> Iterator[bytes]:
    """
    The bytes that a child writes to its standard output as they come; no longer asked for, the child ends.

    Args:
        module: a module of ours that ends with `stream(work)`.
        job: what JSON can say.
        tell: is called with each step's name.
        stop: ends the child when it is set.

    Raises:
        WorkFailed: the child found the job faulty (its sentence), or stopped before its end.
    """
    process = subprocess.Popen(
        [sys.executable, "-m", "fieldlog.child", module], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert process.stdin and process.stdout and process.stderr
    answer: dict[str, Any] = {}
    ear = threading.Thread(target=_hear, args=(process.stderr, tell, answer), daemon=True)
    ear.start()
    threading.Thread(target=_end_when, args=(stop, process), daemon=True).start()
    try:
        with suppress(BrokenPipeError):
            process.stdin.write(json.dumps(job).encode())
            process.stdin.close()
        while part := process.stdout.read1(PART_BYTES):  # type: ignore[attr-defined]
            yield part
        process.wait()
        ear.join(1)
        if "result" not in answer:
            raise WorkFailed(answer.get("fault", "The work stopped before its end. Nothing was changed; try again."))
    finally:
        _end_cleanly(process, ear)


def _end_cleanly(process: subprocess.Popen[bytes], ear: threading.Thread) -> None:
    """Have a child put its temporary files away before it ends: nobody reads on, so what it writes fails at once."""
    assert process.stdout and process.stderr
    process.stdout.close()
    process.terminate()
    try:
        process.wait(END_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    ear.join(1)
    process.stderr.close()


def _hear(lines: IO[bytes], tell: Tell, answer: dict[str, Any]) -> None:
    """A child's steps and its last word; what else stands there is a fault's own words, which nobody is told, or a line cut by its end."""
    for line in lines:
        try:
            said = json.loads(line)
        except ValueError:
            continue
        if isinstance(said, dict):
            answer.update(said)
            if "step" in said:
                tell(said["step"])


def _answer_of(process: subprocess.Popen[str], job: dict[str, Any], tell: Tell) -> dict[str, Any]:
    assert process.stdin and process.stdout
    with suppress(BrokenPipeError):
        process.stdin.write(json.dumps(job))
        process.stdin.close()
    answer: dict[str, Any] = {}
    for line in process.stdout:
        answer = json.loads(line)
        if "step" in answer:
            tell(answer["step"])
    process.wait()
    return answer


def _end_when(stop: threading.Event, process: subprocess.Popen[Any]) -> None:
    while process.poll() is None:
        if stop.wait(LOOK_S):
            process.terminate()
            return


def _end_with(parent: int) -> None:
    """End at once when the parent is gone: nobody hears the answer, and the next server begins the same work."""
    _wait_for_end_of(parent)
    os._exit(1)


def _ask_to_end_with(parent: int) -> None:
    _wait_for_end_of(parent)
    os.kill(os.getpid(), signal.SIGTERM)


def _wait_for_end_of(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(LOOK_S)


def stream(work: Callable[[dict[str, Any], Tell], None]) -> None:
    """The child's side of `streamed`: read the job, write its bytes to standard output, and steps and the end to standard error."""
    # An end that is asked for unwinds, so that temporary files go.
    signal.signal(signal.SIGTERM, lambda _number, _frame: sys.exit(1))
    threading.Thread(target=_ask_to_end_with, args=(os.getppid(),), daemon=True).start()
    job = json.load(sys.stdin)

    def say(line: dict[str, Any]) -> None:
        print(json.dumps(line, ensure_ascii=False), file=sys.stderr, flush=True)

    try:
        work(job, lambda step: say({"step": step}))
        sys.stdout.flush()
        say({"result": True})
    except FieldlogError as fault:
        say({"fault": fault.sentence, "word": fault.word})


def answer(work: Callable[[dict[str, Any], Tell], Any]) -> None:
    """The child's side: read the job, do it, print the answer."""
    threading.Thread(target=_end_with, args=(os.getppid(),), daemon=True).start()
    job = json.load(sys.stdin)

    def say(line: dict[str, Any]) -> None:
        print(json.dumps(line, ensure_ascii=False), flush=True)

    try:
        say({"result": work(job, lambda step: say({"step": step}))})
    except FieldlogError as fault:
        say({"fault": fault.sentence, "word": fault.word})


if __name__ == "__main__":
    keep_pandas_out()
    runpy.run_module(sys.argv[1], run_name="__main__", alter_sys=True)
