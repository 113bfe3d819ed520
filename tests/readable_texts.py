"""
Every text in the sources that a person may read, found without running anything.

Python: string literals, but docstrings (of commands those too, which are their help). JavaScript: quoted strings and the text of templates, without
their tags; strings that a plus joins are one. A hole reads as "{}". Names, addresses, patterns and SQL are no sentences: a text counts where it has a
space or begins with a capital letter.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
SQL = re.compile(r"\b(?:SELECT|INSERT|UPDATE|DELETE|CREATE|FROM|WHERE|ORDER BY|json_each|IS NULL|IS NOT NULL|AND|OR) |[a-z_]+ (?:=|>=|<=|>|LIKE|IN) [?:(]")
COMMANDS = re.compile(r"\b(?:command|group)\b")
SHOWN = re.compile(r"(?:aria-label|placeholder|title|alt)=(?:\"([^\"]*)\"|'([^']*)')")
QUOTED = {quote: re.compile(rf"((?:\\.|[^\\{quote}])*){quote}", re.DOTALL) for quote in "'\""}
PATTERN = re.compile(r"(?:\\.|\[(?:\\.|[^\]])*\]|[^/\\\[\n])+/[a-z]*")
COMMENT = re.compile(r"//[^\n]*|/\*.*?\*/", re.DOTALL)


@dataclass(frozen=True)
class Text:
    """A text and where it stands."""

    file: str
    line: int
    text: str


def of_python(path: Path) -> Iterator[tuple[int, str]]:
    """The texts of a module, each with its line."""
    tree = ast.parse(path.read_text("utf-8"))
    unread: set[ast.AST] = set()
    for node in ast.walk(tree):
        if not any(COMMANDS.search(ast.unparse(one)) for one in getattr(node, "decorator_list", [])):
            body = getattr(node, "body", [])
            unread |= {one.value for one in body if isinstance(one, ast.Expr)} if isinstance(body, list) else set()
        if isinstance(node, ast.JoinedStr):
            unread |= {one for one in node.values if isinstance(one, ast.Constant)}
            unread |= {deep for one in node.values if isinstance(one, ast.FormattedValue) and one.format_spec for deep in ast.walk(one.format_spec)}
    for node in ast.walk(tree):
        if node in unread:
            continue
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.lineno, node.value
        elif isinstance(node, ast.Constant) and isinstance(node.value, bytes):
            yield node.lineno, node.value.decode("latin-1")
        elif isinstance(node, ast.JoinedStr):
            yield node.lineno, "".join(str(one.value) if isinstance(one, ast.Constant) else "{}" for one in node.values)


class Script:
    """Reads the texts of one JavaScript module, from its first letter to its last."""

    def __init__(self, source: str) -> None:
        self.source, self.at = source, 0
        self.texts: list[tuple[int, str]] = []
        self.latest = 0

    def code(self, ends_at_bracket: bool) -> None:
        """Code, to the bracket that closes it or to the end."""
        depth, before, joined = 0, "", False
        while self.at < len(self.source):
            char = self.source[self.at]
            comment = COMMENT.match(self.source, self.at)
            pattern = PATTERN.match(self.source, self.at + 1) if char == "/" and (before in "(,=:[!&|?{};>+" or before == "return") else None
            if comment or pattern:
                self.at = (comment or pattern).end()  # type: ignore[union-attr]
                continue
            if char in "'\"`":
                self.text(char, joined)
                before, joined = char, False
                continue
            depth += {"{": 1, "}": -1}.get(char, 0)
            self.at += 1
            if depth < 0 and ends_at_bracket:
                return
            if not char.isspace():
                joined = char == "+" and before in "'\"`"
                before = "return" if self.source.endswith("return", 0, self.at) else char

    def text(self, quote: str, joined: bool) -> None:
        """A string or a template, and the texts in the template's holes."""
        start, here, before = self.at, len(self.texts), self.latest
        self.at += 1
        if quote == "`":
            words = self.template()
        else:
            closed = QUOTED[quote].match(self.source, self.at)
            assert closed, self.source[start : start + 60]
            words, self.at = [closed.group(1)], closed.end()
        found = [(start, word) for word in words]
        if joined and self.texts:
            at, first = self.texts[before]
            self.texts[before] = (at, first + words[0])
            found = found[1:]
        self.texts[here:here] = found
        self.latest = here + len(found) - 1 if found else before

    def template(self) -> list[str]:
        """What a template shows: between its tags, and in the attributes that are shown or read aloud."""
        words = ""
        while self.source[self.at] != "`":
            if self.source.startswith("${", self.at):
                self.at += 2
                self.code(ends_at_bracket=True)
                words += "{}"
            else:
                step = 2 if self.source[self.at] == "\\" else 1
                words += self.source[self.at : self.at + step]
                self.at += step
        self.at += 1
        if not re.search(r"<[a-z/]", words):
            return [words]
        return [one or two for one, two in SHOWN.findall(words)] + re.split(r"<[^>]*>", words)


def of_script(path: Path) -> Iterator[tuple[int, str]]:
    """The texts of a JavaScript module, each with its line."""
    script = Script(path.read_text("utf-8"))
    script.code(ends_at_bracket=False)
    yield from ((script.source.count("\n", 0, at) + 1, text) for at, text in script.texts)


def readable_texts() -> list[Text]:
    """Every text of the product that a person may read."""
    scripts = [path for path in sorted((ROOT / "static").rglob("*.js")) if "vendor" not in path.parts]
    modules = sorted((ROOT / "fieldlog").rglob("*.py"))
    files = [(path, of_python(path)) for path in modules] + [(path, of_script(path)) for path in scripts]
    texts = []
    for path, found in files:
        for line, text in found:
            letters = re.sub(r"\\u(00b[0-3]|2019|201[cd])", lambda code: chr(int(code[1], 16)), text.replace("\\'", "'"))
            words = re.sub(r"\s+", " ", re.sub("[\u201c\u201d]", "\"", letters.replace("\u2019", "'"))).strip()
            if re.search(r"[A-Za-z]{2}", words) and (" " in words or words[0].isupper()) and not SQL.search(words):
                texts.append(Text(str(path.relative_to(ROOT)), line, words))
    return texts
