"""What the machine that serves a programme must have for phones: an address, a certificate, time zones, room on the disk, a version that fits."""

from __future__ import annotations

import http.client
import json
import platform
import shutil
import sqlite3
import ssl
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from urllib.parse import SplitResult, urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from sqlite_utils import Database

from fieldlog.days import day_words
from fieldlog.finding import Finding
from fieldlog.migrations import migrations
from fieldlog.questions.sites import sites
from fieldlog.readiness import room_fault
from fieldlog.rounding import rounded
from fieldlog.shown_names import counted, named
from fieldlog.store import Programme, setting

WAIT_S = 5.0
"""So long the machine's own address is waited for."""

RENEW_DAYS = 14
"""A proxy renews long before: Caddy when a third of the time is left (its documentation, from memory). Our own proposal."""

DAY_MS = 24 * 3600 * 1000
GIGABYTE, MEGABYTE = 1e9, 1e6
THIS_MACHINE = ("localhost", "127.0.0.1", "::1")
HOW = "fieldlog serve --address https://reef.example.org"


@dataclass(frozen=True)
class Knock:
    """What came of asking an HTTPS address: why the certificate was refused, why nothing answered, when it ends, whether Fieldlog answered."""

    refused: str | None = None
    silent: str | None = None
    ends_ms: int | None = None
    status: int | None = None
    is_ours: bool = False


def look_at_machine(programme: Programme, now_ms: int) -> Iterator[Finding]:
    """Each of them, one finding or more, also where all is well."""
    db = programme.db()
    yield from _reached(setting(db, "address"), now_ms)
    yield from _zones(db, now_ms)
    yield _disk(programme)
    yield _version(db)


def _reached(address: str | None, now_ms: int) -> Iterator[Finding]:
    """The address and its certificate."""
    parts = urlsplit(address or "")
    if not parts.hostname or (parts.hostname in THIS_MACHINE and parts.scheme != "https"):
        yield Finding(
            "address", False,
            f"Invitations name {address or 'no address'}, which only this machine reaches. Give the address that phones use: {HOW}",
        )  # fmt: skip
    elif parts.scheme != "https":
        yield Finding(
            "address", False,
            f"Phones keep data only over HTTPS, and the address is {address}. Put a proxy with a certificate before the server, then: {HOW}",
        )  # fmt: skip
    else:
        yield from _over_https(str(address), parts, now_ms)
        return
    yield Finding("certificate", False, "Without an HTTPS address there is no certificate. README, On phones, has three ways to one.")


def _over_https(address: str, parts: SplitResult, now_ms: int) -> Iterator[Finding]:
    host = str(parts.hostname)
    came = knock(host, parts.port or 443)
    if came.silent is not None:
        yield Finding(
            "address", False,
            f"{address} does not answer this machine ({came.silent}). Look at the name, the firewall and whether the proxy runs. Phones keep their entries.",
        )  # fmt: skip
        yield Finding("certificate", False, f"The certificate of {host} could not be read, since {address} does not answer.")
        return
    if came.refused is not None:
        yield Finding("address", True, f"Phones are to reach the server at {address}. Something answers there.")
        yield Finding(
            "certificate", False,
            f"This machine does not trust the certificate of {host} ({came.refused}). See the proxy's log."
            " With --local-certs, install Caddy's root certificate here and on each device.",
        )  # fmt: skip
        return
    if came.is_ours:
        yield Finding("address", True, f"Phones reach the server at {address}, and it answers.")
    else:
        yield Finding(
            "address", False,
            f"{address} answers, but not as Fieldlog (status {came.status}). Start fieldlog serve, and look at which port the proxy passes on to.",
        )  # fmt: skip
    yield _certificate(host, int(came.ends_ms or 0), now_ms)


def _certificate(host: str, ends_ms: int, now_ms: int) -> Finding:
    days = (ends_ms - now_ms) // DAY_MS
    until = f"{day_words(datetime.fromtimestamp(ends_ms / 1000, UTC), year=True)}"
    if ends_ms < now_ms:
        return Finding("certificate", False, f"The certificate of {host} ended on {until}, so phones cannot sync. See the proxy's log.")
    if days < RENEW_DAYS:
        return Finding("certificate", False, f"The certificate of {host} ends on {until}, in {counted(days, 'day')}. The proxy should have renewed it: see its log.")
    return Finding("certificate", True, f"The certificate of {host} is valid until {until}.")


def knock(host: str, port: int) -> Knock:
    """Ask an HTTPS address of this machine whether Fieldlog answers there, as a device does that trusts what this machine trusts."""
    asked = http.client.HTTPSConnection(host, port, timeout=WAIT_S, context=ssl.create_default_context())
    try:
        asked.connect()
        told = asked.sock.getpeercert() or {}
        ends_ms = int(ssl.cert_time_to_seconds(str(told["notAfter"])) * 1000)
        asked.request("GET", "/healthz")
        came = asked.getresponse()
        return Knock(ends_ms=ends_ms, status=came.status, is_ours=_is_ours(came.read(4096)))
    except ssl.SSLCertVerificationError as fault:
        return Knock(refused=fault.verify_message.rstrip("."))
    except (OSError, http.client.HTTPException) as fault:
        return Knock(silent=getattr(fault, "strerror", None) or str(fault) or type(fault).__name__)
    finally:
        asked.close()


def _is_ours(body: bytes) -> bool:
    try:
        said = json.loads(body)
    except ValueError:
        return False
    return isinstance(said, dict) and said.get("ok") is True and "entries" in said


def _zones(db: Database, now_ms: int) -> Iterator[Finding]:
    """Whether the clocks of all sites can be told here, and what this machine's clock says."""
    known: dict[str, ZoneInfo] = {}
    of_sites = sites(db)
    for site in of_sites:
        name, zone = named(site["name"]), site["zone"]
        try:
            known[zone] = ZoneInfo(zone or "")
        except (ZoneInfoNotFoundError, OSError, ValueError):
            if zone:
                yield Finding("zone", False, f"This machine does not know the time zone {zone} of {name}. Update its zones: pip install --upgrade tzdata")
            else:
                yield Finding("zone", False, f"{name} has no time zone, so it has no low tides. A lead sets it under Set-up, Site.")
    if not of_sites:
        yield Finding("zone", True, "There is no site yet, so no time zone is needed.")
    for zone, clock in sorted(known.items()):
        at = datetime.fromtimestamp(now_ms / 1000, clock)
        yield Finding("zone", True, f"The server's clock says {day_words(at, weekday=True)}, {at:%H:%M} in {zone}. Compare it with a phone's.")


def _disk(programme: Programme) -> Finding:
    fault = room_fault(programme.folder)
    if fault is not None:
        return Finding("disk", False, fault)
    free = shutil.disk_usage(programme.backups_folder).free
    newest = max(programme.backups_folder.glob("*.zip"), key=lambda file: file.stat().st_mtime, default=None)
    needed = 0 if newest is None else newest.stat().st_size
    if free < needed:
        return Finding(
            "disk", False,
            f"The disk has {_size(free)} left, and the last backup took {_size(needed)}: the next may not fit. Move old backups elsewhere.",
        )  # fmt: skip
    return Finding("disk", True, f"The disk has {_size(free)} left.")


def _size(of_bytes: float) -> str:
    return f"{rounded(of_bytes / GIGABYTE, 1)} GB" if of_bytes >= GIGABYTE else f"{rounded(of_bytes / MEGABYTE, 0)} MB"


def _version(db: Database) -> Finding:
    here = version("fieldlog")
    known = {migration.name for migration in migrations.pending(Database(memory=True))}
    newer = sorted({migration.name for migration in migrations.applied(db)} - known)
    if newer:
        return Finding(
            "version", False,
            f"A newer version of Fieldlog opened this folder, and this is {here}: it does not know {newer[-1]}. Install that version again.",
        )  # fmt: skip
    return Finding("version", True, f"Fieldlog {here}, on Python {platform.python_version()} with SQLite {sqlite3.sqlite_version}.")
