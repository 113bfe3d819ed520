"""Installs the engines beside Chromium that `make engines` needs, or ends with a sentence."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[2])]

from tests.engines.firefox import firefox  # noqa: E402  (the checkout is put on the path first)
from tests.engines.webkit import webkit  # noqa: E402

PACKAGES = {"Firefox": (firefox, ["firefox-esr"]), "WebKitGTK": (webkit, ["webkit2gtk-driver", "gir1.2-webkit2-4.1", "python3-gi", "xvfb"])}
"""Debian's names."""


def missing() -> list[str]:
    return [package for found, packages in PACKAGES.values() if found() is None for package in packages]


def main() -> None:
    wanted = missing()
    if wanted and shutil.which("apt-get") and os.geteuid() == 0:
        print(f"Installing Debian's {', '.join(wanted)} ...", flush=True)
        subprocess.run(["apt-get", "update", "-q"])
        subprocess.run(["apt-get", "install", "-y", "-q", "--no-install-recommends", *wanted])
    if wanted := missing():
        sys.exit(f"The main day in three engines needs Debian's {' '.join(wanted)}; as root: apt-get install {' '.join(wanted)}")


if __name__ == "__main__":
    main()
