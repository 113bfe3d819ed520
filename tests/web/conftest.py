"""The server's log, written to a text."""

from __future__ import annotations

import io
import logging
import threading

import pytest

from fieldlog.logs import write_logs


@pytest.fixture
def written():
    root = logging.getLogger()
    threads = threading.excepthook
    before, level = root.handlers[:], root.level
    to = io.StringIO()
    write_logs(to)
    yield to
    root.handlers[:] = before
    root.setLevel(level)
    threading.excepthook = threads
