"""Unsorted photos, fronts and backs in no order, put together to pieces."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import msgspec

from pairing.audit.matching.cards_to_labels import (
    LEAST_MARGIN,
    Box,
    Match,
    least_margin_to_agree,
    match,
)
from pairing.audit.run.joining import Joining, JoiningFinding
from pairing.audit.run.listing import Listing
from pairing.audit.run.lot_pieces import NewPiece, numbers_of, piece_of_lines
from pairing.audit.run.photo_line import PhotoLine
from pairing.audit.run.rows import RowMatch
from pairing.findings import Code
from pairing.model import How, Side, TrackingNumber
from pairing.numbers import derived, printed
from pairing.pieces import office_rules
from pairing.pieces.reading import PieceReadings

Partner = Callable[[str], str | None]
"""The article that a list or a ledger gives a card to."""

_BARS_WRONG = 1e-4
"""Chance that bars say another number than was read. Above what was measured
(tests/benchmarks/decode_wrong.py: none in 1,533 reads); it only has to be small here."""

_BARS_OTHER = 1e-24
"""The same of one other number: of 20 digits and more there are so many."""


@dataclass(slots=True)
class _Item:
    """Photos that show one and the same thing. place: of its first photo in the lot."""

    place: int
    article: str | None = None
    card: str | None = None
    photos: list[str] = field(default_factory=list)


@dataclass(slots=True)
class _Shown:
    """What the photos show: pieces photographed whole, labels and cards by themselves, and photos
    on which neither was read."""

    whole: dict[tuple[str | None, str | None], _Item] = field(default_factory=dict)
    labels: dict[str, _Item] = field(default_factory=dict)
    cards: dict[str, _Item] = field(default_factory=dict)
    other: list[_Item] = field(default_factory=list)

    def put(self, place: int, line: PhotoLine, piece: PieceReadings) -> None:
        """A photo where it belongs. The same thing photographed twice is one item: a label by
        its number, a card by its own, a card without one by the file's SHA-256."""
        article, card = numbers_of(piece)
        if article is not None and _shows_box(piece, card):
            items, key = self.whole, (article, card)
        elif article is not None:
            items, key = self.labels, article  # type: ignore[assignment]
        elif card is not None or _shows_box(piece, card):
            items, key = self.cards, card or f"photo {line.sha256}"  # type: ignore[assignment]
        else:
            self.other.append(_Item(place=place, photos=[line.photo]))
            return
        item = items.setdefault(key, _Item(place=place, article=article, card=card))
        item.photos.append(line.photo)

    def gather(self) -> None:
        """Photos of one side alone go to the piece that was also photographed whole."""
        for (article, card), item in self.whole.items():
            for lone in (self.labels.pop(article or "", None), self.cards.pop(card or "", None)):
                item.photos += lone.photos if lone else ()


def sort_out(listing: Listing, partner: Partner, strictness: str) -> None:
    """Make pieces of the photos, and write down how each was put together.

    partner: what an expected list or a ledger knows of a card; an office's pairing rule is asked
    beside it. strictness: of the verdicts.
    """
    shown = _Shown()
    for place, line in enumerate(listing.lines()):
        shown.put(place, line, piece_of_lines(line.photo, [line], is_declared=False))
    shown.gather()
    labels, cards = list(shown.labels), list(shown.cards.values())
    by_rule = of_rules(labels)
    known = [
        (partner(card.card) or by_rule.get(card.card)) if card.card else None for card in cards
    ]
    taken = [item.article for item in shown.whole.values() if item.article]
    holds: list[str] = []
    boxes = (_box(listing, card, label) for card, label in zip(cards, known, strict=True))
    matches = match(labels, _noted(boxes, holds), taken=taken)
    pieces = [(item, Joining()) for item in (*shown.whole.values(), *shown.other)]
    joined = _matched(shown, cards, matches, known, least_margin_to_agree(strictness))
    pieces += _with_twice(joined, cards, holds, taken)
    pieces.sort(key=lambda one: one[0].place)
    listing.add_pieces(
        NewPiece(
            name=item.photos[0],
            photos=tuple(item.photos),
            about=msgspec.json.encode(joining).decode(),
        )
        for item, joining in pieces
    )


def of_rules(labels: Iterable[str]) -> dict[str, str]:
    """Labels by the card's number that follows from theirs under a pairing rule that the office
    chose: such a card names its label as a list would."""
    rules = [derived.RULES[name] for name in office_rules.chosen()]
    return {
        rule.card_text(label): label for label in labels for rule in rules if rule.is_article(label)
    }


def _noted(boxes: Iterable[Box], holds: list[str]) -> Iterator[Box]:
    """The boxes as they pass, with what each surely says put down."""
    for box in boxes:
        said = box.surely
        holds.append(said if said != box.own else "")
        yield box


def _with_twice(
    joined: Iterable[tuple[_Item, Joining]],
    cards: Sequence[_Item],
    holds: Sequence[str],
    taken: Sequence[str],
) -> Iterator[tuple[_Item, Joining]]:
    """Say of each card whose box holds the number that another card's box holds that one of them
    must be wrong. taken: labels that were photographed together with their cards."""
    count = Counter(holds) + Counter(taken)
    said = {card.photos[0]: text for card, text in zip(cards, holds, strict=True) if text}
    for item, joining in joined:
        text = next((said[photo] for photo in item.photos if photo in said), "")
        is_open = joining.is_apart or joining.match is None
        if is_open and text and count[text] > 1:
            twice = JoiningFinding(
                code=Code.BOX_NUMBER_TWICE,
                parameters={"number": printed(text), "count": count[text]},
            )
            yield item, msgspec.structs.replace(joining, found=(*joining.found, twice))
        else:
            yield item, joining


def _matched(
    shown: _Shown,
    cards: Sequence[_Item],
    matches: Sequence[Match],
    known: Sequence[str | None],
    least: float,
) -> Iterator[tuple[_Item, Joining]]:
    claimed: set[str] = set()
    for card, found, named in zip(cards, matches, known, strict=True):
        if found.label is None:
            yield card, _alone(Code.NO_LABEL_PHOTO)
            continue
        claimed.add(found.label)
        label = shown.labels[found.label]
        both = _Item(
            place=min(label.place, card.place),
            article=label.article,
            card=card.card,
            photos=[*label.photos, *card.photos],
        )
        yield both, _together(found, is_known=named == found.label, least=least)
    for number, label in shown.labels.items():
        if number not in claimed:
            yield label, _alone(Code.NO_CARD_PHOTO)


def _together(found: Match, *, is_known: bool, least: float) -> Joining:
    """is_known: a list or a ledger gives this card to this label, which is among the odds.
    least: the margin (log odds) that an agreeing pair needs."""
    if found.by_order:
        return Joining(match=_row_match(found), is_apart=True, is_probable=True, by_order=True)
    if not found.is_sure:
        doubt = _in_doubt(found, LEAST_MARGIN)
        return Joining(
            match=_row_match(found),
            is_apart=True,
            is_probable=found.is_probable and not is_known,
            found=(doubt,),
        )
    if not is_known:
        # What it would be is said when it is judged.
        match = _row_match(found, counts=False)
        return Joining(match=match, is_apart=True, is_probable=True)
    said = _said(Code.MATCHED_BY_RECORD, found)
    if found.margin < least:  # it may differ, but not agree
        return Joining(match=_row_match(found), found=(said, _in_doubt(found, least)))
    return Joining(match=_row_match(found), found=(said,))


def _in_doubt(found: Match, least: float) -> JoiningFinding:
    return _said(Code.MATCH_IN_DOUBT, found, least=_odds(least))


def _said(code: Code, found: Match, **more: int) -> JoiningFinding:
    other = printed(found.runner_up) or None
    return JoiningFinding(
        code=code, parameters={"odds": _odds(found.margin), "other": other, **more}
    )


def _odds(log_odds: float) -> int:
    return round(math.exp(min(log_odds, 27)))


def _row_match(found: Match, *, counts: bool | None = None) -> RowMatch | None:
    """A match as a row has it."""
    if found.label is None:
        return None
    return RowMatch(
        label=found.label,
        log_odds=round(found.evidence, 2),
        margin_log_odds=round(found.margin, 2),
        next=found.runner_up,
        counts=found.is_sure if counts is None else counts,
    )


def _alone(code: Code) -> Joining:
    return Joining(found=(JoiningFinding(code=code),))


def _shows_box(piece: PieceReadings, card: str | None) -> bool:
    if card is not None or any(one.side is Side.BOX for one in piece.readings):
        return True
    return piece.seen is not None and piece.seen.evidence is not None


def _box(listing: Listing, item: _Item, known: str | None) -> Box:
    """What all photos of a card together say of its box. known: `partner`'s word on it."""
    piece = piece_of_lines("", listing.lines_of(item.photos), is_declared=False)
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
        return [math.log(1 - _BARS_WRONG if one == text else _BARS_OTHER) for one in texts]

    return Box(best=text, log_chances=log_chances, own=own, known=known, most_other=_BARS_OTHER)


def _nothing(texts: Sequence[str]) -> list[float]:
    return [-math.inf] * len(texts)
