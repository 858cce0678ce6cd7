"""The kiosk: one page for scanner and camera, one for the operator, and an API, all served
from this machine.

`create_app` is the service as an ASGI application, `serve` runs it on a port. Nothing is
shown as recorded before the ledger has it.
"""

from __future__ import annotations

from pairing.kiosk.app import create_app
from pairing.kiosk.secret import Secrets
from pairing.kiosk.serving import serve
from pairing.kiosk.settings import Settings

__all__ = ["Secrets", "Settings", "create_app", "serve"]
