"""The network: convolutions over the line, context along it, and CTC."""

from __future__ import annotations

import torch
from torch import nn

from pairing.photos.training.sources import CHARACTERS

CLASSES = 1 + len(CHARACTERS)
"""Class 0 is CTC's blank; the characters follow."""
STEPS = 160


class _Residual(nn.Module):
    def __init__(self, channels: int):
        super().__init__()
        self.body = nn.Sequential(
            nn.Conv2d(channels, channels, 3, padding=1, bias=False),
            nn.BatchNorm2d(channels),
            nn.ReLU(inplace=True),
            nn.Conv2d(channels, channels, 3, padding=1, bias=False),
            nn.BatchNorm2d(channels),
        )

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        return torch.relu(x + self.body(x))


class _Context(nn.Module):
    """A wide depthwise convolution along the line, then a pointwise bottleneck."""

    def __init__(self, channels: int, reach: int, drop: float):
        super().__init__()
        self.along = nn.Conv2d(
            channels, channels, (1, reach), padding=(0, reach // 2), groups=channels, bias=False
        )
        self.norm = nn.BatchNorm2d(channels)
        self.mix = nn.Conv2d(channels, channels, 1, bias=False)
        self.norm2 = nn.BatchNorm2d(channels)
        self.drop = nn.Dropout(drop)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        y = torch.relu(self.norm(self.along(x)))
        return torch.relu(x + self.drop(self.norm2(self.mix(y))))


def _step(inner: int, outer: int, stride: tuple[int, int] | int, size: int = 3) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(inner, outer, size, stride=stride, padding=size // 2, bias=False),
        nn.BatchNorm2d(outer),
        nn.ReLU(inplace=True),
    )


class Reader(nn.Module):
    """(b, 1, 32, 640) normalised pictures to (b, STEPS, CLASSES) scores before softmax."""

    def __init__(self, drop: float = 0.1):
        super().__init__()
        self.body = nn.Sequential(
            _step(1, 16, 1),
            _step(16, 48, 2),
            _step(48, 48, 1),
            _step(48, 96, 2),
            _Residual(96),
            _step(96, 128, (2, 1)),
            _Residual(128),
            nn.Conv2d(128, 224, (4, 1), bias=False),
            nn.BatchNorm2d(224),
            nn.ReLU(inplace=True),
            nn.Dropout(drop),
            _Context(224, 9, drop),
            _Context(224, 15, drop),
            _Context(224, 9, drop),
        )
        self.head = nn.Conv2d(224, CLASSES, 1)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        return self.head(self.body(x))[:, :, 0].transpose(1, 2)
