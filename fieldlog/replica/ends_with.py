"""
Become another program that ends when the server does, however that ends: run as a file, by `engine.py`.

Linux sends the signal itself when the thread that started the program is gone, also by SIGKILL (prctl(2), PR_SET_PDEATHSIG), and a
program keeps that over execve. Between fork and exec of a process with threads it could not be asked for safely. Elsewhere the
next server ends what was left behind (`EngineLock`).
"""

from __future__ import annotations

import ctypes
import os
import signal
import sys

PR_SET_PDEATHSIG = 1


def become(server: int, command: list[str]) -> None:
    """Replace this process by a command, unless the server's process is gone already."""
    libc = ctypes.CDLL(None)
    if hasattr(libc, "prctl"):
        libc.prctl(PR_SET_PDEATHSIG, signal.SIGTERM)
    if os.getppid() == server:
        os.execv(command[0], command)


if __name__ == "__main__":
    become(int(sys.argv[1]), sys.argv[2:])
