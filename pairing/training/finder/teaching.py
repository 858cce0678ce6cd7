"""Training of the two networks: scenes drawn by many processes, photographed on the accelerator."""

from __future__ import annotations

import math
import multiprocessing
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import torch
import torch.nn.functional as nn_f
from torch.optim.swa_utils import AveragedModel, get_ema_multi_avg_fn

from pairing.training.finder.canvas import NUMBER, PX_PER_MM
from pairing.training.finder.scenes import SIZE_MM, draw
from pairing.training.finder.segmenting import Segmenter, inputs_of
from pairing.training.finder.shots import FAR, NEAR, Photographer, View, Windows

HIGH, WIDE = (round(v * PX_PER_MM) for v in SIZE_MM[::-1])
KIND_WEIGHTS = (0.35, 0.7, 2.0, 1.0, 2.0, 0.7)
ALTERED_WEIGHT, FACING_WEIGHT = 0.3, 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """seconds: by the clock, all told. makers: processes that draw. pool: scenes kept at a time.
    batch: windows a step of each network."""

    seconds: float
    makers: int = 15
    pool: int = 768
    batch: tuple[int, int] = (48, 48)
    rate: float = 2e-3
    seed: int = 1


def _make(name: str, slots: int, folder: str, seed: int, free: Any, ready: Any) -> None:
    import cv2  # noqa: PLC0415

    from pairing.training.finder.materials import load  # noqa: PLC0415

    cv2.setNumThreads(1)
    shared = np.memmap(name, np.uint8, "r+", shape=(slots, 2, HIGH, WIDE))
    materials, rng = load(Path(folder)), np.random.default_rng(seed)
    while True:
        slot = free.get()
        if slot is None:
            return
        try:
            scene = draw(materials, rng)
        except Exception as error:  # one scene that cannot be drawn is no matter
            ready.put((slot, None, repr(error)))
            continue
        shared[slot, 0], shared[slot, 1] = scene.gray, scene.kinds
        ready.put((slot, (scene.altered, scene.card, scene.number), ""))


class Pool:
    """Scenes on the accelerator, replaced as new ones are drawn."""

    def __init__(self, plan: Plan, folder: Path, device: torch.device, rng: torch.Generator):
        self.plan, self.device, self.rng = plan, device, rng
        context = multiprocessing.get_context("spawn")
        self.slots = plan.makers * 4
        self.file = folder / "scenes.raw"
        self.shared = np.memmap(self.file, np.uint8, "w+", shape=(self.slots, 2, HIGH, WIDE))
        self.free, self.ready = context.Queue(), context.Queue()
        for slot in range(self.slots):
            self.free.put(slot)
        self.makers = [
            context.Process(target=_make, daemon=True, args=(
                str(self.file), self.slots, str(folder), plan.seed * 1000 + at, self.free, self.ready))
            for at in range(plan.makers)
        ]  # fmt: skip
        for maker in self.makers:
            maker.start()
        self.scenes = torch.zeros((plan.pool, 2, HIGH, WIDE), dtype=torch.uint8, device=device)
        self.altered = torch.zeros(plan.pool, dtype=torch.long, device=device)
        self.number = torch.zeros((plan.pool, 4), device=device)
        self.card = torch.zeros((plan.pool, 4), device=device)
        self.has = torch.zeros(plan.pool, dtype=torch.bool, device=device)
        self.seen, self.failed, self.last_error = 0, 0, ""

    def refill(self, most: int) -> None:
        """Take in what was drawn in the meantime, waiting only while the pool is nearly empty."""
        for _ in range(most):
            if self.seen >= self.plan.batch[0] * 2 and self.ready.empty():
                return
            slot, told, error = self.ready.get()
            if told is None:
                self.failed += 1
                self.last_error = error
                self.free.put(slot)
                continue
            at = self.seen % self.plan.pool
            altered, card, number = told
            self.scenes[at] = torch.from_numpy(self.shared[slot]).to(self.device)
            self.altered[at] = altered
            self.card[at] = torch.tensor(card, device=self.device)
            self.has[at] = number is not None
            self.number[at] = torch.tensor(number or card, device=self.device)
            self.seen += 1
            self.free.put(slot)

    def windows(self, photographer: Photographer, view: View, many: int) -> Windows:
        """Windows of scenes at random; near views mostly of numbers' lines."""
        filled = min(self.seen, self.plan.pool)
        chosen = torch.randint(0, filled, (many,), device=self.device, generator=self.rng)
        at_number = torch.rand(many, device=self.device, generator=self.rng) < 0.75
        where = torch.where(at_number[:, None], self.number[chosen], self.card[chosen])
        if view.quarters == 0:
            # Another line of the card: what is no number must be told there too.
            u = torch.rand((many, 2), device=self.device, generator=self.rng)
            card = self.card[chosen]
            spot = card[:, :2] + u * (card[:, 2:] - card[:, :2])
            is_line = at_number & self.has[chosen]
            where = torch.where(is_line[:, None], where, torch.cat([spot, spot], 1))
        return photographer.taken(self.scenes[chosen], where, self.altered[chosen], view)

    def close(self) -> None:
        """End the makers."""
        for maker in self.makers:
            maker.terminate()
        self.file.unlink()


def loss_of(scores: torch.Tensor, windows: Windows) -> tuple[torch.Tensor, torch.Tensor]:
    """The loss, and its parts for the log."""
    scores = scores.float()
    many = len(KIND_WEIGHTS)
    kinds = windows.kinds
    weights = torch.tensor(KIND_WEIGHTS, device=scores.device)
    told = nn_f.cross_entropy(scores[:, :many], kinds, weight=weights)
    is_number = (kinds == NUMBER).float()
    share = is_number / is_number.sum((1, 2), keepdim=True).clamp(min=30)
    known = (windows.altered >= 0).float()[:, None, None] * share
    wanted = (windows.altered > 0).float()[:, None, None].expand_as(share)
    each = nn_f.binary_cross_entropy_with_logits(scores[:, many], wanted, reduction="none")
    altered = (each * known).sum() / known.sum().clamp(min=1)
    off = (scores[:, many + 1 :] - windows.facing[:, :, None, None]).pow(2).sum(1)
    facing = (off * share).sum() / share.sum().clamp(min=1)
    parts = torch.stack([told, altered, facing]).detach()
    return told + ALTERED_WEIGHT * altered + FACING_WEIGHT * facing, parts


class Learner:
    """One network, its average and its optimizer."""

    def __init__(self, view: View, plan: Plan, device: torch.device, start: Path | None):
        self.view, self.plan, self.device = view, plan, device
        self.model = Segmenter().to(device).to(memory_format=torch.channels_last)
        if start is not None:
            self.model.load_state_dict(torch.load(start, map_location=device))
        self.average = AveragedModel(self.model, use_buffers=True)
        self.optimizer = torch.optim.AdamW(self.model.parameters(), lr=plan.rate, weight_decay=0.01)
        self.steps = 0
        self.parts: list[torch.Tensor] = []

    def step(self, windows: Windows, rate: float) -> None:
        """One step on windows."""
        for group in self.optimizer.param_groups:
            group["lr"] = rate
        given = inputs_of(windows.gray).to(memory_format=torch.channels_last)
        with torch.autocast(self.device.type, torch.bfloat16, enabled=self.device.type == "cuda"):
            scores = self.model(given)
        loss, parts = loss_of(scores, windows)
        self.optimizer.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(self.model.parameters(), 2.0)
        self.optimizer.step()
        self.steps += 1
        self.average.multi_avg_fn = get_ema_multi_avg_fn(
            min(0.998, (1 + self.steps) / (10 + self.steps))
        )
        self.average.update_parameters(self.model)
        self.parts.append(parts)


def teach(
    folder: Path, plan: Plan, out: Path, say: Callable[[str], None], start: Path | None = None
) -> None:
    """Train both; leaves far.pt and near.pt in `out`. folder: the materials, unpacked."""
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    begun = time.monotonic()
    torch.manual_seed(plan.seed)
    torch.backends.cudnn.benchmark = True
    torch.set_float32_matmul_precision("high")
    rng = torch.Generator(device).manual_seed(plan.seed)
    pool = Pool(plan, folder, device, rng)
    photographer = Photographer(device, rng)
    names = ("far", "near")
    learners = [Learner(view, plan, device, start / f"{name}.pt" if start else None)
                for view, name in zip((FAR, NEAR), names, strict=True)]  # fmt: skip
    pool.refill(plan.batch[0] * 2)
    say(f"{time.monotonic() - begun:.0f} s: first scenes drawn, {device}")
    saved = time.monotonic()
    while (share := (time.monotonic() - begun) / plan.seconds) < 1:
        pool.refill(40)
        rate = plan.rate * (
            min(1.0, 0.05 + share / 0.05) * (0.01 + 0.99 * 0.5 * (1 + math.cos(math.pi * share)))
        )
        for learner, many in zip(learners, plan.batch, strict=True):
            with torch.no_grad():
                windows = pool.windows(photographer, learner.view, many)
            learner.step(windows, rate)
        steps = learners[0].steps
        if steps in {2, 20} or steps % 200 == 0:
            parts = [torch.stack(one.parts).mean(0).tolist() for one in learners]
            for one in learners:
                one.parts = []
            told = "  ".join(
                f"{name} " + " ".join(f"{v:.4f}" for v in values)
                for name, values in zip(names, parts, strict=True)
            )
            say(f"{time.monotonic() - begun:6.0f} s  step {steps}  {pool.seen} scenes  {told}")
        if time.monotonic() - saved > 90 or steps == 2:
            _save(learners, names, out)
            saved = time.monotonic()
    _save(learners, names, out)
    pool.close()


def _save(learners: list[Learner], names: tuple[str, str], out: Path) -> None:
    for learner, name in zip(learners, names, strict=True):
        torch.save(learner.average.module.state_dict(), out / f"{name}.pt")
