"""The pieces themselves; `scenario` says what each field means."""

from __future__ import annotations

from pairing.demo.scenario import ZIP, ZIP_PLUS_4, BoxBy, Layout, Piece
from pairing.model import Verdict

_AGREES, _DIFFERS, _UNREAD = Verdict.AGREES, Verdict.DIFFERS, Verdict.UNREAD
_STRIP, _PRINT, _EMPTY = BoxBy.STRIP_BARCODE, BoxBy.STRIP_PRINT, BoxBy.EMPTY
_BESIDE, _ABOVE = Layout.SIDE_BY_SIDE, Layout.LABEL_ABOVE

_STRIPS = (
    Piece(
        name="0001", purpose="right strip, pre-printed label", addressee="Corin Thackmire",
        article="9589073361400182450735", card="9590948231076137543417",
        box="9589073361400182450735", box_bars="9589073361400182450735", box_by=_STRIP,
        verdict=_AGREES,
    ),
    Piece(
        name="0002", purpose="right strip, package label with routing in the bars",
        addressee="Wend & Daughter, Millers", hand="indie", routing=ZIP,
        article="9407388126041970053168", card="9590948231076174604720",
        box="9407388126041970053168", box_bars="9407388126041970053168", box_by=_STRIP,
        verdict=_AGREES,
    ),
    Piece(
        name="0003", purpose="right strip, 20-digit label, both in one photo",
        addressee="Isaura Penbrook", hand="reenie", layout=_BESIDE,
        article="70612290000318456600", card="9590948231076111666033",
        box="70612290000318456600", box_bars="70612290000318456600", box_by=_STRIP,
        verdict=_AGREES,
    ),
    Piece(
        name="0004", purpose="right strip, registered abroad, card without a number of its own: "
        "no card barcode tells where on the card the strip's bars stand",
        addressee="Lukas Ahrensund", hand="architects",
        article="RR407183525US", box="RR407183525US", box_bars="RR407183525US", box_by=_STRIP,
    ),
    Piece(
        name="0005", purpose="right strip, both in one photo, label above the card",
        addressee="Theda Orrick", layout=_ABOVE,
        article="9589073361400182451299", card="9590948231076185788655",
        box="9589073361400182451299", box_bars="9589073361400182451299", box_by=_STRIP,
        verdict=_AGREES,
    ),
    Piece(
        name="0006", purpose="right strip, nine-digit routing in the bars, one photo",
        addressee="Fenwater Growers", hand="indie", layout=_ABOVE, routing=ZIP_PLUS_4,
        article="9208890441726380002573", card="9590948231076122849968",
        box="9208890441726380002573", box_bars="9208890441726380002573", box_by=_STRIP,
        verdict=_AGREES,
    ),
    Piece(
        name="0007", purpose="right strip, card without a number, one photo: "
        "the places of the symbols do not tell label from box",
        addressee="Marit Solvang-Eik", hand="reenie", layout=_BESIDE,
        article="RR407183661US", box="RR407183661US", box_bars="RR407183661US", box_by=_STRIP,
        verdict_when_read=Verdict.UNREAD,
    ),
)

_COPIES = (
    Piece(
        name="0008", purpose="right by hand", addressee="Corin Thackmire",
        article="9589073361400182453019", card="9590948231076148727349",
        box="9589073361400182453019",
    ),
    Piece(
        name="0009", purpose="right by hand, one photo", addressee="Osric Dunmallow",
        hand="indie", layout=_BESIDE,
        article="70612290000318479258", card="9590948231086133033898",
        box="70612290000318479258",
    ),
    Piece(
        name="0010", purpose="right by hand, zeros slashed, sevens crossed",
        addressee="Pella Harrowgate", hand="architects", routing=ZIP_PLUS_4,
        article="9407388126041970708426", card="9590948231086170095101",
        box="9407388126041970708426",
    ),
    Piece(
        name="0011", purpose="right by hand, registered abroad, card without a number",
        addressee="Lukas Ahrensund", hand="reenie",
        article="RR519204375US", box="RR519204375US",
    ),
    Piece(
        name="0012", purpose="right strip without bars, one photo", addressee="Theda Orrick",
        layout=_ABOVE, article="9589073361400182454689", card="9590948231086144217720",
        box="9589073361400182454689", box_by=_PRINT,
    ),
)

_SLIPS = (
    Piece(
        name="0013", purpose="one digit wrong", addressee="Isaura Penbrook", hand="reenie",
        article="9589073361400182506173", card="9590948231086181279033",
        box="9589073361400182502173", error="digit", verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0014", purpose="9 written for 4", addressee="Wend & Daughter, Millers",
        hand="architects", layout=_ABOVE, routing=ZIP,
        article="9407388126041974286531", card="9590948231086118340348",
        box="9407388126041979286531", error="look-alike", verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0015", purpose="neighbours 7 and 2 swapped, five apart: the check digit holds",
        addressee="Fenwater Growers",
        article="9589073361400182721644", card="9590948231086155401651",
        box="9589073361400182271644", error="adjacent-swap-five", verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0016", purpose="neighbours 6 and 2 swapped", addressee="Osric Dunmallow",
        hand="indie", article="70612290000318625747", card="9590948231086192462967",
        box="70612290000318265747", error="adjacent-swap", verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0017", purpose="5 and 8 swapped over the 1 between them: the check digit holds",
        addressee="Pella Harrowgate", hand="architects", routing=ZIP,
        article="9407388126041976518302", card="9590948231086129524270",
        box="9407388126041976815302", error="jump-swap", verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0018", purpose="33 for 77", addressee="Corin Thackmire", hand="reenie",
        layout=_BESIDE, article="70612290000318774063", card="9590948231096166585585",
        box="70612290000318334063", error="twin", verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0019", purpose="737 for 232, five apart: the check digit holds",
        addressee="Theda Orrick",
        article="9589073361400185232406", card="9590948231096103646898",
        box="9589073361400185737406", error="jump-twin", verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0020", purpose="30 for 13, as in numbers told over a counter",
        addressee="Isaura Penbrook", hand="indie", layout=_ABOVE,
        article="9589073361400186134082", card="9590948231096140708108",
        box="9589073361400186304082", error="phonetic", verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0021", purpose="one digit left out", addressee="Fenwater Growers",
        hand="architects", article="9589073361400187284618", card="9590948231096177769417",
        box="958907336140018724618", error="dropped", verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0022", purpose="one 0 too many", addressee="Osric Dunmallow",
        article="70612290000318903586", card="9590948231096114830729",
        box="706122900000318903586", error="extra", verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0023", purpose="two printed groups swapped: the check digit holds",
        addressee="Pella Harrowgate", hand="indie", routing=ZIP,
        article="9208890441726381549039", card="9590948231096151892032",
        box="9208890463814172549039", error="groups-swapped", verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0024", purpose="one digit left out, the last written twice: the tail is shifted",
        addressee="Wend & Daughter, Millers", hand="reenie",
        article="9589073361400188527462", card="9590948231096188953348",
        box="9589073361400185274622", error="shifted", verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0025", purpose="the last two digits left out", addressee="Theda Orrick",
        layout=_BESIDE, routing=ZIP, article="9407388126041979306845",
        card="9590948231096125014651",
        box="94073881260419793068", error="truncated", verdict_when_read=_DIFFERS,
    ),
)

_WRONG_NUMBERS = (
    Piece(
        name="0026", purpose="the card's own number copied into its box by hand",
        addressee="Corin Thackmire", hand="architects",
        article="9589073361400190047521", card="9590948231096162075967",
        box="9590948231096162075967", error="own-card-number", verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0027", purpose="a strip with the card's own number in its box",
        addressee="Isaura Penbrook", hand="indie",
        article="9589073361400190047682", card="9590948231106199137276",
        box="9590948231106199137276", box_bars="9590948231106199137276", box_by=_STRIP,
        error="own-card-number", verdict=_DIFFERS, verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0028", purpose="the strip of the next label on the pad: a valid number",
        addressee="Osric Dunmallow", layout=_BESIDE,
        article="9589073361400191336259", card="9590948231106136198582",
        box="9589073361400191336266", box_bars="9589073361400191336266", box_by=_STRIP,
        error="neighbour-label", verdict=_DIFFERS, verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0029", purpose="the strip of another piece, 0003", addressee="Isaura Penbrook",
        hand="reenie", article="70612290000319047173", card="9590948231106173259895",
        box="70612290000318456600", box_bars="70612290000318456600", box_by=_STRIP,
        error="other-piece", verdict=_DIFFERS, verdict_when_read=_DIFFERS,
    ),
)

_OBSTACLES = (
    Piece(
        name="0030", purpose="the box was left empty", addressee="Fenwater Growers",
        article="9589073361400192805136", card="9590948231106110321104",
        box_by=_EMPTY, error="empty", verdict_when_read=_UNREAD,
    ),
    Piece(
        name="0031", purpose="a name where the number belongs", addressee="Pella Harrowgate",
        hand="indie", routing=ZIP, article="9407388126041983669011",
        card="9590948231106147382413",
        box="Pella Harrowgate", error="name", verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0032", purpose="begun wrongly, struck out, written again below, and right",
        addressee="Wend & Daughter, Millers",
        article="9589073361400193417802", card="9590948231106184443726",
        box="9589073361400193417802", struck="9589073361400193471",
    ),
    Piece(
        name="0033", purpose="a strip whose bars say the label's number and whose print "
        "says another", addressee="Theda Orrick", hand="reenie",
        article="9589073361400194660290", card="9590948231106121505036",
        box="9589073361400194660790", box_bars="9589073361400194660290", box_by=_STRIP,
        error="print-differs", verdict=_AGREES, verdict_when_read=_DIFFERS,
    ),
    Piece(
        name="0034", purpose="right strip, but a second sticker with another article number "
        "beside the label", addressee="Corin Thackmire",
        article="9589073361400195083746", card="9590948231106158566345",
        box="9589073361400195083746", box_bars="9589073361400195083746", box_by=_STRIP,
        second_article="9589073361400195083807", error="second-article",
        verdict_when_read=_UNREAD,
    ),
    Piece(
        name="0035", purpose="right strip, but glare hides the card's own bars",
        addressee="Osric Dunmallow", hand="indie", is_card_glared=True,
        article="70612290000319183321", card="9590948231106195627658",
        box="70612290000319183321", box_bars="70612290000319183321", box_by=_STRIP,
        error="card-unreadable", verdict_when_read=_UNREAD,
    ),
    Piece(
        name="0036", purpose="right strip, dim light, a shadow, not quite sharp",
        addressee="Fenwater Growers", hand="architects", layout=_ABOVE, routing=ZIP,
        article="9407388126041990245789", card="9590948231116132688963", is_dim=True,
        box="9407388126041990245789", box_bars="9407388126041990245789", box_by=_STRIP,
        verdict=_AGREES,
    ),
)

PIECES = (*_STRIPS, *_COPIES, *_SLIPS, *_WRONG_NUMBERS, *_OBSTACLES)
