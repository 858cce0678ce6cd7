"""What a script of a general decoder and a general OCR makes of the same photos, in the same run.

    python -m tests.benchmarks.general_ocr [PIECES [FOLDER]]   (FOLDER: as `sample_scans`)

The script is what a capable person writes in an afternoon: zxing-cpp for the bars, RapidOCR (any
text, no training for this) for the rest, digits compared as strings. RapidOCR is no dependency of
the project: `pip install rapidocr-onnxruntime` where it is to be run.
"""

from __future__ import annotations

import csv
import importlib
import os
import re
import sys
import time
from collections import Counter
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import cv2
import zxingcpp

from pairing.pieces.batch import judge_all, read_all
from pairing.pieces.photo_groups import group


def script(ocr: Any, label: Path, card: Path) -> str:
    """The forty lines: "agrees", "differs" or "unread"."""

    def bars(photo: Path) -> list[str]:
        found = zxingcpp.read_barcodes(cv2.imread(str(photo)))
        return [re.sub(r"\W|^\(?420\)?\d{5}(?=\d{22})", "", one.text) for one in found]

    numbers = [
        text for text in bars(label) if re.fullmatch(r"\d{20,22}|[A-Z]{2}\d{9}[A-Z]{2}", text)
    ]
    if len(set(numbers)) != 1:
        return "unread"
    article, on_card = numbers[0], bars(card)
    own = [text for text in on_card if text.startswith("9590")]
    strips = [text for text in on_card if text not in own]
    if strips:
        return "agrees" if article in strips else "differs"
    lines, _ = ocr(str(card))
    texts = [re.sub(r"[^0-9A-Z]", "", text.upper()) for _, text, _ in lines or ()]
    texts = [text for text in texts if sum(map(str.isdigit, text)) >= 9 and text not in own]
    texts = [text for text in texts if not text.startswith("9590")]
    if article in texts:
        return "agrees"
    near = [text for text in texts if abs(len(text) - len(article)) <= 2]
    return "differs" if near else "unread"


def counterfoil(photos: list[Path]) -> dict[str, str]:
    """Verdicts by piece, as `counterfoil photos` gives them."""
    batch = list(read_all(group(photos), workers=1))
    return {one.piece.name: one.judgment.verdict.value for one in judge_all(batch).pieces}


def drawn_in(folder: Path, most: int) -> dict[str, tuple[list[Path], str]]:
    """Pieces with a photo of each side, and what is the case of them."""
    with (folder / "manifest.csv").open(newline="", encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["photos"].count(";") == 1]
    found = {}
    for row in rows[:most]:
        photos = sorted((folder / name for name in row["photos"].split(";")), reverse=True)
        is_right = row["box"] == row["article"]
        found[row["piece"]] = (photos, "is right" if is_right else "is wrong or not to be read")
    return found


def main() -> None:
    """Time both and count verdicts by what is the case."""
    most = int([*sys.argv[1:], "40"][0])
    pieces = drawn_in(Path(sys.argv[2] if sys.argv[2:] else "sample_scans"), most)
    told: dict[str, Callable[[], dict[str, str]]] = {
        "counterfoil": lambda: counterfoil([one for photos, _ in pieces.values() for one in photos])
    }
    if find_spec("rapidocr_onnxruntime"):
        library = importlib.import_module("rapidocr_onnxruntime")
        ocr = library.RapidOCR(intra_op_num_threads=1, inter_op_num_threads=1)
        told["script"] = lambda: {name: script(ocr, *two) for name, (two, _) in pieces.items()}
    else:
        print("RapidOCR is not installed: pip install rapidocr-onnxruntime")
    for who, work in told.items():
        before = _cpu_s()
        verdicts = work()
        spent = (_cpu_s() - before) / len(pieces)
        counts = Counter(f"{verdicts[name]}, box {truth}" for name, (_, truth) in pieces.items())
        print(f"{who}: {len(pieces)} pieces, {spent:.2f} s of CPU each; {dict(counts)}", flush=True)


def _cpu_s() -> float:
    """Of this process and its children that have ended."""
    times = os.times()
    return time.process_time() + times.children_user + times.children_system


if __name__ == "__main__":
    main()
