"""Faults planted by hand in the JavaScript: mistakes at limits and in rare branches, each with the tests that should see it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Planted:
    """A piece of text that stands once in a file, what stands there instead, and the tests to ask."""

    name: str
    file: str
    right: str
    wrong: str
    tests: tuple[str, ...]


PLANTED: tuple[Planted, ...] = ()
