"""Outside checks: faces and digits that no run of the training may ever see."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import torch

from pairing.training.character_sources import CELL_PX, DRAWN, face_fields
from pairing.training.glyphs import Glyphs, of_images, ordered
from pairing.training.held_out import packed_top
from pairing.training.network import Reader
from pairing.training.phone_photo import Camera, shot_at
from pairing.training.sorts import SORTS
from pairing.training.writing import Writer, spelled

_IDX_HEAD = {"images": 16, "labels": 8}
"""Bytes before the data in MNIST's idx files."""
_RUN = 200
"""t10k comes without writers: this many images in a row are taken for one hand, which they
are not, so its lines mix hands."""


def faces(paths: list[Path]) -> Glyphs:
    """Printed faces (.ttf, .otf) as hands of the test part."""
    fields = np.stack([face_fields(str(path)) for path in paths])
    labels = np.tile(np.arange(len(DRAWN), dtype=np.uint8), len(paths))
    hands = np.repeat(np.arange(len(paths)), len(DRAWN))
    names = [f"{path.stem}/0" for path in paths]
    flat = torch.from_numpy(fields).reshape(-1, CELL_PX, CELL_PX)
    return ordered(flat, labels, hands, names, [3] * len(paths))


def t10k(folder: Path) -> Glyphs:
    """MNIST's test part from its idx files."""
    raw = (folder / "t10k-images-idx3-ubyte").read_bytes()[_IDX_HEAD["images"] :]
    images = torch.frombuffer(bytearray(raw), dtype=torch.uint8).reshape(-1, 28, 28)
    named = (folder / "t10k-labels-idx1-ubyte").read_bytes()[_IDX_HEAD["labels"] :]
    labels = np.frombuffer(named, np.uint8)
    hands = np.arange(len(labels)) // _RUN
    fields = torch.cat([of_images(part) for part in images.split(500)])
    names = [f"t10k/{index}" for index in range(int(hands.max()) + 1)]
    return ordered(fields, labels, hands, names, [0] * len(names))


@torch.no_grad()
def read_outside(weights: Path, glyphs: Glyphs, sort: str, count: int, out: Path) -> None:
    """Read `count` lines of each level and leave them packed in `out`."""
    model = Reader()
    model.load_state_dict(torch.load(weights, map_location="cpu"))
    model.eval()
    kind = SORTS.index(sort)
    glyphs.part.fill_(2)
    packed: dict[str, list[np.ndarray]] = {n: [] for n in ("classes", "steps", "sort", "level")}
    texts: list[str] = []
    for level in range(5):
        rng = torch.Generator().manual_seed(4000 + level)
        dice = torch.Generator().manual_seed(4000 + level)
        shares = tuple(float(index == kind) for index in range(4))
        writer = Writer(glyphs, 2, rng, shares, is_clean=True, s10_share=0.0)
        writer.letter_hands = [writer.pools[kind]] * 2
        camera = Camera(rng.device, rng, is_clean=True)
        for at in range(0, count, 50):
            lines = writer.lines(min(50, count - at))
            pictures = camera.photograph(lines, shot_at(level, dice))
            classes, steps = packed_top(torch.log_softmax(model(pictures)[0].float(), 2))
            packed["classes"].append(classes)
            packed["steps"].append(steps)
            packed["sort"].append(np.full(len(classes), kind, np.uint8))
            packed["level"].append(np.full(len(classes), level, np.uint8))
            texts += spelled(lines.texts)
    joined = {name: np.concatenate(parts) for name, parts in packed.items()}
    joined["texts"] = np.array(texts)
    np.savez_compressed(out, allow_pickle=False, **joined)
