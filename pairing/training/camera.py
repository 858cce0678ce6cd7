"""What a phone makes of a line: scale, blur, light, grain, JPEG; then the line normalised.

Levels 0 (good) to 4 (very poor): digits 40, 31, 24, 19 and 15 px high in the photo.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import torch
import torch.nn.functional as nn_f

from pairing.training.marks import HIGH, WIDE
from pairing.training.writing import Lines

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


class Camera:
    """Takes batches of lines to normalised pictures (b, 1, OUT_HIGH, OUT_WIDE)."""

    def __init__(self, device: torch.device, rng: torch.Generator, is_clean: bool = False):
        """is_clean: the levels alone, with shadows and rules, but no glare and no faint ink."""
        self.device, self.rng, self.is_clean = device, rng, is_clean
        at = torch.arange(8, device=device, dtype=torch.float32)
        dct = torch.cos((2 * at[None, :] + 1) * at[:, None] * torch.pi / 16) / 2
        dct[0] = 8**-0.5
        self.dct, self.table = dct, _LUMINANCE.to(device)

    def _u(self, *shape: int, low: float = 0.0, high: float = 1.0) -> torch.Tensor:
        return low + (high - low) * torch.rand(shape, device=self.device, generator=self.rng)

    def _n(self, *shape: int) -> torch.Tensor:
        return torch.randn(shape, device=self.device, generator=self.rng)

    def photograph(self, lines: Lines, shot: Shot) -> torch.Tensor:
        """Grey pictures of the lines, normalised as `written.reader.normalised` does."""
        return normalised(self.taken(self.on_paper(lines), shot))

    def taken(self, paper: torch.Tensor, shot: Shot) -> torch.Tensor:
        """Grey pictures (b, 1, OUT_HIGH, OUT_WIDE) uint8 of lines on paper."""
        scale = max(14, round(64 * shot.digit_px / 42.0)) / 64
        photo = self._seen(paper, scale)
        photo = _blurred(photo, (shot.blur_px**2 + 0.05) ** 0.5, shot.motion_px)
        photo = self._lit(photo)
        photo = photo + shot.noise * self._n(*photo.shape)
        if shot.sharpened:
            photo = photo + shot.sharpened * (photo - _blurred(photo, 1.2, 0.0))
        photo = self._compressed(photo.clamp(0, 1), shot.quality)
        line = nn_f.interpolate(
            photo[:, None], (OUT_HIGH, OUT_WIDE), mode="bilinear", antialias=scale > 0.5,
            align_corners=False,
        )  # fmt: skip
        return (255 * line).round().to(torch.uint8)

    def on_paper(self, lines: Lines) -> torch.Tensor:
        """Reflectance 0..1 (b, HIGH, WIDE): ink, form rules, a strip's edges."""
        b = len(lines.ink)
        tone = self._u(b, 1, 1, low=0.6, high=1.0)
        paper = tone.expand(b, HIGH, WIDE).clone()
        high = lines.digit_px[:, None, None]
        left = lines.ends[:, :1, None] - self._u(b, 1, 1, low=8, high=60)
        right = lines.ends[:, 1:, None] + self._u(b, 1, 1, low=8, high=60)
        tilt = 0.012 * self._n(b, 1, 1)
        if not self.is_clean:
            self._tinted(paper)
        self._glued(paper, high, (left, right), tilt)
        self._ruled(paper, high, (left, right), tilt)
        self._celled(paper, lines)
        dark = self._u(b, 1, 1, low=0.6 if self.is_clean else 0.45, high=1.0)
        if self.is_clean:
            return paper * (1 - dark * lines.ink)
        faint = self._u(b, 1, 1) < 0.08
        dark = torch.where(faint, dark * self._u(b, 1, 1, low=0.3, high=0.6), dark)
        copies = ((self._u(b) < 0.05) & ~lines.is_print).nonzero()[:, 0]
        dotted = ((self._u(b) < 0.06) & lines.is_print).nonzero()[:, 0]
        ink = dark * lines.ink
        ink[dotted] = ink[dotted] * self._needles(len(dotted))
        ink[copies] = dark[copies] * self._copied(lines.ink[copies])
        return paper * (1 - ink)

    def masked(self, pictures: torch.Tensor, ends: torch.Tensor) -> torch.Tensor:
        """Half of the pictures with bare paper before and after the line, as the finder paints
        it (`written.lines`), give or take how far the camera moved its ends."""
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

    def _tinted(self, paper: torch.Tensor) -> None:
        """Some papers are patterned: hatched, dotted, woven, or uneven in tone."""
        some = self._some(len(paper), 0.12)
        n = len(some)
        rows, cols = self._rows_and_cols()
        angle = self._u(n, 1, 1, high=3.2)
        period = self._u(n, 1, 1, low=4, high=24) / 6.283
        along = (angle.cos() * cols + angle.sin() * rows) / period
        across = (angle.sin() * cols - angle.cos() * rows) / period
        pattern = torch.sin(along) + torch.sin(across) * (self._u(n, 1, 1) < 0.5)
        depth = self._u(n, 1, 1, high=0.1)
        paper[some] = (paper[some] * (1 - depth * (0.5 + 0.5 * pattern))).clamp(0, 1)
        some = self._some(len(paper), 0.15)
        broad = self._u(len(some), 1, 3, 12, low=0.75, high=1.05)
        uneven = nn_f.interpolate(broad, (HIGH, WIDE), mode="bilinear", align_corners=False)
        paper[some] = (paper[some] * uneven[:, 0]).clamp(0, 1)

    def _celled(self, paper: torch.Tensor, lines: Lines) -> None:
        """A comb's cells: an upright rule between characters, whole or a tick at the foot."""
        some = (lines.cell_px > 0).nonzero()[:, 0]
        if not len(some):
            return
        n = len(some)
        rows, cols = self._rows_and_cols()
        cell, start = lines.cell_px[some][:, None, None], lines.ends[some, :1, None]
        place = (cols - start) / cell + 0.5
        away = (place - place.floor() - 0.5).abs() * cell
        inside = (cols > start - 4) & (cols < lines.ends[some, 1:, None] + 4)
        half = self._u(n, 1, 1, low=0.5, high=1.6)
        top = HIGH / 2 + lines.digit_px[some][:, None, None] * self._u(n, 1, 1, low=-0.9, high=0.5)
        rule = (half - away + 0.5).clamp(0, 1) * inside * (rows > top)
        paper[some] = paper[some] * (1 - rule * self._u(n, 1, 1, low=0.1, high=0.9))

    def _needles(self, n: int) -> torch.Tensor:
        """What a printer of dots leaves of a line's ink, (n, HIGH, WIDE) shares."""
        rows, cols = self._rows_and_cols()
        period = self._u(n, 1, 1, low=3.0, high=6.0) / 6.283
        dots = torch.sin(rows / period) * torch.sin(cols / period * self._u(n, 1, 1, low=0.8))
        return (0.75 + dots * self._u(n, 1, 1, low=0.2, high=0.8)).clamp(0, 1)

    def _some(self, b: int, share: float) -> torch.Tensor:
        """Indices of about that share of the lines."""
        return (self._u(b) < share).nonzero()[:, 0]

    def _rows_and_cols(self) -> tuple[torch.Tensor, torch.Tensor]:
        rows = torch.arange(HIGH, device=self.device)[None, :, None] + 0.5
        return rows, torch.arange(WIDE, device=self.device)[None, None, :] + 0.5

    def _glued(
        self,
        paper: torch.Tensor,
        high: torch.Tensor,
        ends: tuple[torch.Tensor, torch.Tensor],
        tilt: torch.Tensor,
    ) -> None:
        """Some lines stand on a strip of other paper that throws a shadow."""
        some = self._some(len(paper), 0.3)
        n, high, (left, right) = len(some), high[some], (end[some] for end in ends)
        rows, cols = self._rows_and_cols()
        top = HIGH / 2 - high * self._u(n, 1, 1, low=0.6, high=1.1)
        foot = HIGH / 2 + high * self._u(n, 1, 1, low=0.6, high=1.1)
        level = rows + tilt[some] * (cols - WIDE / 2)
        inside = (level > top) & (level < foot) & (cols > left) & (cols < right)
        under = paper[some]
        white = (under + self._u(n, 1, 1, low=-0.1, high=0.3)).clamp(0.55, 1.0)
        shadow = (level < foot + 3) & (level > top) & (cols < right + 3) & (cols > left)
        paper[some] = torch.where(inside, white, torch.where(shadow, under * 0.8, under))

    def _ruled(
        self,
        paper: torch.Tensor,
        high: torch.Tensor,
        ends: tuple[torch.Tensor, torch.Tensor],
        tilt: torch.Tensor,
    ) -> None:
        """Rules along the lines, near the digits' heads and feet, and across beside them."""
        rows, cols = self._rows_and_cols()
        for share in (0.3, 0.2, 0.12):
            some = self._some(len(paper), share)
            n = len(some)
            side = torch.where(self._u(n, 1, 1) < 0.5, -1.0, 1.0)
            # Never through the middle: what runs there strikes out.
            least = 0.45 if self.is_clean else 0.38
            near = HIGH / 2 + high[some] * side * self._u(n, 1, 1, low=least, high=0.9)
            line = near + 0.008 * self._n(n, 1, 1) * (cols - WIDE / 2)
            half = self._u(n, 1, 1, low=0.5, high=1.8 if self.is_clean else 2.6)
            deep = self._u(n, 1, 1, high=0.8 if self.is_clean else 1.0)
            rule = (half - (rows - line).abs() + 0.5).clamp(0, 1) * deep
            paper[some] = paper[some] * (1 - rule)
        for end, way in zip(ends, (-1, 1), strict=True):
            some = self._some(len(paper), 0.2)
            n = len(some)
            at = end[some] + way * self._u(n, 1, 1, high=80)
            half = self._u(n, 1, 1, low=0.5, high=1.8)
            rule = (half - (cols + tilt[some] * rows - at).abs() + 0.5).clamp(0, 1)
            paper[some] = paper[some] * (1 - rule * self._u(n, 1, 1, high=0.8))

    def _copied(self, ink: torch.Tensor) -> torch.Tensor:
        """The ink of a carbonless copy: soft, mottled, grey."""
        grains = self._u(len(ink), 1, HIGH // 2, WIDE // 2)
        mottled = nn_f.interpolate(grains, (HIGH, WIDE), mode="bilinear", align_corners=False)
        return _blurred(ink, 1.3, 0.0) * (0.3 + 0.5 * mottled[:, 0])

    def _seen(self, paper: torch.Tensor, scale: float) -> torch.Tensor:
        """Resampled to the photo's scale, a little turned, sheared and off: as the finder leaves
        lines (`LEFT`) and, in training, twice that and now and then much more."""
        b = len(paper)
        high, wide = round(HIGH * scale), round(WIDE * scale)
        if scale < 0.9:
            paper = _blurred(paper, 0.42 / scale, 0.0)
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


def normalised(line: torch.Tensor) -> torch.Tensor:
    """uint8 pictures to mean 0, standard deviation 1 (a floor keeps an empty line flat)."""
    line = line.float() / 255
    mean = line.mean((-2, -1), keepdim=True)
    spread = line.std((-2, -1), keepdim=True, unbiased=False)
    return (line - mean) / (spread + 0.02)


def _blurred(photo: torch.Tensor, sigma_px: float, motion_px: float) -> torch.Tensor:
    reach = max(1, int(3 * sigma_px + 0.5))
    at = torch.arange(-reach, reach + 1, device=photo.device, dtype=torch.float32)
    kernel = torch.exp(-(at**2) / (2 * sigma_px**2))
    kernel = kernel / kernel.sum()
    across = kernel
    if motion_px > 1:
        box = torch.ones(1, 1, round(motion_px), device=photo.device) / round(motion_px)
        across = nn_f.conv1d(kernel[None, None], box, padding=round(motion_px) - 1)[0, 0]
        across = across if len(across) % 2 else nn_f.pad(across, (0, 1))
    down, along = _band(kernel, photo.shape[1]), _band(across, photo.shape[2])
    return down @ photo @ along.T


def _band(kernel: torch.Tensor, size: int) -> torch.Tensor:
    """(size, size): a product with it is the convolution, edges repeated; one product is faster
    than a convolution of a single channel."""
    side, at = len(kernel) // 2, torch.arange(size, device=kernel.device)
    near = at[:, None] + torch.arange(-side, side + 1, device=kernel.device)
    band = torch.zeros(size, size, device=kernel.device)
    return band.scatter_add_(1, near.clamp(0, size - 1), kernel.expand(size, -1))
