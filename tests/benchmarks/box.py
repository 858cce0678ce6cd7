"""The reading of the box, measured on held-out lines: `python -m tests.benchmarks.box FILE...`.

FILE: `test.npz` of the training's `fit` (hands and faces never trained on nor calibrated
with; its seeds are fixed), or others packed the same way. Pairs are drawn with a fixed seed.
"""

from __future__ import annotations

import random
import sys
from collections import Counter, defaultdict
from pathlib import Path

from pairing.decide import decide, rivals
from pairing.model import Verdict
from pairing.photos.training.calibration import SHARES, groups, held
from pairing.photos.training.evaluation_texts import distance
from pairing.photos.training.sorts import SORTS
from pairing.photos.written import thresholds

DIFFERING_PER_LINE = 3


def main(files: list[Path]) -> None:
    """Print the table."""
    rule, dice = thresholds(), random.Random(4)
    exact, digits, calls = defaultdict(list), defaultdict(list), defaultdict(Counter)
    keys: dict[tuple[str, int], list[int]] = defaultdict(list)
    wrong: Counter[str] = Counter()
    confused: Counter[str] = Counter()
    pairs = flagged = 0
    for path in files:
        for line, reading in held(path):
            at = (SORTS[line.sort], line.level)
            exact[at].append(line.best == line.right)
            digits[at].append((distance(line.right, line.best), len(line.right)))
            if len(line.best) == len(line.right):
                confused.update(a + b for a, b in zip(line.right, line.best) if a != b)  # noqa: B905
            done = decide(reading, line.right, thresholds=rule, group_sizes=groups(line.right))
            calls[at][done.verdict] += 1
            asked = len(done.doubtful) if not done.key_all else len(line.right)
            keys[at].append(0 if done.verdict is not Verdict.UNREAD else asked)
            for _ in range(DIFFERING_PER_LINE):
                kind = dice.choices(list(SHARES), list(SHARES.values()))[0]
                made = [r for r in rivals(line.right, group_sizes=groups(line.right))
                        if r.error is kind]  # fmt: skip
                if not made:
                    continue
                label = dice.choice(made).text
                pairs += 1
                if label == line.best and line.best_odds >= rule.agrees:
                    wrong[kind.value] += 1
                own = reading.log_likelihood(label)
                free = reading.log_likelihood(line.best)
                flagged += (
                    line.best != label
                    and free - own >= rule.differs
                    and (2.718281828**free >= rule.differs_sure)
                )
    print(f"{'sort':10} level  lines  exact  digits   agrees differs unread  keys a pair")
    for at in sorted(exact):
        n, done = len(exact[at]), calls[at]
        edits, chars = (sum(column) for column in zip(*digits[at], strict=True))
        print(
            f"{at[0]:10} {at[1]:5} {n:6}  {sum(exact[at]) / n:.3f}  {1 - edits / chars:.4f}"
            f"   {done[Verdict.AGREES] / n:6.3f} {done[Verdict.DIFFERS] / n:7.4f}"
            f" {done[Verdict.UNREAD] / n:6.3f}  {sum(keys[at]) / n:.2f}"
        )
    print(f"differing pairs {pairs}: wrong agrees {sum(wrong.values())} {dict(wrong)}, "
          f"called differs {flagged / max(1, pairs):.3f}")  # fmt: skip
    print("commonest confusions", confused.most_common(14))


if __name__ == "__main__":
    main([Path(name) for name in sys.argv[1:]])
