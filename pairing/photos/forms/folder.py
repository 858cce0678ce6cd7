"""Where an office's forms lie: one file each, in a folder that several desks may share."""

from __future__ import annotations

import os
from functools import lru_cache
from pathlib import Path

import platformdirs

from pairing import output
from pairing.errors import CounterfoilError
from pairing.photos.forms.definition import SUFFIX, Form, as_bytes, checked, read_form
from pairing.photos.forms.features import Index

VARIABLE = "COUNTERFOIL_FORMS"
"""The environment variable that names the folder."""
BUILT_IN = Path(__file__).with_name("built_in")
"""Forms that come with the program: those of its demonstration."""


def place() -> Path:
    """The folder that the variable names, or the one in the user's data folder."""
    named = os.environ.get(VARIABLE, "")
    if named:
        return Path(named)
    return platformdirs.user_data_path("counterfoil", appauthor=False) / "forms"


def paths() -> tuple[Path, ...]:
    """The files of the office's forms, by name."""
    here = place()
    if not here.is_dir():
        return ()
    return tuple(sorted(path for path in here.iterdir() if path.suffix == SUFFIX))


def forms() -> tuple[Form, ...]:
    """The office's forms. Raises CounterfoilError where a file is no form."""
    return tuple(read_form(path) for path in paths())


def built_in() -> tuple[Form, ...]:
    """The forms that come with the program."""
    return tuple(read_form(path, is_builtin=True) for path in _built_in_paths())


def _built_in_paths() -> list[Path]:
    return sorted(BUILT_IN.glob(f"*{SUFFIX}")) if BUILT_IN.is_dir() else []


def find(name: str) -> Form:
    """The form of that name, the office's or one that comes with the program. Raises
    CounterfoilError."""
    for form in (*forms(), *built_in()):
        if form.name == name:
            return form
    raise CounterfoilError(
        "There is no such form",
        where=name,
        remedy="`counterfoil form list` shows the forms there are.",
    )


def save(form: Form, *, replaces: bool = False) -> Path:
    """Write a form to the folder. Raises CounterfoilError where its name is taken."""
    checked(form)
    path = place() / f"{form.name}{SUFFIX}"
    if path.exists() and not replaces:
        raise CounterfoilError(
            "There is a form of that name already",
            where=form.name,
            remedy="Give another name, or remove that form first.",
        )
    write(form, path)
    return path


def write(form: Form, path: Path) -> None:
    """Write a form's file, whole or not at all. Raises CounterfoilError."""
    remedy = f"Check the folder, and {VARIABLE} if it is set."
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CounterfoilError(
            f"The form could not be written ({error.strerror or error})",
            where=os.fspath(path),
            remedy=remedy,
        ) from error
    output.replace(path, [as_bytes(form)], remedy=remedy)


def remove(name: str) -> None:
    """Take a form out of the folder. Raises CounterfoilError."""
    mine = [path for path in paths() if read_form(path).name == name]
    if not mine and find(name).is_builtin:
        raise CounterfoilError(
            "This form comes with the program and cannot be removed",
            where=name,
            remedy="It is told only of the cards of the program's own demonstration.",
        )
    for path in mine:
        path.unlink()
    for parent in {path.parent for path in mine}:
        # Else a power cut may bring back what was said to be removed (`tests.faults power`).
        output.flush_folder(parent)


def index() -> Index:
    """All forms that a card may be of, indexed; made again only when a file has changed.
    Raises CounterfoilError."""
    files = [*((path, True) for path in _built_in_paths()), *((path, False) for path in paths())]
    known = []
    for path, is_built_in in files:
        state = path.stat()
        known.append((path, is_built_in, state.st_mtime_ns, state.st_size))
    return _indexed(tuple(known))


@lru_cache(maxsize=4)
def _indexed(files: tuple[tuple[Path, bool, int, int], ...]) -> Index:
    return Index.of([read_form(path, is_builtin=is_builtin) for path, is_builtin, *_ in files])
