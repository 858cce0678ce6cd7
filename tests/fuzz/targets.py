"""What is fuzzed: for each parser and door what good input looks like, and how it is fed.

A target returns where the input was taken or refused in the program's own way; whatever else is
raised is a finding.
"""

from __future__ import annotations

import io
import json
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from PIL import Image
from starlette.testclient import TestClient

from pairing.audit.run.review import Decisions
from pairing.audit.statistics import draws
from pairing.desk.pairlist import read_list
from pairing.errors import CounterfoilError
from pairing.kiosk import Settings, create_app, secret
from pairing.ledger import Ledger, check_proof, exchange
from pairing.numbers import identify
from pairing.photos.files import frames
from pairing.photos.forms.definition import as_bytes, read_form
from pairing.photos.forms.folder import built_in
from pairing.wedge.keyed import parse_keyed
from pairing.wedge.lines import parse_line
from tests.kiosk.making import PAGE, SECRETS
from tests.ledger.making import card, label, pair

SAMPLES = Path(__file__).resolve().parents[2] / "sample_scans"


@dataclass(frozen=True)
class Target:
    """feed: takes one input. corpus: good inputs, that are mutated."""

    feed: Callable[[bytes], None]
    corpus: tuple[bytes, ...]


def _text(feed: Callable[[str], object]) -> Callable[[bytes], None]:
    """Any bytes as a text that the program may be given: surrogates for what is no UTF-8."""
    return lambda data: void(feed(data.decode("utf-8", "surrogateescape")))


def void(_: object) -> None:
    """Nothing."""


def _file(feed: Callable[[Path], object], ending: str) -> Callable[[bytes], None]:
    def fed(data: bytes) -> None:
        path = _place() / f"input{ending}"
        path.write_bytes(data)
        feed(path)

    return fed


_HELD = ExitStack()


@cache
def _place() -> Path:
    return Path(_HELD.enter_context(tempfile.TemporaryDirectory(prefix="counterfoil-fuzz-")))


def _scan(text: str) -> None:
    for scan in parse_line(text):
        assert scan.number.text is not None


def _imported(data: bytes) -> None:
    for _ in exchange.items(io.BytesIO(data), where="fuzz"):
        pass


def _framed(path: Path) -> None:
    for frame in frames(path):
        assert frame.gray.ndim == 2


def _posted(data: bytes) -> None:
    """The first line says where, the rest is what."""
    where, _, body = data.partition(b"\n")
    path = "/" + where.decode("ascii", "ignore").strip().lstrip("/")
    with suppress_httpx():
        headers = {**PAGE, "content-type": "application/json"}
        answer = _client().post(path, content=body, headers=headers)
        assert answer.status_code < 500 or answer.status_code == 503, answer.text
        assert "Traceback" not in answer.text


@contextmanager
def suppress_httpx() -> Iterator[None]:
    """An address that the client itself does not send."""
    import httpx

    with suppress(httpx.InvalidURL, httpx.UnsupportedProtocol):
        yield


@cache
def _client() -> TestClient:
    ledger = _HELD.enter_context(Ledger.open(str(_place() / "ledger.db")))
    app = create_app(ledger, settings=Settings(desk="desk 1"), secrets=SECRETS)
    made = TestClient(app, base_url="http://127.0.0.1", raise_server_exceptions=True)
    return _HELD.enter_context(made)


@cache
def _exported() -> tuple[bytes, ...]:
    """A ledger's lines, and a proof."""
    with tempfile.TemporaryDirectory() as folder, Ledger.open(f"{folder}/l.db") as ledger:
        for number in range(3):
            ledger.append(pair(number, number, particulars={"name": "Invented"}))
        proof = ledger.proof(label(1), with_particulars=True)
        return b"".join(ledger.export_lines(with_particulars=True)), proof


@cache
def pictures() -> tuple[bytes, ...]:
    """One small picture in each format; mutating a few kilobytes reaches more than a megabyte."""
    found = []
    with Image.open(SAMPLES / "0001-card.jpg") as photo:
        small = photo.convert("L").resize((160, 120))
    for kind in ("JPEG", "PNG", "TIFF", "WEBP", "PDF", "GIF"):
        file = io.BytesIO()
        small.save(file, kind)
        found.append(file.getvalue())
    return tuple(found)


_DECISIONS = json.dumps(
    {
        "format": "counterfoil decisions 1",
        "decisions": [
            {"piece": "0001", "photos": ["ab"], "seen": "s", "decision": "misread", "note": "n"}
        ],
    }
).encode()

_LINES = (
    f"420282129{label(1)}", f"]C1420282129\x1d{label(1)}", label(2), card(1), "EE876543216CA",
    f"box {label(1)}", "9999 9999\u00b2", "\x1b[31m", "\u0661\u0662\u0663",
)  # fmt: skip


def _csv() -> bytes:
    rows = "".join(f"{label(n)},{card(n)},Invented {n}\r\n" for n in range(3))
    return f"article,card,name\r\n{rows}".encode()


def targets() -> dict[str, Callable[[], Target]]:
    """Every target by its name; each is made when it is asked for."""
    lines = tuple(one.encode() for one in _LINES)
    return {
        "wedge": lambda: Target(_text(_scan), lines),
        "number": lambda: Target(_text(identify), lines),
        "keyed": lambda: Target(_text(parse_keyed), lines),
        "list": lambda: Target(_file(read_list, ".csv"), (_csv(),)),
        "decisions": lambda: Target(_file(Decisions.read, ".json"), (_DECISIONS,)),
        "sample": lambda: Target(_file(draws.read, ".json"), (_DECISIONS, b'{"pieces": []}')),
        "ledger": lambda: Target(_imported, (_exported()[0],)),
        "proof": lambda: Target(lambda data: void(check_proof(data)), (_exported()[1],)),
        "form": lambda: Target(
            _file(read_form, ".form"), tuple(as_bytes(one)[:20_000] for one in built_in()[:1])
        ),
        "secrets": lambda: Target(_file(secret.load, ".json"), (b'{"pin": "", "token": "x"}',)),
        "photo": lambda: Target(_file(_framed, ".jpg"), pictures()),
        "http": lambda: Target(_posted, _REQUESTS),
    }


_REQUESTS = (
    b"v1/pieces\n" + json.dumps({"scans": [label(1), card(1)], "box": label(1)}).encode(),
    b"kiosk/begin\n{}",
    b'kiosk/entry\n{"session": "x", "kind": "scan", "text": "9", "key": "k"}',
    b"v1/photos\n\xff\xd8\xff",
    b'enter\n{"token": "x"}',
)


def feed(target: Target, data: bytes) -> None:
    """One input; refusals of the program's own are no findings."""
    with suppress(CounterfoilError):
        target.feed(data)
