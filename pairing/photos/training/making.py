"""Batches of lines, composed and photographed: in the training's own process or by several.

Composing is many small kernels, so one process leaves an accelerator idle most of the time.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import torch

from pairing.photos.training.camera import Camera, shot_at
from pairing.photos.training.glyphs import Glyphs, load
from pairing.photos.training.writing import Lines, Writer

SHARES = (0.28, 0.20, 0.30, 0.22)
"""Of lines by MNIST writers, pen writers, handwriting faces and print."""
AHEAD = 3
"""Batches that each process may be ahead."""

Batch = tuple[torch.Tensor, torch.Tensor]
"""Pictures (b, 1, 32, 640) and texts (b, MOST)."""


class Maker:
    """Makes batches with one random generator."""

    def __init__(self, glyphs: Glyphs, batch: int, chunks: int, seed: int):
        device = glyphs.fields.device
        rng = torch.Generator(device=device).manual_seed(seed)
        self.batch, self.chunks = batch, chunks
        self.writer, self.camera = Writer(glyphs, 0, rng, SHARES), Camera(device, rng)
        self.dice = torch.Generator().manual_seed(seed)

    @torch.no_grad()
    def make(self) -> Batch:
        """One batch; each of its chunks is photographed in its own way."""
        lines = self.writer.lines(self.batch)
        size = self.batch // self.chunks
        pictures = []
        for at in range(0, self.batch, size):
            level = 4.2 * float(torch.rand(1, generator=self.dice)) ** 1.5
            part = Lines(
                ink=lines.ink[at : at + size],
                texts=lines.texts[at : at + size],
                digit_px=lines.digit_px[at : at + size],
                ends=lines.ends[at : at + size],
                is_print=lines.is_print[at : at + size],
            )
            pictures.append(self.camera.photograph(part, shot_at(min(level, 4.0), self.dice)))
        return torch.cat(pictures), lines.texts


@contextmanager
def batches(
    path: Path, glyphs: Glyphs, sizes: tuple[int, int], seed: int, makers: int
) -> Iterator[Iterator[Batch]]:
    """Batches without end on the glyphs' device. sizes: lines and chunks of a batch.
    makers: processes that make them; with 0 the caller's own does, and only then does the
    seed fix their order."""
    if not makers:
        maker = Maker(glyphs, *sizes, seed)
        yield iter(maker.make, None)
        return
    context = torch.multiprocessing.get_context("spawn")
    ready: Any = context.Queue(AHEAD * makers)
    device = glyphs.fields.device
    processes = [
        context.Process(
            target=_run, args=(ready, path, str(device), sizes, 1000 * seed + n), daemon=True
        )
        for n in range(makers)
    ]
    for process in processes:
        process.start()
    try:
        yield _taken(ready, device)
    finally:
        for process in processes:
            process.terminate()


def _taken(ready: Any, device: torch.device) -> Iterator[Batch]:
    while True:
        pictures, texts = ready.get(timeout=120)
        yield pictures.to(device).float(), texts.to(device).long()


def _run(ready: Any, path: Path, device: str, sizes: tuple[int, int], seed: int) -> None:
    torch.multiprocessing.set_sharing_strategy("file_system")
    torch.set_num_threads(1)
    maker = Maker(load(path, torch.device(device)), *sizes, seed)
    while True:
        pictures, texts = maker.make()
        ready.put((pictures.half().cpu(), texts.to(torch.int16).cpu()))
