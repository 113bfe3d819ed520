"""
The replication of a programme that is being served: the engine started, watched and started again, photos mirrored.

Nothing here stops serving: what fails is written down for `doctor`, and `durable` stays where it is until the replica holds.
"""

from __future__ import annotations

import logging
import shutil
import sqlite3
import subprocess
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from fieldlog.disk import is_whole
from fieldlog.errors import FieldlogError
from fieldlog.replica.checking import EPOCH, GENERATION, RENEWS, SETTING, next_generation, place_of_programme
from fieldlog.replica.engine import (
    ENDING_S,
    EngineLock,
    ask_to_sync,
    engine_command,
    engine_environment,
    write_config,
)
from fieldlog.replica.place import PHOTOS, Place, generation_name, generations, remove_older
from fieldlog.replica.state import ReplicaState, write_state
from fieldlog.rewriting import REWRITE_DUE, rewrite_file
from fieldlog.store import Programme, set_setting, setting, write

LOOK_S = 1.0
"""How often new photos are looked for and the engine is asked whether all is there."""

FIRST_WAIT_S, MOST_WAIT_S = 1.0, 300.0
"""Between a failure and the next try; each wait is twice the one before."""

GOOD_RUN_S = 60.0
"""An engine that ran this long is tried again at once when it ends."""

FAULTS = (FieldlogError, OSError, sqlite3.Error)
"""What fails and is tried again: a disk that is full, a bucket that does not answer, a database that cannot be read just now."""

log = logging.getLogger("fieldlog")


class Replication:
    """One thread beside the server; `close` ends it and the engine."""

    def __init__(self, programme: Programme, now: Callable[[], datetime], look_s: float = LOOK_S) -> None:
        self._programme, self._now, self._look_s = programme, now, look_s
        self._stop = threading.Event()
        self._changed = threading.Condition()
        self._rounds_begun = self._synced_round = 0
        self._mirrored: set[str] | None = None
        self._last_row = 0
        self._state = ReplicaState("", 0, None, 0, None)
        self._thread = threading.Thread(target=self._run, name="replication")

    def start(self) -> None:
        """Begin to follow the programme."""
        self._thread.start()

    def close(self) -> None:
        """End the engine, which sends what it has first."""
        self._stop.set()
        with self._changed:
            self._changed.notify_all()
        self._thread.join()

    def catch_up(self, timeout_s: float) -> bool:
        """Wait until all that is committed by now, photos too, is in the replica; whether it is. At once where none is set."""
        if not setting(self._programme.db(), SETTING):
            return True
        with self._changed:
            wanted = self._rounds_begun + 1
            return self._changed.wait_for(lambda: self._synced_round >= wanted or self._stop.is_set(), timeout_s) and (
                self._synced_round >= wanted
            )

    def _run(self) -> None:
        wait_s = FIRST_WAIT_S
        try:
            while not self._stop.is_set():
                begun = time.monotonic()
                try:
                    self._follow()
                except FAULTS as fault:
                    self._tell(fault=str(fault))
                wait_s = FIRST_WAIT_S if time.monotonic() - begun > GOOD_RUN_S else min(wait_s * 2, MOST_WAIT_S)
                self._stop.wait(wait_s)
        finally:
            self._programme.close()

    def _follow(self) -> None:
        """Run one engine until it ends or the server does."""
        place = place_of_programme(self._programme)
        if place is None:
            self._stop.wait(MOST_WAIT_S)
            return
        with EngineLock(self._programme.folder) as lock, tempfile.TemporaryDirectory(prefix="fieldlog-") as folder:
            generation = self._begin(place)
            listens_at, config = Path(folder) / "engine", Path(folder) / "engine.yml"
            write_config(config, self._programme.path.resolve(), place, generation, listens_at)
            with tempfile.TemporaryFile() as said:
                engine = subprocess.Popen(
                    engine_command("replicate", "-config", str(config), "-no-expand-env"), stdout=subprocess.DEVNULL,
                    stderr=said, pass_fds=(lock.file,), env=engine_environment(), start_new_session=True,
                )  # fmt: skip
                lock.note_holder(engine.pid)
                try:
                    while engine.poll() is None and not self._begins_anew() and not self._stop.wait(self._look_s):
                        self._look(place, listens_at)
                finally:
                    _end(engine)
                if not self._stop.is_set() and not self._begins_anew():
                    said.seek(0)
                    last = said.read()[-300:].decode("utf-8", "replace").strip()
                    self._tell(fault=f"The replication stopped by itself and is starting again: {last or engine.returncode}")

    def _begins_anew(self) -> bool:
        """Whether something was purged since this generation was begun."""
        return setting(self._programme.db(), EPOCH) is None

    def _begin(self, place: Place) -> int:
        """
        The generation to write: a programme that was restored, of which something was purged, or whose place is new or was emptied, begins the
        next one.
        """
        db = self._programme.db()
        if setting(db, RENEWS):
            # What the last engine kept beside the database, and what it did not let be emptied.
            shutil.rmtree(self._programme.folder / f".{self._programme.path.name}-litestream", ignore_errors=True)
            if setting(db, REWRITE_DUE):
                rewrite_file(self._programme)
        epoch = f"{setting(db, 'epoch') or ''} {place.text}"
        generation = int(setting(db, GENERATION) or 0)
        if setting(db, EPOCH) != epoch or generation not in generations(place):
            generation = max(next_generation(place), generation + 1 if setting(db, EPOCH) == epoch else 1)
            with write(db):
                set_setting(db, GENERATION, str(generation))
                set_setting(db, EPOCH, epoch)
        self._mirrored, self._last_row = place.names(PHOTOS), 0
        self._state = ReplicaState(place.text, generation, None, 0, None)
        log.info("Replicating to %s, %s.", place.text, generation_name(generation))
        return generation

    def _look(self, place: Place, listens_at: Path) -> None:
        with self._changed:
            self._rounds_begun += 1
            this_round = self._rounds_begun
        at = int(self._now().timestamp() * 1000)
        try:
            ask_to_sync(listens_at, self._programme.path.resolve())
            waiting = self._mirror_photos(place)
            self._drop_purged(place)
        except FAULTS as fault:
            self._tell(fault=str(fault))
            return
        self._state = ReplicaState(place.text, self._state.generation, at, waiting, None)
        write_state(self._programme.folder, self._state)
        if not waiting:
            with self._changed:
                self._synced_round = this_round
                self._changed.notify_all()

    def _drop_purged(self, place: Place) -> None:
        """Where something was purged, and all that is left is in this generation: remove the older ones, which have it still."""
        db = self._programme.db()
        if setting(db, RENEWS) and not self._begins_anew():
            remove_older(place, self._state.generation)
            with write(db):
                if not self._begins_anew():
                    db.conn.execute("DELETE FROM setting WHERE name = ?", (RENEWS,))

    def _mirror_photos(self, place: Place) -> int:
        """Copy the photos that came since; how many are still to come, or rotted here and cannot be copied."""
        assert self._mirrored is not None
        rows = self._programme.db().conn.execute(
            "SELECT rowid, sha256 FROM photo_file WHERE complete_at IS NOT NULL AND rowid > ? ORDER BY rowid", (self._last_row,)
        ).fetchall()
        waiting = 0
        for index, (row, sha256) in enumerate(rows):
            if self._stop.is_set():
                return waiting + len(rows) - index
            path = self._programme.photos_folder / sha256
            if sha256 in self._mirrored or is_whole(path, sha256):
                if sha256 not in self._mirrored:
                    place.put(path, f"{PHOTOS}/{sha256}")
                    self._mirrored.add(sha256)
            else:
                waiting += 1
            if not waiting:
                self._last_row = row
        return waiting

    def _tell(self, fault: str) -> None:
        if fault != self._state.fault:
            log.error("%s Until then, phones keep their entries.", fault)
        self._state = replace(self._state, fault=fault)
        try:
            place = self._state.place or setting(self._programme.db(), SETTING) or ""
            self._state = replace(self._state, place=place)
            write_state(self._programme.folder, self._state)
        except FAULTS as unwritten:
            # A disk that takes no state today may take one later: the replication goes on.
            log.error("What the replication met could not be written down: %s", unwritten)


def _end(engine: subprocess.Popen[bytes]) -> None:
    engine.terminate()
    try:
        engine.wait(ENDING_S)
    except subprocess.TimeoutExpired:
        engine.kill()
        engine.wait()
