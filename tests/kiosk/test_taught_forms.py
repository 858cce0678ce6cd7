"""Forms taught on the operator's page: over the wire, and in a browser with pointer and keys.

The photo is the repository's own (drawn; sample_scans/README.md, piece 0044): a card of 160 x 92 mm
with a comb of 22 cells.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from pairing.photos.forms import folder
from tests.kiosk.conftest import Hosted
from tests.kiosk.driving import Browser
from tests.kiosk.looking import holds
from tests.kiosk.making import PAGE, PIN, SAMPLES

PHOTO = SAMPLES / "0044-card.jpg"


@pytest.fixture(autouse=True)
def office(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path / "forms"))
    yield tmp_path / "forms"


def test_a_form_over_the_wire(client: TestClient) -> None:
    data = PHOTO.read_bytes()
    own = {**PAGE, "content-type": "image/jpeg"}
    assert client.get("/operator/forms").status_code == 401
    for path in ("propose", "teach", "forget"):
        answer = client.post(f"/operator/forms/{path}", content=data, headers=own)
        assert answer.status_code == 401
    opened = client.post("/operator/open", json={"pin": PIN}, headers=PAGE).json()["pass"]
    own["x-counterfoil-pass"] = opened
    as_json = {**PAGE, "x-counterfoil-pass": opened}

    def teach(**changes: Any) -> Any:
        given = {"name": "harbor card", "wide_mm": 160, "high_mm": 92, "card": found["card"],
                 "box": found["box"], **changes}  # fmt: skip
        return client.post("/operator/forms/teach", params={"form": json.dumps(given)},
                           content=data, headers=own)  # fmt: skip

    found = client.post("/operator/forms/propose", content=data, headers=own).json()
    assert (found["kind"], found["cells"]) == ("comb", 22)
    assert (found["width"], found["height"]) == (1556, 963)
    assert teach(name="").json()["error"]["code"] == "malformed"
    assert teach(name="../x").json()["error"]["code"] == "form"
    assert teach(card=[[0, 0]] * 4).json()["error"]["code"] == "form"
    kept = teach()
    assert (kept.status_code, kept.json()["cells"]) == (200, 22)
    assert teach().json()["error"]["code"] == "taken"
    # The command line has it too: one folder.
    assert folder.find("harbor card").size_mm == (160.0, 92.0)
    names = [one["name"] for one in client.get("/operator/forms", headers=as_json).json()["forms"]]
    assert names == ["harbor card", "demo-card-abroad", "demo-card"]
    bad = client.post("/operator/forms/propose", content=b"no photo", headers=own)
    assert bad.json()["error"]["code"] == "photo"

    def forget(name: str) -> Any:
        return client.post("/operator/forms/forget", json={"name": name}, headers=as_json)

    assert forget("demo-card").status_code == 422
    assert len(forget("harbor card").json()["forms"]) == 2
    assert forget("harbor card").json()["error"]["code"] == "form"


def test_a_damaged_file_among_the_forms_is_said(client: TestClient, office: Path) -> None:
    """It was an error of the service's own, 500, to whoever taught another."""
    office.mkdir()
    (office / "damaged.form").write_bytes(b"no form")
    opened = client.post("/operator/open", json={"pin": PIN}, headers=PAGE).json()["pass"]
    own = {**PAGE, "content-type": "image/jpeg", "x-counterfoil-pass": opened}
    corners = [[0, 0], [900, 0], [900, 500], [0, 500]]
    given = {"name": "b", "wide_mm": 160, "high_mm": 92, "card": corners, "box": corners}
    answer = client.post("/operator/forms/teach", params={"form": json.dumps(given)},
                         content=PHOTO.read_bytes(), headers=own)  # fmt: skip
    assert (answer.status_code, answer.json()["error"]["code"]) == (422, "form")
    assert "not a form" in answer.json()["error"]["message"]


def test_the_kiosk_reads_a_card_of_a_form_that_it_was_just_taught(client: TestClient) -> None:
    """Its worker was there before the form, and the folder of forms was not."""
    photo = (SAMPLES / "0045-card.jpg").read_bytes()
    jpeg = {**PAGE, "content-type": "image/jpeg"}

    def box() -> str | None:
        answer = client.post("/v1/photos?shows=card", content=photo, headers=jpeg).json()
        unread: str | None = answer["pieces"][0]["box"]["unread"]
        return unread

    assert box() is not None
    opened = client.post("/operator/open", json={"pin": PIN}, headers=PAGE).json()["pass"]
    own = {**jpeg, "x-counterfoil-pass": opened}
    data = PHOTO.read_bytes()
    found = client.post("/operator/forms/propose", content=data, headers=own).json()
    given = {"name": "h", "wide_mm": 160, "high_mm": 92, "card": found["card"],
             "box": found["box"]}  # fmt: skip
    client.post("/operator/forms/teach", params={"form": json.dumps(given)}, content=data,
                headers=own)  # fmt: skip
    assert box() is None


def test_corners_are_moved_by_pointer_and_by_keys(browser: Browser, service: Hosted) -> None:
    tab = browser.open(f"{service.address}operator")
    tab.run(tab.page.fill("#pin", PIN))
    tab.run(tab.page.keyboard.press("Enter"))
    tab.run(tab.page.wait_for_selector("#forms-list li"))
    tab.run(tab.page.set_input_files("#forms-photo", os.fspath(PHOTO)))
    tab.run(tab.page.wait_for_selector(".corner", timeout=60_000))
    corner = ".corner[data-place='box'][data-at='0']"

    def corner_px() -> list[int]:
        text = tab.run(tab.page.get_attribute(corner, "aria-label"))
        return [int(one) for one in text.partition(": ")[2].split(", ")]

    before = corner_px()
    tab.run(tab.page.focus(corner))
    for key in ("ArrowRight", "ArrowRight", "Shift+ArrowUp"):
        tab.run(tab.page.keyboard.press(key))
    assert corner_px() == [before[0] + 2, before[1] - 10]
    at = tab.run(tab.page.locator(corner).bounding_box())
    x, y = at["x"] + at["width"] / 2, at["y"] + at["height"] / 2
    tab.run(tab.page.mouse.move(x, y))
    tab.run(tab.page.mouse.down())
    tab.run(tab.page.mouse.move(x - 30, y + 20))
    tab.run(tab.page.mouse.up())
    moved = corner_px()
    assert moved[0] < before[0]
    assert moved[1] > before[1]
    holds(tab, "the corners are shown")
    tab.run(tab.page.fill("#forms-name", "harbor card"))
    tab.run(tab.page.fill("#forms-wide", "160"))
    tab.run(tab.page.fill("#forms-high", "92"))
    tab.run(tab.page.press("#forms-high", "Enter"))
    tab.run(tab.page.wait_for_selector("#forms-list button", timeout=60_000))
    form = folder.find("harbor card")
    assert form.box[0][0] < 8.0  # drawn there
    tab.click("#forms-list button")
    tab.run(tab.page.wait_for_selector("#forms-list button", state="detached"))
    assert folder.forms() == ()
    tab.close()
