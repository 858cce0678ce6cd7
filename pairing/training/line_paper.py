"""The paper that a line is written on: its tone and pattern, a strip's edges, rules, combs, ink."""

from __future__ import annotations

import torch
import torch.nn.functional as nn_f

from pairing.training.drawn_lines import Lines
from pairing.training.marks import HIGH, WIDE


class Paper:
    """Lays batches of lines on paper."""

    def __init__(self, device: torch.device, rng: torch.Generator, is_clean: bool = False):
        """is_clean: with shadows and rules, but no patterns and no faint ink."""
        self.device, self.rng, self.is_clean = device, rng, is_clean

    def _u(self, *shape: int, low: float = 0.0, high: float = 1.0) -> torch.Tensor:
        return low + (high - low) * torch.rand(shape, device=self.device, generator=self.rng)

    def _n(self, *shape: int) -> torch.Tensor:
        return torch.randn(shape, device=self.device, generator=self.rng)

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
        """Some lines are on a strip of other paper that casts a shadow."""
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
        """The ink of a carbonless copy: soft, mottled, gray."""
        grains = self._u(len(ink), 1, HIGH // 2, WIDE // 2)
        mottled = nn_f.interpolate(grains, (HIGH, WIDE), mode="bilinear", align_corners=False)
        return blurred(ink, 1.3, 0.0) * (0.3 + 0.5 * mottled[:, 0])


def blurred(photo: torch.Tensor, sigma_px: float, motion_px: float) -> torch.Tensor:
    """Photos (b, h, w) out of focus, and moved along the line where `motion_px` passes 1."""
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
