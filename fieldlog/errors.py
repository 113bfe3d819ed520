"""
What can go wrong, as one tree.

    FieldlogError
    ├── BadRequest          400  the request cannot be read
    │   └── BadHeader       400  a sync body without a readable header line
    ├── NotJoined           401  the token is unknown here: join again
    ├── NotAllowed          403  this role may not do that
    ├── NotHere             404  nothing of that name
    ├── TooLarge            413  more bytes than the limit
    ├── NoProgramme         404  the folder holds no programme
    ├── ProgrammeBusy       409  another server holds the folder
    └── DiskFull            507  the server's disk is full

Every error carries a sentence for a person (what, the value, the limit with its unit, what to do) and a fixed
word for programs. It is raised where it is known and becomes an answer in one place: `create_app` for HTTP,
`__main__` for the command line.
"""

from __future__ import annotations


class FieldlogError(Exception):
    """A fault that a person can do something about."""

    word = "fault"
    status = 500

    def __init__(self, sentence: str, fields: dict[str, str] | None = None) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.fields = fields or {}


class BadRequest(FieldlogError):
    word = "bad-request"
    status = 400


class BadHeader(BadRequest):
    word = "bad-header"


class NotJoined(FieldlogError):
    word = "not-joined"
    status = 401


class NotAllowed(FieldlogError):
    word = "not-allowed"
    status = 403


class NotHere(FieldlogError):
    word = "not-here"
    status = 404


class TooLarge(FieldlogError):
    word = "too-large"
    status = 413


class NoProgramme(FieldlogError):
    word = "no-programme"
    status = 404


class ProgrammeBusy(FieldlogError):
    word = "programme-busy"
    status = 409


class DiskFull(FieldlogError):
    word = "disk-full"
    status = 507
