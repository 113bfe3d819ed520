"""How much a window may be off before it floods is printed as a number that says what it is."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from fieldlog.commands import windows


def test_a_margin_that_rounds_to_nought_is_never_minus_nought(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(windows, "ranked", lambda *_: [SimpleNamespace(window=None, score=1, points={}, margin_m=-0.0004)])
    monkeypatch.setattr(windows, "window_row", lambda *_: {})
    (row,) = windows._rows_of([], None, 1, "s")
    assert str(row["margin_m"]) == "0.0"
