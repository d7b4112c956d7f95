"""`python -m studio.serve`: the studio on this machine's own address, for a browser beside it."""

import errno
import os
import signal
import sys
from types import FrameType
from typing import Any

import django

from studio.connections import create_fair_server
from studio.starting import plainly

THREADS = 4
LOOPBACK = ("127.0.0.1", "localhost", "::1")


class CannotServe(Exception):
    """Why the studio cannot be served, as a sentence for the person who started it."""


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    signal.signal(signal.SIGTERM, _stop)
    try:
        with plainly():
            django.setup()
            check_database()
            server = open_server(read_bind(), read_port())
            lines = describe_start(read_bind(), getattr(server, "effective_port", read_port()))
    except CannotServe as error:
        sys.exit(str(error))
    for line in lines:
        print(line, flush=True)
    server.run()


def read_bind() -> str:
    return os.environ.get("STUDIO_BIND", "").strip().strip("[]") or LOOPBACK[0]


def read_port() -> int:
    """PORT, 8000 when unset; 0 lets the system choose one."""
    text = os.environ.get("PORT", "").strip() or "8000"
    if not text.isascii() or not text.isdigit() or len(text) > 5 or int(text) > 65535:
        raise CannotServe(f"PORT is {text!r}: write a number from 1 to 65535.")
    return int(text)


def check_database() -> None:
    """Refuse to serve a database that cannot be opened, or that older or newer code has left behind."""
    from studio.kit.schema import require_current

    require_current()


def open_server(bind: str, port: int) -> Any:
    """A waitress server that holds the port; `.run()` answers until it is stopped."""
    from django.conf import settings

    from studio.wsgi import application

    try:
        return create_fair_server(
            application,
            host=bind,
            port=port,
            threads=THREADS,
            url_scheme="https" if settings.HTTPS else "http",
            **trust_proxy(settings.STUDIO_PROXY),
        )
    except ValueError as error:
        # The server says it in this way when the name has no address.
        raise CannotServe(
            f"STUDIO_BIND is {bind!r}, which is no address: write one of this machine's own, such as 192.0.2.10,"
            " or 0.0.0.0 for all of them."
        ) from error
    except OSError as error:
        raise CannotServe(_explain(error, bind, port)) from error


def trust_proxy(address: str) -> dict[str, Any]:
    """Believe the proxy at this address, and nobody else, who it is that asks through it; "" for no proxy."""
    if not address:
        return {}
    return {"trusted_proxy": address, "trusted_proxy_count": 1, "trusted_proxy_headers": {"x-forwarded-for"}}


def _explain(error: OSError, bind: str, port: int) -> str:
    if error.errno == errno.EADDRINUSE:
        return f"Port {port} is taken by another program. Choose another one: PORT={port + 1} make run"
    if error.errno == errno.EACCES:
        return f"Port {port} needs more rights than you have. Choose one above 1023: PORT=8000 make run"
    return f"The studio cannot be served on {bind}, port {port}: {error.strerror or error}."


def describe_start(bind: str, port: int) -> list[str]:
    """What to tell the person who started it: where to look and, in an empty studio, how to begin."""
    from django.conf import settings
    from django.contrib.auth import get_user_model

    from studio.kit.welcome import welcome_key

    host = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(bind, bind)  # noqa: S104 - compared, not bound
    address = f"http://[{host}]:{port}/" if ":" in host else f"http://{host}:{port}/"
    lines = [f"The studio is open at {address} (Ctrl-C closes it)."]
    if bind not in LOOPBACK and not settings.STUDIO_HOSTS:
        lines.append("Other devices are turned away until STUDIO_HOSTS names this machine as they call it.")
    if not get_user_model().objects.exists():
        lines.append(f"Open {address}welcome/?key={welcome_key()} to set up the studio.")
    return lines


def _stop(_signal: int, _frame: FrameType | None) -> None:
    # waitress lets running requests end when it sees SystemExit; a plain SIGTERM would cut them off.
    raise SystemExit(0)


if __name__ == "__main__":
    main()
