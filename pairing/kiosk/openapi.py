"""The OpenAPI 3.1 document of the API, made from the types that bodies are decoded into and
answers are made of."""

from __future__ import annotations

from typing import Any

import msgspec

from pairing.kiosk import messages
from pairing.kiosk.addresses import Address
from pairing.kiosk.pictures import KINDS
from pairing.pieces import report

LONGEST_NUMBER = 100
NUMBER_PATTERN = f"^[ -~]{{1,{LONGEST_NUMBER}}}$"
"""What may be looked up: printable ASCII."""

SHOWS = ("label", "card", "both")

_REF = "#/components/schemas/{name}"
_DESCRIPTION = (
    "Checks that a return-receipt card repeats the number on its mailing's label. A piece's JSON "
    "has the shape of the command line's. Where the service is open to other machines, every "
    "request needs the access token."
)
_RECORDS = (
    "With `record` the verdict is in the ledger before the answer is given; only `may_seal` says "
    "that the piece is there as sealed. The same `key` sent again gives the first entry and "
    "records nothing twice."
)
_ANY_READING = [{"required": [name]} for name in ("scans", "strip", "box")]
"""An offer must hold something that was read."""


def _json(name: str | None) -> dict[str, Any]:
    schema = {"type": "object"} if name is None else {"$ref": _REF.format(name=name)}
    return {"application/json": {"schema": schema}}


def _responses(says: str, name: str | None, *refused: int) -> dict[str, Any]:
    refusal = {"$ref": "#/components/responses/Refusal"}
    return {
        "200": {"description": says, "content": _json(name)},
        **{str(status): refusal for status in refused},
        "default": refusal,
    }


_PHOTO = {"schema": {"type": "string", "format": "binary"}}

_PATHS: dict[str, Any] = {
    Address.API_HELLO.value: {
        "get": {
            "operationId": "hello",
            "summary": "Whether the service is there.",
            "responses": _responses("It is.", "Hello"),
        }
    },
    Address.API_DOCUMENT.value: {
        "get": {
            "operationId": "document",
            "summary": "This document.",
            "responses": _responses("This document.", None),
        }
    },
    Address.API_PIECES.value: {
        "post": {
            "operationId": "checkPiece",
            "summary": "Check one piece, and record it if asked to.",
            "description": _RECORDS,
            "requestBody": {"required": True, "content": _json("Offer")},
            "responses": _responses("The verdict.", "Checked", 400, 409, 413, 415, 422, 503),
        }
    },
    Address.API_PHOTOS.value: {
        "post": {
            "operationId": "readPhoto",
            "summary": "Read one photo, in a process of its own, and judge what it shows.",
            "description": "The answer is a batch of one piece, as `counterfoil photos` gives "
            "it. Nothing is recorded or kept.",
            "parameters": [
                {
                    "name": "shows",
                    "in": "query",
                    "required": False,
                    "schema": {"enum": list(SHOWS)},
                    "description": "Which side of the piece the photo shows.",
                }
            ],
            "requestBody": {"required": True, "content": dict.fromkeys(KINDS, _PHOTO)},
            "responses": _responses("What was read.", "Batch", 400, 413, 415, 503),
        }
    },
    Address.API_NUMBERS.value: {
        "get": {
            "operationId": "lookUp",
            "summary": "What a number is, and what the ledger knows of it.",
            "parameters": [
                {
                    "name": "text",
                    "in": "path",
                    "required": True,
                    "schema": {"type": "string", "pattern": NUMBER_PATTERN},
                    "description": "As read; spaces and a routing prefix may be in it.",
                }
            ],
            "responses": _responses("What it is.", "Known", 400, 404, 503),
        }
    },
}


def document() -> dict[str, Any]:
    """The document. A piece and a batch are described by the command line's own schema, so that
    the two cannot differ; a piece from scans has no photos."""
    types = (messages.Hello, messages.Offer, messages.Checked, messages.Known, messages.Refusal)
    _, schemas = msgspec.json.schema_components(types, ref_template=_REF)
    batch = report.schema()
    piece = batch["properties"]["pieces"]["items"]
    del piece["properties"]["photos"]["minItems"], batch["$schema"]
    batch["properties"]["pieces"]["items"] = {"$ref": _REF.format(name="Piece")}
    schemas["Checked"]["properties"]["piece"] = {"$ref": _REF.format(name="Piece")}
    schemas["Offer"]["anyOf"] = _ANY_READING
    refusal = {"description": "Not served; why.", "content": _json("Refusal")}
    return {
        "openapi": "3.1.0",
        "info": {"title": "Counterfoil", "version": "1.0.0", "description": _DESCRIPTION},
        "servers": [{"url": "/"}],
        "security": [{}, {"token": []}],
        "paths": _PATHS,
        "components": {
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
            "responses": {"Refusal": refusal},
            "schemas": {**schemas, "Piece": piece, "Batch": batch},
        },
    }
