"""
The copies of photos that are served, made one at a time after the receipt by a decoder process.

The process is started for the first photo and ends a few seconds after the last.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from fieldlog.errors import DiskFull, WriterBusy
from fieldlog.store import Programme, write

IDLE_S = 3.0
PATIENCE_S = 60.0
DECODER = Path(__file__).with_name("photo_decoder.py")
STOPPED = "Reading this picture stopped without a result. The file is kept as it arrived."


class Decoder:
    """The running decoder process; one that stops or hangs is replaced at the next photo."""

    def __init__(self, program: Path = DECODER) -> None:
        self._program = program
        self._process: subprocess.Popen[str] | None = None

    def make_copy(self, source: Path, target: Path) -> dict[str, Any]:
        """Its answer about one photo: the picture's facts, {"fault": sentence} or {"later": reason}."""
        process = self._running()
        assert process.stdin and process.stdout
        watch = threading.Timer(PATIENCE_S, process.kill)
        watch.start()
        try:
            process.stdin.write(json.dumps({"source": str(source), "target": str(target)}) + "\n")
            process.stdin.flush()
            line = process.stdout.readline()
        except BrokenPipeError:
            line = ""
        finally:
            watch.cancel()
        if not line.endswith("\n"):
            self.close()
            return {"fault": STOPPED}
        answer: dict[str, Any] = json.loads(line)
        return answer

    def _running(self) -> subprocess.Popen[str]:
        if self._process is None:
            # -P: the modules beside the program must not hide the standard library's
            self._process = subprocess.Popen(
                [sys.executable, "-P", str(self._program)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
                # glibc keeps an arena of free memory for each of the decoder's threads unless told not to.
                env={**os.environ, "MALLOC_ARENA_MAX": "1"},
            )  # fmt: skip
        return self._process

    def close(self) -> None:
        """End the process and give its memory back."""
        if self._process is not None:
            self._process.kill()
            self._process.communicate()
            self._process = None


class PhotoCopies:
    """Photos waiting for their copy, and the one thread that makes them."""

    def __init__(self, programme: Programme, now: Callable[[], datetime]) -> None:
        self._programme = programme
        self._now = now
        self._waiting: deque[str] = deque()
        self._changed = threading.Condition()
        self._thread: threading.Thread | None = None
        self._busy = False
        self._closing = False

    def want(self, sha256: str) -> None:
        """Let a photo's copy be made soon."""
        with self._changed:
            self._waiting.append(sha256)
            self._changed.notify_all()
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="photo copies", daemon=True)
                self._thread.start()

    def serve_pending(self) -> int:
        """Want the copies that are missing: a server stopped before it made them, or a backup left them out."""
        rows = self._programme.db().conn.execute("SELECT sha256 FROM photo_file ORDER BY complete_at").fetchall()
        missing = [sha256 for (sha256,) in rows if self._is_missing(sha256)]
        for sha256 in missing:
            self.want(sha256)
        return len(missing)

    def wait(self, timeout_s: float = PATIENCE_S) -> bool:
        """Wait until every wanted copy is made; whether that came to pass."""
        with self._changed:
            return self._changed.wait_for(lambda: not self._waiting and not self._busy, timeout_s)

    def close(self, timeout_s: float = PATIENCE_S) -> None:
        """Finish what is wanted and end the thread and its process."""
        with self._changed:
            thread, self._closing = self._thread, True
            self._changed.notify_all()
        if thread is not None:
            thread.join(timeout_s)

    def _work(self) -> None:
        decoder = Decoder()
        try:
            while (sha256 := self._next()) is not None:
                self._make(decoder, sha256)
        finally:
            decoder.close()
            self._programme.close()
            with self._changed:
                self._busy = False
                self._changed.notify_all()

    def _next(self) -> str | None:
        with self._changed:
            self._busy = False
            self._changed.notify_all()
            self._changed.wait_for(lambda: self._waiting or self._closing, IDLE_S)
            if not self._waiting:
                self._thread = None
                return None
            self._busy = True
            return self._waiting.popleft()

    def _make(self, decoder: Decoder, sha256: str) -> None:
        """What cannot be done for want of room, or of a free database, is pending until the next start."""
        if not self._is_missing(sha256):
            return
        folder = self._programme.photos_folder
        said = decoder.make_copy(folder / sha256, folder / f"{sha256}.jpg")
        if "later" in said:
            return
        served_at = None if "fault" in said else int(self._now().timestamp() * 1000)
        db = self._programme.db()
        with suppress(DiskFull, WriterBusy), write(db):
            db.conn.execute(
                """UPDATE photo_file SET served_at = ?, fault = ?, media_type = ?, width_px = ?, height_px = ?
                   WHERE sha256 = ?""",
                (served_at, said.get("fault"), said.get("media_type"), said.get("width_px"), said.get("height_px"), sha256),
            )

    def _is_missing(self, sha256: str) -> bool:
        """Whether a photo is here whose copy is neither made nor known to be impossible."""
        row = self._programme.db().conn.execute(
            "SELECT served_at, fault FROM photo_file WHERE sha256 = ? AND complete_at IS NOT NULL", (sha256,)
        ).fetchone()
        if row is None or row[1] is not None:
            return False
        copy = self._programme.photos_folder / f"{sha256}.jpg"
        return row[0] is None or not copy.exists() or copy.stat().st_size == 0
