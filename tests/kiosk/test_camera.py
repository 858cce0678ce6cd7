"""The camera: Chromium is fed a film of the sample set's photos in place of a webcam."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import cv2
import numpy as np
import pytest

from pairing.ledger import Kind, Via
from pairing.model import How, Side
from tests.kiosk.conftest import Hosted
from tests.kiosk.driving import Browser, Tab, chromium
from tests.kiosk.making import SAMPLES

pytestmark = pytest.mark.usefixtures("lent_reader")

WIDTH_PX, HEIGHT_PX = 1920, 1080
FRAMES_A_S = 4
"""As often as the page looks: each more costs the browser 30 ms of a core to show."""
HELD_S = 2.5

BLUR_PX = 21.0


def film(path: Path, names: Sequence[str], *, blur_px: float = 0.0) -> Path:
    """Photos of the sample set, one after the other, each held still (YUV4MPEG2, 4:2:0)."""
    with path.open("wb") as out:
        out.write(f"YUV4MPEG2 W{WIDTH_PX} H{HEIGHT_PX} F{FRAMES_A_S}:1 Ip A1:1 C420\n".encode())
        for name in names:
            out.write((b"FRAME\n" + _frame(name, blur_px)) * round(HELD_S * FRAMES_A_S))
    return path


def _frame(name: str, blur_px: float) -> bytes:
    whole = cv2.imread(str(SAMPLES / name))
    assert whole is not None
    high, wide = whole.shape[:2]
    scale = min(WIDTH_PX / wide, HEIGHT_PX / high)
    photo = cv2.resize(whole, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)
    high, wide = photo.shape[:2]
    picture = np.full((HEIGHT_PX, WIDTH_PX, 3), 90, np.uint8)
    top, left = (HEIGHT_PX - high) // 2, (WIDTH_PX - wide) // 2
    picture[top : top + high, left : left + wide] = photo
    shown = cv2.GaussianBlur(picture, (0, 0), blur_px) if blur_px else picture
    return cv2.cvtColor(shown, cv2.COLOR_BGR2YUV_I420).tobytes()


@contextmanager
def seeing(address: str, path: Path) -> Iterator[Tab]:
    """The page with the film for a camera, switched on."""
    browser = Browser(
        "--use-fake-ui-for-media-stream",
        "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-video-capture={path}",
    )
    try:
        tab = browser.open(address, permissions=["camera"])
        tab.click("#do-camera")
        yield tab
        assert tab.errors == []
    finally:
        browser.close()


@pytest.fixture
def see(service: Hosted, tmp_path: Path) -> Callable[..., object]:
    """Switches the camera on, on some photos."""
    chromium()

    def start(*names: str, blur_px: float = 0.0) -> object:
        return seeing(service.address, film(tmp_path / "film.y4m", names, blur_px=blur_px))

    return start


def test_label_and_card_with_a_strip(service: Hosted, see: Callable[..., object]) -> None:
    """Piece 0001 of the sample set: agrees by its bars."""
    with see("0001-label.jpg", "0001-card.jpg") as tab:  # type: ignore[attr-defined]
        tab.until("seal", 40)
        assert tab.run(tab.page.locator("#outlines polygon").count()) > 0
    (entry,) = [one for one in service.kept.entries() if one.kind is Kind.PAIRED]
    assert {one.via for one in entry.readings} == {Via.PHOTO}
    assert all(len(one.photo_sha256) == 64 for one in entry.readings)


def test_a_strip_of_another_label(service: Hosted, see: Callable[..., object]) -> None:
    """Piece 0028: the next label's strip in the box, both items in one picture."""
    with see("0028.jpg") as tab:  # type: ignore[attr-defined]
        tab.until("stop", 40)
        assert "neighboring number" in tab.text("#answer")
        # The piece still lies there: its answer stays, and it is not begun again.
        tab.wait(4)
        assert tab.shown() == "stop"
        tab.reads("#eye-says", "Seen: Label, Card, Box.")
        assert tab.shown() == "stop"
        _outlined_in_place(tab)
    assert service.kept.size() == 1
    assert not list(service.kept.pieces())


def test_a_box_that_cannot_be_read_is_asked_for(
    service: Hosted, see: Callable[..., object]
) -> None:
    """Piece 0031: a name where the number belongs."""
    with see("0031-label.jpg", "0031-card.jpg") as tab:  # type: ignore[attr-defined]
        tab.run(tab.page.wait_for_selector("#keying:not([hidden])", timeout=60_000))
        # The label's number must not be before the eyes of whoever keys the box.
        assert not tab.run(tab.page.is_visible("#video"))
        tab.key_in("9407388126041983669011")
        assert tab.answer() == "seal"


def test_a_box_written_by_hand(service: Hosted, see: Callable[..., object]) -> None:
    """Piece 0008, right by hand: read, or asked for; never anything else."""
    with see("0008-label.jpg", "0008-card.jpg") as tab:  # type: ignore[attr-defined]
        tab.run(
            tab.page.wait_for_selector(
                "#keying:not([hidden]), #answer:not([data-answer=none])", timeout=60_000
            )
        )
        assert tab.shown() in ("seal", "none")
    for entry in service.kept.entries():
        assert entry.kind is Kind.PAIRED
        assert [one.how for one in entry.readings if one.side is Side.BOX] == [How.HAND]


def test_a_label_alone_is_said_once_and_the_card_is_asked_to_come_closer(
    see: Callable[..., object],
) -> None:
    """What is said goes to a screen reader: not once for every picture."""
    with see("0001-label.jpg") as tab:  # type: ignore[attr-defined]
        tab.run(tab.page.wait_for_selector("#slot-label[data-state=read]", timeout=60_000))
        count = "window.said = 0; new MutationObserver(() => { window.said += 1; }).observe("
        tab.run(tab.page.evaluate(f"{count}voice, {{ childList: true, characterData: true }})"))
        tab.reads("#eye-says", "Come closer with the card: its bars cannot be read yet.")
        tab.reads("#todo", "Now scan the card.")
        assert tab.run(tab.page.evaluate("window.said")) == 0


def test_a_blurred_picture_is_not_sent(service: Hosted, see: Callable[..., object]) -> None:
    with see("0001-label.jpg", blur_px=BLUR_PX) as tab:  # type: ignore[attr-defined]
        sent: list[str] = []

        async def listen() -> None:  # within the loop, which Playwright may ask for
            tab.page.on("request", lambda one: sent.append(one.url))

        tab.run(listen())
        tab.wait(3)
        tab.reads("#eye-says", "Not sharp yet.")
        assert not [url for url in sent if "frame" in url]


def _outlined_in_place(tab: Tab) -> None:
    """The outlines' picture covers the camera's exactly."""
    video, outlines = (
        tab.run(tab.page.locator(selector).bounding_box()) for selector in ("#video", "#outlines")
    )
    assert outlines == pytest.approx(video, abs=0.5)
