"""What a run keeps of a photo: small, and so exact that nothing is decided otherwise.

The bounds are arithmetic: 16-bit logarithms over ln(1e9) are 0.0003 apart, half of it either way.
"""

from __future__ import annotations

import math
import zlib
from enum import Enum
from pathlib import Path

import msgspec
import numpy as np
import pytest
from numpy.typing import NDArray

from pairing.audit.run import codec
from pairing.findings import Code, Weight
from pairing.judge.box import Unread
from pairing.judge.box.evidence import Seen
from pairing.judge.fields import FieldSeen, Mark, State
from pairing.model import How, Quad, Side
from pairing.photos.written.reader import WrittenLine
from pairing.pieces.photo_groups import Photo
from pairing.pieces.reading import FrameReadings, PhotoReadings


def chances(seed: int, steps: int = 160, digits: int = 22) -> NDArray[np.float64]:
    """Probabilities as the reader gives them: blanks, with a digit in every seventh step."""
    rng = np.random.default_rng(seed)
    logits = rng.normal(-6, 4, (steps, 11))
    logits[:, 0] += 16
    for at in range(digits):
        logits[7 * at + 3, 0] -= 14
        logits[7 * at + 3, 1 + (at + seed) % 10] += 16
    found = np.exp(logits - logits.max(1, keepdims=True))
    return np.asarray(found / found.sum(1, keepdims=True), np.float64)


def photo(line: WrittenLine) -> PhotoReadings:
    quads = tuple(
        Quad(
            top_left=(x, 5.03), top_right=(x + 9.21, 5), bottom_right=(x + 9, 19.98),
            bottom_left=(x, 20.51),
        )
        for x in (np.arange(22) * 10.37 + 812.5).tolist()
    )  # fmt: skip
    seen = Seen(
        source="a", how=How.HAND, evidence=line, reason=None, digit_probabilities=(0.9,) * 22,
        digit_quads=quads, box=quads[0],
    )  # fmt: skip
    frame = FrameReadings(page=1, readings=(), found=(), seen=seen)
    return PhotoReadings(photo=Photo(path=Path("a"), shows=None), frames=(frame,), missing=())


def seen_in(read: PhotoReadings) -> tuple[Seen, WrittenLine]:
    seen = read.frames[0].seen
    assert seen is not None
    assert isinstance(seen.evidence, WrittenLine)
    return seen, seen.evidence


@pytest.mark.parametrize("many", [1, 2])
def test_a_line_comes_back_as_exact_as_it_is_decided_on(many: int) -> None:
    pictures = [chances(1), chances(1)[::1] * 0.6 + 0.4 * chances(2)][:many]
    blots = [np.linspace(0, 0.99, 160)] * many
    seen, line = seen_in(photo(WrittenLine(pictures, blots)))
    again_seen, again = seen_in(codec.decoded(codec.encoded(photo(line)), where="a"))
    assert again.best == line.best
    assert len(line.best) == 22
    for before, after in zip(line.pictures, again.pictures, strict=True):
        kept = before > 1e-8
        assert np.abs(after[kept] / before[kept] - 1).max() < 2e-4
        assert after[before < 1e-10].max(initial=0) == 0
    others = [line.best[:at] + str((int(line.best[at]) + 1) % 10) + line.best[at + 1 :]
              for at in range(22)]  # fmt: skip
    texts = [line.best, *others]
    for one, two in zip(line.log_likelihoods(texts), again.log_likelihoods(texts), strict=True):
        # Below, it is nothing that any threshold asks for.
        assert math.isclose(max(one, -15), max(two, -15), abs_tol=0.005)
    assert again.spoiled() == line.spoiled()
    for quad, other in zip(seen.digit_quads, again_seen.digit_quads, strict=True):
        assert np.abs(np.array(quad.corners) - other.corners).max() <= 1 / 16


def test_a_line_takes_little_room() -> None:
    """All of it less than 32-bit probabilities alone took, packed as before."""
    line = WrittenLine([chances(3)])
    before = len(zlib.compress(codec._packed(line.pictures[0]), 6))
    assert len(codec.encoded(photo(line))) < 0.8 * before


def test_what_an_earlier_version_wrote_is_read() -> None:
    """Probabilities as 32-bit numbers, corners by their names."""
    one = chances(4).astype("<f4")
    packed = b"f" + np.frombuffer(one.tobytes(), np.uint8).reshape(-1, 4).T.tobytes()
    kept = msgspec.msgpack.decode(zlib.decompress(codec.encoded(photo(WrittenLine([one])))))
    seen = kept["frames"][0]["seen"]
    seen["evidence"] = {
        "~": "WrittenLine",
        "is": [{"~": "array", "shape": list(one.shape), "is": packed}],
    }
    corners = ((1.0, 2.0), (3.0, 2.0), (3.0, 4.0), (1.0, 4.0))
    names = ("top_left", "top_right", "bottom_right", "bottom_left")
    seen["box"] = {"~": "Quad", **dict(zip(names, corners, strict=True))}
    found, line = seen_in(codec.decoded(zlib.compress(msgspec.msgpack.encode(kept)), where="a"))
    assert np.array_equal(line.pictures[0], one)
    assert found.box.corners == corners


@pytest.mark.parametrize("mark", Mark)
@pytest.mark.parametrize("state", State)
def test_a_cards_other_fields_come_back(state: State, mark: Mark) -> None:
    place = Quad(top_left=(0.0, 0.0), top_right=(9.0, 0.0), bottom_right=(9.0, 4.5),
                 bottom_left=(0.0, 4.5))  # fmt: skip
    one = FieldSeen(
        name="service Certified", state=state, share=0.25, place=place, mark=mark,
        only_notes=(str(Code.SENDER_EMPTY),),
    )  # fmt: skip
    frame = FrameReadings(page=1, readings=(), found=(), fields=(one,))
    read = PhotoReadings(photo=Photo(path=Path("a"), shows=None), frames=(frame,), missing=())
    assert codec.decoded(codec.encoded(read), where="a") == read


@pytest.mark.parametrize("kind", [Side, How, Unread, Weight, State, Mark])
def test_each_kind_that_is_kept_comes_back(kind: type[Enum]) -> None:
    for one in kind:
        assert codec._value(codec._plain(one)) is one


def test_what_would_not_come_back_is_not_kept() -> None:
    class OfATest(Enum):
        ONE = 1

    with pytest.raises(TypeError, match="OfATest"):
        codec._plain(OfATest.ONE)
