"""Lines by hands that the training never saw, read once; what was read is kept packed.

Half the held-out hands serve the calibration, the others the benchmark.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import torch

from pairing.training.character_sources import CHARACTERS
from pairing.training.evaluation import accuracy, greedy
from pairing.training.glyphs import PARTS, Glyphs
from pairing.training.making import SHARES
from pairing.training.network import Reader
from pairing.training.phone_photo import Camera, normalized, other_shot, shot_at
from pairing.training.spoiling import Spoiler
from pairing.training.writing import Writer

KINDS = {
    "mnist": ((1.0, 0.0, 0.0, 0.0), 0.0),
    "pen": ((0.0, 1.0, 0.0, 0.0), 0.0),
    "face": ((0.0, 0.0, 1.0, 0.0), 0.0),
    "print": ((0.0, 0.0, 0.0, 1.0), 0.0),
    "s10-hand": ((0.5, 0.3, 0.2, 0.0), 1.0),
    "s10-print": ((0.0, 0.0, 0.0, 1.0), 1.0),
    "mnist-hard": ((1.0, 0.0, 0.0, 0.0), 0.1),
    "pen-hard": ((0.0, 1.0, 0.0, 0.0), 0.1),
    "face-hard": ((0.0, 0.0, 1.0, 0.0), 0.1),
    "print-hard": ((0.0, 0.0, 0.0, 1.0), 0.1),
}
"""Sorts of lines (`sorts.SORTS`): the shares by `glyphs.KINDS` and of S10 numbers."""
KEPT = 6
"""Classes kept of each step's distribution."""


@torch.no_grad()
def dump_altered(model: Reader, glyphs: Glyphs, count: int, folder: Path, seed: int = 0) -> None:
    """Write `altered-SEED.npz` into `folder`: `count` lines a level by the test's hands as the
    training has them, what each is, (n, STEPS) where it is spoiled, and what the network says of
    both."""
    model.eval()
    device = glyphs.fields.device
    rng = torch.Generator(device=device).manual_seed(7_000_000 + seed)
    dice = torch.Generator().manual_seed(7_000_000 + seed)
    writer, camera = Spoiler(glyphs, 2, rng, SHARES), Camera(device, rng)
    found: dict[str, list[np.ndarray]] = {}
    for level in range(5):
        for _ in range(0, count, 50):
            lines = writer.lines(50)
            taken = camera.taken(camera.on_paper(lines), other_shot(level, dice))
            _, blots, kinds = model(normalized(camera.masked(taken, lines.ends)))
            for name, value in (
                ("what", lines.what.to(torch.int8)),
                ("spoilt", lines.spoiled.to(torch.int8)),
                ("is_print", lines.is_print),
                ("level", torch.full((50,), level, dtype=torch.uint8)),
                ("kinds", torch.softmax(kinds.float(), 1).half()),
                ("blots", (255 * torch.sigmoid(blots.float())).round().to(torch.uint8)),
            ):
                found.setdefault(name, []).append(value.cpu().numpy())
    joined = {name: np.concatenate(parts) for name, parts in found.items()}
    np.savez_compressed(folder / f"altered-{seed}.npz", allow_pickle=False, **joined)


@torch.no_grad()
def dump(
    model: Reader, glyphs: Glyphs, count: int, folder: Path, seed: int = 0
) -> list[tuple[str, int, float, float]]:
    """Write `calibration-SEED.npz` and `test-SEED.npz` into `folder`: `count` lines of each
    sort and level for the calibration, half as many for the test, a quarter of either for
    S10. Returns (sort, level, exact share, character accuracy) for the test."""
    model.eval()
    rows = []
    for part in (1, 2):
        names = ("classes", "steps", "blots", "kinds", "sort", "level")
        packed: dict[str, list[np.ndarray]] = {name: [] for name in names}
        texts: list[str] = []
        for index, (sort, (shares, s10)) in enumerate(KINDS.items()):
            for level in range(5):
                n = count // part // (4 if sort.startswith("s10") else 1)
                dice = 1_000_000 * seed + 10_000 * index + 1000 * part + level
                is_clean = not sort.endswith("hard")
                chances, blots, kinds, right = _read(
                    model, glyphs, part, (shares, s10), is_clean, level, n, dice
                )
                classes, steps = packed_top(chances)
                packed["classes"].append(classes)
                packed["steps"].append(steps)
                packed["blots"].append((255 * blots).round().to(torch.uint8).cpu().numpy())
                packed["kinds"].append(kinds.half().cpu().numpy())
                packed["sort"].append(np.full(n, index, np.uint8))
                packed["level"].append(np.full(n, level, np.uint8))
                texts += right
                if part == 2:
                    read = greedy(chances)
                    exact = sum(a == b for a, b in zip(read, right, strict=True)) / n
                    rows.append((sort, level, exact, accuracy(right, read)))
        joined = {name: np.concatenate(parts) for name, parts in packed.items()}
        joined["texts"] = np.array(texts)
        np.savez_compressed(folder / f"{PARTS[part]}-{seed}.npz", allow_pickle=False, **joined)
    return rows


def packed_top(chances: torch.Tensor) -> tuple[np.ndarray, np.ndarray]:
    """The likeliest classes of each step and their log probabilities in tenths, uint8."""
    top = chances.topk(KEPT, dim=2)
    steps = (-top.values * 10).round().clamp(max=255)
    return top.indices.to(torch.uint8).cpu().numpy(), steps.to(torch.uint8).cpu().numpy()


def _read(  # noqa: PLR0913, PLR0917 - one sort and level of lines
    model: Reader,
    glyphs: Glyphs,
    part: int,
    sort: tuple[tuple[float, ...], float],
    is_clean: bool,
    level: int,
    count: int,
    seed: int,
) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor, list[str]]:
    device = glyphs.fields.device
    rng = torch.Generator(device=device).manual_seed(seed)
    dice = torch.Generator().manual_seed(seed)
    writer = Writer(
        glyphs, part, rng, sort[0], is_clean=is_clean, s10_share=sort[1], is_number=True
    )
    camera = Camera(device, rng, is_clean=is_clean)
    shot = shot_at if is_clean else other_shot
    chances: list[torch.Tensor] = []
    blots: list[torch.Tensor] = []
    kinds: list[torch.Tensor] = []
    right: list[str] = []
    while len(right) < count:
        lines = writer.lines(min(100 if is_clean else 25, count - len(right)))
        pictures = camera.photograph(lines, shot(level, dice))
        scores, spoiled, told = model(pictures)
        chances.append(torch.log_softmax(scores.float(), 2))
        blots.append(torch.sigmoid(spoiled.float()))
        kinds.append(torch.softmax(told.float(), 1))
        right += ["".join(CHARACTERS[c] for c in row if c >= 0) for row in lines.texts.tolist()]
    return torch.cat(chances), torch.cat(blots), torch.cat(kinds), right
