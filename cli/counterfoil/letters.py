"""Letters three lines high, so that a verdict can be read from where the mail is."""

from __future__ import annotations

_DRAWN = {
    "A": " ##  #  # #  # #### #  # #  #",
    "C": " ### #    #    #    #     ###",
    "D": "###  #  # #  # #  # #  # ### ",
    "E": "#### #    ###  #    #    ####",
    "G": " ### #    # ## #  # #  #  ###",
    "I": "###   #    #    #    #   ### ",
    "K": "#  # # #  ##   ##   # #  #  #",
    "L": "#    #    #    #    #    ####",
    "N": "#  # ## # ## # # ## # ## #  #",
    "O": " ##  #  # #  # #  # #  #  ## ",
    "R": "###  #  # #  # ###  # #  #  #",
    "S": " ### #    ##    ##    # ###  ",
    "T": "####  ##   ##   ##   ##   ## ",
    "Y": "#  # #  #  ##   ##   ##   ## ",
    " ": "                             ",
}
"""Six rows of four dots, a blank between two rows. Drawn for this program."""

_HALVES = {(" ", " "): " ", ("#", " "): "▀", (" ", "#"): "▄", ("#", "#"): "█"}


def large(text: str, *, fancy: bool, width: int) -> list[str]:
    """Three lines that show `text`, a word or two of the letters above.

    fancy: whether the terminal takes Unicode's half blocks. width: columns that there are.
    Where either is not enough, the letters are only spaced.
    """
    capitals = text.upper()
    if not fancy or any(char not in _DRAWN for char in capitals) or 5 * len(text) + 1 > width:
        return ["", " ".join(capitals), ""]
    dots = [
        " ".join(_DRAWN[char][start : start + 4] for char in capitals) for start in range(0, 30, 5)
    ]
    return [
        "".join(_HALVES[pair] for pair in zip(f" {upper} ", f" {lower} ", strict=True))
        for upper, lower in zip(dots[::2], dots[1::2], strict=True)
    ]
