"""The picture code of a link: what the standard says it holds, square for square, black on white."""

import io

import numpy as np
import pytest
import segno
from PIL import Image
from segno import consts
from vl_convert import svg_to_png

from renovation.inputs import demo_names, demo_scenario
from renovation.inputs.packed import pack
from renovation.show.picture_code import MOST_VERSION, QUIET, SCALE, picture_code

LINK = "https://a-long-name-of-a-cooperative.example.org/?shared=1#"


def squares(drawn):
    """The drawing square by square, True where it is dark; every dot of a square is alike."""
    dots = np.array(Image.open(io.BytesIO(svg_to_png(drawn))).convert("L"))
    assert set(np.unique(dots)) == {0, 255}
    side = len(dots) // SCALE
    blocks = dots.reshape(side, SCALE, side, SCALE)
    assert (blocks.min(axis=(1, 3)) == blocks.max(axis=(1, 3))).all()
    return blocks[:, 0, :, 0] == 0


def coded(link):
    address, _, letters = link.partition("#")
    parts = [(address + "#", consts.MODE_BYTE), (letters, consts.MODE_ALPHANUMERIC)]
    return segno.make(parts, error="L", micro=False)


@pytest.mark.parametrize("name", demo_names())
def test_every_demo_farms_link_is_drawn_square_for_square_with_a_white_edge(name):
    link = LINK + pack(demo_scenario(name))
    seen, code = squares(picture_code(link)), coded(link)
    inside = seen[QUIET:-QUIET, QUIET:-QUIET]
    assert (inside == np.array(code.matrix, dtype=bool)).all()
    assert seen.sum() == inside.sum()  # nothing dark in the edge
    assert code.version <= MOST_VERSION - 5
    eye = np.zeros((7, 7), dtype=bool)  # ISO/IEC 18004: the finder pattern
    eye[[0, -1], :] = eye[:, [0, -1]] = True
    eye[2:5, 2:5] = True
    for corner in (inside[:7, :7], inside[:7, -7:], inside[-7:, :7]):
        assert (corner == eye).all()


@pytest.mark.parametrize(
    ("version", "letters"),
    # ISO/IEC 18004, table of capacities, alphanumeric at level L (from memory)
    [(1, 25), (10, 395), (15, 758), (20, 1249), (25, 1853), (40, 4296)],
)
def test_a_code_holds_what_the_standard_says(version, letters):
    assert segno.make("A" * letters, mode="alphanumeric", error="L", micro=False).version == version


def test_a_link_too_long_for_a_phone_is_not_drawn():
    # 1,853 letters at level L: the address takes a head of 12 and 8 bits a sign, the letters' head takes 13
    address = "https://e.org/#"
    bits = 4 + 11 + 1853 // 2 * 11 + 6 - (4 + 16 + 8 * len(address)) - (4 + 11)
    most = bits // 11 * 2
    assert picture_code(address + "A" * most) is not None
    assert picture_code(address + "A" * (most + 2)) is None
    assert picture_code(address + "A" * 9000) is None
