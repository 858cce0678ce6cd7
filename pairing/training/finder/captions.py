"""Words of invented cards and labels, in several languages, and numbers of no meaning."""

from __future__ import annotations

from pairing.numbers.text import is_digits
from pairing.training.finder.materials import Rng

TITLES = (
    "RETURN CARD", "RETURN RECEIPT", "PROOF OF DELIVERY", "AVIS DE RÉCEPTION", "ACCUSÉ DE RÉCEPTION",
    "RÜCKSCHEIN", "EMPFANGSBESTÄTIGUNG", "AVVISO DI RICEVIMENTO", "ACUSE DE RECIBO",
    "AVISO DE RECEBIMENTO", "BERICHT VAN ONTVANGST", "POTWIERDZENIE ODBIORU", "MOTTAGNINGSBEVIS",
    "TÉRTIVEVÉNY", "DORUČENKA", "DELIVERY NOTICE 2265", "A.R.", "MODEL 23",
)  # fmt: skip
NUMBERS = (
    "Article number", "2. Article Number", "Number of the item", "Item no.", "No.",
    "Copy the number from the label", "N° de l'envoi", "Numéro de l'objet", "Numéro du recommandé",
    "Sendungsnummer", "Nummer der Sendung", "Numero della raccomandata", "Numero dell'invio",
    "Número de envío", "N.º do registro", "Número do objeto", "Nummer zending", "Nr przesyłki",
    "Kollinummer", "Ragszám", "Podací číslo", "Tracking number (from the label)",
)  # fmt: skip
FIELDS = (
    "1. Article addressed to:", "A. Signature", "B. Received by (printed name)", "C. Date of delivery",
    "Destinataire", "Expéditeur", "Nom et adresse", "Date et signature", "Bureau de poste",
    "Empfänger", "Unterschrift", "Name in Druckschrift", "Datum", "Absender", "Destinatario",
    "Mittente", "Firma", "Data di consegna", "Nombre y apellidos", "Fecha", "Remitente", "Assinatura",
    "Nome legível", "Data", "Handtekening", "Naam", "Podpis", "Adresat", "Mottagare", "Aláírás",
    "Is delivery address different from item 1?", "3. Service type", "Postmark", "Timbre à date",
    "Bollo", "Telephone", "Reference", "Notes", "Office use only", "Weight", "Postage paid",
)  # fmt: skip
SERVICES = (
    "Registered", "Certified", "Insured", "Express", "Adult signature", "Restricted", "Lettre",
    "Imprimé", "Colis", "Valeur déclarée", "Brief", "Paket", "Nachnahme", "Eigenhändig", "Posta 1",
    "Assicurata", "Pacco", "Atto giudiziario", "Certificado", "Urgente", "Carta", "Pakket", "List",
)  # fmt: skip
FOOTERS = (
    "RETURN RECEIPT", "to be returned", "à renvoyer", "an den Absender zurück", "mod. 23 R", "Form 118-B",
    "(do not write below)", "see other side", "rev. 04/2019", "PTN 7530-02-000-9053", "copy exactly",
    "print clearly", "écrire lisiblement", "bitte deutlich schreiben",
)  # fmt: skip
NAMES = (
    "Ada Norling", "J. Pereira", "M. Castellan", "Hugo Brandt", "Ines Vidal", "R. Okafor", "Tove Lind",
    "Karel Novy", "B. Whitcomb", "Lena Marsh", "P. Delorme", "G. Ferrante", "S. Aldana", "Otto Kress",
    "Mary Ellen Tate", "D. Quayle", "Yusuf Amin", "C. Laurent", "Nils Berg", "W. Harlan",
)  # fmt: skip
STREETS = (
    "Mill Road", "rue des Tilleuls", "Lindenweg", "via dei Mulini", "calle Olmo", "Harbor St",
    "Rua das Flores", "Kerkstraat", "ul. Polna", "Storgatan", "Cedar Avenue", "Old Quarry Lane",
)  # fmt: skip
TOWNS = ("Fairholm OH", "Vauclair", "Neuhagen", "Castelpiano", "Arboleda", "Elmsworth", "Wendover",
         "Santa Isaura", "Brookmere", "Lindby", "Roven", "Port Alder")  # fmt: skip
HARD = ("ORD", "REF", "TEL", "INV", "ID", "Acct", "Job", "Lot", "Ph.", "Case No.", "Dossier")


def digits(rng: Rng, many: int) -> str:
    """Random digits."""
    return "".join(map(str, rng.integers(0, 10, many)))


def number(rng: Rng) -> str:
    """A text like an article's number, not a valid one but by chance."""
    if rng.random() < 0.16:
        letters = "ABCDEFGHJKLMNPRSTUVWXYZ"
        ends = "".join(letters[int(at)] for at in rng.integers(0, len(letters), 4))
        return ends[:2] + digits(rng, 9) + ends[2:]
    many = int(
        rng.choice([22, 20, 13, 16, 18, 24, 26], p=[0.62, 0.2, 0.05, 0.04, 0.03, 0.03, 0.03])
    )
    return rng.choice(["9", "9", "7", ""]) + digits(rng, many - 1)


def grouped(rng: Rng, text: str) -> str:
    """The text in printed groups, or in none."""
    if len(text) == 13 and not is_digits(text):
        return (
            text
            if rng.random() < 0.4
            else f"{text[:2]} {text[2:5]} {text[5:8]} {text[8:11]} {text[11:]}"
        )
    if rng.random() < 0.25:
        return text
    step = 4 if rng.random() < 0.9 else 3
    return " ".join(text[at : at + step] for at in range(0, len(text), step))


def address(rng: Rng) -> list[str]:
    """Lines of an address."""
    lines = [pick(rng, NAMES), f"{rng.integers(1, 999)} {pick(rng, STREETS)}",
             f"{digits(rng, 5)} {pick(rng, TOWNS)}"]  # fmt: skip
    if rng.random() < 0.3:
        lines.insert(1, f"{pick(rng, HARD)} {grouped(rng, digits(rng, int(rng.integers(5, 13))))}")
    return lines


def short_number(rng: Rng) -> str:
    """What people write that is digits and no article number."""
    return str(rng.choice([
        f"{rng.integers(1, 29)}.{rng.integers(1, 13)}.{rng.integers(2019, 2030)}",
        f"{rng.integers(1, 13)}/{rng.integers(1, 29)}/{rng.integers(19, 30)}",
        f"({digits(rng, 3)}) {digits(rng, 3)}-{digits(rng, 4)}", f"0{digits(rng, 3)} {digits(rng, 7)}",
        digits(rng, int(rng.integers(3, 9))), f"{pick(rng, HARD)} {digits(rng, int(rng.integers(4, 11)))}",
        f"{digits(rng, 2)}.{digits(rng, 2)}", f"{digits(rng, 5)}-{digits(rng, 4)}",
    ]))  # fmt: skip


def pick(rng: Rng, words: tuple[str, ...]) -> str:
    """One of them."""
    return words[int(rng.integers(len(words)))]
