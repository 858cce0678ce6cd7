"""`python -m pairing.training`: gather, fit, measure, calibrate, export."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pairing.training.glyphs import Glyphs

    Steps = argparse._SubParsersAction[argparse.ArgumentParser]


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m pairing.training", description=__doc__)
    steps = parser.add_subparsers(dest="step", required=True)
    _add_learning(steps)
    _add_measuring(steps)
    whole = steps.add_parser("all", help="all five steps, from the data to the package's files")
    whole.add_argument("--written", type=Path, required=True, help="folder of digits")
    whole.add_argument("--faces", type=Path, required=True, help="folder of faces (woff2)")
    whole.add_argument("--seconds", type=float, default=1450, help="of training")
    whole.add_argument("--seed", type=int, default=21)
    whole.add_argument("--start", type=Path, help="weights (.pt, .onnx) to go on from")
    whole.add_argument("--compiled", action="store_true", help="fuse the network's steps")
    whole.add_argument("--makers", type=int, default=0, help="processes that make the lines")
    whole.add_argument("--jobs", type=int, default=1, help="processes that calibrate")
    whole.add_argument("--out", type=Path, required=True, help="folder for all that is made")
    return parser


def _add_learning(steps: Steps) -> None:
    gather = steps.add_parser("gather", help="pack the training data into one file")
    gather.add_argument("--written", type=Path, required=True, help="folder of digits")
    gather.add_argument("--faces", type=Path, required=True, help="folder of faces (woff2)")
    gather.add_argument("--out", type=Path, default=Path("glyphs.npz"))
    fit = steps.add_parser("fit", help="train, on an accelerator where there is one")
    fit.add_argument("--glyphs", type=Path, default=Path("glyphs.npz"))
    fit.add_argument("--out", type=Path, default=Path("reader.pt"))
    fit.add_argument("--start", type=Path, help="weights (.pt, .onnx) to go on from")
    fit.add_argument("--seconds", type=float, default=500)
    fit.add_argument("--batch", type=int, default=512)
    fit.add_argument("--together", type=int, default=4, help="batches written at once")
    fit.add_argument("--rate", type=float, default=2e-3)
    fit.add_argument("--seed", type=int, default=1)
    fit.add_argument("--half", action="store_true", help="16-bit sums on a processor too")
    fit.add_argument("--compiled", action="store_true", help="fuse the network's steps")
    fit.add_argument("--makers", type=int, default=0, help="processes that make the lines")


def _add_measuring(steps: Steps) -> None:
    measure = steps.add_parser("measure", help="read lines of held-out hands and faces")
    measure.add_argument("--glyphs", type=Path, default=Path("glyphs.npz"))
    measure.add_argument("--weights", type=Path, default=Path("reader.pt"))
    measure.add_argument("--count", type=int, default=400, help="lines a sort and level")
    measure.add_argument("--seeds", type=int, nargs="+", default=[0], help="a pair of files each")
    measure.add_argument("--out", type=Path, default=Path())
    export = steps.add_parser("export", help="write the ONNX file that the package carries")
    export.add_argument("--weights", type=Path, default=Path("reader.pt"))
    export.add_argument("--out", type=Path, required=True)
    calibrate = steps.add_parser("calibrate", help="thresholds from held-out lines")
    calibrate.add_argument(
        "--lines", type=Path, nargs="+", required=True, help="calibration-SEED.npz"
    )
    calibrate.add_argument("--out", type=Path, required=True, help="model.json")
    calibrate.add_argument("--jobs", type=int, default=1, help="processes")
    outside = steps.add_parser("outside", help="read lines of faces or of MNIST's t10k")
    outside.add_argument("--weights", type=Path, default=Path("reader.pt"))
    outside.add_argument("--faces", type=Path, nargs="*", default=[])
    outside.add_argument("--t10k", type=Path, help="folder of the idx files")
    outside.add_argument("--count", type=int, default=200)
    outside.add_argument("--out", type=Path, required=True)


def main(words: Sequence[str] | None = None) -> None:
    """The steps of the recipe, one a call, or all of them."""
    given = _parser().parse_args(words)
    if given.step == "gather":
        from pairing.training.character_sources import gather as run_gather  # noqa: PLC0415

        run_gather(given.written, given.faces, given.out)
    elif given.step == "fit":
        _fit(given)
    elif given.step == "all":
        _all(given)
    elif given.step == "measure":
        _measure(given)
    elif given.step == "outside":
        from pairing.training import outside as checks  # noqa: PLC0415

        glyphs = checks.t10k(given.t10k) if given.t10k else checks.faces(given.faces)
        sort = "mnist" if given.t10k else "print"
        checks.read_outside(given.weights, glyphs, sort, given.count, given.out)
    elif given.step == "calibrate":
        from pairing.training.calibration import calibrate as run_calibrate  # noqa: PLC0415

        print(run_calibrate(given.lines, given.out, given.jobs))
    else:
        from pairing.training.export import export as run_export  # noqa: PLC0415

        print(run_export(given.weights, given.out))


def _all(given: argparse.Namespace) -> None:
    """The whole recipe: each step as a call of its own would do it."""
    at: Path = given.out
    at.mkdir(parents=True, exist_ok=True)
    glyphs, weights = ("--glyphs", at / "glyphs.npz"), ("--weights", at / "reader.pt")
    folders = ("--written", given.written, "--faces", given.faces)
    timing = ("--seconds", given.seconds, "--seed", given.seed, "--makers", given.makers)
    fused = ("--compiled",) if given.compiled else ()
    start = ("--start", given.start) if given.start else ()
    seeds = (1, 2, 3, 4)
    for call in (
        ("gather", *folders, "--out", at / "glyphs.npz"),
        ("fit", *glyphs, *timing, *fused, *start, "--out", at / "reader.pt"),
        ("measure", *glyphs, *weights, "--count", 250, "--seeds", *seeds, "--out", at),
        ("export", *weights, "--out", at / "reader.onnx"),
        ("calibrate", "--lines", *(at / f"calibration-{seed}.npz" for seed in seeds),
         "--jobs", given.jobs, "--out", at / "model.json"),
    ):  # fmt: skip
        words = [str(word) for word in call]
        _say(f"+ {' '.join(words)}")
        main(words)


def _say(line: str) -> None:
    print(line, flush=True)


def _fit(given: argparse.Namespace) -> None:
    from pairing.training.fit import Plan, fit  # noqa: PLC0415

    glyphs = _glyphs(given.glyphs)
    plan = Plan(
        seconds=given.seconds, batch=given.batch, together=given.together,
        shots=4 * given.together, rate=given.rate, seed=given.seed, start=given.start,
        makers=given.makers, is_half=given.half, is_compiled=given.compiled,
    )  # fmt: skip
    fit(given.glyphs, glyphs, plan, given.out, _say)


def _measure(given: argparse.Namespace) -> None:
    import torch  # noqa: PLC0415 - an extra

    from pairing.training.held_out import dump, dump_altered  # noqa: PLC0415
    from pairing.training.network import Reader  # noqa: PLC0415

    glyphs = _glyphs(given.glyphs)
    model = Reader().to(glyphs.fields.device)
    model.load_state_dict(torch.load(given.weights, map_location=glyphs.fields.device))
    for seed in given.seeds:
        dump_altered(model, glyphs, given.count, given.out, seed)
        for kind, level, exact, digits in dump(model, glyphs, given.count, given.out, seed):
            _say(f"{kind:10} level {level}: exact {exact:.4f}  characters {digits:.5f}")


def _glyphs(path: Path) -> Glyphs:
    import torch  # noqa: PLC0415 - an extra

    from pairing.training.glyphs import load  # noqa: PLC0415

    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.set_float32_matmul_precision("high")
    glyphs = load(path, device)
    _say(f"{len(glyphs.fields)} glyphs, {len(glyphs.names)} hands on {device}")
    return glyphs


if __name__ == "__main__":
    main()
