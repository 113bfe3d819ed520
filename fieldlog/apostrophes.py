"""
Texts that a spreadsheet program would run or change, written so that it shows them; and the exact way back.

A text that begins with = + - @, a tab or a carriage return gets one apostrophe before it; one that begins with an apostrophe gets one
more, so that taking one off gives every text back as it was. Numbers are never touched.
"""

from __future__ import annotations

RUN = frozenset("=+-@\t\r")
"""What a text begins with that spreadsheet programs take for a formula."""

MARKED = RUN | {"'"}


def guarded(text: str) -> str:
    """A text as a CSV cell has it."""
    return f"'{text}" if text[:1] in MARKED else text


def unguarded(cell: str) -> str:
    """The text that a cell was made from; an apostrophe that another hand wrote before a plain text stays."""
    return cell[1:] if cell[:1] == "'" and cell[1:2] in MARKED else cell
