"""The command that prints what keeps a programme served."""

from __future__ import annotations

import getpass
import sys

import click

from fieldlog.commands.asking import Asked, folder_option, json_option, pass_asked
from fieldlog.service import caddyfile, systemd_unit
from fieldlog.store import existing_programme, setting


@click.command()
@click.option("--address", help="Where phones reach the server, such as https://reef.example.org. Without it: the one it was served with.")
@click.option("--port", type=click.IntRange(1, 65535), default=8080, show_default=True, help="Where the server listens on this machine.")
@click.option("--local-certs", is_flag=True, help="Let Caddy make the certificate itself, for a network without a public name.")
@folder_option
@json_option
@pass_asked
def service(asked: Asked, address: str | None, port: int, local_certs: bool) -> None:
    """Print a systemd unit and a Caddy file for this program."""
    folder = asked.programme_folder().resolve()
    db = existing_programme(folder).db()
    reached = address or setting(db, "address")
    if reached is None:
        raise click.UsageError("Say where phones reach the server: --address https://reef.example.org")
    proxy = caddyfile(reached.rstrip("/"), port, has_local_certs=local_certs)
    unit = systemd_unit(setting(db, "programme_name") or "", folder, port, reached.rstrip("/"), sys.executable, getpass.getuser())
    asked.show(
        {"unit": unit, "caddyfile": proxy},
        [
            "# /etc/systemd/system/fieldlog.service, then: systemctl enable --now fieldlog", *unit.split("\n"),
            "# /etc/caddy/Caddyfile, then: systemctl reload caddy", *proxy.rstrip("\n").split("\n"),
        ],
    )  # fmt: skip
