"""The printed systemd unit and Caddy lines."""

from __future__ import annotations

import json
import os
import re
import shlex
import textwrap
from pathlib import Path

import pytest

from fieldlog.connections import FINISH_S, MOST
from fieldlog.errors import BadRequest
from fieldlog.service import FILES, STOP_S, caddyfile, systemd_unit
from fieldlog.store import ProgrammeLock, create_programme

ROOT = Path(__file__).parents[2]
ADDRESS = "https://reef.example.org"


def test_readme_shows_the_same_caddy_lines():
    assert textwrap.indent(caddyfile(ADDRESS, 8080), " " * 7) in (ROOT / "README.md").read_text("utf-8")


def test_the_proxy_holds_slow_visitors_off_and_lets_the_largest_body_through():
    text = caddyfile(ADDRESS, 8081)
    for line in ("read_header 10s", "read_body 2m", "idle 2m", "max_size 17MB", "encode zstd gzip", "reverse_proxy 127.0.0.1:8081", "reef.example.org {"):
        assert line in text
    assert "local_certs" not in text
    assert "    local_certs\n" in caddyfile(ADDRESS, 8081, has_local_certs=True)
    assert text.count("{") == text.count("}")


@pytest.mark.parametrize("address", ["http://reef.example.org", "reef.example.org", "https://", "https://a.example/path", "https://a {", "", "https://a:99999", "https://a:0", "https://a:b",
                                     "https://u:p@x.org", "https://u@x.org", "https://a.org;x", "https://*", "https://*.x.org", "https://x.org?x",
                                     "https://x.org/?x", "https://x.org#x", "https://x..org", "https://-x.org", "https://x.org,b.org", "https://a\tb.org"])
def test_what_is_no_https_address_of_a_host_is_a_sentence(address):
    with pytest.raises(BadRequest, match="not an address to serve at"):
        caddyfile(address, 8080)


@pytest.mark.parametrize("address", ["https://x.org/", "https://x.org:8443", "https://[2001:db8::7]", "https://192.0.2.7", "https://bücher.example", "HTTPS://x"])
def test_an_address_of_a_host_stands_in_the_file_as_it_was_given(address):
    assert f"\n{address.split('//')[1].rstrip('/')} {{\n" in caddyfile(address, 8080)


def command_of(unit: str) -> list[str]:
    (line,) = re.findall(r"^ExecStart=(.*)$", unit, re.MULTILINE)
    return [word.replace("%%", "%") for word in shlex.split(line)]


@pytest.mark.parametrize("folder", ["/srv/skein-bay", "/srv/skein bay 100%", '/srv/a"b'])
def test_the_unit_serves_this_folder_whatever_its_name(folder):
    unit = systemd_unit("Skein Bay", Path(folder), 8080, ADDRESS, "/opt/venv/bin/python", "marsh")
    assert command_of(unit) == [
        "/opt/venv/bin/python", "-m", "fieldlog", "--data", folder, "serve", "--port", "8080", "--address", ADDRESS,
    ]  # fmt: skip
    assert "User=marsh" in unit
    assert "Environment=FIELDLOG_BEHIND_PROXY=1" in unit


def test_the_unit_gives_the_server_time_to_end_and_files_for_its_connections():
    assert STOP_S > FINISH_S + 10
    assert FILES > MOST + 1000


def test_a_name_cannot_write_lines_of_its_own_into_the_unit():
    unit = systemd_unit("Skein\nExecStartPre=/bin/evil %h", Path("/srv/a"), 8080, ADDRESS, "/python", "marsh")
    assert not re.search(r"^ExecStartPre", unit, re.MULTILINE)
    assert "%%h" in unit


def test_the_command_prints_both_for_this_programme(call, tmp_path):
    create_programme(tmp_path / "programme", "Skein Bay").close()
    said = call("--data", str(tmp_path / "programme"), "service", "--address", ADDRESS).out
    assert f"ReadWritePaths={tmp_path}/programme" in said
    assert caddyfile(ADDRESS, 8080).strip() in said
    as_json = json.loads(call("--data", str(tmp_path / "programme"), "service", "--address", ADDRESS, "--local-certs", "--json").out)
    assert as_json["caddyfile"] == caddyfile(ADDRESS, 8080, has_local_certs=True)
    assert "Description=Fieldlog: Skein Bay" in as_json["unit"]


def test_who_owns_the_folder_restarts_the_server_without_an_administrator(tmp_path):
    """README's third line of an update: the lock says which process serves, and systemd starts it again."""
    assert "Restart=always\n" in systemd_unit("Skein Bay", Path("/srv/skein bay"), 8080, "https://reef.example.org", "/usr/bin/python3", "ines")
    with ProgrammeLock(tmp_path):
        assert (tmp_path / "lock").read_text() == str(os.getpid())
