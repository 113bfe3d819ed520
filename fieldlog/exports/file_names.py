"""Names of files and folders made of words that people wrote, which Windows, macOS and Linux all take."""

from __future__ import annotations

import unicodedata

LONGEST = 60
"""Letters of a name: at most four times so many bytes, under the 255 of Linux; a path of three stays under the 260 letters of Windows."""

_NOT_IN_NAMES = frozenset('<>:"/\\|?*')
_DEVICES = frozenset({"con", "prn", "aux", "nul", "conin$", "conout$", *(f"{port}{n}" for port in ("com", "lpt") for n in "0123456789¹²³")})
"""Names that mean a device on Windows, whatever comes behind their first point."""


def safe_name(words: str | None, otherwise: str) -> str:
    """
    Words as a name without an ending: no separators, no signs that turn text or are not seen, no point or space at either end.

    Args:
        otherwise: the name where nothing of the words is left.
    """
    composed = unicodedata.normalize("NFC", words or "")
    letters = ("-" if letter in _NOT_IN_NAMES else " " if letter.isspace() else letter for letter in composed)
    shown = "".join(letter for letter in letters if unicodedata.category(letter)[0] != "C")
    name = " ".join(shown.split())[:LONGEST].strip(" .")
    if not name or not name.strip("-_ ."):
        return otherwise
    return f"_{name}" if name.split(".")[0].strip().lower() in _DEVICES else name


class FreeNames:
    """Names that were given away, so that none is given twice; of two that differ by capital letters or by how an accent is written, one is another's double."""

    def __init__(self) -> None:
        self._given: set[str] = set()
        self._of: dict[tuple[str, str], str] = {}

    def folder(self, parent: str, key: str, name: str) -> str:
        """The path of a folder below another; the same one for the same key, and its own for each."""
        if (parent, key) not in self._of:
            self._of[parent, key] = self.free(parent, name, "")
        return self._of[parent, key]

    def free(self, parent: str, name: str, ending: str) -> str:
        """A path below a folder that nobody has yet: doubles are numbered."""
        number = 1
        while True:
            path = f"{parent}{name}{f' ({number})' if number > 1 else ''}{ending}"
            key = unicodedata.normalize("NFKD", path).casefold()
            if key not in self._given:
                self._given.add(key)
                return path
            number += 1
