"""`python -m pairing.photos.training`: gather, fit, export."""

from __future__ import annotations

import argparse
from pathlib import Path


def main() -> None:
    """The steps of the recipe, one a call."""
    parser = argparse.ArgumentParser(prog="python -m pairing.photos.training", description=__doc__)
    steps = parser.add_subparsers(dest="step", required=True)
    gather = steps.add_parser("gather", help="pack the training data into one file")
    gather.add_argument("--written", type=Path, required=True, help="folder of digits")
    gather.add_argument("--faces", type=Path, required=True, help="folder of faces (woff2)")
    gather.add_argument("--out", type=Path, default=Path("glyphs.npz"))
    fit = steps.add_parser("fit", help="train, on an accelerator where there is one")
    fit.add_argument("--glyphs", type=Path, default=Path("glyphs.npz"))
    fit.add_argument("--out", type=Path, default=Path("reader.pt"))
    fit.add_argument("--start", type=Path)
    fit.add_argument("--seconds", type=float, default=500)
    fit.add_argument("--batch", type=int, default=384)
    fit.add_argument("--chunks", type=int, default=6)
    fit.add_argument("--rate", type=float, default=2e-3)
    fit.add_argument("--seed", type=int, default=1)
    fit.add_argument("--measure", type=int, default=500, help="held-out lines a kind and level")
    export = steps.add_parser("export", help="write the ONNX file that the package carries")
    export.add_argument("--weights", type=Path, default=Path("reader.pt"))
    export.add_argument("--out", type=Path, required=True)
    calibrate = steps.add_parser("calibrate", help="thresholds from held-out lines")
    calibrate.add_argument("--lines", type=Path, nargs="+", required=True, help="calibration.npz")
    calibrate.add_argument("--out", type=Path, required=True, help="model.json")
    outside = steps.add_parser("outside", help="read lines of faces or of MNIST's t10k")
    outside.add_argument("--weights", type=Path, default=Path("reader.pt"))
    outside.add_argument("--faces", type=Path, nargs="*", default=[])
    outside.add_argument("--t10k", type=Path, help="folder of the idx files")
    outside.add_argument("--count", type=int, default=200)
    outside.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    if given.step == "gather":
        from pairing.photos.training.sources import gather as run_gather  # noqa: PLC0415

        run_gather(given.written, given.faces, given.out)
    elif given.step == "fit":
        _fit(given)
    elif given.step == "outside":
        from pairing.photos.training import outside as checks  # noqa: PLC0415

        glyphs = checks.t10k(given.t10k) if given.t10k else checks.faces(given.faces)
        sort = "mnist" if given.t10k else "print"
        checks.read_outside(given.weights, glyphs, sort, given.count, given.out)
    elif given.step == "calibrate":
        from pairing.photos.training.calibration import calibrate as run_calibrate  # noqa: PLC0415

        print(run_calibrate(given.lines, given.out))
    else:
        from pairing.photos.training.export import export as run_export  # noqa: PLC0415

        print(run_export(given.weights, given.out))


def _fit(given: argparse.Namespace) -> None:
    import torch  # noqa: PLC0415 - an extra

    from pairing.photos.training.fit import Plan, fit  # noqa: PLC0415
    from pairing.photos.training.glyphs import load  # noqa: PLC0415
    from pairing.photos.training.held_out import dump  # noqa: PLC0415

    def say(line: str) -> None:
        print(line, flush=True)

    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.set_float32_matmul_precision("high")
    glyphs = load(given.glyphs, device)
    say(f"{len(glyphs.fields)} glyphs, {len(glyphs.names)} hands on {device}")
    plan = Plan(
        seconds=given.seconds, batch=given.batch, chunks=given.chunks,
        rate=given.rate, seed=given.seed, start=given.start,
    )  # fmt: skip
    model = fit(glyphs, plan, given.out, say)
    if given.measure:
        rows = dump(model, glyphs, given.measure, given.out.parent)
        for kind, level, exact, digits in rows:
            say(f"{kind:6} level {level}: exact {exact:.4f}  characters {digits:.5f}")


if __name__ == "__main__":
    main()
