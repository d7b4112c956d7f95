"""Half-sent requests and slow senders, over real sockets: somebody else is still let in."""

import socket
from collections.abc import Iterator
from contextlib import ExitStack
from typing import Any

import pytest
from waitress import wasyncore

from studio import connections
from studio.connections import WHOLE_REQUEST_SECONDS, create_fair_server
from studio.serve import trust_proxy

WHOLE = b"GET /sign-in/ HTTP/1.1\r\nHost: localhost\r\n\r\n"
HALF = WHOLE[:-2]


def connect(port: int) -> socket.socket:
    return socket.create_connection(("127.0.0.1", port), timeout=10)


class Door:
    """A server whose rounds the test itself makes, so that nothing depends on how quick the machine is."""

    def __init__(self, stack: ExitStack, proxy: str = "") -> None:
        self.stack = stack
        self.seen = ""
        own = {"host": "127.0.0.1", "port": 0, "threads": 1}
        self.server = create_fair_server(self.answer, **own, **trust_proxy(proxy))
        self.port = int(self.server.effective_port)

    def answer(self, environ: dict[str, Any], start_response: Any) -> list[bytes]:
        self.seen = environ["REMOTE_ADDR"]
        start_response("200 OK", [("Content-Length", "2")])
        return [b"in"]

    def visit(self, sent: bytes) -> socket.socket:
        visitor = self.stack.enter_context(connect(self.port))
        visitor.sendall(sent)
        self.turn()
        return visitor

    def turn(self, rounds: int = 4) -> None:
        wasyncore.loop(timeout=0.01, map=self.server._map, count=rounds)

    def hears(self, visitor: socket.socket) -> bytes:
        """What the visitor gets; empty when the connection was closed."""
        visitor.setblocking(False)
        for _ in range(500):
            try:
                return visitor.recv(1000)
            except BlockingIOError:
                self.turn(1)
            except ConnectionResetError:
                return b""
        raise AssertionError("nothing was heard")


@pytest.fixture(params=[""])
def door(request: pytest.FixtureRequest) -> Iterator[Door]:
    with ExitStack() as stack:
        door = Door(stack, request.param)
        yield door
        door.server.task_dispatcher.shutdown()
        wasyncore.close_all(door.server._map)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    now = [1000.0]
    monkeypatch.setattr(connections, "monotonic", lambda: now[0])
    return now


def test_a_request_must_be_whole_in_its_time_however_it_drips(door: Door, clock: list[float]) -> None:
    visitor = door.visit(HALF)
    for _ in range(WHOLE_REQUEST_SECONDS // 10 + 1):
        clock[0] += 10
        visitor.sendall(b"a: b\r\n")
        door.turn()
    assert door.hears(visitor) == b""


def test_who_asks_now_and_then_on_one_connection_may_go_on(door: Door, clock: list[float]) -> None:
    visitor = door.visit(WHOLE)
    for _ in range(3):
        assert door.hears(visitor).endswith(b"in")
        clock[0] += WHOLE_REQUEST_SECONDS - 1
        visitor.sendall(WHOLE)


def test_the_longest_waiting_of_whoever_holds_most_places_makes_room(
    door: Door, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "MOST_CONNECTIONS", 3)
    first, second, third = (door.visit(HALF) for _ in range(3))
    neighbour = next(iter(door.server.active_channels.values()))
    neighbour.addr = ("192.0.2.7", 1)
    assert door.hears(door.visit(WHOLE)).endswith(b"in")
    assert door.hears(second) == b""
    for one in (first, third):
        one.sendall(b"\r\n")
        assert door.hears(one).endswith(b"in")


THROUGH_A_PROXY = WHOLE[:-2] + b"X-Forwarded-For: 198.51.100.1, 203.0.113.9\r\n\r\n"


@pytest.mark.parametrize("door", ["127.0.0.1"], indirect=True)
def test_a_trusted_proxy_is_believed_who_asks_and_only_what_it_wrote_itself(door: Door) -> None:
    assert door.hears(door.visit(THROUGH_A_PROXY))
    assert door.seen == "203.0.113.9"


@pytest.mark.parametrize("door", ["", "192.0.2.1"], indirect=True)
def test_nobody_else_is_believed(door: Door) -> None:
    assert door.hears(door.visit(THROUGH_A_PROXY))
    assert door.seen == "127.0.0.1"
