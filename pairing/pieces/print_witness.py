"""What the print on a label tells: how good it is, and where bars are lost, what number it says.

Print is read blind: nothing that bars say is given to the reader. Where one decoder alone reads
the bars, and the print under them surely says the same number, whose check digit holds, those are
two witnesses, and the reading says so. Print alone is never a reading: a label whose bars nobody
read stays unread, with a finding that tells what its print says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from pairing.findings import Code, Finding
from pairing.judge.box import decide
from pairing.model import Quad, Side, Symbol, TrackingNumber, Verdict
from pairing.numbers import is_number, printed
from pairing.photos.barcodes.decoding import tallest_part
from pairing.photos.barcodes.quality import estimate_print
from pairing.photos.barcodes.symbols import SymbolReport
from pairing.photos.barcodes.votes import is_checked
from pairing.photos.files import Frame
from pairing.photos.written import read_label_print, shared_reader, thresholds
from pairing.pieces import office_rules

PRINT = "print"
"""The name under which print bears witness to a symbol."""


FAILING_BELOW = 0.5
"""Estimated grade below which print is said to be failing: letter F of ISO/IEC 15416 (bands
from memory). Labels ask for 1.5 and more (from memory), but a photo's blur and light cost an
estimate one or two grades: measured on sample_scans, well-drawn labels come out at 1 to 3."""


def with_print(frame: Frame, report: SymbolReport) -> SymbolReport:
    """The report with the symbols that one decoder and the print under them bear witness to."""
    confirmed = [one for one in report.lonely if _says(frame, one.symbol)]
    if not confirmed:
        return report
    symbols = [replace(one.symbol, witnesses=(*one.symbol.witnesses, PRINT)) for one in confirmed]
    settled = {one.finding for one in confirmed}
    return replace(
        report,
        symbols=(*report.symbols, *symbols),
        conflicts=tuple(one for one in report.conflicts if one not in settled),
    )


def by_print(symbol: Symbol) -> tuple[Finding, ...]:
    """What is to be said of a symbol that print had to bear witness to."""
    if PRINT not in symbol.witnesses:
        return ()
    witness = ", ".join(one for one in symbol.witnesses if one != PRINT)
    number = printed(office_rules.identified(symbol.text, aim=symbol.aim))
    return (Finding.of(Code.BARS_BY_PRINT, witness=witness, number=number),)


def print_alone(frame: Frame, report: SymbolReport, shows: Side | None) -> tuple[Finding, ...]:
    """What the print says under bars that nobody read, in a photo of a label on which nothing else
    was read; a doubt, for print alone is no reading. () where the print is not read surely, or two
    places say two numbers."""
    if shows is not Side.LABEL or report.symbols or report.conflicts:
        return ()
    said = {text for quad in report.unread for text in _printed_under(frame, quad)}
    if len(said) != 1:
        return ()
    return (
        Finding.of(Code.LABEL_PRINT_ALONE, number=printed(office_rules.identified(said.pop()))),
    )


def _printed_under(frame: Frame, bars: Quad) -> Sequence[str]:
    """Numbers that are surely printed on one side or the other of bars: which end of bars that
    were not read is the first is not known, and their place may have the print in it."""
    a, b, c, d = tallest_part(frame.gray, bars).corners
    upright = Quad(top_left=a, top_right=b, bottom_right=c, bottom_left=d)
    turned = Quad(top_left=c, top_right=d, bottom_right=a, bottom_left=b)
    return [text for quad in (upright, turned) if (text := _sure_print(frame, quad))]


def _sure_print(frame: Frame, bars: Quad) -> str:
    line = read_label_print(frame.gray, bars, shared_reader()).line
    if line is None or not is_number(line.best) or not is_checked(line.best):
        return ""
    return line.best if _agrees(frame, bars, line.best) else ""


def _says(frame: Frame, symbol: Symbol) -> bool:
    """Whether the print under a symbol surely says what its bars were read as."""
    number = office_rules.identified(symbol.text, aim=symbol.aim)
    if not isinstance(number, TrackingNumber) or not is_checked(number.text):
        return False
    return _agrees(frame, symbol.quad, number.text)


def _agrees(frame: Frame, bars: Quad, text: str) -> bool:
    number = office_rules.identified(text)
    line = read_label_print(frame.gray, bars, shared_reader()).line
    if line is None or not isinstance(number, TrackingNumber):
        return False
    groups = number.family.group_sizes
    decision = decide(line, number.text, thresholds=thresholds(), group_sizes=groups)
    return decision.verdict is Verdict.AGREES


def poor_print(frame: Frame, symbol: Symbol) -> tuple[Finding, ...]:
    """A label whose print is failing may not be read on its way."""
    estimate = estimate_print(frame.gray, symbol)
    if estimate is None or estimate.grade >= FAILING_BELOW:
        return ()
    return (
        Finding.of(
            Code.LABEL_PRINT_FAILING,
            grade=f"{estimate.grade:.1f}",
            letter=estimate.letter,
            weakest=estimate.weakest,
        ),
    )
