"""`python -m pairing.demo FOLDER`: draw the set."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from pairing.demo import DEFAULT_SEED, draw_pieces
from pairing.errors import CounterfoilError


def main() -> int:
    """Draw the set; 0 when done, 2 when it could not be written."""
    parser = argparse.ArgumentParser(prog="python -m pairing.demo", description=__doc__)
    parser.add_argument("folder", type=Path, help="where the photos and manifest.csv go")
    parser.add_argument("--seed", type=int, default=DEFAULT_SEED, help="default: %(default)s")
    given = parser.parse_args()
    try:
        rows = draw_pieces(given.folder, seed=given.seed)
    except CounterfoilError as trouble:
        print(trouble, file=sys.stderr)
        return 2
    print(f"{len(rows)} pieces, {sum(len(row.photos) for row in rows)} photos in {given.folder}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
