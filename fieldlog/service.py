"""
What a machine needs to keep a programme served: a systemd unit and Caddy's file, made for its folder and address.

README shows the same Caddy lines (tests/commands/test_service.py holds them equal), and `make soak` runs both texts for real.
"""

from __future__ import annotations

import re
from pathlib import Path

from fieldlog.errors import BadRequest

STOP_S = 40
"""systemd waits so long for a stop: longer than the server waits for requests that have begun (connections.py)."""

FILES = 8192

CADDYFILE = """\
{{
{local_certs}    servers {{
        timeouts {{
            read_header 10s
            read_body 2m
            idle 2m
        }}
    }}
}}

{site} {{
    request_body {{
        max_size 17MB
    }}
    encode zstd gzip
    reverse_proxy 127.0.0.1:{port}
}}
"""
"""
Who never ends a header or a body is Caddy's to drop; 17 MB is a little over the largest body that a route takes. The server packs the
app, syncs and what a phone keeps itself, which Caddy passes on as they are; the rest (lists, files to save, the calendar) is packed there.
"""

UNIT = """\
[Unit]
Description=Fieldlog: {name}
Wants=network-online.target
After=network-online.target

[Service]
Type=exec
User={user}
Environment=FIELDLOG_BEHIND_PROXY=1
ExecStart={command}
Restart=always
RestartSec=5
TimeoutStopSec={stop_s}
LimitNOFILE={files}
UMask=0077
ReadWritePaths={folder}
ProtectSystem=strict
ProtectHome=read-only
PrivateTmp=yes
PrivateDevices=yes
ProtectClock=yes
ProtectControlGroups=yes
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
NoNewPrivileges=yes
CapabilityBoundingSet=
LockPersonality=yes
RestrictAddressFamilies=AF_INET AF_INET6 AF_UNIX
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service

[Install]
WantedBy=multi-user.target
"""
"""
Always started again, so that whoever the folder belongs to updates without an administrator: they end the server, and systemd starts the new
version. `systemctl stop` still stops it.
"""


_LABEL = r"\w(?:[\w-]*\w)?"
_ADDRESS = re.compile(rf"https://(?P<site>(?:{_LABEL}(?:\.{_LABEL})*|\[[0-9a-f:.]+\])(?::(?P<port>[0-9]{{1,5}}))?)/?", re.IGNORECASE)
"""A host, which Caddy is given as it stands: it would take a wildcard, a list or a name and password for something else."""


def caddyfile(address: str, port: int, *, has_local_certs: bool = False) -> str:
    """
    Caddy's whole file for an address.

    Args:
        address: as phones reach it, https://reef.example.org.
        port: where the server listens on this machine.
        has_local_certs: whether Caddy makes the certificate itself, for a laboratory without a public name.

    Raises:
        BadRequest: the address is no HTTPS address of a host alone.
    """
    told = _ADDRESS.fullmatch(address)
    if told is None or not 0 < int(told["port"] or 443) < 65536:
        raise BadRequest(f"{address!r} is not an address to serve at. Give the one that phones use, such as https://reef.example.org.")
    local_certs = "    local_certs\n" if has_local_certs else ""
    return CADDYFILE.format(site=told["site"], port=port, local_certs=local_certs)


def systemd_unit(name: str, folder: Path, port: int, address: str, python: str, user: str) -> str:
    """
    The unit that serves a programme behind a proxy on the same machine, with no rights but on its folder.

    Args:
        name: the programme's.
        folder: its folder, absolute.
        python: the interpreter that has Fieldlog installed.
        user: whom the folder belongs to.
    """
    words = [python, "-m", "fieldlog", "--data", str(folder), "serve", "--port", str(port), "--address", address]
    return UNIT.format(
        name=" ".join(name.split()).replace("%", "%%"), user=user, command=" ".join(map(_word, words)), stop_s=STOP_S, files=FILES,
        folder=_word(str(folder)),
    )  # fmt: skip


def _word(text: str) -> str:
    """A word as systemd reads it back: specifiers doubled, quoted where it holds more than plain signs."""
    doubled = text.replace("%", "%%")
    if all(letter.isalnum() or letter in "%/._-:=" for letter in doubled):
        return doubled
    escaped = doubled.replace("\\", "\\\\").replace('"', '\\"').replace("$", "$$")
    return f'"{escaped}"'
