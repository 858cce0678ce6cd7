"""How the pieces came to be checked, in the sentences that a conclusion rests on."""

from __future__ import annotations

from pairing.audit.statistics.draws import Drawn
from pairing.audit.statistics.sample_counts import SampleCount

_DRAWN = {
    "random": "pieces were drawn with the seed",
    "systematic": "pieces, at equal steps down the list, were drawn with the seed",
    "value": "pieces are what the points of value lie on that were drawn with the seed",
}


def of_draw(sample: Drawn, found: SampleCount) -> str:
    """How chance chose the pieces."""
    pieces = len(sample.pieces) + (len(sample.second) if found.stage == 2 else 0)
    text = f"{pieces:,} of {sample.lot:,} {_DRAWN[sample.method]} {sample.seed}. "
    if sample.strata:
        text = f"{len(sample.strata):,} strata, each drawn in proportion: {text}"
    if sample.method == "systematic":
        text += "The bound takes the list's order for one of chance. "
    if found.replaced or found.not_replaced:
        text += (
            f"{found.replaced:,} void pieces were replaced by the next ones drawn; "
            f"{found.not_replaced:,} more, for which no spare was left, count as unread. "
        )
    return (
        f"{text}No photo shows {found.missing:,} of them; these count as unread. Other pieces in "
        "the folder do not count."
    )


def of_photos(lot: int | None, checked: int) -> str:
    """What photos of which no draw is recorded may be taken for."""
    if lot == checked:
        return "Every piece of the lot was checked: the bound is a count, not an estimate."
    return "This holds for a sample drawn at random; photos that came by chance bound nothing."
