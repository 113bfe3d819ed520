"""A line between a browser and a server: what goes over it is counted, and it may be as slow and far as a shore's."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from urllib.parse import urlsplit

CHUNK = 16_384


@dataclass
class Exchange:
    """One request and its answer, as bytes on the wire, heads with them."""

    path: str
    up: int = 0
    down: int = 0

    @property
    def size(self) -> int:
        return self.up + self.down


@dataclass
class Line:
    """
    A relay on a port of its own.

    Attributes:
        there: host and port of the server.
        far_s: time there and back.
        rate: bytes a second towards the browser, shared by all connections; None has no limit.
        exchanges: in the order in which they were asked.
    """

    there: tuple[str, int]
    far_s: float = 0.0
    rate: float | None = None
    url: str = ""
    exchanges: list[Exchange] = field(default_factory=list)
    free_at: float = 0.0

    async def connect(self, browser_in: asyncio.StreamReader, browser_out: asyncio.StreamWriter) -> None:
        await asyncio.sleep(self.far_s)
        server_in, server_out = await asyncio.open_connection(*self.there)
        own: list[Exchange] = []
        both = (self.carry(browser_in, server_out, own, is_up=True), self.carry(server_in, browser_out, own, is_up=False))
        with suppress(asyncio.CancelledError):
            await asyncio.gather(*both, return_exceptions=True)

    async def carry(self, source: asyncio.StreamReader, target: asyncio.StreamWriter, own: list[Exchange], is_up: bool) -> None:
        """Each piece in its order, as late as the line makes it."""
        under_way: asyncio.Queue[tuple[float, bytes]] = asyncio.Queue()
        delivering = asyncio.create_task(deliver(under_way, target))
        while piece := await source.read(CHUNK):
            self.count(piece, own, is_up)
            due = asyncio.get_running_loop().time()
            if self.rate and not is_up:
                due = self.free_at = max(due, self.free_at) + len(piece) / self.rate
            under_way.put_nowait((due + self.far_s / 2, piece))
        under_way.put_nowait((0.0, b""))
        await delivering

    def count(self, piece: bytes, own: list[Exchange], is_up: bool) -> None:
        """A browser asks one thing at a time of a connection, so a request ends what came before it."""
        if is_up and piece[:4] in (b"GET ", b"POST", b"HEAD", b"PATC"):
            own.append(Exchange(piece.split(b" ", 2)[1].decode()))
            self.exchanges.append(own[-1])
        if own and is_up:
            own[-1].up += len(piece)
        elif own:
            own[-1].down += len(piece)


async def deliver(under_way: asyncio.Queue[tuple[float, bytes]], target: asyncio.StreamWriter) -> None:
    """Write what is due, an empty piece being the end."""
    while True:
        due, piece = await under_way.get()
        if not piece:
            break
        await asyncio.sleep(max(0.0, due - asyncio.get_running_loop().time()))
        target.write(piece)
        await target.drain()
    target.close()


@contextmanager
def line_to(url: str, far_s: float = 0.0, rate: float | None = None) -> Iterator[Line]:
    """A line to a server on this machine, on loopback itself, so that a browser takes its pages for secure."""
    place = urlsplit(url)
    line = Line((place.hostname or "", place.port or 0), far_s, rate)
    loop = asyncio.new_event_loop()
    running = threading.Thread(target=loop.run_forever)
    running.start()
    server = asyncio.run_coroutine_threadsafe(asyncio.start_server(line.connect, "127.0.0.1", 0), loop).result()
    line.url = f"http://127.0.0.1:{server.sockets[0].getsockname()[1]}"
    yield line
    loop.call_soon_threadsafe(server.close)
    asyncio.run_coroutine_threadsafe(hang_up(), loop).result()
    loop.call_soon_threadsafe(loop.stop)
    running.join()
    loop.close()


async def hang_up() -> None:
    """End what is still under way."""
    others = asyncio.all_tasks() - {asyncio.current_task()}
    for task in others:
        task.cancel()
    await asyncio.gather(*others, return_exceptions=True)
