"""The weights of an exported network taken back, to go on training from.

The exporter folds each normalization into the convolution before it. Here it is unfolded again:
its statistics are those of given lines, and its scale and shift are chosen so that the network
says what the file says.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import torch
from torch import nn

from pairing.training.network import Reader

_PREFIX = "reader."


@torch.no_grad()
def restored(file: Path, pictures: torch.Tensor) -> Reader:
    """A reader as `file` (.onnx) has it; outputs that the file lacks are new.

    pictures: some hundred normalized lines (n, 1, 32, 640)."""
    import onnx  # noqa: PLC0415 - an extra

    reader = Reader().eval()
    named, folded = _tensors(onnx.load(file))
    convolutions = [
        (name, module) for name, module in reader.body.named_modules()
        if isinstance(module, nn.Conv2d) and f"body.{name}.weight" not in named
    ]  # fmt: skip
    state = reader.state_dict()
    state.update({name: value for name, value in named.items() if name in state})
    for (name, _), (weight, bias) in zip(convolutions, folded, strict=True):
        state[f"body.{name}.weight"] = weight
        norm = f"body.{_norm_after(name)}"
        state[f"{norm}.bias"] = bias
        state[f"{norm}.running_mean"] = torch.zeros_like(bias)
        state[f"{norm}.running_var"] = torch.ones_like(bias) - 1e-5
        state[f"{norm}.weight"] = torch.ones_like(bias)
    reader.load_state_dict(state)
    _settle(reader, pictures)
    return reader


def _tensors(
    model: object,
) -> tuple[dict[str, torch.Tensor], list[tuple[torch.Tensor, torch.Tensor]]]:
    """Tensors by their names, and (weight, bias) of each folded convolution in order."""
    import onnx  # noqa: PLC0415 - an extra

    assert isinstance(model, onnx.ModelProto)
    values = {
        one.name.removesuffix("_half"): torch.from_numpy(
            onnx.numpy_helper.to_array(one).astype(np.float32)
        )
        for one in model.graph.initializer
    }
    named = {name.removeprefix(_PREFIX): value for name, value in values.items()
             if name.startswith(_PREFIX)}  # fmt: skip
    folded = [
        (values[node.input[1]], values[node.input[2]])
        for node in model.graph.node
        if node.op_type == "Conv" and not node.input[1].startswith(_PREFIX)
    ]
    return named, folded


def _norm_after(convolution: str) -> str:
    """The name of the normalization that follows a convolution of the body."""
    *head, last = convolution.split(".")
    if last in {"along", "mix"}:
        return ".".join([*head, "norm" if last == "along" else "norm2"])
    return ".".join([*head, str(int(last) + 1)])


def _settle(reader: Reader, pictures: torch.Tensor) -> None:
    """Statistics of these lines in each unfolded normalization, its output unchanged."""
    hooks = []

    def settle(norm: nn.BatchNorm2d) -> None:
        def seen(module: nn.Module, inputs: tuple[torch.Tensor, ...]) -> None:
            del module
            mean, var = inputs[0].mean((0, 2, 3)), inputs[0].var((0, 2, 3)) + 1e-4
            scale = norm.weight / (norm.running_var + norm.eps).sqrt()
            shift = norm.bias - norm.running_mean * scale
            norm.running_mean, norm.running_var = mean, var
            norm.weight.copy_(scale * (var + norm.eps).sqrt())
            norm.bias.copy_(shift + mean * scale)

        hooks.append(norm.register_forward_pre_hook(seen))

    for name, module in reader.named_modules():
        if isinstance(module, nn.BatchNorm2d) and name.startswith("body."):
            settle(module)
    reader(pictures)
    for hook in hooks:
        hook.remove()
