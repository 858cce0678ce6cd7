"""What a phone makes of a line: scale, blur, light, grain, JPEG; then the line normalized.

Levels 0 (good) to 4 (very poor): digits 40, 31, 24, 19 and 15 px high in the photo.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import torch
import torch.nn.functional as nn_f

from pairing.training.drawn_lines import Lines
from pairing.training.line_paper import Paper, blurred
from pairing.training.marks import HIGH, WIDE

LEVEL_DIGIT_PX = (40.0, 31.0, 24.0, 19.0, 15.0)
OUT_HIGH, OUT_WIDE = 32, 640
"""The network's input, px."""

_LUMINANCE = torch.tensor(
    [
        [16, 11, 10, 16, 24, 40, 51, 61],
        [12, 12, 14, 19, 26, 58, 60, 55],
        [14, 13, 16, 24, 40, 57, 69, 56],
        [14, 17, 22, 29, 51, 87, 80, 62],
        [18, 22, 37, 56, 68, 109, 103, 77],
        [24, 35, 55, 64, 81, 104, 113, 92],
        [49, 64, 78, 87, 103, 121, 120, 101],
        [72, 92, 95, 98, 112, 100, 103, 99],
    ],
    dtype=torch.float32,
)
"""ITU-T T.81, Annex K, table K.1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Residue:
    """How far from level and upright the finder leaves a line, standard deviations, px of HIGH.
    shear: columns a row; 1 is 45 degrees."""

    end_px: float
    off_px: float
    shear: float


LEFT = Residue(end_px=1.6, off_px=1.2, shear=0.03)
"""Measured with the finder on 312 lines of 278 drawn photos and 22 lines of real photos: print
is off at its ends by 0.4, hands by 1.8 (their own unevenness in it), sheared by 0.00 and, in 2 of
the 22 real ones, by 0.1 and 0.3."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """How one batch is photographed; one scale and blur for all its lines. sharpened: by how much
    of what a blur takes away the phone makes edges steeper."""

    digit_px: float
    blur_px: float
    motion_px: float
    noise: float
    quality: float
    sharpened: float = 0.0


def shot_at(level: float, rng: torch.Generator) -> Shot:
    """A shot of a level between 0 and 4; fractions lie in between."""
    u = torch.rand(5, generator=rng, device=rng.device).tolist()
    low = min(int(max(level, 0)), 3)
    px = LEVEL_DIGIT_PX[low] + (level - low) * (LEVEL_DIGIT_PX[low + 1] - LEVEL_DIGIT_PX[low])
    return Shot(
        digit_px=px * (0.94 + 0.12 * u[0]),
        blur_px=0.4 + 0.1 * level + (0.3 + 0.07 * level) * u[1],
        motion_px=(1.0 + 0.5 * level) * max(0.0, 5 * u[2] - 4),
        noise=(0.006 + 0.003 * level) * (0.4 + 1.2 * u[3]),
        quality=93 - 8 * level - 12 * u[4],
    )


def other_shot(level: float, rng: torch.Generator) -> Shot:
    """A shot of another phone: half of them as `shot_at`; the others out of focus, grainy, saved
    small or sharpened, each more than its level's."""
    shot, u = shot_at(level, rng), torch.rand(8, generator=rng, device=rng.device).tolist()
    if u[0] < 0.5:
        return shot
    return replace(
        shot,
        digit_px=max(11.0, shot.digit_px * (0.75 + 0.5 * u[1])),
        blur_px=shot.blur_px * (1 + 1.2 * u[2] * (u[3] < 0.5)),
        noise=shot.noise * (1 + 2.5 * u[4] * (u[5] < 0.4)),
        quality=max(18.0, shot.quality - 35 * u[6] * (u[6] > 0.5)),
        sharpened=1.5 * u[7] * (u[7] > 0.6),
    )


class Camera(Paper):
    """Takes batches of lines to normalized pictures (b, 1, OUT_HIGH, OUT_WIDE)."""

    def __init__(self, device: torch.device, rng: torch.Generator, is_clean: bool = False):
        """is_clean: the levels alone, with shadows and rules, but no glare and no faint ink."""
        super().__init__(device, rng, is_clean)
        at = torch.arange(8, device=device, dtype=torch.float32)
        dct = torch.cos((2 * at[None, :] + 1) * at[:, None] * torch.pi / 16) / 2
        dct[0] = 8**-0.5
        self.dct, self.table = dct, _LUMINANCE.to(device)

    def photograph(self, lines: Lines, shot: Shot) -> torch.Tensor:
        """Gray pictures of the lines, normalized as `written.reader.normalized` does."""
        return normalized(self.taken(self.on_paper(lines), shot))

    def taken(self, paper: torch.Tensor, shot: Shot) -> torch.Tensor:
        """Gray pictures (b, 1, OUT_HIGH, OUT_WIDE) uint8 of lines on paper."""
        scale = max(14, round(64 * shot.digit_px / 42.0)) / 64
        photo = self._seen(paper, scale)
        photo = blurred(photo, (shot.blur_px**2 + 0.05) ** 0.5, shot.motion_px)
        photo = self._lit(photo)
        photo = photo + shot.noise * self._n(*photo.shape)
        if shot.sharpened:
            photo = photo + shot.sharpened * (photo - blurred(photo, 1.2, 0.0))
        photo = self._compressed(photo.clamp(0, 1), shot.quality)
        line = nn_f.interpolate(
            photo[:, None], (OUT_HIGH, OUT_WIDE), mode="bilinear", antialias=scale > 0.5,
            align_corners=False,
        )  # fmt: skip
        return (255 * line).round().to(torch.uint8)

    def masked(self, pictures: torch.Tensor, ends: torch.Tensor) -> torch.Tensor:
        """Half of the pictures with bare paper before and after the line, as the finder paints
        it (`written.box_lines`), give or take how far the camera moved its ends."""
        some = self._some(len(pictures), 0.5)
        n, wide = len(some), pictures.shape[3]
        seen = pictures[some]
        paper = seen[:, 0, ::4, ::8].flatten(1).float().quantile(0.75, 1).round().to(torch.uint8)
        cols = torch.arange(wide, device=self.device)
        scale = wide / WIDE
        near = self._u(n, 2, low=8.0, high=24.0)
        first = ends[some, :1] * scale - near[:, :1]
        last = ends[some, 1:] * scale + near[:, 1:]
        is_bare = ((cols < first) | (cols > last))[:, None, None, :]
        pictures[some] = torch.where(is_bare, paper[:, None, None, None], seen)
        return pictures

    def _seen(self, paper: torch.Tensor, scale: float) -> torch.Tensor:
        """Resampled to the photo's scale, a little turned, sheared and off: as the finder leaves
        lines (`LEFT`) and, in training, twice that and now and then much more."""
        b = len(paper)
        high, wide = round(HIGH * scale), round(WIDE * scale)
        if scale < 0.9:
            paper = blurred(paper, 0.42 / scale, 0.0)
        y, x = torch.meshgrid(
            torch.linspace(-1, 1, high, device=self.device),
            torch.linspace(-1, 1, wide, device=self.device),
            indexing="ij",
        )
        more = self._u(b, 1, 1)
        more = 1.0 if self.is_clean else torch.where(more < 0.1, 5.0, 2.0)
        turn = LEFT.end_px / (HIGH / 2) * more * self._n(b, 1, 1).clamp(-2.5, 2.5)
        shear = LEFT.shear * HIGH / WIDE * more * self._n(b, 1, 1).clamp(-2.5, 2.5)
        bow = 0.04 * self._n(b, 1, 1)
        keystone = 0.05 * self._n(b, 1, 1)
        grid_x = x + shear * y + 0.02 * self._n(b, 1, 1) * x * x
        grid_y = y + x * (keystone * y + turn) + bow * (x * x - 0.4)
        grid_y = grid_y + LEFT.off_px / (HIGH / 2) * self._n(b, 1, 1)
        return nn_f.grid_sample(
            paper[:, None], torch.stack([grid_x, grid_y], -1), mode="bilinear",
            padding_mode="border", align_corners=True,
        )[:, 0]  # fmt: skip

    def _lit(self, photo: torch.Tensor) -> torch.Tensor:
        b, high, wide = photo.shape
        x = torch.linspace(-1, 1, wide, device=self.device)[None, None, :]
        y = torch.linspace(-1, 1, high, device=self.device)[None, :, None]
        light = self._u(b, 1, 1, low=0.45, high=1.08) * (1 + 0.15 * self._n(b, 1, 1) * x)
        haze = 0.12 * self._u(b, 1, 1)
        seen = photo * (light * (1 - haze)) + haze * 0.6
        some = self._some(b, 0.2)
        n = len(some)
        edge = self._u(n, 1, 1, low=-1.2, high=1.2) + self._u(n, 1, 1, low=-0.2, high=0.2) * y
        side = torch.where(self._u(n, 1, 1) < 0.5, -1.0, 1.0)
        steep = self._u(n, 1, 1, low=10, high=150) * side
        depth = self._u(n, 1, 1, low=0.15, high=0.5)
        seen[some] = seen[some] * (1 - depth * torch.sigmoid((x - edge) * steep))
        if not self.is_clean:
            some = self._some(b, 0.03)
            n = len(some)
            spot = (x - self._u(n, 1, 1, low=-1)) / self._u(n, 1, 1, low=0.05, high=0.5)
            glare = self._u(n, 1, 1, low=0.1, high=0.55)
            seen[some] = seen[some] + glare * torch.exp(-(spot**2))
        return seen.clamp(0, 1.0) ** self._u(b, 1, 1, low=0.75, high=1.35)

    def _compressed(self, photo: torch.Tensor, quality: float) -> torch.Tensor:
        b, high, wide = photo.shape
        padded = nn_f.pad(photo[:, None], (0, -wide % 8, 0, -high % 8), mode="replicate")[:, 0]
        h, w = padded.shape[1:]
        factor = 50 / quality if quality < 50 else 2 - quality / 50
        table = (self.table * factor).clamp(min=1) / 255
        blocks = padded.reshape(b, h // 8, 8, w // 8, 8).transpose(2, 3) - 0.5
        # A matrix on the right of many blocks is one product, on their left it is many.
        halfway = (blocks @ self.dct.T).transpose(-1, -2)
        coefficients = torch.round(halfway @ self.dct.T / table.T) * table.T
        blocks = (coefficients @ self.dct).transpose(-1, -2) @ self.dct + 0.5
        return blocks.transpose(2, 3).reshape(b, h, w)[:, :high, :wide].clamp(0, 1)


def normalized(line: torch.Tensor) -> torch.Tensor:
    """uint8 pictures to mean 0, standard deviation 1 (a floor keeps an empty line flat)."""
    line = line.float() / 255
    mean = line.mean((-2, -1), keepdim=True)
    spread = line.std((-2, -1), keepdim=True, unbiased=False)
    return (line - mean) / (spread + 0.02)
