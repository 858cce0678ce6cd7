"""`python -m pairing.training.finder`: gather, teach, export."""

from __future__ import annotations

import argparse
import zipfile
from collections.abc import Sequence
from pathlib import Path


def main(words: Sequence[str] | None = None) -> None:
    """All steps of the recipe, or one."""
    parser = argparse.ArgumentParser(prog="python -m pairing.training.finder", description=__doc__)
    parser.add_argument("step", choices=["all", "gather", "teach", "export"])
    parser.add_argument("--written", type=Path, help="folder of digits")
    parser.add_argument("--faces", type=Path, help="folder of faces (woff2)")
    parser.add_argument("--start", type=Path, help="folder of weights to go on from")
    parser.add_argument("--seconds", type=float, default=540)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--makers", type=int, default=15)
    parser.add_argument("--pool", type=int, default=768)
    parser.add_argument("--batch", type=int, nargs=2, default=(48, 48))
    parser.add_argument("--rate", type=float, default=2e-3)
    parser.add_argument("--out", type=Path, required=True, help="folder for all that is made")
    given = parser.parse_args(words)
    given.out.mkdir(parents=True, exist_ok=True)
    if given.step in {"all", "gather"}:
        from pairing.training.finder.materials import gather  # noqa: PLC0415

        gather(given.written, given.faces, given.out / "materials.zip")
    if given.step in {"all", "teach"}:
        _teach(given)
    if given.step in {"all", "export"}:
        from pairing.training.finder.exporting import export  # noqa: PLC0415

        for name in ("far", "near"):
            print(export(given.out / f"{name}.pt", given.out / f"{name}.onnx"), flush=True)


def _teach(given: argparse.Namespace) -> None:
    from pairing.training.finder.teaching import Plan, teach  # noqa: PLC0415

    materials = given.out / "materials"
    with zipfile.ZipFile(given.out / "materials.zip") as packed:
        packed.extractall(materials)
    plan = Plan(seconds=given.seconds, makers=given.makers, pool=given.pool,
                batch=tuple(given.batch), rate=given.rate, seed=given.seed)  # fmt: skip
    teach(materials, plan, given.out, lambda line: print(line, flush=True), given.start)


if __name__ == "__main__":
    main()
