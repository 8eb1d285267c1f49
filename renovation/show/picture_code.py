"""A link as a picture code (QR code, ISO/IEC 18004), for those who sit together and have no other way to send it."""

import io
from typing import Any

import segno
from segno import consts

MOST_VERSION = 25
"""The largest that is drawn: 117 squares a side, three dots each on a phone's screen. What is finer is hard to
read (from memory)."""
QUIET = 4
"""Squares of white around it, as the standard asks: it is read on a dark page too."""
SCALE = 4


def picture_code(link: str) -> str | None:
    """The link as SVG, black on white with a white edge; None where it is too long to be read from a picture.

    What stands after `#` is digits and capitals, as `inputs.packed` writes it: eleven bits hold two of them, where
    another sign takes eight. The lowest correction of errors, unless a higher one needs no larger picture.

    Example:
        >>> picture_code("http://localhost/?shared=1#1ABC")[:4], picture_code("http://localhost/#" + "A" * 1900)
        ('<svg', None)
    """
    address, mark, letters = link.partition("#")
    parts: Any = [(address + mark, consts.MODE_BYTE)]
    if letters:
        parts.append((letters, consts.MODE_ALPHANUMERIC))
    try:
        code = segno.make(parts, error="L", micro=False)
    except segno.DataOverflowError:
        return None
    if int(code.version) > MOST_VERSION:
        return None
    drawn = io.BytesIO()
    code.save(
        drawn, kind="svg", scale=SCALE, border=QUIET, dark="#000", light="#fff", xmldecl=False, omitsize=True, nl=False
    )
    return drawn.getvalue().decode().replace("<svg ", '<svg shape-rendering="crispEdges" ', 1)
