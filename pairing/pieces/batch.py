"""A batch of photographed pieces: read each, then judge each with the others in view."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import islice

from pairing.errors import CounterfoilError
from pairing.findings import Code, Finding
from pairing.judge import Weighed, judge, sides, weigh
from pairing.judge.box import Seen, Stretch, Thresholds
from pairing.judge.fields import FieldSeen, before_mailing
from pairing.model import EarlierUse, ExpectedPair, How, Judgment, Reading, Side
from pairing.photos.pool import Pool, Task, cores
from pairing.photos.written import thresholds as standard_thresholds
from pairing.pieces.photo_groups import Photo, PhotoPiece
from pairing.pieces.reading import PhotoReadings, PieceReadings, Skipped, read_photo_at, read_piece
from pairing.wedge import parse_keyed

_MOST_OTHERS = 8
_MOST_ALIKE = 2
"""One may be the piece itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceResult:
    """A piece, everything read on it, and its verdict. seen: its box, read blind; weighed:
    what came of that beside the label's number."""

    piece: PhotoPiece
    readings: tuple[Reading, ...]
    judgment: Judgment
    seen: Seen | None = None
    weighed: Weighed = field(default_factory=Weighed)
    fields: tuple[FieldSeen, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchResult:
    """pieces: those with at least one usable photo, and those that a list or their photos'
    names declare. skipped: photos that were not used.
    missing: one sentence for each decoder that this machine lacks."""

    pieces: tuple[PieceResult, ...]
    skipped: tuple[Skipped, ...]
    missing: tuple[str, ...]


def read_all(
    pieces: Iterable[PhotoPiece], *, workers: int | None = None
) -> Iterator[PieceReadings]:
    """Each piece's readings in the order of `pieces`, as they come, so that progress can be
    shown.

    The photos are searched in `workers` child processes (one for each processor by default), each
    of which is handed the photo that it reads and can open no other: one that crashes a decoder, or
    wants all memory, is skipped with its reason, and the rest goes on.
    """
    waiting: deque[_Waiting] = deque()
    pool: Pool[tuple[_Waiting, int], PhotoReadings] = Pool(workers or cores(), is_confined=True)
    for (piece, at), result in pool.run(_tasks(pieces, waiting)):
        piece.results[at] = result
        while waiting and waiting[0].is_complete:
            yield waiting.popleft().read()
    # Pieces without a photo bring no result of their own.
    yield from (piece.read() for piece in waiting)


@dataclass(slots=True, eq=False)
class _Waiting:
    """A piece of which some photos are still being read."""

    piece: PhotoPiece
    results: dict[int, PhotoReadings | CounterfoilError] = field(default_factory=dict)

    @property
    def is_complete(self) -> bool:
        return len(self.results) == len(self.piece.photos)

    def read(self) -> PieceReadings:
        """The piece's readings. Raises what is no fault of a photo."""
        results = iter(self.results[at] for at in range(len(self.piece.photos)))

        def read(_: Photo) -> PhotoReadings:
            result = next(results)
            if isinstance(result, CounterfoilError):
                raise result
            return result

        return read_piece(self.piece, read=read)


def _tasks(
    pieces: Iterable[PhotoPiece], waiting: deque[_Waiting]
) -> Iterator[Task[tuple[_Waiting, int], PhotoReadings]]:
    """One task a photo; each piece is put in line when its first photo is asked for."""
    for piece in pieces:
        one = _Waiting(piece)
        waiting.append(one)
        for at, photo in enumerate(piece.photos):
            yield (one, at), partial(read_photo_at, photo.shows), photo.path


def with_written(piece: PieceReadings, text: str) -> PieceReadings:
    """The same piece with what a person read in its box, keyed without help."""
    scan = parse_keyed(text)
    reading = Reading(
        side=Side.BOX,
        how=How.KEYED,
        number=scan.number,
        source="keyed",
        findings=scan.findings,
    )
    return replace(piece, keyed=(*piece.keyed, reading))


def with_answers(piece: PieceReadings, answers: Mapping[Stretch, str]) -> PieceReadings:
    """The same piece with what a person read in some stretches of the text that was seen; the
    label's number unseen."""
    return replace(piece, answers=tuple(answers.items()))


def judge_all(
    batch: Sequence[PieceReadings],
    *,
    expected: Sequence[ExpectedPair] = (),
    thresholds: Thresholds | None = None,
) -> BatchResult:
    """Judge every piece, first by itself, then knowing the numbers of the others.

    The others' numbers name what is written in a wrong box and find labels and cards that are
    used twice; they take no part in any reading. thresholds: for writing and print in the
    box; by default those for one wrong "agrees" in 10,000 differing pairs.
    """
    rule = thresholds or standard_thresholds()
    usable = [piece for piece in batch if piece.photos or piece.piece.is_declared]
    alone = [judge(piece.readings, expected=expected, found=found_on(piece)) for piece in usable]
    uses = [
        EarlierUse(piece=f"piece {piece.piece.name}", article=judgment.article, card=judgment.card)
        for piece, judgment in zip(usable, alone, strict=True)
    ]
    contexts = _contexts(uses, expected, rule)
    return BatchResult(
        pieces=tuple(map(judge_piece, usable, contexts)),
        skipped=tuple(row for piece in batch for row in piece.skipped),
        missing=tuple(
            dict.fromkeys(
                line for piece in batch for photo in piece.photos for line in photo.missing
            )
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceContext:
    """What is known about one piece from elsewhere.

    expected, earlier, others: as `judge` takes them. found: findings from outside the photos.
    """

    thresholds: Thresholds
    expected: Sequence[ExpectedPair] = ()
    earlier: Sequence[EarlierUse] = ()
    others: Mapping[str, str] = field(default_factory=dict)
    found: Sequence[Finding] = ()


def judge_piece(piece: PieceReadings, context: PieceContext) -> PieceResult:
    """One piece's verdict: the only way from readings of photos to a verdict, for `photos`,
    the kiosk, and the audit.

    What was seen in the box meets the label's number only here.
    """
    label, card = sides.label(piece.readings).number, sides.card(piece.readings).number
    weighed = weigh(
        piece.seen,
        piece.readings,
        article=label,
        card=card.text if card else None,
        others=context.others,
        thresholds=context.thresholds,
        answers=dict(piece.answers),
    )
    readings = (*piece.readings, *weighed.readings)
    return PieceResult(
        piece=piece.piece,
        readings=readings,
        judgment=judge(
            readings,
            expected=context.expected,
            earlier=context.earlier,
            others=context.others,
            found=(*found_on(piece), *weighed.findings, *context.found),
        ),
        seen=piece.seen,
        weighed=weighed,
        fields=piece.fields,
    )


def _contexts(
    uses: Sequence[EarlierUse], expected: Sequence[ExpectedPair], thresholds: Thresholds
) -> Iterator[PieceContext]:
    """For each piece of a batch, what the others tell about it."""
    by_number, others = _by_number(uses), _named(uses)
    for use in uses:
        yield PieceContext(
            thresholds=thresholds,
            expected=expected,
            earlier=_others_with_its_numbers(use, by_number),
            others=others,
        )


def _named(uses: Sequence[EarlierUse]) -> Mapping[str, str]:
    """Every label's and card's number to words for it; the first piece that bears it names it."""
    named = {use.card: f"the card of {use.piece}" for use in reversed(uses) if use.card}
    named.update({use.article: use.piece for use in reversed(uses) if use.article})
    return named


def found_on(piece: PieceReadings) -> tuple[Finding, ...]:
    """What was found while reading; a photo that nobody saw may show anything."""
    unseen = tuple(
        Finding.of(Code.PHOTO_SKIPPED, photo=row.photo.path.name, reason=row.reason)
        for row in piece.skipped
    )
    return (*piece.found, *unseen, *before_mailing(piece.fields))


def _by_number(uses: Sequence[EarlierUse]) -> Mapping[str, list[EarlierUse]]:
    """The first pieces with each pair of numbers, by either number. Of equal pieces two tell
    the story, and a stack of them must not hide one that is not equal."""
    index: dict[str, list[EarlierUse]] = {}
    alike: Counter[tuple[str | None, str | None]] = Counter()
    for use in uses:
        pair = (use.article, use.card)
        alike[pair] += 1
        for number in filter(None, pair if alike[pair] <= _MOST_ALIKE else ()):
            index.setdefault(number, []).append(use)
    return index


def _others_with_its_numbers(
    use: EarlierUse, by_number: Mapping[str, list[EarlierUse]]
) -> tuple[EarlierUse, ...]:
    """Other pieces that share this one's article or card number, each once."""
    found: dict[int, EarlierUse] = {}
    for number in (use.article, use.card):
        sharing = by_number.get(number, ()) if number else ()
        # A few tell the story; a stack of equal photos must not cost its square.
        for other in islice(sharing, _MOST_OTHERS + 1):
            if other is not use:
                found[id(other)] = other
    return tuple(found.values())
