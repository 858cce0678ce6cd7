"""Forms taught on the operator's page: what is proposed for a photo of an empty card, the form that
is kept, those that are there. The forms are those of `counterfoil form`, in the same folder.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from pairing.errors import CounterfoilError, PhotoUnusable
from pairing.kiosk.messages import TaughtForm
from pairing.kiosk.pictures import Reader, Result
from pairing.kiosk.refusals import Refused
from pairing.photos.files import frames
from pairing.photos.forms import folder
from pairing.photos.forms.definition import NO_BOX, Form
from pairing.photos.forms.learning import Corners, Marked, learned
from pairing.photos.forms.proposed_box import (
    card_corners,
    marked_box,
    own_bars,
    proposed_box,
    proposed_size,
)


def listed() -> list[dict[str, Any]]:
    """The office's forms and those that come with the program."""
    return [_shown(form) for form in (*folder.forms(), *folder.built_in())]


def proposed(reader: Reader, data: bytes, media_type: str) -> dict[str, Any]:
    """What is made out in a photo of an empty card. Raises Refused where it cannot be used."""
    return _worked(reader, data, media_type, _proposed)


def taught(reader: Reader, data: bytes, media_type: str, given: TaughtForm) -> dict[str, Any]:
    """Learn the form from the photo and keep it. Raises Refused."""
    if any(one.name == given.name for one in (*folder.forms(), *folder.built_in())):
        raise Refused(status=409, code="taken", message="There is a form of that name already.")
    form = _worked(reader, data, media_type, partial(_learned, given))
    folder.save(form)
    reader.renew()
    return _shown(form)


def removed(name: str) -> None:
    """Forget an office's form. Raises CounterfoilError."""
    folder.remove(name)


def _worked(reader: Reader, data: bytes, media_type: str, work: Callable[[Path], Result]) -> Result:
    try:
        return reader.worked(data, media_type, work)
    except PhotoUnusable as error:
        raise Refused(
            status=422, code="photo", message="This photo cannot be used.", action=error.remedy
        ) from error
    except CounterfoilError as error:
        raise Refused(
            status=422, code="form", message=f"{error.what}.", action=error.remedy
        ) from error


def _proposed(path: Path) -> dict[str, Any]:
    """In the worker. Corners in px of the photo, from the top left clockwise; null where nothing
    was made out."""
    photo = next(iter(frames(path))).gray
    bars = own_bars(photo)
    corners = card_corners(photo, bars)
    found: dict[str, Any] = {
        "width": photo.shape[1], "height": photo.shape[0], "card": None, "box": None,
        "size_mm": None, "kind": "frame", "cells": 0,
    }  # fmt: skip
    if corners is None:
        return found
    size_mm = proposed_size(corners, bars)
    found |= {"card": _pairs(corners), "size_mm": [round(one) for one in size_mm]}
    box = proposed_box(photo, bars, corners, size_mm)
    if box is not None:
        found |= {"box": _pairs(box.corners), "kind": box.kind, "cells": box.cells}
    return found


def _learned(given: TaughtForm, path: Path) -> Form:
    """In the worker."""
    photo = next(iter(frames(path))).gray
    corners, size_mm = np.array(given.card), (given.wide_mm, given.high_mm)
    box = marked_box(photo, np.array(given.box), corners, size_mm)
    marked = Marked(
        corners=corners, box=box.corners, size_mm=size_mm, kind=box.kind, cells=box.cells
    )
    return learned(given.name, [photo], marked, bars=own_bars(photo))


def _pairs(corners: Corners) -> list[list[float]]:
    return [[round(float(x), 1), round(float(y), 1)] for x, y in corners]


def _shown(form: Form) -> dict[str, Any]:
    return {
        "name": form.name,
        "size_mm": list(form.size_mm),
        "kind": "back" if form.kind == NO_BOX else form.kind,
        "cells": form.cells,
        "is_builtin": form.is_builtin,
    }
