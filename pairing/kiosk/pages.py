"""The pages and what they are made of: files of this package, each listed, nothing else."""

from __future__ import annotations

import hashlib
from importlib import resources
from importlib.resources.abc import Traversable

from jinja2 import DictLoader, Environment
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute

from pairing.kiosk import addresses
from pairing.kiosk.addresses import Address, route
from pairing.kiosk.refusals import not_found
from pairing.kiosk.settings import LANGUAGES

_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".json": "application/json",
}
_PAGES = {
    Address.KIOSK: "kiosk.html",
    Address.OPERATOR: "operator.html",
    Address.ENTER: "enter.html",
}


def routes() -> list[BaseRoute]:
    """Routes to the pages; their files are read once, and addresses put into the pages by name."""
    folder = resources.files("pairing.kiosk")
    files = _read(folder.joinpath("page"))
    templates = {name: files.pop(name) for name in tuple(files) if _suffix(name) == ".html"}
    pages = _filled(templates)
    files["addresses.js"] = addresses.script()
    texts = _read(folder.joinpath("texts"))
    texts = {name: data for name, data in texts.items() if name.removesuffix(".json") in LANGUAGES}

    async def page(request: Request) -> Response:
        return _file(request, pages, request.url.path, ".html")

    async def part(request: Request) -> Response:
        return _file(request, files, request.path_params["name"])

    async def words(request: Request) -> Response:
        return _file(request, texts, request.path_params["name"])

    return [
        *(route(address, page) for address in _PAGES),
        route(Address.PART, part),
        route(Address.TEXTS, words),
    ]


def _read(folder: Traversable) -> dict[str, bytes]:
    return {one.name: one.read_bytes() for one in folder.iterdir() if _suffix(one.name) in _TYPES}


def _suffix(name: str) -> str:
    return name[name.rfind(".") :] if "." in name else ""


def _filled(templates: dict[str, bytes]) -> dict[str, bytes]:
    """The pages by their addresses, made of each other; templates ask for addresses as
    `url(route, ...)`."""
    texts = {name: text.decode("utf-8") for name, text in templates.items()}
    made = Environment(autoescape=True, loader=DictLoader(texts))
    return {
        address.value: made.get_template(name).render(url=addresses.url).encode("utf-8")
        for address, name in _PAGES.items()
    }


def _file(request: Request, files: dict[str, bytes], name: str, suffix: str = "") -> Response:
    data = files.get(name)
    if data is None:
        raise not_found()
    tag = f'"{hashlib.sha256(data).hexdigest()[:24]}"'
    headers = {"etag": tag, "cache-control": "no-cache"}
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers=headers)
    return Response(data, media_type=_TYPES[suffix or _suffix(name)], headers=headers)
