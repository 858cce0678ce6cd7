"""Cards of many designs, drawn by parameters: what the program must read without having drawn.

Each design is data: stock, ink, language, where its fields, its own bars and its number's box
lie. `TUNED` are the designs that limits were set by; `KEPT` are for measuring only. Hands are
those of `pairing/demo` (never trained on). All of it is invented; sizes in mm.
"""

from __future__ import annotations

from dataclasses import dataclass

from pairing.demo.sheet import SANS, Color

Rect = tuple[float, float, float, float]
"""left, top, width, height, mm."""
COMB_CELLS = 22
MODES = ("hand", "strip_text", "strip_barcode")
LEVELS = ("clean", "phone", "hard")


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """What a card says, in one language."""

    title: str
    number: str
    footer: str
    address: str
    signature: str
    name: str
    date: str
    services: tuple[str, ...]


ENGLISH = Words(
    title="RETURN CARD", number="2. Article number (copy from label)", footer="RETURN RECEIPT",
    address="1. Addressed to", signature="A. Signature", name="B. Received by",
    date="C. Date of delivery",
    services=("Certified", "Registered", "Insured", "Adult signature", "Express", "Other"),
)  # fmt: skip
FRENCH = Words(
    title="AVIS DE RECEPTION", number="Numero de l'envoi", footer="a renvoyer",
    address="Destinataire", signature="Signature", name="Nom en majuscules", date="Date et lieu",
    services=("Lettre", "Imprime", "Colis", "Valeur", "Mandat", "Autre"),
)  # fmt: skip
GERMAN = Words(
    title="RUECKSCHEIN", number="Sendungsnummer", footer="An den Absender",
    address="Empfaenger", signature="Unterschrift", name="Name in Druckschrift", date="Datum",
    services=("Brief", "Paeckchen", "Wertbrief", "Eigenhaendig", "Nachnahme", "Sonstige"),
)  # fmt: skip
ITALIAN = Words(
    title="AVVISO DI RICEVIMENTO", number="Numero della raccomandata", footer="mod. 23 R",
    address="Destinatario", signature="Firma", name="Nome e cognome", date="Data",
    services=("Raccomandata", "Atto", "Pacco", "Assicurata", "Vaglia", "Altro"),
)  # fmt: skip

GREEN: Color = (221, 238, 221)
YELLOW: Color = (247, 232, 170)
PINK: Color = (244, 205, 208)
ORANGE: Color = (246, 206, 160)
WHITE: Color = (248, 248, 246)
DARK_GREEN: Color = (22, 72, 42)
RED: Color = (176, 40, 52)
NAVY: Color = (30, 42, 96)
INK_BLACK: Color = (28, 28, 30)
GRAY: Color = (110, 112, 118)


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """One design. box_kind: frame, line, comb or free. bars: left, top, degrees clockwise (0 or
    90), narrow bar and height in mm, None for a card without. caption: where the box's words
    stand (above, inside, left). has_footer: small words in the box's foot. fields: other ruled
    cells, each with its words' key. face: a font
    file, of the demo's or with its path, that captions are set in."""

    name: str
    size: tuple[float, float]
    stock: Color
    ink: Color
    words: Words
    box: Rect
    box_kind: str
    bars: tuple[float, float, int, float, float] | None
    caption: str = "above"
    has_footer: bool = False
    fields: tuple[tuple[Rect, str], ...] = ()
    checks: tuple[float, float] | None = None
    title: tuple[float, float, bool] = (6.0, 8.0, False)
    rule_mm: float = 0.25
    is_stamped: bool = False
    address: tuple[float, float] = (8.0, 24.0)
    face: str = SANS


TUNED = (
    Design(
        name="grid", size=(150.0, 96.0), stock=GREEN, ink=DARK_GREEN, words=ENGLISH,
        box=(3.0, 75.0, 71.0, 17.5), box_kind="frame", caption="inside", has_footer=True,
        bars=(12.0, 54.0, 0, 0.33, 11.0), title=(3.0, 6.0, True), rule_mm=0.3,
        fields=(((3.0, 3.0, 71.0, 17.0), ""), ((3.0, 20.0, 71.0, 32.0), "address"),
                ((3.0, 52.0, 71.0, 23.0), ""), ((74.0, 3.0, 73.0, 27.0), "signature"),
                ((74.0, 30.0, 73.0, 17.0), "name"), ((74.0, 47.0, 73.0, 14.0), "date"),
                ((74.0, 61.0, 73.0, 31.5), "")),
        checks=(78.0, 66.0), address=(10.0, 29.0),
    ),
    Design(
        name="free-frame", size=(170.0, 80.0), stock=(246, 236, 212), ink=NAVY, words=ENGLISH,
        box=(9.0, 46.0, 74.0, 11.0), box_kind="frame", bars=(12.0, 26.0, 0, 0.34, 9.0),
        fields=(((98.0, 12.0, 66.0, 18.0), "signature"), ((98.0, 38.0, 66.0, 11.0), "name"),
                ((98.0, 58.0, 66.0, 11.0), "date")),
        title=(8.0, 9.0, False), address=(10.0, 66.0),
    ),
    Design(
        name="line", size=(148.0, 105.0), stock=PINK, ink=RED, words=FRENCH,
        box=(8.0, 82.0, 84.0, 11.0), box_kind="line", bars=(10.0, 50.0, 0, 0.30, 10.0),
        fields=(((90.0, 14.0, 52.0, 20.0), "signature"), ((90.0, 40.0, 52.0, 12.0), "name"),
                ((100.0, 62.0, 42.0, 12.0), "date")),
        title=(8.0, 10.0, False), address=(9.0, 22.0),
    ),
    Design(
        name="comb", size=(160.0, 90.0), stock=YELLOW, ink=INK_BLACK, words=GERMAN,
        box=(8.0, 70.0, 99.0, 8.0), box_kind="comb", bars=(10.0, 42.0, 0, 0.33, 10.0),
        fields=(((86.0, 10.0, 68.0, 20.0), "signature"), ((86.0, 36.0, 68.0, 13.0), "name")),
        title=(8.0, 9.0, False), checks=(100.0, 52.0), rule_mm=0.2, address=(10.0, 20.0),
    ),
    Design(
        name="no-frame", size=(155.0, 85.0), stock=WHITE, ink=INK_BLACK, words=ITALIAN,
        box=(8.0, 56.0, 80.0, 13.0), box_kind="free", bars=(10.0, 32.0, 0, 0.33, 10.0),
        fields=(((94.0, 10.0, 55.0, 22.0), "signature"), ((94.0, 38.0, 55.0, 14.0), "name")),
        title=(8.0, 9.0, False), checks=(96.0, 60.0), address=(10.0, 17.0),
    ),
    Design(
        name="portrait", size=(105.0, 148.0), stock=PINK, ink=(150, 30, 60), words=FRENCH,
        box=(8.0, 98.0, 88.0, 14.0), box_kind="frame", caption="inside",
        bars=(20.0, 72.0, 0, 0.33, 11.0), is_stamped=True, title=(8.0, 10.0, True),
        fields=(((8.0, 18.0, 88.0, 36.0), "address"), ((8.0, 54.0, 88.0, 14.0), "date"),
                ((8.0, 116.0, 88.0, 22.0), "signature")),
        address=(14.0, 29.0),
    ),
    Design(
        name="beside", size=(180.0, 78.0), stock=ORANGE, ink=INK_BLACK, words=ENGLISH,
        box=(84.0, 16.0, 80.0, 13.0), box_kind="frame", bars=(12.0, 18.0, 0, 0.33, 9.0),
        fields=(((84.0, 38.0, 80.0, 12.0), "name"), ((84.0, 58.0, 80.0, 14.0), "signature"),
                ((8.0, 40.0, 68.0, 32.0), "address")),
        title=(8.0, 8.0, False), address=(14.0, 50.0),
    ),
    Design(
        name="no-bars", size=(148.0, 105.0), stock=(236, 226, 210), ink=GRAY, words=GERMAN,
        box=(8.0, 62.0, 82.0, 12.0), box_kind="frame", bars=None,
        fields=(((8.0, 78.0, 82.0, 20.0), "date"), ((96.0, 20.0, 46.0, 30.0), "signature"),
                ((96.0, 56.0, 46.0, 18.0), "name")),
        title=(8.0, 10.0, False), address=(12.0, 28.0),
    ),
)  # fmt: skip
KEPT = (
    Design(
        name="upright-bars", size=(165.0, 92.0), stock=GREEN, ink=INK_BLACK, words=ITALIAN,
        box=(40.0, 70.0, 86.0, 14.0), box_kind="frame", caption="inside",
        bars=(20.0, 14.0, 90, 0.33, 11.0), title=(40.0, 9.0, False),
        fields=(((40.0, 16.0, 86.0, 34.0), "address"), ((40.0, 50.0, 86.0, 20.0), "signature"),
                ((126.0, 16.0, 34.0, 34.0), "date"), ((126.0, 50.0, 34.0, 34.0), "name")),
        address=(48.0, 27.0),
    ),
    Design(
        name="comb-portrait", size=(110.0, 150.0), stock=WHITE, ink=RED, words=FRENCH,
        box=(6.0, 112.0, 96.8, 9.0), box_kind="comb", bars=(22.0, 84.0, 0, 0.33, 10.0),
        title=(8.0, 11.0, True), is_stamped=True, rule_mm=0.25,
        fields=(((6.0, 20.0, 97.0, 34.0), "address"), ((6.0, 58.0, 97.0, 18.0), "signature"),
                ((6.0, 128.0, 97.0, 16.0), "date")),
        address=(12.0, 31.0),
    ),
    Design(
        name="line-right", size=(175.0, 88.0), stock=YELLOW, ink=NAVY, words=GERMAN,
        box=(88.0, 58.0, 80.0, 12.0), box_kind="line", bars=(92.0, 32.0, 0, 0.31, 9.0),
        title=(90.0, 10.0, False), checks=(10.0, 62.0),
        fields=(((6.0, 6.0, 74.0, 22.0), "signature"), ((6.0, 28.0, 74.0, 13.0), "name"),
                ((6.0, 41.0, 74.0, 13.0), "date")),
        address=(92.0, 18.0),
    ),
    Design(
        name="tall-cell", size=(140.0, 100.0), stock=PINK, ink=INK_BLACK, words=ENGLISH,
        box=(4.0, 4.0, 84.0, 19.0), box_kind="frame", caption="inside", has_footer=True,
        bars=(14.0, 27.0, 0, 0.34, 10.0), title=(94.0, 12.0, False), rule_mm=0.4,
        fields=(((4.0, 23.0, 84.0, 24.0), ""), ((4.0, 47.0, 84.0, 28.0), "address"),
                ((4.0, 75.0, 84.0, 21.0), "signature"), ((88.0, 23.0, 48.0, 24.0), "name"),
                ((88.0, 47.0, 48.0, 49.0), "")),
        checks=(93.0, 54.0), address=(12.0, 57.0),
    ),
)  # fmt: skip
DESIGNS = {design.name: design for design in (*TUNED, *KEPT)}
