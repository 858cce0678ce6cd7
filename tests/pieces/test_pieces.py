"""Photos are grouped to pieces."""

from __future__ import annotations

from pathlib import Path

import pytest

from pairing.errors import PhotoUnusable, TableUnusable
from pairing.model import Side
from pairing.pieces.photo_groups import find_photos, from_table, group


def touch(folder: Path, *names: str) -> list[Path]:
    paths = [folder / name for name in names]
    for path in paths:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
    return paths


def test_a_shared_stem_is_one_piece_and_says_what_each_photo_shows() -> None:
    paths = [Path(name) for name in ("0007-label.jpg", "0007-card.JPG", "0008.png")]
    first, second = group(paths)
    assert (first.name, second.name) == ("0007", "0008")
    assert [photo.shows for photo in first.photos] == [Side.LABEL, Side.CARD]
    assert [photo.shows for photo in second.photos] == [None]


def test_several_photos_of_one_side() -> None:
    (piece,) = group([Path("a_card-1.jpg"), Path("a_card-2.jpg"), Path("a_Label.jpg")])
    assert (piece.name, len(piece.photos)) == ("a", 3)


def test_equal_names_in_two_folders_are_two_pieces(tmp_path: Path) -> None:
    paths = touch(tmp_path, "mon/0001-label.jpg", "mon/0001-card.jpg", "tue/0001.jpg")
    pieces = group(paths)
    assert [Path(piece.name).name for piece in pieces] == ["0001", "0001"]
    assert len({piece.name for piece in pieces}) == 2


def test_folders_give_their_photos_in_order_and_nothing_else(tmp_path: Path) -> None:
    touch(tmp_path, "b.jpg", "a.png", "sub/c.pdf", "notes.txt", "manifest.csv")
    found = find_photos([tmp_path])
    assert [path.name for path in found] == ["a.png", "b.jpg", "c.pdf"]


def test_a_photo_named_twice_is_taken_once(tmp_path: Path) -> None:
    (path,) = touch(tmp_path, "a.jpg")
    assert find_photos([path, tmp_path]) == (path,)


def test_a_link_to_a_folder_above_does_not_run_in_circles(tmp_path: Path) -> None:
    touch(tmp_path, "in/a.jpg")
    (tmp_path / "in" / "loop").symlink_to(tmp_path)
    assert len(find_photos([tmp_path])) == 1


def test_a_place_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(PhotoUnusable, match=r"no such file or folder: '.*gone'"):
        find_photos([tmp_path / "gone"])


def test_a_table_of_pieces(tmp_path: Path) -> None:
    table = tmp_path / "pieces.csv"
    table.write_text("piece,photo,shows\nA,one.jpg,label\nA,two.jpg,card\nB,both.jpg;more.jpg,\n")
    first, second = from_table(table)
    assert [(p.path.name, p.shows) for p in first.photos] == [
        ("one.jpg", Side.LABEL),
        ("two.jpg", Side.CARD),
    ]
    assert [p.path for p in second.photos] == [tmp_path / "both.jpg", tmp_path / "more.jpg"]


@pytest.mark.parametrize(
    "text",
    ["", "piece\nA\n", "piece,photo\nA,\n", "piece,photo,shows\nA,a.jpg,back\n", "\x00\xff"],
)
def test_a_table_that_cannot_be_used(tmp_path: Path, text: str) -> None:
    table = tmp_path / "pieces.csv"
    table.write_bytes(text.encode("latin-1"))
    with pytest.raises(TableUnusable):
        from_table(table)


def test_a_table_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(TableUnusable, match="cannot be read"):
        from_table(tmp_path / "gone.csv")
