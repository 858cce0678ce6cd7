"""The network: what each pixel of a card is, whether its number is altered, and which way up."""

from __future__ import annotations

import torch
import torch.nn.functional as nn_f
from torch import nn

from pairing.training.finder.canvas import KINDS

OUTPUTS = len(KINDS) + 3
"""Scores of the kinds; of the number being altered; the reading direction's cosine and sine."""
WIDTHS = (16, 32, 64, 96)
LOCAL_PX = 31
"""What a pixel is held against: the mean of so many around it."""


def _conv(inner: int, outer: int, size: int = 3, stride: int = 1, apart: int = 1) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(inner, outer, size, stride, apart * (size // 2), apart, bias=False),
        nn.BatchNorm2d(outer),
        nn.ReLU(inplace=True),
    )


class _Added(nn.Module):
    def __init__(self, *layers: nn.Module):
        super().__init__()
        self.layers = nn.Sequential(*layers)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        return x + self.layers(x)


class Segmenter(nn.Module):
    """(b, 2, h, w) inputs, h and w multiples of 16, to (b, OUTPUTS, h / 2, w / 2) scores."""

    def __init__(self) -> None:
        super().__init__()
        a, b, c, d = WIDTHS
        self.halved = _conv(2, a, 5, 2)
        self.quarter = nn.Sequential(_conv(a, b, 3, 2), _Added(_conv(b, b)))
        self.eighth = nn.Sequential(_conv(b, c, 3, 2), _Added(_conv(c, c)), _Added(_conv(c, c)))
        self.deep = nn.Sequential(
            _conv(c, d, 3, 2),
            *(_Added(_conv(d, d, apart=apart)) for apart in (1, 2, 4)),
        )
        self.up3, self.up2, self.up1 = nn.Conv2d(d, c, 1), nn.Conv2d(c, b, 1), nn.Conv2d(b, a, 1)
        self.back3, self.back2 = _Added(_conv(c, c)), _Added(_conv(b, b))
        self.back1 = _conv(a, a)
        self.head = nn.Conv2d(a, OUTPUTS, 1)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        first = self.halved(x)
        second = self.quarter(first)
        third = self.eighth(second)
        y = self.back3(_doubled(self.up3(self.deep(third))) + third)
        y = self.back2(_doubled(self.up2(y)) + second)
        return self.head(self.back1(_doubled(self.up1(y)) + first))


def _doubled(x: torch.Tensor) -> torch.Tensor:
    return nn_f.interpolate(x, scale_factor=2.0, mode="nearest")


def inputs_of(gray: torch.Tensor) -> torch.Tensor:
    """(b, 1, h, w) gray 0 to 1, as 255 steps, to the network's input: as `photos.finder` does."""
    mean = gray.mean((-2, -1), keepdim=True)
    spread = gray.std((-2, -1), keepdim=True, unbiased=False)
    half = LOCAL_PX // 2
    padded = nn_f.pad(gray, (half, half, half, half), mode="replicate")
    local = nn_f.avg_pool2d(padded, LOCAL_PX, 1)
    return torch.cat([(gray - mean) / (spread + 0.02), ((gray - local) / 0.12).clamp(-2, 2)], 1)
