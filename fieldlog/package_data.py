"""Where `static/` and `demo_db/` lie: beside the package in a checkout, inside it in an installed wheel."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).parent


def packaged(name: str) -> Path:
    """
    The folder `name` ("static" or "demo_db").

    Raises:
        FileNotFoundError: neither place has it; the installation is incomplete.
    """
    for path in (_PACKAGE / "packaged" / name, _PACKAGE.parent / name):
        if path.is_dir():
            return path
    raise FileNotFoundError(f"The folder {name} is missing beside or inside {_PACKAGE}.")
