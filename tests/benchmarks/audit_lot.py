"""A lot of drawn pieces with planted errors of every kind, for tests.benchmarks.audit.

Numbers come from pads (consecutive serials), each piece has a photo of its label and one of its
card, 3 in 100 boxes hold something else than the label's number.
"""

from __future__ import annotations

import csv
import random
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from pairing.compare import CopyError
from pairing.demo.hand import HANDS
from pairing.demo.scenario import STREETS, BoxBy, Piece
from pairing.demo.studio import take_photos
from pairing.judge.box import rivals
from pairing.numbers import MODULES

PLANTED = 0.03
SIZES = (4, 4, 4, 4, 4, 2)
_KINDS = (
    CopyError.ONE_DIGIT, CopyError.ADJACENT_SWAP, CopyError.JUMP_SWAP, CopyError.TWIN,
    CopyError.JUMP_TWIN, CopyError.PHONETIC, CopyError.DROPPED, CopyError.EXTRA,
    CopyError.TRUNCATED, CopyError.GROUP_SWAP, CopyError.SHIFTED, CopyError.CARD_OWN,
    CopyError.OTHER_PIECE, CopyError.PAD_NEIGHBOR,
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """A piece as it was drawn. error: "" where the box repeats the label's number."""

    name: str
    article: str
    card: str
    box: str
    by: str
    error: str


def pieces(count: int, seed: int) -> list[tuple[Piece, Truth]]:
    """The lot, the same for the same seed."""
    rng = random.Random(seed)
    articles = list(_articles(count + 1, rng))
    cards = list(_cards(count, rng))
    wrong = rng.sample(range(count), max(len(_KINDS), round(PLANTED * count)))
    kinds = dict(zip(wrong, (_KINDS[n % len(_KINDS)] for n in range(len(wrong))), strict=True))
    return [_piece(n, articles, cards[n], kinds.get(n), rng) for n in range(count)]


def _piece(
    n: int, articles: list[str], card: str, error: CopyError | None, rng: random.Random
) -> tuple[Piece, Truth]:
    article = articles[n]
    box, error = _box(article, card, articles, error, rng)
    is_whole = error in (None, CopyError.CARD_OWN, CopyError.OTHER_PIECE, CopyError.PAD_NEIGHBOR)
    by = rng.choices(
        (BoxBy.STRIP_BARCODE, BoxBy.STRIP_PRINT, BoxBy.HAND), (4, 2, 4) if is_whole else (0, 2, 8)
    )[0]
    name = f"{n + 1:05}"
    piece = Piece(
        name=name,
        purpose="drawn for a benchmark",
        addressee=rng.choice(list(STREETS)),
        article=article,
        card=card,
        box=box,
        box_bars=box if by is BoxBy.STRIP_BARCODE else "",
        box_by=by,
        hand=rng.choice(list(HANDS)),
    )
    truth = Truth(
        name=name,
        article=article,
        card=card,
        box=box,
        by=by.value,
        error=error.name.lower() if error else "",
    )
    return piece, truth


def _box(
    article: str, card: str, articles: list[str], error: CopyError | None, rng: random.Random
) -> tuple[str, CopyError | None]:
    if error is None:
        return article, None
    if error is CopyError.CARD_OWN:
        return card, error
    if error is CopyError.PAD_NEIGHBOR:
        return articles[(articles.index(article) + 1) % len(articles)], error
    if error is CopyError.OTHER_PIECE:
        return rng.choice([one for one in articles if one != article]), error
    texts = [one.text for one in rivals(article, group_sizes=SIZES) if one.error is error]
    texts = [text for text in texts if len(text) >= 10]
    if not texts:  # no two digits of this number can be mistaken so
        return _box(article, card, articles, CopyError.ONE_DIGIT, rng)
    return rng.choice(texts), error


def _articles(count: int, rng: random.Random) -> Iterator[str]:
    """Pads of a hundred."""
    calc = MODULES["label22"].calc_check_digit
    serial = 0
    for n in range(count):
        if n % 100 == 0:
            serial = rng.randrange(10**8)
        data = f"95890733614{serial + n % 100:010}"
        yield data + calc(data)


def _cards(count: int, rng: random.Random) -> Iterator[str]:
    calc = MODULES["card22"].calc_check_digit
    start = rng.randrange(10**9)
    for n in range(count):
        data = f"95909482{(start + 37 * n) % 10**13:013}"
        yield data + calc(data)


def draw(count: int, seed: int, folder: Path, processes: int) -> list[Truth]:
    """Draw the photos that are not there yet, and `truth.csv`."""
    folder.mkdir(parents=True, exist_ok=True)
    lot = pieces(count, seed)
    with ProcessPoolExecutor(processes) as pool:
        for _ in pool.map(_draw_one, ((one, seed, folder) for one, _ in lot), chunksize=8):
            pass
    truths = [truth for _, truth in lot]
    with (folder / "truth.csv").open("w", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(Truth.__slots__)
        table.writerows([getattr(one, name) for name in Truth.__slots__] for one in truths)
    return truths


def _draw_one(task: tuple[Piece, int, Path]) -> None:
    piece, seed, folder = task
    if all((folder / name).exists() for name in piece.photos):
        return
    for name, photo in take_photos(piece, seed=seed).items():
        (folder / name).write_bytes(photo)


def truths_in(folder: Path) -> dict[str, Truth]:
    """By the piece's name."""
    with (folder / "truth.csv").open(newline="") as file:
        return {row["name"]: Truth(**row) for row in csv.DictReader(file)}
