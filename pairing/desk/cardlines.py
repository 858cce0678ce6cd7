"""Lines at the desk for returned cards become cards: scans, and words that no scan can be."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from pairing.desk.hand import side_of
from pairing.findings import Finding
from pairing.judge.box import Seen, Thresholds
from pairing.model import How, Number, Reading, Rejection, Scan, Side, TrackingNumber
from pairing.numbers import card22
from pairing.wedge import WedgeSetup, parse_keyed, parse_line

_DEFAULT = WedgeSetup()


class Word(StrEnum):
    """What may be typed about the card in hand.

    CARD: its own number, keyed because the bars cannot be scanned. BOX: what a person reads in
    the box. STRIP: the barcode of the strip in the box, in this line or, if it is empty, in
    the next. SIGNED: the date beside the signature. NAME: who signed. NEXT: the card ends.
    AGAIN: what was read on it is forgotten.
    """

    CARD = "card"
    BOX = "box"
    STRIP = "strip"
    SIGNED = "signed"
    NAME = "name"
    NEXT = "next"
    AGAIN = "again"


WORDS = tuple(word.value for word in Word)

_WORD = re.compile(rf"\s*({'|'.join(WORDS)})(?!\w)\s*[:=]?\s*(.*)", re.IGNORECASE | re.DOTALL)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadCard:
    """What was read on one returned card.

    readings: of the sides CARD and BOX; others count for nothing. found: what was found while
    reading. signed, name: as given. photos: source of a reading to the photo's SHA-256.
    seen: writing or print in the box, read blind from a photo; thresholds: for weighing it.
    """

    readings: tuple[Reading, ...]
    found: tuple[Finding, ...] = ()
    signed: date | None = None
    name: str = ""
    photos: dict[str, str] = field(default_factory=dict)
    seen: Seen | None = None
    thresholds: Thresholds | None = None


class CardTray:
    """Takes lines, gives cards. A card ends with `next`, a blank line, the next card's scan,
    or the end."""

    def __init__(self, setup: WedgeSetup = _DEFAULT) -> None:
        self._setup = setup
        self._strip_is_next = False
        self._forget()
        self.remarks: tuple[str, ...] = ()
        """What to tell the clerk about the last line."""

    @property
    def is_empty(self) -> bool:
        """Whether nothing was read on the card in hand."""
        return not self._readings

    def take(self, line: str) -> tuple[ReadCard, ...]:
        """Take one line; the cards that it finished."""
        self.remarks = ()
        word, text = _parted(line)
        strip_is_next, self._strip_is_next = self._strip_is_next, False
        match word:
            case Word.NEXT:
                return self.close()
            case Word.AGAIN:
                self._forget()
                self._say("This card starts anew.")
            case Word.STRIP if not text:
                self._strip_is_next = True
                self._say("Scan the strip in the box.")
            case Word.STRIP:
                self._take_strip(text)
            case Word.BOX | Word.CARD | Word.SIGNED | Word.NAME if not text:
                self._say(f"Type it after the word: {word} ...")
            case Word.BOX:
                self._add(_reading(parse_keyed(text), Side.BOX, How.KEYED))
            case Word.CARD:
                return self._card(_reading(parse_keyed(text), Side.CARD, How.KEYED))
            case Word.SIGNED:
                self._sign(text)
            case Word.NAME:
                self._name = " ".join(text.split())
            case _ if strip_is_next:
                self._take_strip(line)
            case _:
                return self._take_scans(line)
        return ()

    def close(self) -> tuple[ReadCard, ...]:
        """End the card in hand, if anything was read on it."""
        if self.is_empty and not self._found:
            if self._signed or self._name:
                self._say("There is no card for this date or name.")
            self._forget()
            return ()
        card = ReadCard(
            readings=tuple(self._readings),
            found=tuple(self._found),
            signed=self._signed,
            name=self._name,
        )
        self._forget()
        return (card,)

    def _forget(self) -> None:
        self._readings: list[Reading] = []
        self._found: list[Finding] = []
        self._signed: date | None = None
        self._name = ""

    def _say(self, remark: str) -> None:
        self.remarks += (remark,)

    def _take_strip(self, text: str) -> None:
        scans = parse_line(text, self._setup)
        if len(scans) == 1:
            self._add(_reading(scans[0], Side.BOX, How.BARCODE))
        else:
            self._say(f"{len(scans)} scans arrived where the strip's one was awaited; none counts.")

    def _take_scans(self, line: str) -> tuple[ReadCard, ...]:
        done: tuple[ReadCard, ...] = ()
        for scan in parse_line(line, self._setup):
            likely_card = isinstance(scan.number, Rejection) and (
                scan.number.likely == card22.FAMILY.name
            )
            reading = _reading(scan, side_of(scan.number, likely_card), How.BARCODE)
            if reading.side is Side.CARD:
                done += self._card(reading)
            elif isinstance(scan.number, Rejection):
                self._say(f"Not counted: {scan.number.message} {scan.number.action}")
            else:
                self._say(
                    f"Not counted: this is a {scan.number.family.title}, not a card's own number. "
                    "If it is the strip in the box, type strip and scan it."
                )
        return done

    def _card(self, reading: Reading) -> tuple[ReadCard, ...]:
        """A card's own number: another one than the card's in hand begins the next card."""
        own = [one for one in self._readings if one.side is Side.CARD]
        known = {one.number.text for one in own}
        if reading.number.text in known:
            self._say("The same card came twice; it counts once.")
            return ()
        is_whole = any(isinstance(one.number, TrackingNumber) for one in own)
        is_next = is_whole and isinstance(reading.number, TrackingNumber)
        if own and not is_whole and self._has_more():
            # What was said after a scan that came out wrong is about that card, and this may
            # be the next one's.
            is_next = not all(_is_part(one.number.text, reading.number) for one in own)
        done = self.close() if is_next else ()
        if own and not is_whole:
            # A scan that came out wrong says nothing once the whole number is there.
            self._readings = [one for one in self._readings if one not in own]
        self._add(reading)
        return done

    def _has_more(self) -> bool:
        """Whether anything but the card's own number is known of the card in hand."""
        has_box = any(one.side is not Side.CARD for one in self._readings)
        return has_box or bool(self._signed or self._name)

    def _add(self, reading: Reading) -> None:
        self._readings.append(reading)
        number = reading.number
        said = [finding.message for finding in reading.findings]
        if isinstance(number, Rejection) and reading.side is Side.CARD:
            said.insert(0, number.message)
        # Never its digits: the box is to be read before anything is compared.
        self._say(f"{reading.side.value} read" + "".join(f". {one}" for one in said))

    def _sign(self, text: str) -> None:
        try:
            self._signed = date.fromisoformat(text.strip())
        except ValueError:
            self._say(f"{text.strip()!r} is no date; write it as 2026-11-25.")


def _is_part(text: str, number: Number) -> bool:
    """Whether a scan that came out wrong is this number, cut short."""
    return bool(text) and (number.text.startswith(text) or number.text.endswith(text))


def _parted(line: str) -> tuple[Word | None, str]:
    if not line.strip():
        return Word.NEXT, ""
    match = _WORD.fullmatch(line)
    if match is None:
        return None, line
    return Word(match[1].lower()), match[2].strip()


def _reading(scan: Scan, side: Side, how: How) -> Reading:
    return Reading(
        side=side,
        how=how,
        number=scan.number,
        source="keyed" if how is How.KEYED else "scan",
        findings=scan.findings,
    )
