"""The one piece, or returned card, that the clerk has in hand, and how it grows.

Nothing is guessed. A second label or card before the piece is finished ends it. The box is read
last, so that what is read for one piece is never held against the next one's label. A scan that
was refused keeps its place: only the same number, read whole, takes it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from pairing.desk.arrivals import Heard, heard_of, likely_side, reading_of
from pairing.desk.gathered import Gathered, is_beyond_doubt
from pairing.desk.remarks import Remark, Say
from pairing.desk.rules import PIECE, Collected, Rules, Taken
from pairing.desk.unannounced import question
from pairing.findings import Code, Finding
from pairing.judge.fields import SETTABLE
from pairing.model import (
    CheckRule,
    How,
    Reading,
    Rejection,
    Role,
    Side,
    TrackingNumber,
)
from pairing.wedge import WedgeSetup, parse_keyed, parse_line

Placed = Callable[[Reading], Reading]
"""Puts a scan on the side that records give it, where its own form does not tell."""


class InHand:
    """The piece in hand. rules: what belongs to it. placed: see `Placed`. may_confirm: whether
    somebody is there who can vouch for a keyed label, so that the piece waits for it. is_live:
    whether somebody sees each answer, so that what is unclear is asked about."""

    def __init__(
        self,
        setup: WedgeSetup,
        placed: Placed,
        rules: Rules = PIECE,
        *,
        may_confirm: bool = False,
        is_live: bool = False,
    ) -> None:
        self._setup = setup
        self._placed = placed
        self._rules = rules
        self._may_confirm = may_confirm
        self._is_live = is_live
        self._read = Gathered(is_lenient=rules.is_followed)
        self._doubtful = ""
        """The last scan, where the same once more may be a double read that would pass for
        something else: for the beginning of the next piece, or, of a strip, for the label."""

    @property
    def is_empty(self) -> bool:
        """Whether nothing was read."""
        return self._read.is_empty

    @property
    def label(self) -> TrackingNumber | None:
        """The label's number, for the records alone: it is not to be shown."""
        return self._read.number(Side.LABEL)

    @property
    def card(self) -> str | None:
        """The card's own number, if it was read."""
        number = self._read.number(Side.CARD)
        return number.text if number else None

    @property
    def may_lack_card_number(self) -> bool:
        """Whether the label is of a kind whose card (CN 07) has no number of its own, or an
        operator says that this one has none."""
        label = self.label
        is_s10 = label is not None and label.check_rule is CheckRule.S10_MOD11
        return is_s10 or self._is_said(Code.NUMBERLESS_CONFIRMED)

    @property
    def strip_is_next(self) -> bool:
        """Whether the next scan counts as the strip's."""
        return self._read.strip_is_next

    @property
    def has_keyed_label(self) -> bool:
        """Whether the label's number was keyed and not read by other means."""
        labels = [one for one in self._read.readings if one.side is Side.LABEL]
        return {one.how for one in labels if is_beyond_doubt(one)} == {How.KEYED}

    @property
    def must_be_confirmed(self) -> bool:
        """Whether the label was only keyed, and somebody could vouch for it but has not."""
        is_confirmed = self._is_said(Code.LABEL_CONFIRMED)
        return self._may_confirm and self.has_keyed_label and not is_confirmed

    def _is_said(self, code: Code) -> bool:
        return any(one.code == code for one in self._read.found)

    def has(self, side: Side) -> bool:
        """Whether that side was read beyond doubt."""
        return side in self._read.sides

    def missing(self) -> tuple[Side, ...]:
        """The sides that are not read yet."""
        known = set(self._read.sides)
        if self._is_said(Code.NUMBERLESS_CONFIRMED):
            known.add(Side.CARD)
        return tuple(side for side in self._rules.sides if side not in known)

    def first_missing_before_box(self) -> Side | None:
        """The side that has to be read before the box is; None where the box may be read."""
        if not self._rules.is_box_last:
            return None
        needed = [side for side in self.missing() if side is not Side.BOX]
        if self.may_lack_card_number:
            needed = [side for side in needed if side is not Side.CARD]
        return needed[0] if needed else None

    @property
    def is_only_box_missing(self) -> bool:
        """Whether the box is to be read now, and nothing else."""
        return Side.BOX in self.missing() and self.first_missing_before_box() is None

    def take_up(self, piece: Collected) -> None:
        """A piece that was finished is in hand again, as it was read."""
        self.forget()
        for reading in piece.readings:
            self._read.add(reading)
        self._read.found = list(piece.found)

    def scan(self, text: str) -> Taken:
        """Take what a scanner sent; usually one scan, told by its number's form."""
        if self._read.strip_is_next:
            return self.strip(text)
        line = text.strip()
        if line and line == self._read.last_line:
            self._read.found.append(Finding.of(Code.DOUBLE_READ))
            self._read.other_label = None
            is_strip = self._rules.is_box_last and self.is_only_box_missing
            code = Say.DOUBLE_READ_OR_STRIP if is_strip else Say.DOUBLE_READ
            return Taken(remarks=(Remark(code=code),))
        if line and line == self._doubtful:
            self._doubtful = ""
            return Taken(remarks=(Remark(code=Say.DOUBLE_READ_ASKED),))
        heard: list[Heard] = []
        remarks: list[Remark] = []
        done: list[Collected] = []
        for scan in parse_line(text, self._setup):
            reading = self._placed(reading_of(scan, likely_side(scan), How.BARCODE))
            refusal = self._refusal(reading)
            if refusal is not None:
                remarks.append(refusal)
                continue
            heard.append(heard_of(reading))
            if self._is_of_no_side(reading):
                continue
            if self._read.is_other(reading):
                done += self._end_by(reading)
                if not self._rules.is_followed:
                    line = ""
                    continue
            self._read.add(reading)
            if scan.suggested:
                self._read.suggested[scan.text] = scan.suggested
            self._read.last_line = line
            done += self.end_if_whole()
        self._doubtful = line if done and self._rules.ends else ""
        return Taken(heard=tuple(heard), remarks=tuple(remarks), done=tuple(done))

    def strip(self, text: str) -> Taken:
        """Take the scan of the strip in the box; with an empty text the next scan is it."""
        before = self.first_missing_before_box()
        if before is not None:
            self._read.strip_is_next, self._read.is_strip_refused = False, True
            return Taken(remarks=(Remark(code=Say.STRIP_TOO_EARLY, side=before),))
        self._read.strip_is_next = not text.strip()
        if self._read.strip_is_next:
            return Taken(remarks=(Remark(code=Say.STRIP_NEXT),))
        scans = parse_line(text, self._setup)
        if len(scans) != 1:
            return Taken(remarks=(self._unclear_strip(len(scans)),))
        number = scans[0].number
        if isinstance(number, TrackingNumber) and number.role is Role.CARD:
            return Taken(remarks=(Remark(code=Say.STRIP_IS_CARD),))
        other = self._read.other_label
        if other is not None and other.number.text == number.text:
            self._read.other_label = None  # it was this strip
        taken = self._add_box(reading_of(scans[0], Side.BOX, How.BARCODE))
        self._doubtful = text.strip()
        return taken

    def key(self, side: Side, text: str) -> Taken:
        """Take what a person keyed as the number on that side (label, card or box)."""
        if not text.strip():
            return Taken(remarks=(Remark(code=Say.NUMBER_MISSING, text=side.value),))
        before = self.first_missing_before_box()
        if side is Side.BOX and before is not None:
            return Taken(remarks=(Remark(code=Say.BOX_TOO_EARLY, side=before),))
        self._read.strip_is_next, self._doubtful = False, ""
        scan = parse_keyed(text, self._setup)
        reading = reading_of(scan, side, How.KEYED)
        if side is Side.BOX:
            if self._rules.is_followed:
                self._read.take_back_keyed(Side.BOX, but=reading.number.text)
            return self._add_box(reading)
        natural = self._placed(replace(reading, side=likely_side(scan)))
        is_slip = isinstance(scan.number, Rejection) or natural.side is not side or reading.in_doubt
        if is_slip and self._rules.is_followed:
            self._read.add(reading)  # it still helps to find the mailing
        if is_slip:
            # It says nothing about the piece.
            return Taken(heard=(replace(heard_of(reading), counts=False),))
        refusal = self._refusal(reading)
        if refusal is not None:
            return Taken(remarks=(refusal,))
        done: tuple[Collected, ...] = ()
        if self._read.is_other(reading):
            done = self._end_by(reading)
            if not self._rules.is_followed:
                return Taken(heard=(heard_of(reading),), done=done)
        self._read.add(reading)
        return Taken(heard=(heard_of(reading),), done=(*done, *self.end_if_whole()))

    def see(self, readings: Sequence[Reading], found: Sequence[Finding] = ()) -> Taken:
        """Take what was read in one picture, each with the side that it is on. What this
        piece has already, another picture of it shows again. found: of its card's fields, in place
        of what was found of them before."""
        heard: list[Heard] = []
        done: list[Collected] = []
        # In one picture nothing comes first: the box is held back until the rest is taken.
        for reading in sorted(map(self._placed, readings), key=lambda one: one.side is Side.BOX):
            if self._read.has(reading):
                continue
            heard.append(heard_of(reading))
            if self._read.is_other(reading):
                done += self._end_by(reading)
            else:
                self._read.add(reading)
        if self._read.readings:
            kept = [one for one in self._read.found if one.code not in SETTABLE]
            self._read.found = [*kept, *found]
        return Taken(heard=tuple(heard), done=(*done, *self.end_if_whole()))

    def finish(self) -> tuple[Collected, ...]:
        """The piece ends here, if anything was read on it."""
        read = self._read
        self.forget()
        if read.is_empty:
            return ()
        piece = Collected(readings=tuple(read.readings), found=tuple(read.found))
        # Whose label the box was read for is not known while that question is open.
        return (piece if read.other_label is None else _beside(piece, read.other_label),)

    def forget(self) -> None:
        """Start the piece over."""
        self._read, self._doubtful = Gathered(is_lenient=self._rules.is_followed), ""

    def confirm(self, operator: str, why: str) -> Taken:
        """Somebody vouches for the keyed label; the piece ends where that was all it lacked."""
        if not self.has_keyed_label:
            return Taken(remarks=(Remark(code=Say.CONFIRM_WHAT),))
        if not why:
            return Taken(remarks=(Remark(code=Say.CONFIRM_WHY),))
        self._read.found.append(Finding.of(Code.LABEL_CONFIRMED, operator=operator, why=why))
        return Taken(remarks=(Remark(code=Say.CONFIRMED),), done=self.end_if_whole())

    def vouch(self, said: Finding) -> tuple[Collected, ...]:
        """An operator says something of the piece, which is recorded with it."""
        self._read.found.append(said)
        return self.end_if_whole()

    def take_back_strip(self) -> None:
        """The next scan is not the strip's after all."""
        self._read.strip_is_next = False

    def know_more(self) -> None:
        """More is known of what is in hand than was read, such as a date."""
        self._read.has_beside = True

    def end_if_whole(self) -> tuple[Collected, ...]:
        """The piece, if it ends by itself once nothing is missing."""
        if self.missing() or not self._rules.ends or self.must_be_confirmed:
            return ()
        return self.finish()

    def _add_box(self, reading: Reading) -> Taken:
        self._read.add(reading)
        return Taken(heard=(heard_of(reading),), done=self.end_if_whole())

    def _refusal(self, reading: Reading) -> Remark | None:
        """Why a scan is not taken at all, if it is not."""
        is_scan = reading.how is not How.KEYED
        if self._is_live and self._rules.is_box_last and self.is_only_box_missing:
            asked = question(reading, self._read)
            if asked is not None:
                self._read.other_label = reading if asked.code is Say.STRIP_OR_NEXT else None
                return asked
        if self._read.is_strip_refused and reading.side is Side.LABEL and is_scan:
            self._read.is_strip_refused = False
            return Remark(code=Say.STRIP_OR_LABEL)
        if reading.side is Side.CARD and self._rules.is_box_last and self._has_box_alone():
            return Remark(code=Say.CARD_TOO_LATE)
        if self._is_of_no_side(reading) and isinstance(reading.number, TrackingNumber):
            return Remark(code=Say.OTHER_SIDE_TAKEN)
        return None

    def _is_of_no_side(self, reading: Reading) -> bool:
        """Whether it belongs to no side of a returned card: the sender's receipt, say."""
        return self._rules.is_followed and reading.side not in self._rules.sides

    def _has_box_alone(self) -> bool:
        """Whether the box was read and no card was: a card now may be the next piece's."""
        return Side.BOX in self._read.sides and Side.CARD not in self._read.sides

    def _end_by(self, reading: Reading) -> tuple[Collected, ...]:
        """The piece ends because another one's label or card came."""
        done = self.finish()
        if self._rules.is_followed:
            return done
        return tuple(_beside(one, reading) for one in done)

    def _unclear_strip(self, count: int) -> Remark:
        self._read.found.append(Finding.of(Code.STRIP_UNCLEAR, count=count))
        return Remark(code=Say.STRIP_UNCLEAR, count=count)


def _beside(piece: Collected, reading: Reading) -> Collected:
    """A piece before whose end another one's label or card came."""
    is_label = reading.side is Side.LABEL
    finding = Finding.of(Code.SECOND_LABEL if is_label else Code.SECOND_CARD)
    return replace(piece, besides=(reading,), found=(*piece.found, finding))
