"""No sign depends on a font that may be missing: what is said is written in signs that every plain font has."""

import unicodedata
from pathlib import Path

import renovation.words

PLAIN = set("¿¡–—−·…×±²³½¹§°‘’“”«»≤≥√∞")
"""Signs beside letters and ASCII; all stand in WGL4, the list of what a plain font of a system holds (from memory)."""
UNSEEN = {"\N{NO-BREAK SPACE}", "\N{NARROW NO-BREAK SPACE}", "\N{WORD JOINER}", "\n"}


def is_plain(sign):
    return (
        sign.isascii()
        or sign in PLAIN | UNSEEN
        or unicodedata.category(sign) == "Sc"
        or unicodedata.name(sign, "").startswith("LATIN")
    )


def test_every_word_is_written_in_plain_signs():
    for file in sorted(Path(renovation.words.__file__).parent.glob("*/*.toml")):
        assert {sign for sign in file.read_text("utf-8") if not is_plain(sign)} == set(), file.name


def test_arrows_ticks_and_pictures_are_no_plain_signs():
    assert not any(map(is_plain, "→✓☑🌱▁\N{BALLOT BOX}"))
