"""JavaScript as text: its code without comments, each line of it where it stood, and which modules a module names."""

from __future__ import annotations

import re
from collections.abc import Iterator

PIECE = re.compile(
    r"(?P<space>\s+)|(?P<comment>//[^\n]*|/\*.*?\*/)|(?P<text>'(?:\\.|[^'\\\n])*'|\"(?:\\.|[^\"\\\n])*\")|(?P<word>[\w$]+)|(?P<mark>.)",
    re.DOTALL,
)
PATTERN = re.compile(r"/(?:\\.|\[(?:\\.|[^\]\\\n])*\]|[^/\\\[\n])+/\w*")
TEMPLATE = re.compile(r"(?:\\.|[^`\\$]|\$(?!\{))*(?P<end>`|\$\{)", re.DOTALL)
BEFORE_A_PATTERN = {"return", "typeof", "case", "of", "in", "await", "void", "delete", "throw", "do", "else", "yield"}
"""Words after which a slash begins a regular expression; after any other word, a number, a text or a closing bracket it divides."""

STATIC_IMPORT = re.compile(r"""^(?:import|export)\b[^;'"`]*?\bfrom\s*['"](\.[^'"]+)['"]|^import\s*['"](\.[^'"]+)['"]""", re.MULTILINE)
DYNAMIC_IMPORT = re.compile(r"""(?<![\w$.])import\(\s*['"](\.[^'"]+)['"]\s*\)""")


def code_only(text: str) -> str:
    """
    A module without its comments and the indents of its code, which are a fiftieth of what a phone fetches first.

    Every line that is left is the one that it was, so that what a browser says of a line is true of the file.
    """
    made = "".join(("\n" * piece.count("\n") or " ") if is_comment or (piece.isspace() and "\n" in piece) else piece for piece, is_comment in _pieces(text))
    # Spaces at a line's end go where a comment stood; those of a template are its own.
    lines = zip(text.split("\n"), made.split("\n"), strict=True)
    return "\n".join(line if before.endswith(line) else line.rstrip() for before, line in lines)


def imported(code: str) -> set[str]:
    """What a module, given without its comments, imports at once, as it names it."""
    return {one or other for one, other in STATIC_IMPORT.findall(code)}


def imported_when_wanted(code: str) -> set[str]:
    """What a module, given without its comments, imports by a call; a type that a comment names is no import."""
    return set(DYNAMIC_IMPORT.findall(code))


def _pieces(text: str) -> Iterator[tuple[str, bool]]:
    """The text in parts, each with whether it is a comment."""
    at, before, open_braces = 0, "", [""]
    while at < len(text):
        piece = PIECE.match(text, at)
        assert piece is not None  # any letter is a mark
        kind, end, word = piece.lastgroup, piece.end(), piece.group()
        if word == "`" or (word == "}" and open_braces[-1] == "${"):
            if word == "}":
                open_braces.pop()
            end = _end_of_template(text, end, open_braces)
            before = "`" if text[end - 1] == "`" else "("
        elif word == "/" and _begins_pattern(before) and (pattern := PATTERN.match(text, at)):
            end, before = pattern.end(), "/ended"
        elif kind not in ("space", "comment"):
            if word == "{":
                open_braces.append("{")
            elif word == "}" and len(open_braces) > 1:
                open_braces.pop()
            before = word
        yield text[at:end], kind == "comment"
        at = end


def _end_of_template(text: str, at: int, open_braces: list[str]) -> int:
    """Where a template's text stops: at its end, or at a value in it, which is noted as an open brace."""
    part = TEMPLATE.match(text, at)
    if part is None:
        return len(text)
    if part["end"] == "${":
        open_braces.append("${")
    return part.end()


def _begins_pattern(before: str) -> bool:
    """Whether a slash after this piece begins a regular expression."""
    if before in BEFORE_A_PATTERN or before == "":
        return True
    return not (before[-1].isalnum() or before[-1] in "_$)]}'\"`")
