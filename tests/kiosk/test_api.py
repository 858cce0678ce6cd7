"""The API for other software: against its own OpenAPI document (3.1) and against the command
line's JSON schema."""

from __future__ import annotations

import tempfile
from typing import Any

import jsonschema
import pytest
from starlette.routing import Route
from starlette.testclient import TestClient

from pairing.errors import LedgerUnusable
from pairing.kiosk import Settings, api, openapi
from pairing.kiosk.pictures import Reader
from pairing.ledger import Ledger
from pairing.pieces.report import schema
from tests.kiosk.making import CARD, LABEL, SAMPLES, copied_pieces

DOCUMENT = openapi.document()


def fits(value: object, name: str) -> None:
    """Raise where `value` is not what the document says."""
    jsonschema.validate(
        value, {"$ref": f"#/components/schemas/{name}", "components": DOCUMENT["components"]}
    )


def check(client: TestClient, **offer: Any) -> dict[str, Any]:
    """A piece checked; the answer fits the document."""
    answer = client.post("/v1/pieces", json=offer)
    fits(answer.json(), "Checked" if answer.status_code == 200 else "Refusal")
    return {"status": answer.status_code, **answer.json()}


def test_a_piece_has_the_command_lines_shape(client: TestClient) -> None:
    """All but `minItems` of its photos: scans come without any."""
    own = DOCUMENT["components"]["schemas"]["Piece"]
    theirs = schema()["properties"]["pieces"]["items"]
    assert theirs["properties"]["photos"].pop("minItems") == 1
    assert own == theirs
    assert client.get("/v1/openapi.json").json() == DOCUMENT


def test_the_served_document_is_valid_openapi(client: TestClient) -> None:
    """By openapi-spec-validator (OpenAPI 3.1's own schema); bytes as they are served."""
    validator = pytest.importorskip("openapi_spec_validator", reason="needs openapi-spec-validator")
    served = client.get("/v1/openapi.json").json()
    validator.OpenAPIV31SpecValidator(served).validate()
    assert served["components"]["schemas"]["Offer"]["additionalProperties"] is False


def test_the_document_names_the_routes_that_there_are(ledger: Ledger) -> None:
    with Reader() as reader:
        served = {
            (route.path, method.lower())
            for route in api.routes(ledger, reader, Settings())
            for method in getattr(route, "methods", ())
            if method != "HEAD" and isinstance(route, Route)
        }
    described = {(path, method) for path, found in DOCUMENT["paths"].items() for method in found}
    assert served == described


@pytest.mark.parametrize(
    ("path", "method", "allowed"),
    [
        ("/v1/pieces", "GET", "POST"),
        ("/v1/hello", "DELETE", "GET, HEAD"),
        ("/", "PUT", "GET, HEAD"),
    ],
)
def test_a_method_that_is_not_taken_is_told_which_is(
    client: TestClient, path: str, method: str, allowed: str
) -> None:
    """RFC 9110, 15.5.6; it said GET, HEAD, POST for every address."""
    answer = client.request(method, path)
    assert answer.status_code == 405
    assert ", ".join(sorted(answer.headers["allow"].split(", "))) == allowed


@pytest.mark.parametrize("text", ["%01", "a%0Ab", "%C3%A9", "1%7F", "x" * 101])
def test_only_printable_numbers_are_looked_up(client: TestClient, text: str) -> None:
    """As the document's pattern says; control characters were taken."""
    answer = client.get(f"/v1/numbers/{text}")
    assert (answer.status_code, answer.json()["error"]["code"]) == (400, "malformed")


def test_an_offer_of_nothing_fits_neither_the_document_nor_the_service(client: TestClient) -> None:
    with pytest.raises(jsonschema.ValidationError):
        fits({}, "Offer")
    with pytest.raises(jsonschema.ValidationError):
        fits({"desk": "d"}, "Offer")
    fits({"scans": []}, "Offer")
    assert check(client)["error"]["code"] == "malformed"
    assert check(client, scans=[])["error"]["code"] == "nothing-read"


def test_a_check_records_nothing(client: TestClient, ledger: Ledger) -> None:
    found = check(client, scans=[LABEL, CARD], box=LABEL)
    assert (found["piece"]["verdict"], found["entry"], found["may_seal"]) == ("agrees", None, False)
    assert ledger.size() == 0


def test_a_recorded_piece_counts_once(client: TestClient, ledger: Ledger) -> None:
    offer = {"scans": [LABEL, CARD], "strip": LABEL, "record": True, "key": "k1", "desk": "till 3"}
    first, again = check(client, **offer), check(client, **offer)
    assert (first["may_seal"], first["is_repeated"]) == (True, False)
    assert (again["may_seal"], again["is_repeated"]) == (True, True)
    assert first["entry"] == again["entry"]
    assert first["entry"]["desk"] == "till 3"
    assert ledger.size() == 1
    other = check(client, scans=[CARD], box=LABEL, record=True, key="k1")
    assert (other["status"], other["error"]["code"]) == (409, "key-reused")
    taken = check(client, scans=[LABEL, CARD], box=LABEL, record=True, key="k2")
    assert (taken["may_seal"], taken["entry"]["kind"]) == (False, "stopped")


@pytest.mark.parametrize("row", copied_pieces()[::4], ids=lambda row: row["piece"])
def test_recorded_stops(client: TestClient, row: dict[str, str]) -> None:
    """Answers by the sample set's drawing: the box as it is written."""
    found = check(
        client, scans=[row["card"], row["article"]], box=row["box"], record=True, key=row["piece"]
    )
    assert found["may_seal"] is (row["box"] == row["article"])
    assert found["entry"]["verdict"] == found["piece"]["verdict"]


def test_several_pieces_in_one_offer(client: TestClient, ledger: Ledger) -> None:
    scans = [LABEL, "9407388126041970708426", CARD]
    found = check(client, scans=scans, box=LABEL, record=True, key="k")
    assert (found["status"], found["error"]["code"]) == (422, "not-one-piece")
    assert ledger.size() == 0


def test_a_ledger_out_of_reach(
    client: TestClient, ledger: Ledger, monkeypatch: pytest.MonkeyPatch
) -> None:
    def away(*_: object, **__: object) -> None:
        raise LedgerUnusable("It is away", where="x", remedy="Wait.")

    for name in ("append", "expected", "story"):
        monkeypatch.setattr(ledger, name, away)
    found = check(client, scans=[LABEL, CARD], box=LABEL, record=True, key="k")
    assert (found["status"], found["error"]["code"]) == (503, "not-recorded")
    assert client.get(f"/v1/numbers/{LABEL}").status_code == 503


def test_a_number_and_its_story(client: TestClient) -> None:
    check(client, scans=[LABEL, CARD], box=LABEL, record=True, key="k")
    found = client.get(f"/v1/numbers/{LABEL[:4]} {LABEL[4:]}").json()
    fits(found, "Known")
    assert (found["number"], found["family"], found["role"]) == (LABEL, "label22", "article")
    assert [(one["entry"], one["state"], one["card"]) for one in found["pieces"]] == [
        (1, "open", CARD)
    ]
    wrong = client.get(f"/v1/numbers/{LABEL[:-1]}8").json()
    fits(wrong, "Known")
    assert (wrong["is_valid"], wrong["number"]) == (False, None)


def test_photos_read_by_the_worker(client: TestClient, ledger: Ledger) -> None:
    """Piece 0003 of the sample set: both items in one photo, strip in the box."""
    for name, verdict in (("0003.jpg", "agrees"), ("0028.jpg", "differs")):
        data = (SAMPLES / name).read_bytes()
        answer = client.post("/v1/photos", content=data, headers={"content-type": "image/jpeg"})
        fits(answer.json(), "Batch")
        jsonschema.validate(answer.json(), schema())
        assert answer.json()["pieces"][0]["verdict"] == verdict
        assert answer.json()["pieces"][0]["photos"] == ["photo.jpg"]
        assert tempfile.gettempdir() not in answer.text
    bad = client.post("/v1/photos", content=b"no photo", headers={"content-type": "image/png"})
    fits(bad.json(), "Batch")
    assert bad.json()["skipped"][0]["reason"]
    for kind in ("text/html", "image/gif"):
        answer = client.post("/v1/photos", content=data, headers={"content-type": kind})
        assert answer.status_code == 415
    assert ledger.size() == 0


@pytest.mark.parametrize("mode", ["positive", "negative"])
def test_every_answer_fits_the_document(client: TestClient, mode: str) -> None:
    """schemathesis makes requests from the document, good and bad, and holds the answers
    against it."""
    schemathesis = pytest.importorskip("schemathesis", reason="needs schemathesis")
    from hypothesis import HealthCheck, Phase, given, settings
    from schemathesis import checks
    from schemathesis.specs.openapi import checks as own

    # Not whether each request that fits is taken: scans of two pieces fit, and are refused.
    wanted = [
        checks.not_a_server_error,
        own.status_code_conformance,
        own.content_type_conformance,
        own.response_schema_conformance,
    ]
    described = schemathesis.openapi.from_asgi("/v1/openapi.json", client.app, headers=HEADERS)
    quick = settings(
        max_examples=25,
        deadline=None,
        derandomize=True,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    done = 0
    for result in described.get_all_operations():
        operation = result.ok()
        if operation.path in LEFT_OUT[mode]:
            continue

        @quick
        @given(case=operation.as_strategy(schemathesis.GenerationMode(mode)))
        def holds(case: Any) -> None:
            answer = case.call(headers=HEADERS)
            case.validate_response(answer, checks=wanted)

        holds()
        done += 1
    assert done == {"positive": 3, "negative": 2}[mode]


HEADERS = {"host": "127.0.0.1"}
LEFT_OUT = {
    "positive": ("/v1/photos", "/v1/openapi.json"),
    "negative": ("/v1/photos", "/v1/openapi.json", "/v1/hello"),
}
"""A photo is made of bytes, see above; the document is left out by newer versions of schemathesis;
nothing can be wrong about a hello."""
