"""A page that talks to the service without a browser."""

from __future__ import annotations

from typing import Any

from starlette.testclient import TestClient

from tests.kiosk.making import PAGE


class Page:
    """One open page."""

    def __init__(self, client: TestClient) -> None:
        self.client = client
        self.session = self.post("/kiosk/begin", {}).json()["session"]
        self.count = 0

    def post(self, path: str, body: dict[str, Any]) -> Any:
        return self.client.post(path, json=body, headers=PAGE)

    def enter(self, kind: str, text: str = "", key: str = "") -> dict[str, Any]:
        self.count += 1
        body = {
            "session": self.session,
            "kind": kind,
            "text": text,
            "key": key or f"{self.session[:16]}-{self.count:08}",
        }
        answer = self.post("/kiosk/entry", body)
        assert answer.status_code == 200, answer.text
        return dict(answer.json())
