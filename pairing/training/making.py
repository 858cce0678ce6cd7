"""Batches of lines, composed and photographed: in the training's own process or by several.

Composing is many small steps that leave an accelerator idle, so several batches are written at
once, and other processes write them, on the last accelerator where there are several.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import torch
from torch.utils.data import DataLoader, IterableDataset, get_worker_info

from pairing.training.glyphs import Glyphs, load
from pairing.training.phone_photo import Camera, other_shot
from pairing.training.spoiling import Spoiler

SHARES = (0.28, 0.20, 0.28, 0.24)
"""Of lines by MNIST writers, pen writers, handwriting faces and print."""
AHEAD = 3
"""Batches that each process may be ahead."""

Batch = tuple[torch.Tensor, ...]
"""Gray pictures (b, 1, 32, 640) uint8, texts (b, MOST) int16, -1 beyond the end; what each line is
(b,) int8, whether its text is to be read (b,) bool, where it is spoiled (b, STEPS) int8: see
`drawn_lines.Lines`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What to make. path: the glyphs' file. size: lines in a batch. shots: ways in which the
    lines written at once are photographed. together: batches written at once.
    device: where."""

    path: Path
    size: int
    shots: int
    together: int
    seed: int
    device: str


def made(order: Order, glyphs: Glyphs) -> Iterator[Batch]:
    """Batches without end, with one random generator; each holds lines of all shots."""
    device = glyphs.fields.device
    rng = torch.Generator(device=device).manual_seed(order.seed)
    dice = torch.Generator().manual_seed(order.seed)
    writer, camera = Spoiler(glyphs, 0, rng, SHARES), Camera(device, rng)
    while True:
        with torch.no_grad():
            lines = writer.lines(order.size * order.together)
            papers = camera.on_paper(lines).chunk(order.shots)
            levels = 4.2 * torch.rand(order.shots, generator=dice) ** 1.5
            shots = [other_shot(min(float(level), 4.0), dice) for level in levels]
            taken = [camera.taken(paper, shot) for paper, shot in zip(papers, shots, strict=True)]
            seen = camera.masked(torch.cat(taken), lines.ends)
            mixed = torch.randperm(len(seen), generator=rng, device=device)
            told = (
                seen, lines.texts.to(torch.int16), lines.what.to(torch.int8), lines.is_text,
                lines.spoiled.to(torch.int8),
            )  # fmt: skip
            parts = [_fetched(one[mixed]).split(order.size) for one in told]
        yield from zip(*parts, strict=True)


def _fetched(made: torch.Tensor) -> torch.Tensor:
    """A copy in the host's memory, by way of locked pages where that is faster."""
    return torch.empty(made.shape, dtype=made.dtype, pin_memory=made.is_cuda).copy_(made)


class _Made(IterableDataset[Batch]):
    """What one of several processes makes."""

    def __init__(self, order: Order):
        self.order = order

    def __iter__(self) -> Iterator[Batch]:
        worker = get_worker_info()
        number = worker.id if worker else 0
        order = replace(self.order, seed=1000 * self.order.seed + number)
        return made(order, load(order.path, torch.device(order.device)))


def batches(order: Order, glyphs: Glyphs, makers: int) -> Iterator[Batch]:
    """Batches without end. makers: processes that make them; with 0 the caller's own does, and
    only then does the seed fix their order."""
    if not makers:
        return made(order, glyphs)
    is_cuda = order.device.startswith("cuda")
    return iter(
        DataLoader(
            _Made(order), batch_size=None, num_workers=makers, pin_memory=is_cuda,
            prefetch_factor=AHEAD, multiprocessing_context="spawn",
        )
    )  # fmt: skip
