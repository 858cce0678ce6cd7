"""`compare` names the edit that was made: random edits against a brute-force oracle, 10,000 with
COUNTERFOIL_ORACLE=full, else a fifth of them."""

from __future__ import annotations

import os
import random
from collections import Counter
from typing import Any

import pytest
from stdnum import ean

from pairing.compare import Comparison, CopyError, compare
from tests.compare import oracle

ORDER = (
    "CARD_OWN", "OTHER_PIECE", "PAD_NEIGHBOR", "ONE_DIGIT", "ADJACENT_SWAP", "JUMP_SWAP",
    "TWIN", "JUMP_TWIN", "PHONETIC", "DROPPED", "EXTRA", "TRUNCATED", "GROUP_SWAP", "SHIFTED",
)  # fmt: skip
"""The documented precedence, written down again so that a changed table is noticed."""

IS_FULL = os.environ.get("COUNTERFOIL_ORACLE") == "full"
EDITS_PER_SHAPE = 2_500 if IS_FULL else 500
LABELS_PER_SHAPE = 25 if IS_FULL else 5
FOURS, S10_SIZES = (4,), (2, 3, 3, 3, 2)
SHAPES = [(20, FOURS), (22, FOURS), (26, FOURS), (13, S10_SIZES)]


def random_number(rng: random.Random, length: int) -> str:
    if length == 13:
        letters = [rng.choice(oracle.LETTERS) for _ in range(4)]
        serial = f"{rng.randrange(10**8):08}"
        return "".join((*letters[:2], serial, oracle.s10_check_digit(serial), *letters[2:]))
    data = f"{rng.randrange(10 ** (length - 1)):0{length - 1}}"
    return data + ean.calc_check_digit(data)


def several(rng: random.Random, label: str) -> str:
    new = {}
    for i in rng.sample(range(len(label)), rng.randint(2, 9)):
        pool = oracle.LETTERS if label[i].isalpha() else oracle.DIGITS
        new[i] = rng.choice(pool.replace(label[i], ""))
    return oracle.put(label, new)


def different(rng: random.Random, label: str) -> str:
    length = rng.choice([k for k in range(1, 45) if k != len(label)])
    return "".join(rng.choice(oracle.DIGITS) for _ in range(length))


def expected(
    reach: dict[str, dict[str, set[tuple[int, ...]]]], box: str, card: str, others: set[str]
) -> list[str]:
    whole = {"CARD_OWN": box == card, "OTHER_PIECE": box in others}
    return [kind for kind in ORDER if whole.get(kind) or box in reach.get(kind, {})]


def check_positions(label: str, box: str, kind: str, found: Comparison, possible: set[Any]) -> None:
    if kind in {"DROPPED", "EXTRA"}:
        assert found.positions == min(possible)  # the first place of a run
    elif kind in {"CARD_OWN", "OTHER_PIECE", "SEVERAL_DIGITS"}:
        if len(label) == len(box):
            assert found.positions == oracle.differing(label, box)
    elif kind != "DIFFERENT":
        assert found.positions in possible


def respelled(found: Comparison) -> tuple[str, str]:
    return (
        "".join(column.label or "" for column in found.columns),
        "".join(column.box or "" for column in found.columns),
    )


@pytest.mark.parametrize(("length", "sizes"), SHAPES)
def test_the_edit_made_is_the_error_named(length: int, sizes: tuple[int, ...]) -> None:
    rng = random.Random(f"edits {length}")
    seen: Counter[str] = Counter()
    kinds = [*ORDER, "SEVERAL_DIGITS", "DIFFERENT"]
    for _ in range(LABELS_PER_SHAPE):
        label = random_number(rng, length)
        card, *pieces = (random_number(rng, length) for _ in range(6))
        others = {label, *pieces, rng.choice([*oracle.neighbors(label)])}
        reach = oracle.reachable(label, sizes)
        pools = {kind: sorted(texts) for kind, texts in reach.items()}
        pools |= {"CARD_OWN": [card], "OTHER_PIECE": sorted(others - {label})}
        for _ in range(EDITS_PER_SHAPE // LABELS_PER_SHAPE):
            kind = rng.choice([k for k in kinds if k not in pools or pools[k]])
            if kind in pools:
                box = rng.choice(pools[kind])
            else:
                box = (several if kind == "SEVERAL_DIGITS" else different)(rng, label)
            found = compare(
                label, box, group_sizes=sizes, is_valid=oracle.is_valid, card=card, others=others
            )
            names = expected(reach, box, card, others)
            catch_all = "SEVERAL_DIGITS" if len(label) == len(box) else "DIFFERENT"
            assert found.error is not None
            assert [found.error.name, *(k.name for k in found.also)] == (names or [catch_all])
            if kind in ORDER:
                assert kind in names
            check_positions(
                label, box, found.error.name, found, reach.get(found.error.name, {}).get(box, set())
            )
            assert respelled(found) == (label, box)
            assert found.passes_check == oracle.is_valid(box)
            seen[found.error.name] += 1
    assert set(seen) == {member.name for member in CopyError}
