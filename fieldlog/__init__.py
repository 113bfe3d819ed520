"""Fieldlog: a field log for living-shoreline reef units that works without a network."""

from __future__ import annotations

import sys
from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fieldlog.web import create_app

__all__ = ["create_app"]


def keep_pandas_out() -> None:
    """
    For processes that are Fieldlog's own: the command line, a server, their children.

    pandas comes along with ortools, and sqlite-utils loads it wherever it is installed: half a second and 60 MB for nothing. A process
    that already has it keeps it.
    """
    sys.modules.setdefault("pandas", None)  # type: ignore[arg-type]


def __getattr__(name: str) -> object:
    """`create_app` is loaded when it is asked for: the web server's libraries would slow every command down."""
    if name in __all__:
        return getattr(import_module("fieldlog.web"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
