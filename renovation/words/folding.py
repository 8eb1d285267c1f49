"""Texts as they are compared with what somebody typed."""

import unicodedata


def folded(text: str) -> str:
    """A text in small letters without accents, with single spaces and straight quotes.

    Example:
        >>> folded(" SÍ "), folded("Côte  d\u2019Ivoire")
        ('si', "cote d'ivoire")
    """
    bare = "".join(sign for sign in unicodedata.normalize("NFKD", text) if not unicodedata.combining(sign))
    return " ".join(bare.replace("\N{RIGHT SINGLE QUOTATION MARK}", "'").casefold().split())
