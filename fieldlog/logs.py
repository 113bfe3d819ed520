"""
What `fieldlog serve` writes to standard error: one JSON object a line, for a journal to keep and a program to read.

No line holds what a person wrote or a secret: a request is told by its route's pattern, never by its address, and a fault by
its kind and place, never by its message, which may quote the values that it met; so is what a library says (tests/web/test_logs.py).
"""

from __future__ import annotations

import json
import logging
import sys
import threading
import traceback
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

from fieldlog.instants import written

REQUEST = "request"
"""The attribute of a log record that holds a request's members."""


OURS = "fieldlog"
"""The loggers whose sentences are our own begin so."""


class JsonLines(logging.Formatter):
    """A log record as one line: at (UTC), level, from, and what is told."""

    def format(self, record: logging.LogRecord) -> str:
        """The line, without its end."""
        said: dict[str, object] = {
            "at": written(datetime.fromtimestamp(record.created, UTC)),
            "level": record.levelname.lower(),
            "from": record.name,
            "says": record.getMessage() if record.name.split(".")[0] == OURS else _place(record.pathname, record.lineno, record.funcName),
            **getattr(record, REQUEST, {}),
        }
        if record.exc_info and record.exc_info[0] is not None:
            said["fault"] = record.exc_info[0].__name__
            said["where"] = [_place(frame.filename, frame.lineno, frame.name) for frame in traceback.extract_tb(record.exc_info[2])]
        return json.dumps(said, ensure_ascii=False)


def _place(filename: str, line: int | None, function: str | None) -> str:
    return f"{Path(filename).name}:{line} {function}"


def write_logs(to: TextIO = sys.stderr) -> logging.Handler:
    """Have everything that is logged from now on, and each thread's fault, written as JSON lines; returns the handler."""
    handler = logging.StreamHandler(to)
    handler.setFormatter(JsonLines())
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(logging.INFO)
    # Tells of each request that waits for a thread, which a busy hour makes thousands of.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    threading.excepthook = _thread_fault
    return handler


def _thread_fault(met: threading.ExceptHookArgs) -> None:
    name = "unknown" if met.thread is None else met.thread.name
    fault = met.exc_value or met.exc_type()
    logging.getLogger("fieldlog").error("The thread %s ended by a fault", name, exc_info=fault)
