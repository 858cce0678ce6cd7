"""One thing worth saying, as a code with parameters; its sentences come from `wording`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from pairing.findings import wording
from pairing.findings.codes import Code, Weight
from pairing.findings.parameters import Parameter, checked
from pairing.findings.wording import Sentences


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing worth saying about a number, a scan or a piece. Made by `of`, or by
    `read_back` where it was stored.

    code: a plain text where a later version stored it.
    weight: what it does to the verdict.
    positions: 1-based digit positions in the number that it speaks of.
    parameters: the names and values of `parameters.PARAMETERS`.
    stored: the sentences of a finding that was read back; they stay as they are.
    """

    code: Code | str
    weight: Weight = Weight.NOTE
    positions: tuple[int, ...] = ()
    parameters: tuple[tuple[str, Parameter], ...] = ()
    stored: Sentences | None = None

    @classmethod
    def of(
        cls,
        code: Code,
        /,
        *,
        weight: Weight | None = None,
        positions: tuple[int, ...] = (),
        **parameters: Parameter,
    ) -> Finding:
        """A finding. `weight` may be left out where the code allows only one.

        Raises TypeError where weight or parameters are not the code's: the program is wrong,
        not the piece.
        """
        return cls.from_parameters(code, parameters, weight=weight, positions=positions)

    @classmethod
    def from_parameters(
        cls,
        code: Code,
        parameters: Mapping[str, Parameter],
        *,
        weight: Weight | None = None,
        positions: tuple[int, ...] = (),
    ) -> Finding:
        """The same as `of`, for parameters that are at hand together."""
        weighs = code.weights[0] if weight is None and len(code.weights) == 1 else weight
        if weighs not in code.weights:
            raise TypeError(f"{code} weighs one of {code.weights}, not {weight!r}")
        return cls(
            code=code,
            weight=weighs,
            positions=positions,
            parameters=checked(code, parameters),
        )

    @classmethod
    def read_back(
        cls,
        code: str,
        /,
        *,
        message: str,
        action: str = "",
        weight: Weight = Weight.NOTE,
        positions: tuple[int, ...] = (),
    ) -> Finding:
        """A finding as it was stored by this version or another, to the letter."""
        return cls(
            code=Code.known(code) or code,
            weight=weight,
            positions=positions,
            stored=Sentences(message=message, action=action),
        )

    @property
    def sentences(self) -> Sentences:
        """Message and action in English."""
        if self.stored is not None:
            return self.stored
        return wording.sentences(self.code, dict(self.parameters), self.positions)

    @property
    def message(self) -> str:
        """One sentence, plain text."""
        return self.sentences.message

    @property
    def action(self) -> str:
        """What a person should do now; may be empty for a note."""
        return self.sentences.action

    def with_parameters(self, **changed: Parameter) -> Finding:
        """The same with these parameters instead of its own; a stored one has none."""
        parameters = checked(Code.named(self.code), {**dict(self.parameters), **changed})
        return replace(self, parameters=parameters)

    def with_texts(self, change: Callable[[str], str]) -> Finding:
        """The same with `change` made to each text among its parameters, those of findings in
        it too, or to its sentences if it was stored."""
        if self.stored is not None:
            message, action = change(self.stored.message), change(self.stored.action)
            return replace(self, stored=Sentences(message=message, action=action))
        changed = tuple((name, _changed(value, change)) for name, value in self.parameters)
        return replace(self, parameters=changed)


def _changed(value: Any, change: Callable[[str], str]) -> Any:
    match value:
        case str():
            return change(value)
        case tuple():
            return tuple(_changed(one, change) for one in value)
        case Finding():
            return value.with_texts(change)
    return value
