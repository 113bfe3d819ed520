"""
The server of 0.2.0 as it was shipped, in a process of its own, with the app of today on its shelf.

`server_0_2_0.zip` holds its `fieldlog` without the data of tide stations (`git archive d6c27f7`), which is today's.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from zipfile import ZipFile

ROOT = Path(__file__).resolve().parents[2]
OLD_SERVER = Path(__file__).with_name("server_0_2_0.zip")


@contextmanager
def old_server(folder: Path) -> Iterator[tuple[str, str]]:
    """Serve until the end of the block: its address, and a lead's code."""
    code = folder / "code"
    with ZipFile(OLD_SERVER) as packed:
        packed.extractall(code)
    shutil.copytree(ROOT / "fieldlog" / "data", code / "fieldlog" / "data", dirs_exist_ok=True)
    shutil.copytree(ROOT / "static", code / "static")
    command = [sys.executable, "-m", "fieldlog", "--data", str(folder / "programme"), "--json"]
    told = {"cwd": code, "env": {**os.environ, "PYTHONPATH": str(code), "PYTHONUNBUFFERED": "1"}, "text": True}
    made = subprocess.run([*command, "init", "--name", "Skein Bay"], capture_output=True, check=True, **told)
    running = subprocess.Popen([*command, "serve", "--port", "0"], stdout=subprocess.PIPE, **told)
    said = ""
    while not said.rstrip().endswith("}"):
        said += running.stdout.readline()
    try:
        yield json.loads(said)["address"], json.loads(made.stdout)["invitation"]["code"]
    finally:
        running.terminate()
        running.wait(20)
        running.stdout.close()
