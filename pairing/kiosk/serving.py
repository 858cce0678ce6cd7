"""The service on a port."""

from __future__ import annotations

import socket
from collections.abc import Callable

import uvicorn

from pairing.errors import CounterfoilError
from pairing.kiosk.app import create_app
from pairing.kiosk.connections import KEEP_ALIVE_S, PatientProtocol
from pairing.kiosk.secret import SecretFile, Secrets
from pairing.kiosk.settings import Settings
from pairing.ledger import Ledger

_MOST_AT_ONCE = 256
"""Requests under way at one time; what comes beyond is answered 503 by the server."""

_LONGEST_HEAD_BYTES = 16_384
_GRACE_S = 5


def serve(
    ledger: Ledger,
    *,
    settings: Settings,
    secrets: Secrets,
    secret_file: SecretFile | None = None,
    on_ready: Callable[[str], None] = lambda _: None,
) -> None:
    """Serve until the process is told to stop (SIGINT, SIGTERM).

    on_ready: called with the address once connections are taken. Raises CounterfoilError
    where the address cannot be had.
    """
    listening = _bound(settings)
    host, port = listening.getsockname()[:2]
    shown = f"[{host}]" if ":" in host else host
    config = uvicorn.Config(
        create_app(ledger, settings=settings, secrets=secrets, secret_file=secret_file),
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        ws="none",
        lifespan="on",
        limit_concurrency=_MOST_AT_ONCE,
        timeout_keep_alive=KEEP_ALIVE_S,
        timeout_graceful_shutdown=_GRACE_S,
        h11_max_incomplete_event_size=_LONGEST_HEAD_BYTES,
        http=PatientProtocol,
    )
    with listening:
        on_ready(f"http://{shown}:{port}/")
        uvicorn.Server(config).run(sockets=[listening])


def _bound(settings: Settings) -> socket.socket:
    """A listening socket. Port 0 takes any free one."""
    try:
        found = socket.getaddrinfo(
            settings.host, settings.port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )
        family, kind, protocol, _, address = found[0]
        listening = socket.socket(family, kind, protocol)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(address)
        listening.listen(128)
    except (OSError, UnicodeError) as error:
        raise CounterfoilError(
            f"The kiosk cannot listen there ({getattr(error, 'strerror', None) or error})",
            where=f"{settings.host}:{settings.port}",
            remedy="Name another --host or --port, or end what uses it.",
        ) from error
    return listening
