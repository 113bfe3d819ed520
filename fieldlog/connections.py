"""
Connections to the server: many at once, each for as long as it does something.

waitress as it comes takes 100 connections and looks at each of them whenever one has something to say: 100 visitors who
never end their headers stop it. Here it takes 2,000, looks only at those with news, and closes what is too slow.
"""

from __future__ import annotations

import select
import time
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from waitress import wasyncore
from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser, ParsingError
from waitress.server import TcpWSGIServer

MOST = 2000
CROWDED = 1600
"""From so many on, those that have been quiet for longest go first, so that the next visitor is always let in."""

HEADERS_S = 15.0
"""A request's headers come within this time of its first byte."""

BODY_S, BODY_BYTES_PER_S = 60.0, 500.0
"""A body comes, and an answer is read, at this rate after the first minute: a tenth of what a phone has at the edge of a network."""

PILED = 8
"""Requests sent without waiting for the answers before; no browser or proxy does so. Who piles up more is let go."""

IDLE_S = 130.0
"""A little longer than a proxy keeps a connection for its next request (Caddy: 2 min), so that it is the one to close."""

AT_ONCE = 64
"""Visitors let in before those inside are looked at again."""

FINISH_S = 20.0
"""How long a stopping server waits for requests that have begun; systemd waits longer (service.py)."""

LOOK_S = 1.0
HEADER_BYTES = 16 * 1024


class Parser(HTTPRequestParser):  # type: ignore[misc]
    """waitress's, which lets what Python says of an unreadable address end the connection without an answer."""

    def parse_header(self, header_plus: bytes) -> None:
        """Read the request's first line and headers."""
        try:
            super().parse_header(header_plus)
        except ValueError:
            raise ParsingError("Bad URI") from None


class Connection(HTTPChannel):  # type: ignore[misc]
    """One connection, which knows since when its request has been coming in and its answer has been waiting to be read."""

    parser_class = Parser
    begun_at: float | None = None
    received_bytes = 0
    unread_since: float | None = None
    read_bytes = 0

    def received(self, data: bytes) -> bool:
        """Take bytes in, and note when the first of an unfinished request came."""
        before = self.request
        took: bool = super().received(data)
        if self.request is None:
            self.begun_at = None
        elif self.request is not before or self.begun_at is None:
            self.begun_at, self.received_bytes = self.last_activity, 0
        self.received_bytes += len(data)
        if len(self.requests) > PILED:
            self.will_close = True
        return took

    def send(self, data: bytes, do_close: bool = True) -> int:
        """Send bytes, and count those that the visitor took."""
        sent: int = super().send(data, do_close)
        self.read_bytes += sent
        return sent

    def is_at_rest(self) -> bool:
        """Whether nothing is being worked out or sent for it."""
        return not (self.requests or self.total_outbufs_len or self.will_close or self.close_when_flushed)

    def is_in_work(self) -> bool:
        """Whether a request of it is to be finished before the server stops."""
        return bool(self.requests or self.total_outbufs_len or (self.request is not None and self.request.headers_finished))

    def is_too_slow(self, at_s: float) -> bool:
        """Whether its time is up; asked once a second."""
        if not self.total_outbufs_len:
            self.unread_since = None
        elif self.unread_since is None:
            self.unread_since, self.read_bytes = at_s, 0
        if self.unread_since is not None:
            # Asked before whether it is being worked for: the worker may be waiting for this visitor to read.
            return at_s - self.unread_since > BODY_S + self.read_bytes / BODY_BYTES_PER_S
        if self.requests:
            return False
        if self.request is None or self.begun_at is None:
            return bool(at_s - self.last_activity > IDLE_S)
        if not self.request.headers_finished:
            return at_s - self.begun_at > HEADERS_S
        return at_s - self.begun_at > BODY_S + self.received_bytes / BODY_BYTES_PER_S

    def add_channel(self, map: dict[int, Any] | None = None) -> None:  # noqa: A002 (waitress's name)
        """Have the loop watch it."""
        super().add_channel(map)
        self.server.look_again.add(self._fileno)

    def del_channel(self, map: dict[int, Any] | None = None) -> None:  # noqa: A002
        """Have the loop forget it, before its number is given to the next."""
        self.server.forget(self._fileno)
        super().del_channel(map)


class CrowdServer(TcpWSGIServer):  # type: ignore[misc]
    """waitress's server, its loop and its limits replaced."""

    channel_class = Connection
    crowded = CROWDED

    def __init__(self, *arguments: Any, **named: Any) -> None:
        self.look_again: set[int] = set()
        self._is_stopping = False
        self._watched: dict[int, int] = {}
        self._poll = select.poll()
        super().__init__(*arguments, **named)

    def forget(self, fileno: int) -> None:
        """Watch a connection no more."""
        self.look_again.discard(fileno)
        if self._watched.pop(fileno, 0):
            self._poll.unregister(fileno)

    def run(self) -> None:
        """Serve until `stop`, then finish what was begun and close everything."""
        self.look_again.update(self._map)
        while self._map and not self._is_stopping:
            self._turn(LOOK_S)
        if self._map:
            self._finish()

    def stop(self, *_signal: object) -> None:
        """Have `run` come to its end; may be called from a signal or another thread."""
        self._is_stopping = True
        with suppress(OSError):  # `run` may have seen it, and closed everything, before it is woken
            self.pull_trigger()

    def _finish(self) -> None:
        """Take no new connection, and answer what has come in or is coming in."""
        self.forget(self._fileno)
        wasyncore.dispatcher.close(self)
        until = time.monotonic() + FINISH_S
        while time.monotonic() < until and any(channel.is_in_work() for channel in self.active_channels.values()):
            self._turn(0.1)
        self.task_dispatcher.shutdown(timeout=1)
        wasyncore.close_all(self._map, ignore_all=True)

    def _turn(self, most_s: float) -> None:
        own = {self._fileno, self.trigger._fileno}
        for fileno in (self.look_again | own) & self._map.keys():
            self._watch(fileno, self._map[fileno])
        for fileno, news in self._poll.poll(int(most_s * 1000)):
            channel = self._map.get(fileno)
            if channel is not None:
                wasyncore.readwrite(channel, news)
                self.look_again.add(fileno)

    def _watch(self, fileno: int, channel: Any) -> None:
        # Asked first: a worker may end its request while the rest is looked at, and would then be told of no more.
        is_at_rest = not isinstance(channel, Connection) or channel.is_at_rest()
        news = 0
        if channel.readable():
            news |= select.POLLIN | select.POLLPRI
        if channel.writable() and not channel.accepting:
            news |= select.POLLOUT
        if news != self._watched.get(fileno, 0):
            if not news:
                self._poll.unregister(fileno)
            elif fileno in self._watched:
                self._poll.modify(fileno, news)
            else:
                self._poll.register(fileno, news)
            self._watched[fileno] = news
            if not news:
                del self._watched[fileno]
        # What a worker thread changes is told by the trigger alone, so whoever has work in hand is looked at each turn.
        if is_at_rest:
            self.look_again.discard(fileno)

    def handle_accept(self) -> None:
        """Let in whoever waits; in a crowd the longest connected of those who ask nothing makes room for each."""
        for _ in range(AT_ONCE):
            before = len(self.active_channels)
            super().handle_accept()
            if len(self.active_channels) == before:
                return
            if before >= self.crowded:
                self._make_room()

    def _make_room(self) -> None:
        for fileno, channel in self.active_channels.items():
            if channel.is_at_rest() and not channel.is_in_work():
                channel.will_close = True
                self.look_again.add(fileno)
                return

    def maintenance(self, now: float) -> None:
        """Close who is too slow, and in a crowd who has been quiet for longest."""
        leaving = [channel for channel in self.active_channels.values() if channel.is_too_slow(now)]
        crowd = len(self.active_channels) - len(leaving) - self.crowded
        if crowd > 0:
            gone = set(leaving)
            staying = [channel for channel in self.active_channels.values() if not channel.requests and channel not in gone]
            leaving += sorted(staying, key=lambda channel: float(channel.begun_at or channel.last_activity))[:crowd]
        for channel in leaving:
            channel.will_close = True
            self.look_again.add(channel._fileno)


def open_server(
    app: Callable[..., Any], host: str, port: int, *, threads: int, most_body_bytes: int, is_behind_proxy: bool
) -> CrowdServer:
    """
    A server that listens and does not serve yet; `run` serves.

    Args:
        app: the WSGI application.
        port: 0 takes a free one; `effective_port` says which.
        is_behind_proxy: whether X-Forwarded-* are left for the application to read.

    Raises:
        OSError: the port is taken or not allowed.
    """
    adjustments = Adjustments(
        host=host, port=port, threads=threads, max_request_body_size=most_body_bytes, ident="fieldlog",
        clear_untrusted_proxy_headers=not is_behind_proxy, connection_limit=MOST, backlog=MOST, cleanup_interval=LOOK_S,
        max_request_header_size=HEADER_BYTES,
    )  # fmt: skip
    return CrowdServer(app, adj=adjustments)
