"""A bag of unsorted photos, fronts and backs in no order, put together to pieces."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pairing.audit.matching.assembly import LEAST_MARGIN, Box, Match, match, members
from pairing.audit.run.index import Index, Member
from pairing.audit.run.journal import Journal
from pairing.audit.run.rows import numbers_of, piece_of_lines
from pairing.findings import Code, Finding
from pairing.model import How, Side, TrackingNumber
from pairing.numbers import printed
from pairing.pieces.reading import PieceReadings

Partner = Callable[[str], str | None]
"""The article that a list or a ledger gives a card to."""

_BARS_WRONG = 1e-4
"""Chance that bars say another number than was read. Above what was measured
(tests/benchmarks/decode_wrong.py: none in 1,533 reads); it only has to be small here."""


@dataclass(slots=True)
class _Item:
    """Photos that show one and the same thing. place: of its first photo in the lot."""

    place: int
    article: str | None = None
    card: str | None = None
    photos: list[Member] = field(default_factory=list)


@dataclass(slots=True)
class _Bag:
    """What is in it: pieces photographed whole, labels and cards by themselves, and photos on
    which neither was read."""

    whole: dict[tuple[str | None, str | None], _Item] = field(default_factory=dict)
    labels: dict[str, _Item] = field(default_factory=dict)
    cards: dict[str, _Item] = field(default_factory=dict)
    other: list[_Item] = field(default_factory=list)

    def put(self, place: int, member: Member, piece: PieceReadings, digest: str) -> None:
        """A photo where it belongs. The same thing photographed twice is one item: a label by
        its number, a card by its own, a card without one by the file's SHA-256."""
        article, card = numbers_of(piece)
        if article is not None and _shows_box(piece, card):
            items, key = self.whole, (article, card)
        elif article is not None:
            items, key = self.labels, article  # type: ignore[assignment]
        elif card is not None or _shows_box(piece, card):
            items, key = self.cards, card or f"photo {digest}"  # type: ignore[assignment]
        else:
            self.other.append(_Item(place=place, photos=[member]))
            return
        item = items.setdefault(key, _Item(place=place, article=article, card=card))
        item.photos.append(member)

    def gather(self) -> None:
        """Photos of one side alone go to the piece that was photographed whole besides."""
        for (article, card), item in self.whole.items():
            for lone in (self.labels.pop(article or "", None), self.cards.pop(card or "", None)):
                item.photos += lone.photos if lone else ()


def sort_out(journal: Journal, index: Index, partner: Partner) -> None:
    """Make pieces of the bag's photos, and put down how.

    partner: what an expected list or a ledger knows of a card.
    """
    bag = _Bag()
    for place, member in enumerate(index.wanted()):
        lines = _lines(journal, [member])
        piece = piece_of_lines(member.photo, lines, is_declared=False)
        bag.put(place, member, piece, lines[0].get("sha256", "") if lines else "")
    bag.gather()
    labels, cards = list(bag.labels), list(bag.cards.values())
    known = [partner(card.card) if card.card else None for card in cards]
    boxes = (_box(journal, card, label) for card, label in zip(cards, known, strict=True))
    taken = [item.article for item in bag.whole.values() if item.article]
    matches = match(labels, boxes, taken=taken)
    pieces = [(item, _About()) for item in (*bag.whole.values(), *bag.other)]
    pieces += _matched(bag, cards, matches, known)
    for item, about in sorted(pieces, key=lambda one: one[0].place):
        index.add_piece(
            item.photos[0].photo,
            [(member.photo, "") for member in item.photos],
            about=json.dumps(about.members()),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _About:
    """How a piece's photos came together, as the row has it."""

    match: Mapping[str, Any] | None = None
    finding: Finding | None = None
    is_apart: bool = False

    def members(self) -> dict[str, Any]:
        finding = self.finding
        as_members = finding and {
            "code": finding.code,
            "message": finding.message,
            "action": finding.action,
            "weight": finding.weight.value,
        }
        return {
            "match": self.match,
            "is_apart": self.is_apart,
            "findings": [as_members] if as_members else [],
        }


def _matched(
    bag: _Bag, cards: Sequence[_Item], matches: Sequence[Match], known: Sequence[str | None]
) -> Iterator[tuple[_Item, _About]]:
    claimed: set[str] = set()
    for card, found, named in zip(cards, matches, known, strict=True):
        if found.label is None:
            yield card, _About(finding=Finding.of(Code.NO_LABEL_PHOTO))
            continue
        claimed.add(found.label)
        label = bag.labels[found.label]
        both = _Item(
            place=min(label.place, card.place),
            article=label.article,
            card=card.card,
            photos=[*label.photos, *card.photos],
        )
        yield both, _together(found, is_known=named == found.label)
    for number, label in bag.labels.items():
        if number not in claimed:
            yield label, _About(finding=Finding.of(Code.NO_CARD_PHOTO))


def _together(found: Match, *, is_known: bool) -> _About:
    """is_known: a list or a ledger gives this card to this label, which is among the odds."""
    other = printed(found.runner_up) or None
    odds = round(math.exp(min(found.margin, 27)))
    if found.is_sure:
        code = Code.MATCHED_BY_RECORD if is_known else Code.MATCHED_BY_BOX
        return _About(match=members(found), finding=Finding.of(code, odds=odds, other=other))
    doubt = Finding.of(
        Code.MATCH_IN_DOUBT, odds=odds, least=round(math.exp(LEAST_MARGIN)), other=other
    )
    return _About(match=members(found), finding=doubt, is_apart=True)


def _shows_box(piece: PieceReadings, card: str | None) -> bool:
    if card is not None or any(one.side is Side.BOX for one in piece.readings):
        return True
    return piece.seen is not None and piece.seen.evidence is not None


def _box(journal: Journal, item: _Item, known: str | None) -> Box:
    """What all photos of a card together say of its box. known: `partner`'s word on it."""
    piece = piece_of_lines("", _lines(journal, item.photos), is_declared=False)
    bars = {
        one.number.text
        for one in piece.readings
        if one.side is Side.BOX
        and one.how is How.BARCODE
        and isinstance(one.number, TrackingNumber)
    }
    if len(bars) == 1:
        return _read_by_bars(bars.pop(), item.card, known)
    evidence = piece.seen.evidence if piece.seen and not bars else None
    if evidence is None:
        return Box(best="", log_chances=_nothing, own=item.card, known=known)
    return Box(best=evidence.best, log_chances=evidence.log_likelihoods, own=item.card, known=known)


def _read_by_bars(text: str, own: str | None, known: str | None) -> Box:
    def log_chances(texts: Sequence[str]) -> list[float]:
        # What bars could say instead is no one text in particular.
        return [math.log(1 - _BARS_WRONG if one == text else 1e-12) for one in texts]

    return Box(best=text, log_chances=log_chances, own=own, known=known)


def _nothing(texts: Sequence[str]) -> list[float]:
    return [-math.inf] * len(texts)


def _lines(journal: Journal, found: Sequence[Member]) -> list[dict[str, Any]]:
    return [journal.at(one.at, one.bytes) for one in found if one.at is not None and one.bytes]
