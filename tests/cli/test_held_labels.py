"""What whoever keys a box that was not read may see of the label: nothing. (That a box is keyed
without the label is this project's own rule; no source.)"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from counterfoil.commands import photos
from pairing.findings import Code
from pairing.model import How, Reading, Side
from pairing.numbers import identify
from pairing.pieces.photo_groups import Photo, PhotoPiece
from pairing.pieces.reading import FrameReadings, PhotoReadings, PieceReadings
from tests.cli.calling import call
from tests.judge.readings import seen
from tests.ledger.making import card, label

WRONG_CHECK = label(3)[:-1] + str((int(label(3)[-1]) + 1) % 10)


def unread(photo: Photo, *texts: tuple[Side, str]) -> PieceReadings:
    """A piece with a card, these readings, and a box that was not read."""
    readings = tuple(
        Reading(side=side, how=How.BARCODE, number=identify(text), source="0001.jpg")
        for side, text in (*texts, (Side.CARD, card(1)))
    )
    frame = FrameReadings(page=1, readings=readings, found=())
    return PieceReadings(
        piece=PhotoPiece(name="0001", photos=(photo,)),
        photos=(PhotoReadings(photo=photo, frames=(frame,), missing=()),),
        skipped=(),
    )


@pytest.mark.parametrize(
    ("texts", "code"),
    [
        (((Side.LABEL, label(1)),), Code.BOX_UNREAD),
        (((Side.LABEL, label(1)), (Side.LABEL, label(2))), Code.TWO_ARTICLES),
        (((Side.LABEL, WRONG_CHECK),), Code.LABEL_CHECK_DIGIT),
        (((Side.UNPLACED, label(1)),), Code.PLACE_IN_DOUBT),
    ],
)
@pytest.mark.parametrize("more", [("--ask",), ()])
def test_nothing_shown_quotes_the_label_while_the_box_is_unread(
    texts: tuple[tuple[Side, str], ...],
    code: Code,
    more: tuple[str, ...],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The row did not show it, but what was found did."""
    path = tmp_path / "0001.jpg"
    path.touch()
    piece = unread(Photo(path=path, shows=None), *texts)
    monkeypatch.setattr(photos, "_read", lambda *_: [piece])
    shown = call("photos", path, *more, stdin=b"\n")
    assert shown.code == 11
    for _, text in texts:
        assert text not in "".join((shown.out + shown.err).split())
    check = f"not {label(3)[-1]}", f"be {label(3)[-1]}"  # what the check digit should be
    assert not any(one in shown.out for one in check)
    written = call("photos", path, "--json", "-", "--hold-labels").out
    (found,) = json.loads(written)["pieces"]
    assert code in {one["code"] for one in found["findings"]}
    assert not any(text in "".join(written.split()) for _, text in texts)


def test_a_box_that_was_keyed_is_shown_beside_its_label(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "0001.jpg"
    path.touch()
    piece = unread(Photo(path=path, shows=None), (Side.LABEL, label(1)), (Side.LABEL, label(2)))
    monkeypatch.setattr(photos, "_read", lambda *_: [piece])
    shown = call("photos", path, "--ask", stdin=label(1).encode() + b"\n")
    assert label(2) in "".join(shown.out.split())


@pytest.mark.parametrize("has_label", [True, False])
def test_a_piece_lacks_only_digits_where_nothing_else_is_missing(
    has_label: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "0001.jpg"
    path.touch()
    own = label(1)
    other = own[:6] + str((int(own[6]) + 1) % 10) + own[7:]
    texts = ((Side.LABEL, own),) if has_label else ()
    piece = replace(
        unread(Photo(path=path, shows=None), *texts), seen=seen(own, chances={own: 0.6, other: 0.4})
    )
    monkeypatch.setattr(photos, "_read", lambda *_: [piece])
    shown = call("photos", path)
    assert shown.code == 11
    assert ("It lacks only a digit or a few" in shown.out) is has_label, shown.out


@pytest.mark.parametrize(
    ("more", "is_held"),
    [
        (("--ask",), True),
        ((), False),
        (("--ask", "--show-labels"), False),
        (("--hold-labels",), True),
    ],
)
def test_files_hold_labels_back_by_themselves_where_a_person_keys(
    more: tuple[str, ...], is_held: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "0001.jpg"
    path.touch()
    piece = unread(Photo(path=path, shows=None), (Side.LABEL, label(1)))
    monkeypatch.setattr(photos, "_read", lambda *_: [piece])
    files = [tmp_path / "r.json", tmp_path / "r.csv"]
    done = call("photos", path, "--json", files[0], "--csv", files[1], *more, stdin=b"\n")
    assert done.code == 11
    for file in files:
        assert (label(1) in "".join(file.read_text().split())) is not is_held
