"""Where the CPU of reading a photo's symbols goes, beside one plain call of zxing-cpp.

Run by `python -m tests.benchmarks.decode places [N]` on ../shared/cards (the first N photos a
level, 10 unless given) and on scenes of this folder's own. A place counts as one that read nothing
where it was looked at, or tried by the engines or our own reader, and no symbol came of it; the
first pass over the whole frame and the finding of blocks belong to no place.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any

import cv2
import zxingcpp

from pairing.model import GS
from pairing.photos.barcodes import search
from pairing.photos.barcodes.decoding import is_settled
from pairing.photos.barcodes.symbols import read_symbols
from pairing.photos.files import frames
from tests.benchmarks import decode_camera, decode_cards, decode_scenes
from tests.benchmarks.decode_damage import Gray

_RUNS = 3  # of the plain call, of which the least counts: it takes few milliseconds
_LOOKS: dict[str, Callable[[Any], bool]] = {
    "worth_reading": bool,
    "worth_reading_beside": bool,
    "read_quickly": lambda quick: is_settled(quick.votes),
    "_try_place": bool,
    "_is_read_beside": bool,
}
"""What `search` does with one place, and whether it came to something."""


def plain_zxing(gray: Gray) -> list[str]:
    """One plain call of the library, as a program without us would make it."""
    found = zxingcpp.read_barcodes(
        gray,
        formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.Code128),
        text_mode=zxingcpp.TextMode.Plain,
    )
    return [b.text.removeprefix(GS) for b in found]


@contextmanager
def _timed(spent: dict[bool, float]) -> Iterator[None]:
    """Count the CPU seconds of each look at a place, by whether it came to something."""
    inside = False

    def timing(look: Callable[..., Any], is_fruitful: Callable[[Any], bool]) -> Callable[..., Any]:
        def timed(*args: Any, **kwargs: Any) -> Any:
            nonlocal inside
            if inside:  # a look within a look is its own already
                return look(*args, **kwargs)
            inside, start = True, time.process_time()
            try:
                result = look(*args, **kwargs)
            finally:
                inside = False
            spent[is_fruitful(result)] += time.process_time() - start
            return result

        return timed

    before = {name: getattr(search, name) for name in _LOOKS}
    for name, is_fruitful in _LOOKS.items():
        setattr(search, name, timing(before[name], is_fruitful))
    try:
        yield
    finally:
        for name, look in before.items():
            setattr(search, name, look)


def places(count: int, seed: int) -> None:
    """One line a level: times one plain call, and the share of places that read nothing."""
    cv2.setNumThreads(1)
    if decode_cards.CARDS.is_dir():
        for level in ("phone", "hard", "one"):
            chosen = decode_cards.shared_cards(level)[:count]
            _shown(f"cards {level}", (next(iter(frames(path))).gray for path, _, _ in chosen))
    for level in decode_camera.LEVELS:
        scenes = decode_scenes.scenes(decode_scenes.TRIED, level, count, seed)
        _shown(f"scenes {level}", (scene.gray for scene in scenes))


def _shown(title: str, photos: Iterable[Gray]) -> None:
    plain_s = ours_s = 0.0
    spent: dict[bool, float] = {True: 0.0, False: 0.0}
    for number, gray in enumerate(photos):
        if number == 0:
            read_symbols(gray)  # what is loaded and made once is no photo's
        plain_s += min(_cpu_s(plain_zxing, gray) for _ in range(_RUNS))
        with _timed(spent):
            ours_s += _cpu_s(read_symbols, gray)
    print(
        f"{title:14} {ours_s / plain_s:5.1f} times one plain zxing-cpp call; places that read "
        f"nothing {100 * spent[False] / ours_s:.0f} %",
        flush=True,
    )


def _cpu_s(read: Callable[[Gray], Any], gray: Gray) -> float:
    start = time.process_time()
    read(gray)
    return time.process_time() - start
