"""Changes that make no difference to what a function returns, each with its reason."""

from __future__ import annotations

EQUIVALENT: dict[str, str] = {}
