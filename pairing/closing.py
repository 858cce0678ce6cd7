"""A base for what is used in a `with` and closed at its end."""

from __future__ import annotations

from abc import ABC, abstractmethod
from types import TracebackType
from typing import Self


class Closing(ABC):
    """Closes itself at the end of a `with`, whatever happened in it."""

    @abstractmethod
    def close(self) -> None:
        """Let go of everything. May be called twice."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
