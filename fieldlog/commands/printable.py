"""
Where commands print. Names that people wrote, and files' names, are shown as text: what a terminal would obey is written out.

That is control characters (a terminal takes U+009B as ESC and a bracket), marks that turn the direction of text, line ends within a
line, and halves of letters, which cannot be printed at all.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from typing import Any

import click

_OBEYED = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2060-\u206f\ufff9-\ufffb\ud800-\udfff]")


def printable(line: str) -> str:
    r"""A line in which such signs are written as \x1b or \u202e."""
    return _OBEYED.sub(lambda sign: f"\\x{ord(sign[0]):02x}" if ord(sign[0]) < 256 else f"\\u{ord(sign[0]):04x}", line)


def json_text(document: Any) -> str:
    """A JSON document, in which they are escapes."""
    lines = json.dumps(document, ensure_ascii=False, indent=1).split("\n")
    return "\n".join(_OBEYED.sub(lambda sign: f"\\u{ord(sign[0]):04x}", line) for line in lines)


def say(text: str, err: bool = False) -> None:
    """Print text of one or more lines; to standard error where `err`."""
    click.echo("\n".join(printable(line) for line in text.split("\n")), err=err)


def say_over(text: str, before: str = "") -> None:
    """Write on standard error what is under way, over what was written `before` on the same line; an empty text takes it away."""
    line = printable(text)
    click.echo(f"\r{line}{' ' * (len(printable(before)) - len(line))}{'' if text else chr(13)}", nl=False, err=True)


def show_line(line: str) -> None:
    """Print one line: a line end in it is written out too, so that no name looks like a line of ours."""
    click.echo(printable(line))


def show_json_list(documents: Iterable[Any]) -> None:
    """Print one JSON list, a document at a time."""
    before = "[\n"
    for document in documents:
        click.echo(f"{before}{json_text(document)}", nl=False)
        before = ",\n"
    click.echo("[]" if before == "[\n" else "\n]")


def show_json(document: Any) -> None:
    """Print a JSON document."""
    click.echo(json_text(document))
