"""The network: convolutions over the line, context and attention along it, and CTC."""

from __future__ import annotations

import torch
from torch import nn

from pairing.training.character_sources import CHARACTERS
from pairing.training.sorts import LINE_KINDS

CLASSES = 1 + len(CHARACTERS)
"""Class 0 is CTC's blank; the characters follow."""
STEPS = 160
_SHAPES = 11
"""Of the body's layers, before any that looks along the line."""


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


class _Attention(nn.Module):
    """Every place looks at every other: how this hand makes its other digits tells a flagged 1
    from a 7 and an open 4 from a 9. heads: looks side by side, each `size` wide."""

    def __init__(self, channels: int, heads: int, size: int, drop: float):
        super().__init__()
        self.heads, self.size = heads, size
        self.norm = nn.BatchNorm2d(channels)
        self.ask = nn.Conv2d(channels, 3 * heads * size, 1, bias=False)
        self.out = nn.Conv2d(heads * size, channels, 1)
        self.drop = nn.Dropout(drop)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        asked = self.ask(self.norm(x)).reshape(-1, 3, self.heads, self.size, STEPS)
        wanted, shown, said = asked.unbind(1)
        share = torch.softmax(wanted.transpose(2, 3) * self.size**-0.5 @ shown, 3)
        heard = (said @ share.transpose(2, 3)).reshape(-1, self.heads * self.size, 1, STEPS)
        return x + self.drop(self.out(heard))


def _step(inner: int, outer: int, stride: tuple[int, int] | int, size: int = 3) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(inner, outer, size, stride=stride, padding=size // 2, bias=False),
        nn.BatchNorm2d(outer),
        nn.ReLU(inplace=True),
    )


class _Kinds(nn.Module):
    """What the line is, from the strongest and the mean of what each place shows of it."""

    def __init__(self, channels: int, inner: int):
        super().__init__()
        self.shown = nn.Sequential(
            nn.BatchNorm2d(channels),
            nn.Conv2d(channels, inner, 1),
            nn.LeakyReLU(0.1),
            nn.Conv2d(inner, inner, (1, 7), padding=(0, 3)),
            nn.LeakyReLU(0.1),
        )
        self.strongest, self.mean = nn.AdaptiveMaxPool2d(1), nn.AdaptiveAvgPool2d(1)
        self.told = nn.Conv2d(2 * inner, len(LINE_KINDS), 1)

    def forward(self, traits: torch.Tensor) -> torch.Tensor:
        shown = self.shown(traits)
        told = self.told(torch.cat([self.strongest(shown), self.mean(shown)], 1))
        return told.flatten(1)


class Reader(nn.Module):
    """(b, 1, 32, 640) normalized pictures to three scores: see `outputs`."""

    def __init__(self, drop: float = 0.05):
        super().__init__()
        self.body = nn.Sequential(
            _step(1, 16, 1),
            _step(16, 48, 2),
            _step(48, 48, 1),
            _step(48, 112, 2),
            _Residual(112),
            _step(112, 160, (2, 1)),
            _Residual(160),
            nn.Conv2d(160, 256, (4, 1), bias=False),
            nn.BatchNorm2d(256),
            nn.ReLU(inplace=True),
            nn.Dropout(drop),
            _Context(256, 9, drop),
            _Attention(256, 4, 32, drop),
            _Context(256, 15, drop),
            _Attention(256, 4, 32, drop),
            _Context(256, 15, drop),
            _Attention(256, 4, 32, drop),
            _Context(256, 9, drop),
        )
        self.head = nn.Conv2d(256, CLASSES, 1)
        # Leaky: with plain ones all units learned what is whole, and nothing what is spoiled.
        self.blots = nn.Sequential(
            nn.BatchNorm2d(512),
            nn.Conv2d(512, 96, 1),
            nn.LeakyReLU(0.1),
            nn.Conv2d(96, 64, (1, 7), padding=(0, 3)),
            nn.LeakyReLU(0.1),
            nn.Conv2d(64, 1, 1),
        )
        self.kinds = _Kinds(512, 32)

    def forward(self, x: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
        """(b, STEPS, CLASSES) scores before softmax, (b, STEPS) scores before the logistic
        function of a spoiled character in each place, and (b, len(LINE_KINDS)) scores before
        softmax of what the line is."""
        traits = self.traits(x)
        read = self.head(traits[:, 256:])[:, :, 0].transpose(1, 2)
        return read, self.blots(traits)[:, 0, 0], self.kinds(traits)

    def traits(self, x: torch.Tensor) -> torch.Tensor:
        """(b, 512, 1, STEPS): what the convolutions make of each place, and the whole network."""
        shapes = self.body[:_SHAPES](x)
        return torch.cat([shapes, self.body[_SHAPES:](shapes)], 1)
