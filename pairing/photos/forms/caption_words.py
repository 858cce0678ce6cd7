"""Words of captions, told by their shape: what a field of a form may be called by.

Every word of a short list is drawn in the program's own faces and laid over the word in the
picture, both stretched to one size. It is no reading: a word that is in no list is no caption.
A person confirms what it says: `tests/benchmarks/proposed.py` measures how often it is right.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from pairing.judge.fields import ADDRESSEE, DATE, NAME, RESTRICTED, SENDER, SIGNATURE

WORDS = {
    SIGNATURE: "Signature Signed Firma Unterschrift Assinatura Podpis Handtekening",
    ADDRESSEE: "Addressee Addressed Destinataire Empfänger Empfaenger Destinatario Destinatário "
    "Adresat Geadresseerde",
    SENDER: "Sender Absender Expéditeur Expediteur Mittente Remitente Remetente Nadawca Afzender",
    DATE: "Date Datum Data Fecha",
    NAME: "Name Nom Nome Nombre Received Printed Nazwisko Naam",
    RESTRICTED: "Restricted Eigenhändig Eigenhaendig",
    "postmark": "Postmark Stempel Timbre Timbro Matasellos Datownik",
}
"""Captions of fields, in seven languages. Common practice, no source."""

_OTHERS = (
    "Article number Number from label copy Certified Registered Insured Express Adult Other Return "
    "Receipt delivery different address Agent Print your Complete items Service Type Numéro "
    "Numero envoi lettre Sendung Sendungsnummer Brief raccomandata della Atto Pacco Altro Autre "
    "Druckschrift majuscules cognome lieu Postage fees paid Permit First class Poste restante "
    "retour zurück renvoyer"
)
"""Words that stand on cards too and are none of those: what looks more like one of them is none."""

_FACES = ("Barlow-Medium.ttf", "Barlow-Bold.ttf", "AzeretMono-Medium.ttf")
_FONTS = Path(__file__).parents[2] / "demo" / "fonts"
_DRAWN_PX = 40
_SIZE = (96, 24)
_ALIKE, _BEFORE = 0.62, 0.04
"""So alike a word is, and so much more alike than one of another field. Of words drawn in 12 faces
that are not the program's own 365 of 444 were named and none wrongly, and 20 of 720 other words
were taken for one of the list (2026-11-28)."""
_LONGER = 1.5
"""A face may be this much wider or narrower than the program's own."""

Shape = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class _Drawn:
    name: str
    aspect: float
    shape: Shape


def named(word: NDArray[np.float32]) -> tuple[str, float]:
    """The field that a word is a caption of, "" for none, and how alike they are, 0 to 1.
    word: its ink, (h, w) float32, 0 to 1."""
    own = _normed(word)
    if own is None:
        return "", 0.0
    aspect, shape = own
    best: dict[str, float] = {}
    for one in _drawn():
        if 1 / _LONGER < aspect / one.aspect < _LONGER:
            likeness = float((shape * one.shape).sum())
            best[one.name] = max(best.get(one.name, 0.0), likeness)
    ranked = sorted(best.items(), key=lambda one: -one[1])
    if not ranked or not ranked[0][0] or ranked[0][1] < _ALIKE:
        return "", 0.0
    second = ranked[1][1] if len(ranked) > 1 else 0.0
    return ranked[0] if ranked[0][1] - second >= _BEFORE else ("", 0.0)


@cache
def _drawn() -> tuple[_Drawn, ...]:
    found = []
    for name, words in (*WORDS.items(), ("", _OTHERS)):
        for word in words.split():
            for face in _FACES:
                own = _normed(_in_face(word, face))
                assert own is not None
                found.append(_Drawn(name, *own))
    return tuple(found)


def _in_face(word: str, face: str) -> NDArray[np.float32]:
    font = ImageFont.truetype(_FONTS / face, _DRAWN_PX, layout_engine=ImageFont.Layout.BASIC)
    left, top, right, foot = font.getbbox(word)
    page = Image.new("L", (round(right - left) + 8, round(foot - top) + 8), 0)
    ImageDraw.Draw(page).text((4 - left, 4 - top), word, 255, font=font)
    return np.asarray(page, np.float32) / np.float32(255)


def _normed(word: NDArray[np.float32]) -> tuple[float, Shape] | None:
    """How wide it is for its height, and its ink stretched to one size and evened."""
    soft = np.asarray(cv2.GaussianBlur(word, (0, 0), 0.8), np.float32)
    ys, xs = np.flatnonzero(soft.max(1) > 0.3), np.flatnonzero(soft.max(0) > 0.3)
    if len(ys) < 4 or len(xs) < 8:
        return None
    cut = soft[ys[0] : ys[-1] + 1, xs[0] : xs[-1] + 1]
    shape = cv2.resize(cut, _SIZE, interpolation=cv2.INTER_AREA)
    shape = cv2.GaussianBlur(shape, (0, 0), 1.0)
    shape = shape - shape.mean()
    length = float(np.linalg.norm(shape))
    if length < 1e-6:
        return None
    return cut.shape[1] / cut.shape[0], np.asarray(shape / length, np.float32)
