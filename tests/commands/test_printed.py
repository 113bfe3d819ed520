"""What commands print is text for a terminal: nothing that somebody wrote, or a file is called, moves its cursor, colours it or turns its direction."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from fieldlog.commands.printable import json_text, printable, say
from fieldlog.store import create_programme, write

PACKAGE = Path(__file__).parents[2] / "fieldlog"
HARMFUL = "\x00\x07\x1b\x7f\x85\x9b\u061c\u200e\u202a\u202e\u2028\u2066\u2069\ufff9\udc9b"
RAW = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2060-\u206f\ufff9-\ufffb\ud800-\udfff]")


def test_a_sign_that_a_terminal_obeys_is_written_out() -> None:
    shown = printable(f"a{HARMFUL}\nb")
    assert RAW.search(shown) is None and "\n" not in shown
    assert shown == r"a\x00\x07\x1b\x7f\x85\x9b\u061c\u200e\u202a\u202e\u2028\u2066\u2069\ufff9\udc9b\x0ab"
    assert printable("Zoë, 潮, 👩‍🔬, −0.25 m") == "Zoë, 潮, 👩‍🔬, −0.25 m"


def test_a_json_document_says_the_same_without_the_raw_sign() -> None:
    text = json_text({"name": HARMFUL, "more": ["Zoë"]})
    assert RAW.search(text) is None and "Zoë" in text
    assert json.loads(text) == {"name": HARMFUL, "more": ["Zoë"]}


def test_names_of_devices_sites_and_files_reach_the_terminal_written_out(call, refused, tmp_path: Path) -> None:
    programme = create_programme(tmp_path / "w", "Skein \x1b]0;x\x07Bay")
    with write(programme.db()):
        programme.db().execute(
            "INSERT INTO device(device_id, token_sha256, role, name, made_at, unconfirmed) VALUES (?, 'x', 'crew', ?, 1, 1)", ("d" * 32, HARMFUL[:-1])
        )
    programme.close()
    for asked in (("confirm",), ("confirm", "--json"), ("service", "--address", "https://reef.example.org"), ("doctor",)):
        said = call(*asked, data=tmp_path / "w")
        assert said.out and RAW.search(said.out + said.err) is None
    assert r"\x9b" in call("confirm", data=tmp_path / "w").out
    sentence = refused("doctor", data=tmp_path / "a\x1b[31m\u202eb")
    assert RAW.search(sentence) is None and r"a\x1b[31m\u202eb" in sentence


def test_a_sentence_to_standard_error_keeps_its_lines(capsys: pytest.CaptureFixture[str]) -> None:
    say("One.\nTwo \x1b[2J.", err=True)
    assert capsys.readouterr().err == "One.\nTwo \\x1b[2J.\n"


def test_every_command_prints_by_that_one_place() -> None:
    printing = {path.relative_to(PACKAGE).as_posix() for path in [PACKAGE / "__main__.py", *(PACKAGE / "commands").glob("*.py")]
                if re.search(r"click\.s?echo|\bprint\(", path.read_text("utf-8"))}  # fmt: skip
    assert printing == {"commands/printable.py"}
