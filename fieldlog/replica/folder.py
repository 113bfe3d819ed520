"""A replica in a folder, such as one on another disk or another machine's."""

from __future__ import annotations

import hashlib
import os
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fieldlog.disk import disk_full_is_named, settle


@dataclass(frozen=True)
class FolderPlace:
    """A folder; it is made at the first write."""

    folder: Path

    @property
    def text(self) -> str:
        """The place as it is written in the setting."""
        return str(self.folder)

    def names(self, under: str) -> set[str]:
        """The names directly below one, unfinished ones left out."""
        folder = self.folder / under
        return {path.name for path in folder.iterdir() if not path.name.endswith(".part")} if folder.is_dir() else set()

    def put(self, source: Path, name: str) -> None:
        """Copy a file; read back before it gets its name, and on the disk when this returns."""
        target = self.folder / name
        part = target.with_name(f"{target.name}.part")
        with disk_full_is_named():
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(source, part)
            settle(part)
            if _hash(part) != _hash(source):
                part.unlink()
                raise OSError(f"{part} reads otherwise than it was written")
            part.rename(target)
            settle(target.parent)

    def get(self, name: str, target: Path) -> bool:
        """Copy a file from here; whether it is here."""
        source = self.folder / name
        if not source.is_file():
            return False
        with disk_full_is_named():
            shutil.copyfile(source, target)
        return True

    def remove(self, under: str) -> None:
        """Remove a folder below this one."""
        if (self.folder / under).is_dir():
            shutil.rmtree(self.folder / under)

    def engine_target(self, name: str) -> dict[str, Any]:
        """Litestream's words for a folder below this one."""
        return {"type": "file", "path": os.fspath(self.folder / name)}


def _hash(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
