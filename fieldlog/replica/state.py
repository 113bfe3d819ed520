"""What a running replication tells: one small file in the programme's folder, for `doctor` and for whoever starts next."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

STATE = "replica.json"


@dataclass(frozen=True)
class ReplicaState:
    """
    How far the replica is; times in milliseconds since 1970 UTC.

    `synced_at`: all that was committed by then is in it, None before the first time. `fault`: why it is no further.
    """

    place: str
    generation: int
    synced_at: int | None
    photos_waiting: int
    fault: str | None


def write_state(folder: Path, state: ReplicaState) -> None:
    """Replace the file at once; a reader sees the old or the new one."""
    part = folder / f"{STATE}.part"
    part.write_text(json.dumps(asdict(state)), "utf-8")
    part.rename(folder / STATE)


def read_state(folder: Path) -> ReplicaState | None:
    """The last state that was told, None where there is none or it cannot be read."""
    try:
        said: Any = json.loads((folder / STATE).read_text("utf-8"))
        return ReplicaState(**said)
    except (OSError, ValueError, TypeError):
        return None
