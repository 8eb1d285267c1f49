"""How wide words stand in a plain sans, in ems, and on how many lines: what is printed is fitted by it."""

WIDTHS = {
    0.222: "'ijl|",
    0.278: " !,./:;I[]ft\N{NO-BREAK SPACE}·",
    0.333: "()-`r",
    0.389: '*"',
    0.5: "Jcksvxyz",
    0.584: "+<=>~",
    0.611: "FTZ",
    0.667: "ABEKPSVXY&",
    0.722: "CDHNRUw",
    0.778: "GOQ",
    0.833: "mM",
    0.944: "W",
    1.0: "%@…—",
}
"""Of the type's size: the letters of Helvetica, to which the fonts named in the style are cut (Adobe's metrics)."""
OF_LETTER = {letter: wide for wide, letters in WIDTHS.items() for letter in letters}
LETTER = 0.556
"""Digits, a, b, d, e and most others."""
BOLD = 1.07


def width(said: str, weight: float = 1.0) -> float:
    """Width of a text on one line, in ems."""
    return weight * sum(OF_LETTER.get(c, LETTER if c.islower() or c.isdigit() else 0.7) for c in said)


def lines(said: str, across: float, weight: float = 1.0) -> int:
    """Lines that a text takes in a width in ems, broken at spaces, and within a word that is wider.

    Example:
        >>> lines("Graft: 12 days", 10), lines("Graft: 12 days", 5), lines("", 5)
        (1, 2, 0)
    """
    count, left = 0, 0.0
    for word in said.split(" "):
        wide = width(word, weight)
        if word and wide > left:
            count += max(1, -int(-wide // across))
            left = across - wide % across
        else:
            left -= wide
        left -= width(" ", weight)
    return count
