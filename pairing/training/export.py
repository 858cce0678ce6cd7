"""The trained weights as an ONNX file that `cv2.dnn` reads.

The larger tensors of weights are kept in 16 bits, half the size, and cast to 32 when the file
is loaded.

With 32 bits the file would pass 4 MB.
"""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import torch
from torch import nn

from pairing.training.network import Reader
from pairing.training.phone_photo import OUT_HIGH, OUT_WIDE

LEAST_HALVED = 30_000
"""Values of a tensor that is kept in 16 bits. Measured by rounding one tensor at a time: the
first layers and the biases, all smaller, move the log odds most (by 0.002 to 0.005 each)."""


class _Chances(nn.Module):
    def __init__(self, reader: Reader):
        super().__init__()
        self.reader = reader

    def forward(self, line: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
        scores, blots, kinds = self.reader(line)
        return torch.log_softmax(scores, 2), blots, kinds


def export(weights: Path, out: Path) -> str:
    """Write the file; say its size and how far `cv2.dnn` is from PyTorch on random lines."""
    import cv2  # noqa: PLC0415

    reader = Reader()
    reader.load_state_dict(torch.load(weights, map_location="cpu"))
    model = _Chances(reader.eval())
    packed = io.BytesIO()
    example = torch.zeros(1, 1, OUT_HIGH, OUT_WIDE)
    torch.onnx.export(
        model, (example,), packed, opset_version=13, dynamo=False,
        input_names=["line"], output_names=["chances", "blots", "kinds"],
    )  # fmt: skip
    model.eval()  # the exporter leaves a fresh module in training mode
    out.write_bytes(halved(packed.getvalue()))
    net = cv2.dnn.readNetFromONNX(str(out))
    worst = 0.0
    for seed in range(20):
        line = np.random.default_rng(seed).normal(0, 1, (1, 1, OUT_HIGH, OUT_WIDE))
        line = np.asarray(cv2.GaussianBlur(line[0, 0], (0, 0), 2 + seed / 10)) * 5
        blob = line[None, None].astype(np.float32)
        net.setInput(blob)
        seen = np.asarray(net.forward("chances"))
        with torch.no_grad():
            wanted = model(torch.from_numpy(blob))[0].numpy()
        worst = max(worst, float(np.abs(np.exp(seen) - np.exp(wanted)).max()))
    return f"{out}: {out.stat().st_size} bytes, worst difference of a probability {worst:.1e}"


def halved(file: bytes, least: int = LEAST_HALVED) -> bytes:
    """The ONNX file with each tensor of `least` values and more in 16 bits and a cast before its
    use."""
    import onnx  # noqa: PLC0415 - an extra

    model = onnx.load_from_string(file)
    graph = model.graph
    casts = []
    for tensor in list(graph.initializer):
        values = onnx.numpy_helper.to_array(tensor)
        if values.dtype != np.float32 or values.size < least:
            continue
        graph.initializer.remove(tensor)
        half = f"{tensor.name}_half"
        graph.initializer.append(onnx.numpy_helper.from_array(values.astype(np.float16), half))
        casts.append(
            onnx.helper.make_node("Cast", [half], [tensor.name], to=onnx.TensorProto.FLOAT)
        )
    kept = list(graph.node)
    del graph.node[:]
    graph.node.extend([*casts, *kept])
    return bytes(model.SerializeToString())
