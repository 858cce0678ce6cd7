"""Each address is written once, and whoever needs it gets it by its route's name."""

from __future__ import annotations

import re
from importlib import resources

import pytest
from starlette.testclient import TestClient

from pairing.kiosk.addresses import Address, url

PACKAGE = resources.files("pairing.kiosk")
SCRIPTS = {
    one.name: one.read_text("utf-8")
    for one in PACKAGE.joinpath("page").iterdir()
    if one.name.endswith(".js")
}


def test_no_file_but_one_spells_an_address() -> None:
    folders = (PACKAGE, PACKAGE.joinpath("page"))
    files = [one for folder in folders for one in folder.iterdir() if one.is_file()]
    stems = {one.prefix for one in Address if one is not Address.KIOSK}
    spelled = {
        (one.name, stem)
        for one in files
        if one.name.endswith((".py", ".js", ".html", ".css"))
        for stem in stems
        if re.search(rf"""["'`]{re.escape(stem)}""", one.read_text("utf-8"))
    }
    assert {name for name, _ in spelled} == {"addresses.py"}


@pytest.mark.parametrize("page", [Address.KIOSK, Address.OPERATOR, Address.ENTER])
def test_whatever_a_page_names_is_served(client: TestClient, page: Address) -> None:
    """A page and the scripts that it loads (HTML: `href`, `src`; ECMAScript: `import`)."""
    shown = client.get(page.value)
    assert shown.headers["content-type"] == "text/html; charset=utf-8"
    named = re.findall(r'(?:href|src)="([^"#]+)"', shown.text)
    assert url("part", name="look.css") in named
    waiting = [one for one in named if one.endswith(".js")]
    seen = set(named)
    while waiting:
        script = client.get(waiting.pop()).text
        new = {url("part", name=one) for one in re.findall(r'from "\./([^"]+)"', script)} - seen
        waiting += new
        seen |= new
    assert url("part", name="addresses.js") in seen
    assert {client.get(one).status_code for one in seen} == {200}


def test_scripts_ask_for_routes_that_there_are() -> None:
    asked = {
        name
        for script in SCRIPTS.values()
        for name in (
            *re.findall(r'(?<![.\w])(?:post|get)\("(\w+)"', script),
            *re.findall(r"\bADDRESSES\.(\w+)", script),
        )
    }
    assert len(asked) > 10
    assert asked <= {one.route_name for one in Address}


def test_an_unknown_route_has_no_address() -> None:
    with pytest.raises(KeyError):
        url("nowhere")
