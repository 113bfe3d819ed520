"""
Visitors that hold on to a server: some never end their headers, some keep a connection open and say nothing.

Runs in a process of its own, so that it takes no turn of the measuring one: python -m tests.web.crowd PORT SLOW IDLE
"""

from __future__ import annotations

import asyncio
import contextlib
import sys


async def slow(port: int) -> None:
    """Send a header a byte a second, and come back when the server has had enough."""
    while True:
        with contextlib.suppress(OSError):
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            writer.write(b"POST /api/join HTTP/1.1\r\nHost: localhost\r\nX-Slow: ")
            while not reader.at_eof():
                writer.write(b"a")
                await writer.drain()
                await asyncio.sleep(1)
            writer.close()
        await asyncio.sleep(0.2)


async def idle(port: int) -> None:
    """Ask once and stay connected, as browsers do."""
    while True:
        with contextlib.suppress(OSError):
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            writer.write(b"GET /healthz HTTP/1.1\r\nHost: localhost\r\n\r\n")
            while await reader.read(4096):
                pass
            writer.close()
        await asyncio.sleep(0.2)


async def crowd(port: int, slow_count: int, idle_count: int) -> None:
    """All of them, until the process is ended."""
    await asyncio.gather(*[slow(port) for _ in range(slow_count)], *[idle(port) for _ in range(idle_count)])


if __name__ == "__main__":
    asyncio.run(crowd(*map(int, sys.argv[1:])))
