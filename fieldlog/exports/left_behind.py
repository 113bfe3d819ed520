"""
Folders for temporary files, and what a process that was killed left of them: each names its process, and goes at the next export.
"""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

_NAMED = re.compile(r"fieldlog-export-(\d+)-\w+")
OLD_S = 24 * 3600
"""Younger folders stay, since another machine's process may share the place without being seen from here."""


@contextmanager
def temporary_folder(now: datetime) -> Iterator[Path]:
    """A folder of this process, gone at the end."""
    sweep_folders(Path(tempfile.gettempdir()), now.timestamp())
    with tempfile.TemporaryDirectory(prefix=f"fieldlog-export-{os.getpid()}-") as folder:
        yield Path(folder)


def sweep_folders(place: Path, now_s: float) -> None:
    """Remove the folders of ours whose process is gone and that are old."""
    for folder in place.glob("fieldlog-export-*"):
        named = _NAMED.fullmatch(folder.name)
        if named is not None and folder.is_dir() and not folder.is_symlink() and not is_running(int(named[1])) and _is_ours_and_old(folder, now_s):
            shutil.rmtree(folder, ignore_errors=True)


def sweep_begun(path: Path) -> None:
    """Remove what exports that were killed began to write beside a file of this name."""
    named = re.compile(rf"\.{re.escape(path.name)}\.(\d+)\.begun")
    for begun in path.parent.iterdir():
        of = named.fullmatch(begun.name)
        if of is not None and begun.is_file() and not is_running(int(of[1])):
            begun.unlink(missing_ok=True)


def is_running(pid: int) -> bool:
    """Whether a process of this number runs here."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except (PermissionError, OverflowError):
        return True
    return True


def _is_ours_and_old(folder: Path, now_s: float) -> bool:
    try:
        known = folder.stat()
    except FileNotFoundError:
        return False
    return known.st_uid == os.getuid() and now_s - known.st_mtime > OLD_S
