"""The routes of the operator's page that teach and forget forms."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
from anyio import to_thread
from starlette.requests import Request
from starlette.responses import JSONResponse
from starlette.routing import BaseRoute

from pairing.errors import CounterfoilError
from pairing.kiosk import bodies, form_teaching
from pairing.kiosk.addresses import Address, route
from pairing.kiosk.messages import Named, TaughtForm
from pairing.kiosk.pictures import Reader
from pairing.kiosk.refusals import Refused, malformed
from pairing.kiosk.settings import Settings


def routes(
    reader: Reader, settings: Settings, *, check: Callable[[Request], None]
) -> list[BaseRoute]:
    """check: raises Refused for a request without the operator's pass."""

    async def forms(request: Request) -> JSONResponse:
        check(request)
        return JSONResponse({"forms": await to_thread.run_sync(_listed)})

    async def propose(request: Request) -> JSONResponse:
        check(request)
        data, kind = await _photo(request)
        found = await to_thread.run_sync(form_teaching.proposed, reader, data, kind)
        return JSONResponse(found)

    async def teach(request: Request) -> JSONResponse:
        check(request)
        given = _given(request.query_params.get("form", ""))
        data, kind = await _photo(request)
        return JSONResponse(await to_thread.run_sync(_taught, reader, data, kind, given))

    async def remove(request: Request) -> JSONResponse:
        check(request)
        name = (await bodies.decoded(request, Named, settings.json_bytes)).name
        await to_thread.run_sync(_removed, name)
        return JSONResponse({"forms": await to_thread.run_sync(_listed)})

    async def _photo(request: Request) -> tuple[bytes, str]:
        with reader.arriving():
            data = await bodies.raw(request, settings.photo_bytes)
        return data, request.headers.get("content-type", "")

    return [
        route(Address.OPERATOR_FORMS, forms),
        route(Address.OPERATOR_PROPOSE, propose, method="POST"),
        route(Address.OPERATOR_TEACH, teach, method="POST"),
        route(Address.OPERATOR_FORGET, remove, method="POST"),
    ]


def _given(text: str) -> TaughtForm:
    try:
        return msgspec.json.decode(text, type=TaughtForm)
    except (ValueError, RecursionError):
        raise malformed("'form' is the form's name, size and corners, as JSON.") from None


def _listed() -> list[dict[str, object]]:
    try:
        return form_teaching.listed()
    except CounterfoilError as error:
        raise _not_now(error) from error


def _taught(reader: Reader, data: bytes, kind: str, given: TaughtForm) -> dict[str, object]:
    try:
        return form_teaching.taught(reader, data, kind, given)
    except CounterfoilError as error:
        raise _not_now(error) from error


def _removed(name: str) -> None:
    try:
        form_teaching.removed(name)
    except CounterfoilError as error:
        raise _not_now(error) from error


def _not_now(error: CounterfoilError) -> Refused:
    return Refused(status=422, code="form", message=f"{error.what}.", action=error.remedy)
