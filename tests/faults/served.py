"""kill -9 at a random moment of a kiosk at work, and the same ledger served again."""

from __future__ import annotations

import http.client
import json
import random
import tempfile
import threading
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from pairing.ledger import Kind, Ledger
from tests.kiosk.conftest import Service
from tests.ledger.making import card, label

_FEWEST = 2
"""Pieces sealed before the kill may come."""
_LONGEST_S = 0.6


class Page:
    """What a kiosk's page does: label, card, box, as fast as it is answered. sealed: entry and
    number of each piece that was acknowledged."""

    def __init__(self, address: str, first: int) -> None:
        parts = urlsplit(address)
        self._opened = http.client.HTTPConnection(parts.hostname or "", parts.port, timeout=20)
        self._headers = {"x-counterfoil": "page", "origin": address.rstrip("/")}
        self._headers["content-type"] = "application/json"
        self._next = first
        self.sealed: list[tuple[int, int]] = []
        self.is_going = threading.Event()
        self.wrong = ""

    def run(self) -> None:
        """Pieces, until the service is gone."""
        try:
            session = self._post("begin")["session"]
            while True:
                number = self._next
                self._next += 1
                for kind, text in (("scan", label(number)), ("scan", card(number))):
                    self._post("entry", session=session, kind=kind, text=text, key=f"{kind}{text}")
                text = label(number)
                done = self._post("entry", session=session, kind="box", text=text, key=f"b{text}")
                (one,) = done["finished"]
                if one["advice"] == "seal":
                    self.sealed.append((one["entry"], number))
                if len(self.sealed) >= _FEWEST:
                    self.is_going.set()
        except (OSError, http.client.HTTPException):
            pass  # killed
        except (AssertionError, KeyError, ValueError) as problem:
            self.wrong = repr(problem)
        finally:
            self.is_going.set()

    def _post(self, what: str, **body: str) -> dict[str, Any]:
        self._opened.request("POST", f"/kiosk/{what}", json.dumps(body), self._headers)
        answer = self._opened.getresponse()
        said = answer.read()
        assert answer.status == 200, said
        return dict(json.loads(said))


def killed(count: int, seed: int) -> tuple[int, list[str]]:
    """So many kills, one after another on the same ledger: every piece that a page was told to
    seal is there with its number, and everything fits."""
    dice, lost, sealed = random.Random(f"kiosk {seed}"), [], 0
    with tempfile.TemporaryDirectory(prefix="counterfoil-faults-") as folder:
        service = Service(Path(folder))
        told: dict[int, int] = {}
        for number in range(count):
            service.start()
            page = Page(service.address, 1 + 1000 * number)
            thread = threading.Thread(target=page.run)
            thread.start()
            page.is_going.wait(30)
            thread.join(dice.uniform(0, _LONGEST_S))
            service.kill()
            thread.join(30)
            told |= dict(page.sealed)
            sealed += len(page.sealed)
            if page.wrong or len(page.sealed) < _FEWEST:
                lost.append(f"kiosk, kill {number}: {page.wrong or 'too few were sealed'}")
            lost += [f"kiosk, kill {number}: {one}" for one in _missing(service.ledger(), told)]
    print(f"  kiosk: {sealed} pieces sealed before {count} kills", flush=True)
    return count, lost


def _missing(opened: Ledger, told: dict[int, int]) -> list[str]:
    with opened as ledger:
        report = ledger.verify()
        if not report.is_clean or ledger.warnings():
            return [f"{report.problem} {ledger.warnings()}"]
        there = {one.sequence: one for one in ledger.entries()}
        return [
            f"entry {entry} of number {number} is not there"
            for entry, number in told.items()
            if entry not in there
            or there[entry].kind is not Kind.PAIRED
            or there[entry].article != label(number)
        ]
