"""How the photos of a piece were put together, as it travels from the grouping to the judging."""

from __future__ import annotations

import msgspec

from pairing.audit.run.rows import RowMatch
from pairing.findings import Code, Finding


class JoiningFinding(msgspec.Struct, frozen=True, kw_only=True):
    """A finding as it travels from the grouping of photos to the judging of pieces, by its code
    and parameters; it is worded when the row is written."""

    code: Code
    parameters: dict[str, str | int | None] = {}

    @property
    def finding(self) -> Finding:
        """The finding itself."""
        return Finding.from_parameters(self.code, self.parameters)


class Joining(msgspec.Struct, frozen=True, kw_only=True):
    """How a piece of unsorted photos was put together. is_apart: its label and card are not known
    to belong together. is_probable: but they probably do, by the box alone,
    or (by_order) by the order of the lot's numbers. found: what is to be
    said of it."""

    match: RowMatch | None = None
    is_apart: bool = False
    is_probable: bool = False
    by_order: bool = False
    found: tuple[JoiningFinding, ...] = ()
