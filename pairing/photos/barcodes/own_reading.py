"""What our own reader says of a place: nothing unless it is sure on all rows and on either half.

Alone it is believed for a text of more than 12 characters, or of other signs than letters and
digits, or under bars lower than 8 X, only if it is a number whose check digit holds (see
`decoding`).
"""

from __future__ import annotations

from pairing.model import Quad
from pairing.photos.barcodes.engines import CODE_128
from pairing.photos.barcodes.profile import Profiles
from pairing.photos.barcodes.quads import height_px
from pairing.photos.barcodes.rectify import Strip
from pairing.photos.barcodes.votes import LOWER, PROFILE, UPPER, WHOLE, Vote, is_checked
from pairing.photos.code128 import encoding
from pairing.photos.code128.fitting import (
    Fit,
    decode_again,
    fit_symbol,
    swings_beyond,
    weakest_cell,
)

_WEAKEST_CELL = 0.55
_WEAKEST_CELL_OF_CLEAR, _CLEAR_CONFIDENCE = 0.62, 60.0
_MOST_BEYOND = 4
"""Limits for `weakest_cell` and `swings_beyond`. Measured on damaged drawings: numbers with
characters lost or made up at an end begin at 0.75; of 253 true numbers among 1,000 crops that
pass every other test 242 stay within 0.55, and no wrong number passes the other tests."""

_LEAST_X_PX = 0.75
"""The smallest X looked for, in photo pixels; below, a module is under one pixel and
neighboring narrow bars run together (measured: nothing is read below 0.8)."""

_LEAST_EXPLAINED = 0.85
_LEAST_CONFIDENCE = 30.0
_LEAST_BAND_CONFIDENCE = 10.0
"""What our own reader must reach to be heard; measured, see tests/benchmarks/decode.py."""

_LEAST_HEIGHT_X = 8.0
_LONGEST_UNCHECKED = 12
"""Lower bars and longer texts are heard from our own reader only as a number whose check digit
holds. The halves of low bars blur into each other, and a strip laid over a bent symbol leaves its
end out; and a number that loses or gains an end becomes a long unknown one. Measured: of 22,933
reads of 29,000 damaged crops three were wrong, 16, 18 and 24 digits of 22, one under bars 2 X
high; of 18,600 more one, 9 characters of which three are controls; what our reader alone reads of
the reference photos has 8 digits."""


def own_fit(strip: Strip, profiles: Profiles) -> Fit | None:
    """The symbol on a place's profile; None where nothing fits."""
    return fit_symbol(profiles.whole, profiles.bars, least_x=_LEAST_X_PX * strip.scale)


def own_votes(strip: Strip, profiles: Profiles, fit: Fit | None) -> tuple[Vote, ...]:
    """Our own reader on all rows and on either half; silent unless it is sure."""
    if fit is None or not _is_sure(fit, _LEAST_CONFIDENCE):
        return ()
    message = encoding.message_of(fit.chain.values)
    if message is None:
        return ()
    is_known = is_checked(message.text)
    is_clear = fit.confidence >= _CLEAR_CONFIDENCE
    weakest = _WEAKEST_CELL_OF_CLEAR if is_clear else _WEAKEST_CELL
    if (
        weakest_cell(profiles.whole, fit) > weakest
        or swings_beyond(profiles.whole, fit) > _MOST_BEYOND
    ):
        return ()
    quad = strip.quad(
        fit.placement.knots[0], fit.placement.knots[-1], top=profiles.top, bottom=profiles.bottom
    )
    height_x = height_px(quad) * strip.scale / fit.placement.x_columns
    is_plain = height_x >= _LEAST_HEIGHT_X and len(message.text) <= _LONGEST_UNCHECKED
    if not is_known and not (is_plain and message.text.isascii() and message.text.isalnum()):
        return ()
    for half in (profiles.upper, profiles.lower):
        again = decode_again(half, fit)
        if again.chain.values != fit.chain.values or again.confidence < _LEAST_BAND_CONFIDENCE:
            return ()
    return tuple(_own_vote(message, band, quad) for band in (WHOLE, UPPER, LOWER))


def contradicting_votes(strip: Strip, profiles: Profiles, text: str) -> tuple[Vote, ...]:
    """What our own reader says of a place where one engine read `text` in both bands, if it is
    something else. Measured: of 18,600 damaged crops one number was wrong, by zxing-cpp at 1.2
    pixels an X, and our own reader said the right one by 114 nats; of 45 others it said the same
    44 times and nothing once."""
    fit = own_fit(strip, profiles)
    if fit is None or not fit.chain.passes or fit.confidence <= 0:
        return ()
    message = encoding.message_of(fit.chain.values)
    if message is None or message.text == text:
        return ()
    quad = strip.quad(
        fit.placement.knots[0], fit.placement.knots[-1], top=profiles.top, bottom=profiles.bottom
    )
    return (_own_vote(message, WHOLE, quad),)


def _is_sure(fit: Fit, least_confidence: float) -> bool:
    return (
        fit.chain.passes
        and fit.explained >= _LEAST_EXPLAINED
        and fit.confidence >= least_confidence
    )


def _own_vote(message: encoding.Message, band: str, quad: Quad) -> Vote:
    return Vote(
        engine=PROFILE,
        band=band,
        text=message.text,
        aim=message.aim,
        kind=CODE_128,
        quad=quad,
    )
