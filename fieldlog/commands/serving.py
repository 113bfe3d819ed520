"""Commands that serve a programme."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from fieldlog.access.invitations import invite
from fieldlog.commands.asking import Asked, folder_option, json_option, pass_asked
from fieldlog.commands.printable import say
from fieldlog.demo.build import build_demo
from fieldlog.logs import write_logs
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.replica.checking import set_replica
from fieldlog.serving import serve_programme
from fieldlog.store import Programme, set_setting, setting
from fieldlog.sync.opening import open_programme, open_to_serve

DEMO_FOLDER = Path("demo_data")
DEMO_HOURS = 24 * 7
DEMO_USES = {"lead": 10, "crew": 100}

port_option = click.option("--port", type=click.IntRange(0, 65535), default=8080, show_default=True)


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="The address to listen at.")
@port_option
@click.option("--address", help="Where phones reach the server, such as https://reef.example.org; kept for invitations.")
@click.option(
    "--replica", metavar="PLACE",
    help="Keep a second copy, about a second behind: in a folder on another disk, or at s3://bucket/prefix. Remembered; '' ends it.",
)
@click.option("--metrics-port", type=click.IntRange(0, 65535), help="Serve metrics for Prometheus on this machine at this port.")
@folder_option
@json_option
@pass_asked
def serve(
    asked: Asked, host: str, port: int, address: str | None, replica: str | None, metrics_port: int | None
) -> None:
    """Serve a program; back it up at start and every night."""
    write_logs()
    programme = open_to_serve(asked.programme_folder(), CATALOGUE, asked.now_ms())
    if replica is not None:
        set_replica(programme, replica)
    if address is not None:
        set_setting(programme.db(), "address", address.rstrip("/"))

    def announce(listening: str) -> None:
        reached = setting(programme.db(), "address")
        phones = f" Phones reach it at {reached}." if reached and reached != listening else ""
        asked.show({"address": listening}, [f"Serving at {listening}; Ctrl-C stops it.{phones}"])

    serve_programme(programme, host, port, asked.now, announce, metrics_port)


@click.command()
@port_option
@click.option("--today", type=click.DateTime(["%Y-%m-%d"]), help="The demo's visits are before this day.")
@folder_option
@json_option
@pass_asked
def demo(asked: Asked, port: int, today: datetime | None) -> None:
    """Build the demo if it is missing, and serve it."""
    folder = asked.folder or DEMO_FOLDER
    if not Programme(folder).path.exists():
        say("Building the demo (once; a few seconds) ...", err=True)
        build_demo(folder, (today or asked.now().astimezone()).date())
    programme = open_programme(folder, CATALOGUE, asked.now_ms())
    built_for = setting(programme.db(), "demo_today")
    if built_for is None:
        raise click.UsageError(f"The folder {folder} holds a program that is not the demo. Name another folder: --data DIR")

    def announce(listening: str) -> None:
        set_setting(programme.db(), "address", listening)
        codes = {
            role: invite(programme.db(), None, role, None, uses, DEMO_HOURS, asked.now_ms()).code
            for role, uses in DEMO_USES.items()
        }
        links = {role: f"{listening}/#join={code}" for role, code in codes.items()}
        asked.show(
            {"address": listening, "built_for": built_for, "links": links, "codes": codes},
            [
                f"Serving the demo of {built_for}. Ctrl-C stops it; delete {folder} to start over.",
                f"  Lead:  {links['lead']}",
                f"  Crew:  {links['crew']}",
                f"         or open {listening} at phone size, install it, and type the code {codes['crew']} inside it",
            ],
        )

    serve_programme(programme, "127.0.0.1", port, asked.now, announce)
