"""Calling the command line in this process, and what it said."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from fieldlog.__main__ import main


@dataclass(frozen=True)
class Said:
    """What a call printed, and its exit status."""

    out: str
    err: str
    status: int

    @property
    def document(self) -> Any:
        """Standard output as the one JSON document that it must be."""
        return json.loads(self.out)


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Callable[..., Said]:
    """call("flags", "--json", data=folder)"""

    def called(*arguments: object, data: Path | None = None) -> Said:
        capsys.readouterr()
        before = [] if data is None else ["--data", str(data)]
        with pytest.raises(SystemExit) as ended:
            main([*before, *map(str, arguments)])
        said = capsys.readouterr()
        return Said(said.out, said.err, int(ended.value.code or 0))

    return called


@pytest.fixture
def refused(call: Callable[..., Said]) -> Callable[..., str]:
    """The one sentence on standard error of a call that must end with status 2."""

    def sentence(*arguments: object, data: Path | None = None) -> str:
        said = call(*arguments, data=data)
        assert (said.status, said.out) == (2, "")
        assert "Traceback" not in said.err
        assert said.err.strip()
        return said.err.strip()

    return sentence
