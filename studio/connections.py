"""A server that somebody who sends half a request, or a byte a minute, cannot keep from the others.

The server underneath takes no new connection while too many are open, and lets each stay as long as it says something
now and then. Here a request has a time in which it must be whole, and a new connection always finds room: whoever
holds most of the places gives up the one that has waited longest. Only pictures and logs may be large, and only a few
senders of them at once, so that nobody fills the disk with what they send.
"""

from collections import Counter
from copy import copy
from time import monotonic
from typing import Any
from weakref import WeakSet

from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.server import BaseWSGIServer, create_server
from waitress.task import ErrorTask
from waitress.utilities import RequestEntityTooLarge

MOST_CONNECTIONS = 100
WHOLE_REQUEST_SECONDS = 60
IDLE_SECONDS = 30
LARGEST_BODY_BYTES = 2_000_000
LARGEST_HEADERS_BYTES = 65_536
#: Where forms with files are sent: pictures, and the logs of kilns.
LARGEST_FILES_BYTES = {"/pictures/": 50_000_000, "/kiln-logs/": 5_500_000}
MOST_WITH_FILES = 6


# No part of the program is asked for it. A script that sent the form says the paragraph beside its button.
TOO_LARGE = b"""<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<meta name="color-scheme" content="light dark"><title>Too large</title>
<h1>Nothing was saved</h1>
<p class="message error">This is too large to be sent at once.</p>
<p>Go back, and send less of it.</p>
</html>
"""


class FairParser(HTTPRequestParser):
    """One request; what is sent to the pages that take files may be larger than all else."""

    adj: Any
    with_files: WeakSet["FairParser"] = WeakSet()

    def parse_header(self, header_plus: bytes) -> None:
        super().parse_header(header_plus)
        most = [size for begin, size in LARGEST_FILES_BYTES.items() if self.path.startswith(begin)]
        if self.command == "POST" and most and len(self.with_files) < MOST_WITH_FILES:
            self.with_files.add(self)
            roomier = copy(self.adj)
            roomier.max_request_body_size = most[0]
            self.adj = roomier


class TooLarge(RequestEntityTooLarge):
    """What somebody reads who sent too much, instead of the server's own words."""

    def to_response(self, ident: str | None = None) -> tuple[str, list[tuple[str, str]], bytes]:
        return f"{self.code} {self.reason}", [("Content-Type", "text/html; charset=utf-8")], TOO_LARGE


class PlainErrorTask(ErrorTask):
    """An answer that the server gives by itself."""

    def execute(self) -> None:
        if isinstance(self.request.error, RequestEntityTooLarge):
            self.request.error = TooLarge("")
        super().execute()


class FairChannel(HTTPChannel):
    """One connection. The server calls `readable` at each of its rounds, at least once a second."""

    parser_class = FairParser
    error_task_class = PlainErrorTask
    begun_at: float | None = None

    def __init__(self, server: Any, *args: Any, **kwargs: Any) -> None:
        self.opened_at = monotonic()
        make_room(server.active_channels.values())
        super().__init__(server, *args, **kwargs)

    def readable(self) -> bool:
        if self.request is None:
            self.begun_at = None
        elif self.begun_at is None:
            self.begun_at = monotonic()
        elif monotonic() - self.begun_at > WHOLE_REQUEST_SECONDS:
            self.will_close = True
        return bool(super().readable())

    @property
    def waits(self) -> bool:
        """Whether it is the other side's turn: nothing is being worked out for it, or on its way to it."""
        return not (self.requests or self.total_outbufs_len or self.will_close or self.close_when_flushed)


def make_room(channels: Any) -> None:
    """Close one waiting connection where all places are taken, of the address that holds most of them."""
    waiting = [channel for channel in channels if channel.waits]
    if len(channels) < MOST_CONNECTIONS or not waiting:
        return
    held = Counter(channel.addr[0] for channel in waiting)
    last = min(waiting, key=lambda channel: (-held[channel.addr[0]], channel.opened_at))
    last.will_close = True


def create_fair_server(application: Any, **settings: Any) -> Any:
    """waitress's `create_server` with those limits. Raises what it raises."""
    listening: dict[int, Any] = {}
    server = create_server(
        application,
        map=listening,
        # More than there are places: its own limit would let nobody in.
        connection_limit=2 * MOST_CONNECTIONS,
        channel_timeout=IDLE_SECONDS,
        cleanup_interval=5,
        max_request_body_size=LARGEST_BODY_BYTES,
        max_request_header_size=LARGEST_HEADERS_BYTES,
        ident="",
        **settings,
    )
    for each in listening.values():
        if isinstance(each, BaseWSGIServer):
            each.channel_class = FairChannel
    return server
