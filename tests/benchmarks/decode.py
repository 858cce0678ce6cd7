"""Read rates and cost of zbar, zxing-cpp, both, and our own decoder.

Run by hand: python -m tests.benchmarks.decode [photos] [ladder [N]] [cpu] [cards] [scenes [N]]
[kept [N]] [curved [N]] [places [N]] [--seed S]
(the first three without an argument; N pictures a cell of the ladder, scenes or photos a level or
labels a bend, 10 unless given; `kept` measures the designs that are kept for the last
measurement; S chooses other pictures of ladder, scenes and curved labels).
Reference photos are looked for in ../shared/photos, cards in ../shared/cards.
"""

from __future__ import annotations

import argparse
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from pairing.photos.barcodes.engines import CODE_128, ZXING, Engine, Scope, load_engines
from pairing.photos.barcodes.symbols import read_symbols
from tests.benchmarks import decode_cards, decode_curved, decode_places, decode_scenes
from tests.benchmarks.decode_damage import LADDER, Gray, Scene, drawn, random_number
from tests.photos.drawing import picture, reportlab_modules, turned

PHOTOS = Path(__file__).parents[3] / "shared" / "photos"
ANGLES_DEG = (0, 90, 180, 270, 10, 30, 45)

Reader = Callable[[Gray], list[str]]


def _engine_reader(engine: Engine) -> Reader:
    return lambda gray: [d.text for d in engine.read(gray, scope=Scope.CODE_128)]


def _ours(gray: Gray) -> list[str]:
    return [s.text for s in read_symbols(gray).symbols if s.kind == CODE_128]


def readers() -> dict[str, Reader]:
    engines = load_engines()
    named = {e.name: _engine_reader(e) for e in engines.present}
    if ZXING in named:
        named[ZXING] = decode_places.plain_zxing

    def either(gray: Gray) -> list[str]:
        return sorted({t for read in named.values() for t in read(gray)})

    return {**dict(sorted(named.items())), "both": either, "ours": _ours}


def opened(path: Path) -> Gray:
    """Gray, on white where the picture is transparent."""
    image = Image.open(path).convert("RGBA")
    paper = Image.new("RGBA", image.size, "white")
    paper.alpha_composite(image)
    return np.asarray(paper.convert("L"), dtype=np.uint8)


def photos() -> None:
    """Per set and angle: share of true symbols read, and reads that are not true."""
    if not PHOTOS.is_dir():
        print(f"no reference photos at {PHOTOS}: skipped")
        return
    kinds = readers()
    total: dict[tuple[str, int], list[int]] = defaultdict(lambda: [0, 0, 0])
    print(f"{'set':28}{'angle':>6}  " + "".join(f"{k:>18}" for k in kinds))
    for folder in sorted(p for p in PHOTOS.iterdir() if p.is_dir()):
        for angle in ANGLES_DEG:
            score = {k: [0, 0, 0] for k in kinds}  # read, true, wrong
            for path in sorted(p for p in folder.iterdir() if p.suffix != ".txt"):
                gray = opened(path)
                quarter, rest = divmod(angle, 90)
                gray = turned(gray, rest) if rest else np.rot90(gray, -quarter).copy()
                truths = _truths(path)
                for kind, read in kinds.items():
                    got = read(gray)
                    score[kind][0] += sum(t in got for t in truths)
                    score[kind][1] += len(truths)
                    score[kind][2] += sum(g not in truths for g in got)
            cells = []
            for kind, (good, true, bad) in score.items():
                for i, n in enumerate((good, true, bad)):
                    total[kind, angle][i] += n
                cells.append(f"{good}/{true} wrong {bad}")
            print(f"{folder.name:28}{angle:>6}  " + "".join(f"{c:>18}" for c in cells), flush=True)
    for angle in ANGLES_DEG:
        cells = [
            f"{100 * total[k, angle][0] / total[k, angle][1]:.1f} % wrong {total[k, angle][2]}"
            for k in kinds
        ]
        print(f"{'all Code 128':28}{angle:>6}  " + "".join(f"{c:>18}" for c in cells))


def _truths(path: Path) -> list[str]:
    """The Code 128 texts of a reference photo; other symbologies have none."""
    listed = path.with_suffix(".txt")
    if not listed.exists() or not ("code128" in path.parent.name or "pyzbar" in path.parent.name):
        return []
    return [line for line in listed.read_text(encoding="utf-8").split("\n") if line]


def ladder(count: int, seed: int) -> None:
    """Per damage and level: percent read; a wrong read shows as an exclamation mark."""
    kinds = readers()
    totals = dict.fromkeys(kinds, 0)
    wrong = dict.fromkeys(kinds, 0)
    cells = 0
    for name, (apply, levels) in LADDER.items():
        rows: dict[str, list[str]] = {k: [] for k in kinds}
        for level in levels:
            good = dict.fromkeys(kinds, 0)
            for number in range(seed, seed + count):
                rng = np.random.default_rng([number, int(level * 1000), len(name)])
                text, gs1 = random_number(rng)
                gray = drawn(text, gs1, apply(Scene(), level), rng)
                for kind, read in kinds.items():
                    got = read(gray)
                    good[kind] += text in got
                    wrong[kind] += sum(g != text for g in got)
            for kind in kinds:
                rows[kind].append(f"{100 * good[kind] / count:.0f}")
                totals[kind] += good[kind]
            cells += count
        print(f"{name}: {', '.join(str(v) for v in levels)}")
        for kind, row in rows.items():
            print(f"    {kind:12}" + "".join(f"{c:>6}" for c in row), flush=True)
    for kind in kinds:
        print(f"all cells, {kind}: {100 * totals[kind] / cells:.1f} % read, {wrong[kind]} wrong")


def cpu() -> None:
    """CPU milliseconds per megapixel, decoding of the file excluded; one thread each.

    The least of several runs: others who share the processor's cache make them dearer.
    """
    cv2.setNumThreads(1)
    timed = {kind: read for kind, read in readers().items() if kind != "both"}
    for title, gray in _large_photos():
        megapixels = gray.size / 1e6
        cells = []
        for kind, read in timed.items():
            read(gray)
            spent = min(_spent_s(read, gray) for _ in range(3 if kind == "zbar" else 7))
            got = read(gray)
            spent *= 1000 / megapixels
            cells.append(f"{kind} {spent:.2f} ms/MP, {len(got)} read")
        print(f"{title} ({megapixels:.0f} MP): " + "; ".join(cells), flush=True)


def _spent_s(read: Reader, gray: Gray) -> float:
    start = time.process_time()
    read(gray)
    return time.process_time() - start


def _large_photos() -> list[tuple[str, Gray]]:
    """Two symbols on an envelope in a 12 MP frame: clear, and with poor focus at 30 degrees."""
    rng = np.random.default_rng(1)
    coarse = rng.normal(0, 1, (30, 40)).astype(np.float32)
    frame = cv2.resize(coarse, (4000, 3000), interpolation=cv2.INTER_CUBIC)
    paper = np.asarray(190 + 12 * frame, np.float32)
    easy: NDArray[np.float32] = paper.copy()
    hard: NDArray[np.float32] = paper.copy()
    for number, (x, y) in enumerate(((500, 500), (1500, 1700))):
        text, gs1 = random_number(np.random.default_rng(number))
        symbol = picture(reportlab_modules(text, gs1=gs1), x_px=6, height_px=300).astype(np.float32)
        easy[y : y + symbol.shape[0], x : x + symbol.shape[1]] *= (symbol + 60) / 315
        small = picture(reportlab_modules(text, gs1=gs1), x_px=3, height_px=120)
        tilted = turned(small, 30).astype(np.float32)
        hard[y : y + tilted.shape[0], x : x + tilted.shape[1]] *= (tilted + 60) / 315
    hard = np.asarray(cv2.GaussianBlur(hard, (0, 0), 2.0), np.float32)  # about 0.65 X
    out = []
    for title, light in (("easy", easy), ("hard", hard)):
        grain = rng.normal(0, 5, light.shape).astype(np.float32)
        noisy = light + np.asarray(cv2.GaussianBlur(grain, (0, 0), 0.8), np.float32)
        out.append((title, np.clip(noisy, 0, 255).astype(np.uint8)))
    if PHOTOS.is_dir():
        photo = opened(PHOTOS / "zxing_code128-2" / "02.webp")
        big = cv2.resize(photo, (4000, 3000), interpolation=cv2.INTER_CUBIC)
        out.append(("reference photo, enlarged", np.asarray(big, dtype=np.uint8)))
    return out


def main(parts: list[str], seed: int | None) -> None:
    wanted = [a for a in parts if not a.isdigit()] or ["photos", "ladder", "cpu"]
    count = next((int(a) for a in parts if a.isdigit()), 10)
    if "photos" in wanted:
        photos()
    if "ladder" in wanted:
        ladder(count, seed or 0)
    if "cpu" in wanted:
        cpu()
    if "cards" in wanted:
        decode_cards.cards()
    scenes_seed = decode_cards.SEED if seed is None else seed
    if "scenes" in wanted:
        decode_cards.drawn(decode_scenes.TRIED, count, scenes_seed)
    if "kept" in wanted:
        decode_cards.drawn(decode_scenes.KEPT, count, scenes_seed)
    if "places" in wanted:
        decode_places.places(count, scenes_seed)
    if "curved" in wanted:
        decode_curved.curved(decode_scenes.TRIED, count, scenes_seed)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("parts", nargs="*")
    parser.add_argument("--seed", type=int)
    given = parser.parse_args()
    main(given.parts, given.seed)
