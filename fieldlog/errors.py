"""
What can go wrong, as one tree.

    FieldlogError
    ├── BadRequest          400  the request cannot be read
    │   ├── BadSpan         400  a span of time that holds nothing, or too much
    │   ├── BadRecord       400  a logger's file that cannot be read as levels and times
    │   ├── BadTable        400  a spreadsheet that cannot be read, or not be understood as asked
    │   ├── RecordTooShort  400  a record too short for what is asked of it
    │   └── BadHeader       400  a sync body without a readable header line
    ├── NotJoined           401  the token is unknown here: join again
    ├── NotAllowed          403  this role may not do that
    │   ├── Revoked         403  the lead ended this device's access
    │   ├── Unconfirmed     403  nobody confirmed this device since the server was restored
    │   ├── CodeRefused     403  the invitation code lets nobody in
    │   └── ForeignPage     403  another site's page sent the request
    ├── NotHere             404  nothing of that name
    │   ├── StationUnknown  404  no tide station of that id or name
    │   └── NameAmbiguous   404  several tide stations bear that name
    ├── AddressEnded        410  a calendar address that ended over 60 days ago
    ├── NoWindow            409  no window to plan a visit in
    ├── OutsideCurve        409  a time outside the span a tide curve was made for
    ├── SiteNotReady        409  a site's set-up lacks what its windows are made from
    ├── WrongOffset         409  a photo's part does not begin where the stored part ends
    ├── TooLarge            413  more bytes than the limit
    ├── WrongBytes          422  a photo's bytes are not those its name is the hash of
    ├── QueryRefused        422  a question in SQL that reads what is not open, is wrong or takes too long
    ├── WorkFailed          422  a long piece of work found its input faulty, or stopped
    ├── NoProgramme         404  the folder holds no programme
    ├── ProgrammeBusy       409  another server holds the folder
    ├── AlreadyHere         409  a file that would be written over, or no folder to write it in
    ├── WriterBusy          503  another writer has held the database for too long: try again in a moment
    │   └── Rebuilding      503  the tables are being made anew from the log: try again in some seconds
    ├── ExportsBusy         503  as many downloads as may be are under way
    ├── NotReady            503  the server runs and cannot work: no database, or no room
    ├── OverBudget          429  a device sent more than its hour's worth
    ├── BackupUnsound       409  a backup file is not what was written
    ├── BadReplica          409  what was named is no place for a replica
    ├── ReplicaFault        503  the replica cannot be read, written or believed
    ├── DatabaseDamaged     503  the programme's database is not what was written
    └── DiskFull            507  the server's disk is full
        └── DiskReadOnly    507  the server's disk takes no writes

Every error carries a sentence for a person (what, the value, the limit with its unit, what to do) and a fixed
word for programs. It is raised where it is known and becomes an answer in one place: `create_app` for HTTP,
`__main__` for the command line.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType


class FieldlogError(Exception):
    """A fault that a person can do something about."""

    word = "fault"
    status = 500
    headers: Mapping[str, str] = MappingProxyType({})

    def __init__(self, sentence: str, fields: dict[str, str] | None = None) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.fields = fields or {}


class BadRequest(FieldlogError):
    word = "bad-request"
    status = 400


class BadTable(BadRequest):
    word = "bad-table"


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


class AddressEnded(FieldlogError):
    word = "address-ended"
    status = 410


class TooLarge(FieldlogError):
    word = "too-large"
    status = 413


class WorkFailed(FieldlogError):
    word = "work-failed"
    status = 422


class NoProgramme(FieldlogError):
    word = "no-programme"
    status = 404


class ProgrammeBusy(FieldlogError):
    word = "programme-busy"
    status = 409


class ChangedSince(FieldlogError):
    word = "changed-since"
    status = 409


class AlreadyHere(FieldlogError):
    word = "already-here"
    status = 409


class WriterBusy(FieldlogError):
    """For the phone a wait, no refusal: it tries again by itself."""

    word = "writer-busy"
    status = 503
    headers = MappingProxyType({"Retry-After": "1"})


class ExportsBusy(FieldlogError):
    word = "exports-busy"
    status = 503
    headers = MappingProxyType({"Retry-After": "10"})


class Rebuilding(WriterBusy):
    word = "rebuilding"
    headers = MappingProxyType({"Retry-After": "5"})

    def __init__(self) -> None:
        super().__init__("The server is rebuilding its tables. Nothing is lost; this phone sends again after that.")


class NotReady(FieldlogError):
    word = "not-ready"
    status = 503


class OverBudget(FieldlogError):
    """Carries how long to wait, in seconds."""

    word = "over-budget"
    status = 429

    def __init__(self, sentence: str, wait_s: int) -> None:
        super().__init__(sentence)
        self.headers = {"Retry-After": str(wait_s)}


class DiskFull(FieldlogError):
    word = "disk-full"
    status = 507


class DiskReadOnly(DiskFull):
    word = "disk-read-only"


class BadReplica(FieldlogError):
    word = "bad-replica"
    status = 409


class ReplicaFault(FieldlogError):
    word = "replica-fault"
    status = 503


class DatabaseDamaged(FieldlogError):
    word = "database-damaged"
    status = 503


class Revoked(NotAllowed):
    word = "revoked"


class Unconfirmed(NotAllowed):
    word = "unconfirmed"


class CodeRefused(NotAllowed):
    word = "code-refused"


class ForeignPage(NotAllowed):
    word = "foreign-page"


class WrongOffset(FieldlogError):
    """Carries where to go on from, in bytes."""

    word = "wrong-offset"
    status = 409

    def __init__(self, offset: int) -> None:
        super().__init__(f"The server has {offset} bytes of this photo. Go on from there.")
        self.headers = {"Upload-Offset": str(offset)}


class WrongBytes(FieldlogError):
    word = "wrong-bytes"
    status = 422
    headers = MappingProxyType({"Upload-Offset": "0"})


class QueryRefused(FieldlogError):
    word = "query-refused"
    status = 422


class BackupUnsound(FieldlogError):
    word = "backup-unsound"
    status = 409


class SiteNotReady(FieldlogError):
    word = "site-not-ready"
    status = 409


class BadSpan(BadRequest):
    word = "bad-span"


class NoWindow(FieldlogError):
    word = "no-window"
    status = 409


class BadRecord(BadRequest):
    word = "bad-record"


class RecordTooShort(BadRequest):
    word = "record-too-short"


class OutsideCurve(FieldlogError):
    word = "outside-curve"
    status = 409


class StationUnknown(NotHere):
    word = "station-unknown"


class NameAmbiguous(NotHere):
    word = "name-ambiguous"
