"""
Heavy work in a process of its own: its memory is given back when it ends, and a crash costs nothing else.

The parent writes one JSON document to the child's standard input and reads JSON lines: {"step": ...} while it works, at
last {"result": ...} or {"fault": sentence, "word": ...}.
"""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from collections.abc import Callable
from typing import Any

from fieldlog.errors import FieldlogError, WorkFailed

PATIENCE_S = 120.0

Tell = Callable[[str], None]


def run(module: str, job: dict[str, Any], tell: Tell = lambda _step: None, patience_s: float = PATIENCE_S) -> Any:
    """
    Do a job in a child process.

    Args:
        module: a module of ours that ends with `answer(work)`.
        job: what JSON can say.
        tell: is called with each step's name.

    Raises:
        WorkFailed: the child found the job faulty (its sentence), stopped without an answer, or took too long.
    """
    process = subprocess.Popen(
        [sys.executable, "-m", module], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    watch = threading.Timer(patience_s, process.kill)
    watch.start()
    said: list[str] = []
    assert process.stdin and process.stdout and process.stderr
    # Standard error is read beside, so that a child that writes much of it does not wait for us.
    ear = threading.Thread(target=lambda: said.extend(process.stderr or ()), daemon=True)
    ear.start()
    answer: dict[str, Any] = {}
    try:
        try:
            process.stdin.write(json.dumps(job))
            process.stdin.close()
        except BrokenPipeError:
            pass
        for line in process.stdout:
            answer = json.loads(line)
            if "step" in answer:
                tell(answer["step"])
        process.wait()
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
        last = said[-1].strip() if said else "it said nothing"
        raise WorkFailed(f"The work stopped without an answer after the step told last ({last}). Nothing was changed; try again.")
    return answer["result"]


def answer(work: Callable[[dict[str, Any], Tell], Any]) -> None:
    """The child's side: read the job, do it, print the answer."""
    job = json.load(sys.stdin)

    def say(line: dict[str, Any]) -> None:
        print(json.dumps(line, ensure_ascii=False), flush=True)

    try:
        say({"result": work(job, lambda step: say({"step": step}))})
    except FieldlogError as fault:
        say({"fault": fault.sentence, "word": fault.word})
