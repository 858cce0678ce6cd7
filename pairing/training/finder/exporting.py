"""The networks as ONNX files that `cv2.dnn` reads, larger tensors in 16 bits."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import torch

from pairing.training.export import halved
from pairing.training.finder.segmenting import Segmenter

_LEAST_HALVED = 4000
"""Values of a tensor that is kept in 16 bits."""


def export(weights: Path, out: Path) -> str:
    """Write the file; say its size and how far `cv2.dnn` is from PyTorch."""
    import cv2  # noqa: PLC0415

    model = Segmenter()
    model.load_state_dict(torch.load(weights, map_location="cpu"))
    model.eval()
    packed = io.BytesIO()
    torch.onnx.export(
        model, (torch.zeros(1, 2, 160, 320),), packed, opset_version=13, dynamo=False,
        input_names=["card"], output_names=["scores"],
        dynamic_axes={"card": {2: "high", 3: "wide"}, "scores": {2: "high", 3: "wide"}},
    )  # fmt: skip
    out.write_bytes(halved(packed.getvalue(), _LEAST_HALVED))
    net = cv2.dnn.readNetFromONNX(str(out))
    worst = 0.0
    for seed, size in enumerate(((160, 320), (320, 160), (96, 480))):
        given = np.random.default_rng(seed).normal(0, 1, (1, 2, *size)).astype(np.float32)
        net.setInput(given)
        seen = np.asarray(net.forward())
        with torch.no_grad():
            wanted = model(torch.from_numpy(given)).numpy()
        worst = max(worst, float(np.abs(seen - wanted).max()))
    return f"{out}: {out.stat().st_size} bytes, worst difference of a score {worst:.1e}"
