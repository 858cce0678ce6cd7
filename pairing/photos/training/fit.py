"""Training: lines made on the fly, never the same twice, for a given stretch of time."""

from __future__ import annotations

import copy
import math
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import torch
import torch.nn.functional as nn_f

from pairing.photos.training.glyphs import Glyphs
from pairing.photos.training.making import Batch, batches
from pairing.photos.training.network import STEPS, Reader


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How one training run goes. seconds: its length by the clock, all told. rate: the
    highest learning rate. start: weights to go on from, or None. makers: processes that make
    the lines, 0 for the training's own. is_half: 16-bit sums (bfloat16), on an accelerator always
    and on a processor that has them."""

    seconds: float
    batch: int = 768
    chunks: int = 6
    rate: float = 3e-3
    seed: int = 1
    start: Path | None = None
    warm_share: float = 0.04
    makers: int = 0
    is_half: bool = False


def fit(path: Path, glyphs: Glyphs, plan: Plan, out: Path, say: Callable[[str], None]) -> Reader:
    """Train a reader and leave the averaged weights in `out` (a checkpoint every 2 minutes).

    path: the file that `glyphs` were loaded from, for the processes that make lines."""
    sizes = (plan.batch, plan.chunks)
    with batches(path, glyphs, sizes, plan.seed, plan.makers) as made:
        return _fitted(glyphs.fields.device, made, plan, out, say)


def _fitted(
    device: torch.device,
    made: Iterator[Batch],
    plan: Plan,
    out: Path,
    say: Callable[[str], None],
) -> Reader:
    begun = time.monotonic()
    torch.manual_seed(plan.seed)
    model = Reader().to(device).to(memory_format=torch.channels_last)
    if plan.start:
        model.load_state_dict(torch.load(plan.start, map_location=device))
    average = copy.deepcopy(model)
    matrices = [p for p in model.parameters() if p.ndim > 1]
    others = [p for p in model.parameters() if p.ndim <= 1]
    optimiser = torch.optim.AdamW(
        [{"params": matrices, "weight_decay": 0.02}, {"params": others, "weight_decay": 0.0}],
        lr=plan.rate, betas=(0.9, 0.98),
    )  # fmt: skip
    step, seen, losses, saved = 0, 0, [], time.monotonic()
    while (share := (time.monotonic() - begun) / plan.seconds) < 1:
        rate = plan.rate * _schedule(share, plan.warm_share)
        for group in optimiser.param_groups:
            group["lr"] = rate
        pictures, texts = next(made)
        torch.backends.cudnn.benchmark = True  # the network's shapes never change
        loss = _loss(model, pictures, texts, plan.is_half)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.backends.cudnn.benchmark = False  # the camera's do
        torch.nn.utils.clip_grad_norm_(model.parameters(), 2.0)
        optimiser.step()
        step, seen = step + 1, seen + len(texts)
        _follow(average, model, min(0.998, (1 + step) / (10 + step)))
        losses.append(loss.detach())
        if step % 250 == 0 or step in {3, 50}:
            mean = torch.stack(losses).mean().item()
            losses = []
            say(f"{time.monotonic() - begun:6.0f} s  step {step}  {seen} lines  loss {mean:.4f}")
        if time.monotonic() - saved > 120:
            torch.save(average.state_dict(), out)
            saved = time.monotonic()
    torch.save(average.state_dict(), out)
    return average


def _schedule(share: float, warm: float) -> float:
    if share < warm:
        return 0.02 + share / warm
    return 0.01 + 0.99 * 0.5 * (1 + math.cos(math.pi * (share - warm) / (1 - warm)))


def _loss(
    model: Reader, pictures: torch.Tensor, texts: torch.Tensor, is_half: bool
) -> torch.Tensor:
    device = pictures.device
    with torch.autocast(
        device.type, dtype=torch.bfloat16, enabled=is_half or device.type == "cuda"
    ):
        scores = model(pictures.to(memory_format=torch.channels_last))
    chances = nn_f.log_softmax(scores.float(), 2).transpose(0, 1)
    lengths = (texts >= 0).sum(1)
    targets = texts[texts >= 0] + 1
    steps = torch.full((len(texts),), STEPS, device=device)
    each = nn_f.ctc_loss(chances, targets, steps, lengths, reduction="none", zero_infinity=True)
    return (each / lengths.clamp(min=8)).mean()


@torch.no_grad()
def _follow(average: Reader, model: Reader, decay: float) -> None:
    for mine, theirs in zip(
        average.state_dict().values(), model.state_dict().values(), strict=True
    ):
        if mine.dtype.is_floating_point:
            mine.lerp_(theirs, 1 - decay)
        else:
            mine.copy_(theirs)
