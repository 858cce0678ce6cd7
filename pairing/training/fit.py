"""Training: lines made on the fly, never the same twice, for a given stretch of time."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import torch
import torch.nn.functional as nn_f
from torch.optim.swa_utils import AveragedModel, get_ema_multi_avg_fn

from pairing.training.glyphs import Glyphs
from pairing.training.making import Batch, Order, batches
from pairing.training.network import STEPS, Reader
from pairing.training.phone_photo import normalized
from pairing.training.restoring import restored
from pairing.training.sorts import UNTOLD


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How one training run goes. seconds: its length by the clock, all told. rate: the
    highest learning rate. start: weights (.pt, .onnx) to go on from, or None. makers: processes
    that make the lines, 0 for the training's own. is_half: 16-bit sums (bfloat16), on an
    accelerator always and on a processor that has them. is_compiled: the network's steps fused
    by PyTorch."""

    seconds: float
    batch: int = 512
    shots: int = 16
    together: int = 4
    rate: float = 3e-3
    seed: int = 1
    start: Path | None = None
    warm_share: float = 0.04
    makers: int = 0
    is_half: bool = False
    is_compiled: bool = False


def fit(path: Path, glyphs: Glyphs, plan: Plan, out: Path, say: Callable[[str], None]) -> Reader:
    """Train a reader and leave the averaged weights in `out` (a checkpoint every 2 minutes).

    path: the file that `glyphs` were loaded from, for the processes that make lines."""
    device = glyphs.fields.device
    where = f"cuda:{torch.cuda.device_count() - 1}" if device.type == "cuda" else str(device)
    order = Order(
        path=path, size=plan.batch, shots=plan.shots, together=plan.together,
        seed=plan.seed, device=where,
    )  # fmt: skip
    return _fitted(device, batches(order, glyphs, plan.makers), plan, out, say)


def _fitted(
    device: torch.device,
    made: Iterator[Batch],
    plan: Plan,
    out: Path,
    say: Callable[[str], None],
) -> Reader:
    begun = time.monotonic()
    torch.manual_seed(plan.seed)
    # The camera's shapes change, the network's do not.
    torch.backends.cudnn.benchmark = plan.makers > 0
    model = Reader().to(device).to(memory_format=torch.channels_last)
    if plan.start:
        model.load_state_dict(_start(plan.start, made).to(device).state_dict())
    average = AveragedModel(model, use_buffers=True)
    run = torch.compile(model) if plan.is_compiled else model
    optimizer = _optimizer(model, plan.rate)
    step, seen, losses, saved = 0, 0, [], time.monotonic()
    while (share := (time.monotonic() - begun) / plan.seconds) < 1:
        for group in optimizer.param_groups:
            group["lr"] = plan.rate * _schedule(share, plan.warm_share)
        batch = next(made)
        loss = _loss(run, batch, device, plan.is_half)
        optimizer.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(model.parameters(), 2.0)
        optimizer.step()
        step, seen = step + 1, seen + len(batch[1])
        average.multi_avg_fn = get_ema_multi_avg_fn(min(0.999, (1 + step) / (10 + step)))
        average.update_parameters(model)
        losses.append(loss.detach())
        if step % 250 == 0 or step in {3, 50}:
            mean = torch.stack(losses).mean().item()
            losses = []
            say(f"{time.monotonic() - begun:6.0f} s  step {step}  {seen} lines  loss {mean:.4f}")
        if time.monotonic() - saved > 120:
            torch.save(average.module.state_dict(), out)
            saved = time.monotonic()
    torch.save(average.module.state_dict(), out)
    return average.module


def _start(path: Path, made: Iterator[Batch]) -> Reader:
    """The weights that a run saved, or those of an exported network."""
    if path.suffix == ".onnx":
        return restored(path, normalized(next(made)[0][:256].cpu()))
    reader = Reader()
    reader.load_state_dict(torch.load(path, map_location="cpu"), strict=False)
    return reader


def _optimizer(model: Reader, rate: float) -> torch.optim.Optimizer:
    matrices = [p for p in model.parameters() if p.ndim > 1]
    others = [p for p in model.parameters() if p.ndim <= 1]
    return torch.optim.AdamW(
        [{"params": matrices, "weight_decay": 0.02}, {"params": others, "weight_decay": 0.0}],
        lr=rate, betas=(0.9, 0.98),
    )  # fmt: skip


def _schedule(share: float, warm: float) -> float:
    if share < warm:
        return 0.02 + share / warm
    return 0.01 + 0.99 * 0.5 * (1 + math.cos(math.pi * (share - warm) / (1 - warm)))


BLOTS_WEIGHT, KINDS_WEIGHT = 0.2, 0.1
"""Of the second and the third output's loss beside the text's for a character."""
FOR_SPOILED = 4.0
"""Weight of a spoiled character's steps beside others."""


def _loss(
    run: Callable[[torch.Tensor], tuple[torch.Tensor, ...]],
    batch: Batch,
    device: torch.device,
    is_half: bool,
) -> torch.Tensor:
    pictures, texts, what, is_text, spoiled = batch
    lengths = (texts >= 0).sum(1)
    pictures, targets, what, is_text, spoiled = (
        one.to(device, non_blocking=True)
        for one in (pictures, (texts.long() + 1).clamp(min=0), what.long(), is_text, spoiled)
    )
    with torch.autocast(
        device.type, dtype=torch.bfloat16, enabled=is_half or device.type == "cuda"
    ):
        scores, blots, kinds = run(normalized(pictures).to(memory_format=torch.channels_last))
    chances = nn_f.log_softmax(scores.float(), 2).transpose(0, 1)
    steps = torch.full((len(texts),), STEPS)
    # Lengths on the host: the sum asks for them there, and would wait for the accelerator.
    each = nn_f.ctc_loss(chances, targets, steps, lengths, reduction="none", zero_infinity=True)
    weights = (1 / lengths.clamp(min=8)).to(device, non_blocking=True)
    read = (each * weights * is_text).mean()
    marked = nn_f.binary_cross_entropy_with_logits(
        blots.float(), (spoiled > 0).float(), reduction="none",
        pos_weight=torch.tensor(FOR_SPOILED, device=device),
    )  # fmt: skip
    marked = (marked * (spoiled >= 0)).sum() / (spoiled >= 0).sum().clamp(min=1)
    named = nn_f.cross_entropy(kinds.float(), what, ignore_index=UNTOLD)
    return read + BLOTS_WEIGHT * marked + KINDS_WEIGHT * named
