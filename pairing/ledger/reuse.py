"""How long a number stays taken. Pure.

Label numbers of extra services must stay unique for at least two years (USPS Publication
109, 2-8); an S10 number must not be used again within twelve months (UPU S10-12). A card's
own number has no rule of its own that could be found; it is held as long as a label's.
"""

from __future__ import annotations

from datetime import datetime

from pairing.numbers import s10

LABEL_YEARS = 2
S10_YEARS = 1


def free_from(number: str, used: datetime) -> datetime:
    """When a number used at `used` may be used again. A 29 February counts to 1 March."""
    years = S10_YEARS if s10.is_valid(number) else LABEL_YEARS
    try:
        return used.replace(year=used.year + years)
    except ValueError:
        return used.replace(year=used.year + years, month=3, day=1)


def is_free(number: str, used: datetime, now: datetime) -> bool:
    """Whether the window of a number used at `used` is over at `now`."""
    return now >= free_from(number, used)
