"""The making of training lines, where PyTorch is (`pip install counterfoil[train]`); elsewhere
these skip. Checked against OpenCV: its filters and its JPEG."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

torch = pytest.importorskip("torch", reason="needs PyTorch, the extra [train]")

from pairing.training import camera as cameras  # noqa: E402
from pairing.training import glyphs as all_glyphs  # noqa: E402
from pairing.training.export import LEAST_HALVED, _halved  # noqa: E402
from pairing.training.making import Order, made  # noqa: E402
from pairing.training.network import CLASSES, STEPS, Reader  # noqa: E402
from pairing.training.sources import CELL_PX, face_fields  # noqa: E402
from pairing.training.spoiling import Spoiler  # noqa: E402
from pairing.training.teaching import Lesson, teach  # noqa: E402
from pairing.training.writing import MOST  # noqa: E402

FONTS = Path(__file__).parents[2] / "pairing" / "demo" / "fonts"


@pytest.fixture(scope="module")
def hands() -> all_glyphs.Glyphs:
    """Glyphs of the demo's faces, one of each kind for each of two parts; for tests alone."""
    faces = [face_fields(str(path)) for path in sorted(FONTS.glob("*.ttf"))[:2]]
    fields = torch.from_numpy(np.concatenate([face for _ in range(4) for face in faces]))
    labels = np.tile(np.arange(36), 8)
    owners = np.repeat(np.arange(8), 36)
    found = all_glyphs.ordered(
        fields, labels, owners, [f"hand/{n}" for n in range(8)], [n // 2 for n in range(8)]
    )
    part = torch.zeros(8, dtype=torch.long)
    return all_glyphs.Glyphs(**{
        name: part if name == "part" else getattr(found, name) for name in found.__slots__
    })  # fmt: skip


def _photos(count: int, high: int = 40, wide: int = 96) -> torch.Tensor:
    dice = np.random.default_rng(5)
    rough = [cv2.GaussianBlur(dice.random((high, wide), np.float32), (0, 0), 2) for _ in "ab"]
    return torch.from_numpy(np.stack(rough * count)[:count])


@pytest.mark.parametrize("sigma_px", [0.6, 1.4])
def test_blurring_is_opencvs(sigma_px: float) -> None:
    photos = _photos(2)
    reach = max(1, int(3 * sigma_px + 0.5))
    kernel = cv2.getGaussianKernel(2 * reach + 1, sigma_px)
    for mine, photo in zip(cameras._blurred(photos, sigma_px, 0.0), photos, strict=True):
        theirs = cv2.sepFilter2D(photo.numpy(), -1, kernel, kernel, borderType=cv2.BORDER_REPLICATE)
        assert np.abs(mine.numpy() - theirs).max() < 1e-5


@pytest.mark.parametrize("quality", [30, 60, 90])
def test_compressing_is_near_opencvs_jpeg(quality: int) -> None:
    camera = cameras.Camera(torch.device("cpu"), torch.Generator())
    photo = _photos(1)
    mine = camera._compressed(photo, quality)[0].numpy()
    grey = np.round(photo[0].numpy() * 255).astype(np.uint8)
    _, packed = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, quality])
    theirs = np.asarray(cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)) / 255
    lost = np.abs(theirs - photo[0].numpy()).mean()
    assert np.abs(mine - theirs).mean() < 0.3 * lost + 0.5 / 255


@pytest.mark.parametrize("half_px", [1.0, 2.0, 3.0])
def test_a_strokes_thinnest_part_is_found(half_px: float) -> None:
    at = np.arange(CELL_PX) + 0.5 - CELL_PX / 2
    x, y = np.meshgrid(at, at)
    thick = half_px + 2.0  # three quarters of the stroke; the rest is thin
    signed = np.where(y < 8, thick, half_px) - np.abs(x)
    signed = np.where(np.abs(y) < 20, signed, -9.0)
    field = np.clip(128 + 16 * signed, 0, 255).astype(np.uint8)
    (found,) = all_glyphs._thinnest(torch.from_numpy(field)[None])
    assert found == pytest.approx(half_px - 0.5, abs=0.3)


def test_batches_are_lines_of_all_sorts_and_hang_on_the_seed(hands: all_glyphs.Glyphs) -> None:
    def two(seed: int) -> list[tuple[torch.Tensor, torch.Tensor]]:
        order = Order(path=Path(), size=8, shots=4, together=2, seed=seed, device="cpu")
        batches = made(order, hands)
        return [next(batches), next(batches)]

    first, again, other = two(3), two(3), two(4)
    for pictures, texts in first:
        assert (pictures.dtype, tuple(pictures.shape)) == (torch.uint8, (8, 1, 32, 640))
        assert tuple(texts.shape) == (8, MOST)
        assert texts.min() >= -1
        assert texts.max() < CLASSES - 1
    assert all(torch.equal(a[0], b[0]) for a, b in zip(first, again, strict=True))
    assert not torch.equal(first[0][0], other[0][0])
    assert not torch.equal(first[0][0], first[1][0])


def test_the_network_gives_a_distribution_and_a_blot_for_each_step() -> None:
    reader = Reader().eval()
    scores, blots = reader.both(torch.zeros(2, 1, 32, 640))
    assert tuple(scores.shape) == (2, STEPS, CLASSES)
    assert tuple(blots.shape) == (2, STEPS)
    assert torch.equal(scores, reader(torch.zeros(2, 1, 32, 640)))


def test_spoilt_places_are_told_and_lie_in_the_line(hands: all_glyphs.Glyphs) -> None:
    rng = torch.Generator().manual_seed(7)
    writer = Spoiler(hands, 0, rng, (0.25, 0.25, 0.25, 0.25))
    lines, where = writer.spoilt(40)
    is_spoilt = (where == 1).any(1)
    assert 0.1 < is_spoilt.float().mean() < 0.7
    assert (where[(lines.texts < 0).all(1)] == -1).all()
    first, last = (lines.ends / (1280 / STEPS)).T
    for row in is_spoilt.nonzero()[:, 0]:
        at = (where[row] == 1).nonzero()[:, 0]
        assert first[row] - 2 < at.min()
        assert at.max() < last[row] + 2


def test_spoiling_adds_ink_where_it_says_and_nowhere_else(hands: all_glyphs.Glyphs) -> None:
    class Whole(Spoiler):
        def _correct(self, ink: torch.Tensor, *more: Any) -> None:
            before = ink.clone()
            super()._correct(ink, *more)
            self.added = (ink - before).amax(1)

    writer = Whole(hands, 0, torch.Generator().manual_seed(8), (1.0, 0.0, 0.0, 0.0))
    _, where = writer.spoilt(40)
    added = writer.added.reshape(len(where), STEPS, -1).amax(2)
    assert added[where == 1].mean() > 0.3
    assert added[where == 0].mean() < 0.01


def test_teaching_changes_what_tells_blots_and_nothing_else(
    hands: all_glyphs.Glyphs, tmp_path: Path
) -> None:
    weights = tmp_path / "reader.pt"
    before = Reader().state_dict()
    torch.save(before, weights)
    lesson = Lesson(seconds=0.5, batch=4, shots=2)
    teach(weights, hands, lesson, lambda _: None)
    after = torch.load(weights)
    changed = {name for name in before if not torch.equal(before[name], after[name])}
    assert changed
    assert all(name.startswith("blots.") for name in changed)


def test_halving_keeps_small_tensors_and_all_names() -> None:
    onnx = pytest.importorskip("onnx", reason="needs onnx, the extra [train]")
    dice = np.random.default_rng(1)
    big = dice.random((LEAST_HALVED,), np.float32)
    small = dice.random((5,), np.float32)
    helper, numpy_helper = onnx.helper, onnx.numpy_helper
    graph = helper.make_graph(
        [helper.make_node("Identity", ["big"], ["out"])],
        "g",
        [],
        [helper.make_tensor_value_info("out", onnx.TensorProto.FLOAT, [LEAST_HALVED])],
        [numpy_helper.from_array(big, "big"), numpy_helper.from_array(small, "small")],
    )
    file = helper.make_model(graph).SerializeToString()
    done = onnx.load_from_string(_halved(file)).graph
    kept = {one.name: numpy_helper.to_array(one) for one in done.initializer}
    assert kept["small"].dtype == np.float32
    (half,) = (value for name, value in kept.items() if name != "small")
    assert half.dtype == np.float16
    assert np.abs(half - big).max() < 1e-3
    assert [node.op_type for node in done.node] == ["Cast", "Identity"]
    assert list(done.node[0].output) == ["big"]
