"""The making of training lines, where PyTorch is (`pip install counterfoil[train]`); elsewhere
these skip. Checked against OpenCV: its filters and its JPEG."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

torch = pytest.importorskip("torch", reason="needs PyTorch, the extra [train]")

from pairing.photos.written import reader as readers  # noqa: E402
from pairing.training import glyphs as all_glyphs  # noqa: E402
from pairing.training import phone_photo as cameras  # noqa: E402
from pairing.training.character_sources import CELL_PX, DRAWN, face_fields  # noqa: E402
from pairing.training.drawn_lines import Lines  # noqa: E402
from pairing.training.export import LEAST_HALVED, halved  # noqa: E402
from pairing.training.line_paper import blurred  # noqa: E402
from pairing.training.making import Order, made  # noqa: E402
from pairing.training.network import CLASSES, STEPS, Reader  # noqa: E402
from pairing.training.restoring import restored  # noqa: E402
from pairing.training.sorts import ALTERED, LINE_KINDS, NUMBER, UNTOLD  # noqa: E402
from pairing.training.spoiling import Spoiler  # noqa: E402
from pairing.training.writing import MOST  # noqa: E402

FONTS = Path(__file__).parents[2] / "pairing" / "demo" / "fonts"
MODEL = Path(readers.__file__).with_name("reader.onnx")


@pytest.fixture(scope="module")
def hands() -> all_glyphs.Glyphs:
    """Glyphs of the demo's faces, one of each kind for each of two parts; for tests alone."""
    faces = [face_fields(str(path)) for path in sorted(FONTS.glob("*.ttf"))[:2]]
    fields = torch.from_numpy(np.concatenate([face for _ in range(4) for face in faces]))
    labels = np.tile(np.arange(len(DRAWN)), 8)
    owners = np.repeat(np.arange(8), len(DRAWN))
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
    for mine, photo in zip(blurred(photos, sigma_px, 0.0), photos, strict=True):
        theirs = cv2.sepFilter2D(photo.numpy(), -1, kernel, kernel, borderType=cv2.BORDER_REPLICATE)
        assert np.abs(mine.numpy() - theirs).max() < 1e-5


@pytest.mark.parametrize("quality", [30, 60, 90])
def test_compressing_is_near_opencvs_jpeg(quality: int) -> None:
    camera = cameras.Camera(torch.device("cpu"), torch.Generator())
    photo = _photos(1)
    mine = camera._compressed(photo, quality)[0].numpy()
    gray = np.round(photo[0].numpy() * 255).astype(np.uint8)
    _, packed = cv2.imencode(".jpg", gray, [cv2.IMWRITE_JPEG_QUALITY, quality])
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
    def two(seed: int) -> list[tuple[torch.Tensor, ...]]:
        order = Order(path=Path(), size=8, shots=4, together=2, seed=seed, device="cpu")
        batches = made(order, hands)
        return [next(batches), next(batches)]

    first, again, other = two(3), two(3), two(4)
    for pictures, texts, what, is_text, spoiled in first:
        assert what.min() >= UNTOLD
        assert what.max() < len(LINE_KINDS)
        assert is_text.dtype == torch.bool
        assert tuple(spoiled.shape) == (8, STEPS)
        assert (pictures.dtype, tuple(pictures.shape)) == (torch.uint8, (8, 1, 32, 640))
        assert tuple(texts.shape) == (8, MOST)
        assert texts.min() >= -1
        assert texts.max() < CLASSES - 1
    assert all(torch.equal(a[0], b[0]) for a, b in zip(first, again, strict=True))
    assert not torch.equal(first[0][0], other[0][0])
    assert not torch.equal(first[0][0], first[1][0])


def test_the_network_gives_a_distribution_a_blot_for_each_step_and_a_kind() -> None:
    reader = Reader().eval()
    scores, blots, kinds = reader(torch.zeros(2, 1, 32, 640))
    assert tuple(scores.shape) == (2, STEPS, CLASSES)
    assert tuple(blots.shape) == (2, STEPS)
    assert tuple(kinds.shape) == (2, len(LINE_KINDS))


def test_the_package_and_its_training_name_the_same_kinds_of_lines() -> None:
    assert LINE_KINDS == readers.LINE_KINDS


@pytest.fixture(scope="module")
def altered(hands: all_glyphs.Glyphs) -> Lines:
    """Lines, a good part of them altered."""
    rng = torch.Generator().manual_seed(7)
    return Spoiler(hands, 0, rng, (0.25, 0.25, 0.25, 0.25)).lines(300)


def test_spoiled_places_are_told_and_lie_in_the_line(altered: Lines) -> None:
    is_altered = altered.what == ALTERED
    assert 0.05 < is_altered.float().mean() < 0.3
    assert ((altered.spoiled == 1).any(1) == is_altered).all()
    first, last = (altered.ends / (1280 / STEPS)).T
    for row in is_altered.nonzero()[:, 0]:
        at = (altered.spoiled[row] == 1).nonzero()[:, 0]
        assert first[row] - 3 < at.min()
        assert at.max() < last[row] + 3


def test_nobody_is_taught_to_read_what_was_altered(altered: Lines) -> None:
    is_number, is_altered = altered.what == NUMBER, altered.what == ALTERED
    length = (altered.texts >= 0).sum(1)
    assert (altered.is_text[is_number] & (length[is_number] > 0)).all()
    assert (~altered.is_text[is_altered] | (length[is_altered] == 0)).all()
    others = ~is_number & ~is_altered & (altered.what != UNTOLD)
    assert (length[others] == 0).all()


def test_numbers_alone_are_whole(hands: all_glyphs.Glyphs) -> None:
    rng = torch.Generator().manual_seed(9)
    lines = Spoiler(hands, 0, rng, (0.25, 0.25, 0.25, 0.25), is_number=True).lines(60)
    assert (lines.what == NUMBER).all()
    assert set((lines.texts >= 0).sum(1).tolist()) <= {13, 20, 22, 26}
    assert (lines.spoiled == 0).all()


def test_an_exported_network_is_taken_back_as_it_was() -> None:
    pytest.importorskip("onnx", reason="needs onnx, the extra [train]")
    dice = np.random.default_rng(4)
    gray = np.stack([cv2.GaussianBlur(dice.random((32, 640)), (0, 0), 2) for _ in range(6)])
    lines = torch.stack([cameras.normalized(torch.from_numpy(255 * one)) for one in gray])
    pictures = lines[:, None].float()
    reader = restored(MODEL, pictures).eval()
    net = cv2.dnn.readNetFromONNX(str(MODEL))
    with torch.no_grad():
        mine = torch.log_softmax(reader(pictures)[0], 2).exp()
    for picture, chances in zip(pictures, mine, strict=True):
        net.setInput(picture[None].numpy())
        theirs = np.exp(np.asarray(net.forward("chances"))[0])
        assert np.abs(theirs - chances.numpy()).max() < 1e-3


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
    done = onnx.load_from_string(halved(file)).graph
    kept = {one.name: numpy_helper.to_array(one) for one in done.initializer}
    assert kept["small"].dtype == np.float32
    (half,) = (value for name, value in kept.items() if name != "small")
    assert half.dtype == np.float16
    assert np.abs(half - big).max() < 1e-3
    assert [node.op_type for node in done.node] == ["Cast", "Identity"]
    assert list(done.node[0].output) == ["big"]
