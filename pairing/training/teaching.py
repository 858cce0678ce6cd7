"""A second lesson for a trained network: where a character was spoilt.

The network itself stays as it is; only `Reader.blots` learns, from what the network makes of
lines in which characters were spoilt. What was made of a line is kept and learned from again, so
that a processor can do it in minutes.

Why there is a second output: a network taught corrected digits reads through what is written over
(of 100 drawn numbers with a digit written over by another 27 still agreed). What this output marks
is asked for however surely it was read.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import torch
import torch.nn.functional as nn_f

from pairing.training.camera import Camera, normalised, shot_at
from pairing.training.glyphs import Glyphs
from pairing.training.making import SHARES
from pairing.training.network import Reader
from pairing.training.spoiling import Spoiler

AGAIN = 8
"""Steps for each batch made."""
MOST_KEPT = 20_000
"""Lines whose traits are kept."""
_FOR_SPOILT = 4.0
"""Weight of a spoilt character's steps beside others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """seconds: its length by the clock. batch: lines made at once. shots: ways in which those are
    photographed."""

    seconds: float
    batch: int = 96
    shots: int = 6
    rate: float = 2e-3
    seed: int = 1


def teach(weights: Path, glyphs: Glyphs, lesson: Lesson, say: Callable[[str], None]) -> None:
    """Teach the network in `weights` and put it back."""
    begun, device = time.monotonic(), glyphs.fields.device
    torch.manual_seed(lesson.seed)
    reader = Reader().to(device)
    reader.load_state_dict(torch.load(weights, map_location=device), strict=False)
    reader.eval()
    reader.blots.train()
    optimiser = torch.optim.AdamW(reader.blots.parameters(), lr=lesson.rate, weight_decay=0.01)
    class_room = _ClassRoom(reader, glyphs, lesson)
    traits, where = class_room.lines()
    seen, told, share = len(where), 0.0, 0.0
    while share < 1:
        new = class_room.lines()
        traits = torch.cat([traits, new[0]])[-MOST_KEPT:]
        where = torch.cat([where, new[1]])[-MOST_KEPT:]
        seen += len(new[1])
        for group in optimiser.param_groups:
            group["lr"] = lesson.rate * (1 - share) + 1e-5
        for _ in range(AGAIN):
            some = torch.randint(0, len(where), (64,), device=device)
            loss = _loss(reader.blots(traits[some].float())[:, 0, 0], where[some])
            optimiser.zero_grad(set_to_none=True)
            loss.backward()
            optimiser.step()
        if time.monotonic() - told > 30:
            told = time.monotonic()
            say(f"{told - begun:6.0f} s  {seen} lines  loss {loss.item():.4f}")
        share = (time.monotonic() - begun) / lesson.seconds
    torch.save(reader.state_dict(), weights)


class _ClassRoom:
    def __init__(self, reader: Reader, glyphs: Glyphs, lesson: Lesson):
        device = glyphs.fields.device
        rng = torch.Generator(device=device).manual_seed(lesson.seed)
        self.dice = torch.Generator().manual_seed(lesson.seed)
        self.writer, self.camera = Spoiler(glyphs, 0, rng, SHARES), Camera(device, rng)
        self.reader, self.lesson = reader, lesson

    @torch.no_grad()
    def lines(self) -> tuple[torch.Tensor, torch.Tensor]:
        """The network's traits of new lines, 16 bits, and where they are spoilt."""
        lines, where = self.writer.spoilt(self.lesson.batch)
        papers = self.camera.on_paper(lines).chunk(self.lesson.shots)
        levels = 4.2 * torch.rand(len(papers), generator=self.dice) ** 1.5
        shots = [shot_at(min(float(level), 4.0), self.dice) for level in levels]
        seen = [self.camera.taken(p, shot) for p, shot in zip(papers, shots, strict=True)]
        traits = self.reader.traits(normalised(torch.cat(seen)))
        return traits.half(), where


def _loss(scores: torch.Tensor, where: torch.Tensor) -> torch.Tensor:
    each = nn_f.binary_cross_entropy_with_logits(
        scores, (where > 0).float(), reduction="none",
        pos_weight=torch.tensor(_FOR_SPOILT, device=scores.device),
    )  # fmt: skip
    return (each * (where >= 0)).sum() / (where >= 0).sum()
