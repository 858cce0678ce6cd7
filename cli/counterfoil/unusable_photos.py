"""Which photos of a lot were of no use, and why, on the screen: the first few."""

from __future__ import annotations

from itertools import islice
from pathlib import Path

import click

from counterfoil.view import style
from pairing.audit.run.rows import rows_in

_MOST = 3


def tell(rows: Path, count: int) -> None:
    """rows: the lot's. count: how many photos were of no use."""
    found = (photo for row in (rows_in(rows) if count else ()) for photo in row.photos)
    for photo in islice((one for one in found if one.skipped), _MOST):
        why = style.plain(photo.skipped or "")
        click.echo(f"Unusable: {style.plain(photo.photo)}: {why}", err=True)
    if count > _MOST:
        click.echo(f"The other {count - _MOST:,} are in {rows.name}, as skipped.", err=True)
