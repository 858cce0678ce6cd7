"""Drawing is reproducible, and says so when it cannot write."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from pairing.demo import MANIFEST, PIECES, BoxBy, Row, draw_pieces
from pairing.demo.__main__ import main
from pairing.demo.hand import HANDS, write_line
from pairing.demo.labels import label_sheet
from pairing.demo.paper import grouped
from pairing.demo.sheet import PX_PER_MM, bar_modules
from pairing.errors import OutputRefused


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, tuple[Row, ...]]:
    """Two pieces, drawn together."""
    folder = tmp_path_factory.mktemp("drawn")
    return folder, tuple(draw_pieces(folder, names=("0003", "0032")))


def test_same_seed_same_bytes_whatever_else_is_drawn(
    tmp_path: Path, drawn: tuple[Path, tuple[Row, ...]]
) -> None:
    folder, rows = drawn
    draw_pieces(tmp_path / "b", names=("0032",))
    draw_pieces(tmp_path / "c", names=("0003",))
    assert [row.piece for row in rows] == ["0003", "0032"]
    for name in (*rows[0].photos, *rows[1].photos):
        again = tmp_path / ("c" if name.startswith("0003") else "b") / name
        assert (folder / name).read_bytes() == again.read_bytes()
        with Image.open(again) as photo:
            photo.load()
            assert photo.format == "JPEG"
            assert min(photo.size) > 700
    assert len((folder / MANIFEST).read_text(encoding="utf-8").splitlines()) == 3


def test_another_seed_makes_another_photo(
    tmp_path: Path, drawn: tuple[Path, tuple[Row, ...]]
) -> None:
    folder, (_, row) = drawn
    draw_pieces(tmp_path, seed=2, names=(row.piece,))
    for name in row.photos:
        assert (folder / name).read_bytes() != (tmp_path / name).read_bytes()


def test_a_folder_that_is_a_file_is_refused(tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("x")
    with pytest.raises(OutputRefused, match="taken"):
        draw_pieces(taken, names=("0030",))


def test_command_reports_a_refusal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    taken = tmp_path / "taken"
    taken.write_text("x")
    monkeypatch.setattr(sys, "argv", ["pairing.demo", str(taken)])
    assert main() == 2
    assert "taken" in capsys.readouterr().err


def test_bars_have_the_standards_number_of_modules() -> None:
    # ISO/IEC 15417: 11 modules a symbol character, 13 the stop. GS1-128 with 22
    # digits: start, FNC1, 11 pairs, check. With [420] and five digits: 4 pairs and
    # the second FNC1 more.
    assert len(bar_modules("[95]89073361400182450735", gs1=True)) == 14 * 11 + 13
    assert len(bar_modules("[420]98765[94]07388126041970053168", gs1=True)) == 19 * 11 + 13
    assert len(bar_modules("70612290000318456600", gs1=False)) == 12 * 11 + 13


def test_label_bars_are_as_high_and_as_wide_as_the_guides_ask() -> None:
    """19 mm high, X 0.33 to 0.53 mm, quiet zones of 10 X (sources in `paper`)."""
    for piece in PIECES[:8]:
        gray = label_sheet(piece).pixels.mean(axis=2)
        dark = gray < 60
        rows = np.flatnonzero((np.diff(dark.astype(int), axis=1) != 0).sum(axis=1) > 60)
        assert len(rows) / PX_PER_MM >= 19
        line = dark[rows[len(rows) // 2], 2 * PX_PER_MM : -2 * PX_PER_MM]
        edges = np.flatnonzero(np.diff(line.astype(int)))
        edges = edges[edges > 11 * PX_PER_MM] if not piece.routing else edges
        content = (
            piece.article
            if len(piece.article) != 22
            else f"[{piece.article[:2]}]" + piece.article[2:]
        )
        if piece.routing:
            content = f"[420]{piece.routing}{content}"
        modules = len(bar_modules(content, gs1=len(piece.article) == 22))
        x_mm = (edges[-1] - edges[0]) / PX_PER_MM / modules
        assert 0.33 <= x_mm <= 0.53
        assert (len(line) - edges[-1]) / PX_PER_MM >= 10 * x_mm


def test_groups_as_printed() -> None:
    # Groups of four; S10 2-3-3-3-2 ("EE 876 543 216 CA", S10-12 section 8).
    assert grouped("EE876543216CA") == "EE 876 543 216 CA"
    assert grouped("9589073361400182450735") == "9589 0733 6140 0182 4507 35"


def test_a_line_keeps_within_its_box_and_never_repeats_a_glyph() -> None:
    assert {p.hand for p in PIECES if p.box_by is BoxBy.HAND} == set(HANDS)
    for hand in HANDS.values():
        rng = np.random.default_rng(5)
        ink = write_line("9" * 26, hand=hand, height_mm=5, width_mm=60, rng=rng)
        columns = np.flatnonzero(ink.max(axis=0) > 0.3)
        assert columns[-1] / PX_PER_MM <= 60.5
        first = write_line("8", hand=hand, height_mm=5, width_mm=60, rng=rng)
        second = write_line("8", hand=hand, height_mm=5, width_mm=60, rng=rng)
        assert not np.array_equal(first, second)
