"""
Litestream, called as a program: the operator's own, or the one of the optional extra `replica`.

It makes two tables of its own in the database that it follows (OWN_TABLES) and takes over the write-ahead file's checkpoints.
"""

from __future__ import annotations

import fcntl
import http.client
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

from fieldlog.errors import ReplicaFault
from fieldlog.replica.place import Place, generation_name

OWN_TABLES = ("_litestream_seq", "_litestream_lock")
EVERY = "250ms"
"""
How often the engine reads the write-ahead file, and how often it sends what it read, one after the other: together within the
second that a lost disk may cost. Its own default, a second each, made up to two. Where nothing was written it sends nothing.
"""

SYNC_WAIT_S = 20
ENDING_S = 10.0
LOCK = "replica.lock"


def engine_program() -> str:
    """
    The path of Litestream.

    Raises:
        ReplicaFault: it is not installed.
    """
    beside = Path(sys.executable).with_name("litestream")
    found = shutil.which("litestream") or (str(beside) if beside.exists() else None)
    if found is None:
        raise ReplicaFault("A replica needs litestream, which is not installed. Install it: pip install 'fieldlog[replica]'")
    return found


def engine_command(*arguments: str) -> list[str]:
    """
    How the engine is started as a process that ends with this one.

    Raises:
        ReplicaFault: it is not installed.
    """
    return [sys.executable, "-I", str(Path(__file__).with_name("ends_with.py")), str(os.getpid()), engine_program(), *arguments]


def engine_environment() -> dict[str, str]:
    """This process's environment; Litestream 0.5.17 stops at AWS_CA_BUNDLE, and takes the same file as SSL_CERT_FILE."""
    environment = dict(os.environ)
    bundle = environment.pop("AWS_CA_BUNDLE", None)
    if bundle is not None:
        environment.setdefault("SSL_CERT_FILE", bundle)
    return environment


def write_config(file: Path, database: Path, place: Place, generation: int, listens_at: Path | None) -> None:
    """Write Litestream's configuration for one database; JSON, which YAML contains."""
    target = {**place.engine_target(generation_name(generation)), "sync-interval": EVERY}
    said: dict[str, Any] = {"dbs": [{"path": str(database), "monitor-interval": EVERY, "replica": target}], "logging": {"level": "warn", "stderr": True}}
    if listens_at is not None:
        said["socket"] = {"enabled": True, "path": str(listens_at), "permissions": 0o600}
    file.write_text(json.dumps(said), "utf-8")


def fetch_database(place: Place, generation: int, folder: Path, target: Path) -> bool:
    """
    Restore a generation's database into a file that must not exist yet; whether there was one.

    Raises:
        ReplicaFault: the engine cannot.
    """
    config = folder / "fetch.yml"
    write_config(config, folder / "fetched", place, generation, None)
    done = subprocess.run(
        [engine_program(), "restore", "-config", str(config), "-no-expand-env", "-if-replica-exists", "-o", str(target),
         str(folder / "fetched")],
        capture_output=True, text=True, env=engine_environment(), check=False,
    )  # fmt: skip
    if done.returncode != 0:
        raise ReplicaFault(f"The replica {place.text} cannot be restored: {done.stderr.strip()[-300:] or 'no reason was given'}")
    return target.exists()


def ask_to_sync(listens_at: Path, database: Path) -> None:
    """
    Return when all that was committed before is in the replica.

    Raises:
        ReplicaFault: it is not, and why.
    """
    connection = _SocketConnection(listens_at, SYNC_WAIT_S + 5)
    try:
        body = json.dumps({"path": str(database), "wait": True, "timeout": SYNC_WAIT_S})
        connection.request("POST", "/sync", body, {"Content-Type": "application/json"})
        answer = connection.getresponse()
        said = answer.read().decode("utf-8", "replace")
    except (OSError, http.client.HTTPException) as fault:
        raise ReplicaFault(f"The replication does not answer: {fault}.") from None
    finally:
        connection.close()
    if answer.status != 200:
        raise ReplicaFault(f"The replication is behind: {said.strip()[:300]}")


class _SocketConnection(http.client.HTTPConnection):
    """HTTP over a socket of the file system."""

    def __init__(self, path: Path, timeout_s: float) -> None:
        super().__init__("localhost", timeout=timeout_s)
        self._path = path

    def connect(self) -> None:
        """Connect to the engine's socket."""
        self.sock = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.sock.settimeout(self.timeout)
        self.sock.connect(str(self._path))


class EngineLock:
    """
    Held by the engine's process itself, for as long as it runs: two engines must not follow one database.

    An engine ends with its server, but it may take its time, and not everywhere does the system see to it. One that was left behind is ended by its lock's holder's number.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / LOCK
        self.file = -1

    def __enter__(self) -> EngineLock:
        self.file = os.open(self._path, os.O_RDWR | os.O_CREAT, 0o600)
        deadline = time.monotonic() + ENDING_S
        while True:
            try:
                fcntl.flock(self.file, fcntl.LOCK_EX | fcntl.LOCK_NB)
                # The number of one that ended may be another program's by now.
                os.ftruncate(self.file, 0)
                return self
            except BlockingIOError:
                self._end_holder()
            if time.monotonic() > deadline:
                os.close(self.file)
                raise ReplicaFault(f"Another replication of {self._path.parent} is running and does not stop. Stop it first.")
            time.sleep(0.05)

    def _end_holder(self) -> None:
        holder = os.pread(self.file, 20, 0).decode("ascii", "replace").strip()
        if holder.isdigit() and int(holder) > 1:
            with suppress(ProcessLookupError, PermissionError):
                os.kill(int(holder), signal.SIGTERM)

    def note_holder(self, process_id: int) -> None:
        """Write down the engine's process, which holds the lock's file open from now on."""
        os.ftruncate(self.file, 0)
        os.pwrite(self.file, str(process_id).encode("ascii"), 0)

    def __exit__(self, *_fault: object) -> None:
        os.close(self.file)
