"""Print under bars on paper that is bent is read whole, and flat paper is left as it is."""

from __future__ import annotations

import numpy as np
import pytest

from pairing.photos.barcodes.symbols import read_symbols
from pairing.photos.written import read_label_print, shared_reader
from pairing.photos.written.bent_bars import unbent
from tests.benchmarks.decode_curved import label
from tests.benchmarks.decode_scenes import TRIED


@pytest.mark.parametrize(
    ("design", "bend", "radius_mm", "is_bent"),
    [(2, "wave", 30.0, True), (0, "wrapped", 50.0, True), (3, "along", 50.0, False)],
)
def test_print_on_bent_paper_is_read(
    design: int, bend: str, radius_mm: float, is_bent: bool
) -> None:
    """Unread, or read as another number, where it was cut out along a straight line."""
    rng = np.random.default_rng([77, design, round(radius_mm), len(bend)])
    gray, article = label(TRIED[design], bend, radius_mm, rng)
    (symbol,) = read_symbols(gray).symbols
    assert (symbol.text, symbol.is_measured) == (article, True)
    assert (unbent(gray, symbol.quad) is not None) is is_bent
    read = read_label_print(gray, symbol.quad, shared_reader())
    assert read.line is not None
    assert read.line.best == article
    # Its place in the photo: right below the bars, as long as they are or a little longer.
    (line,) = read.used
    across = np.array(symbol.quad.corners[2]) - symbol.quad.corners[3]
    length = float(np.hypot(*across))
    off = (np.array(line.inked().center) - np.array(symbol.quad.corners[2:]).mean(axis=0)) / length
    assert float(np.hypot(*off)) < 0.15
