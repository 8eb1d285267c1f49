"""A farm in few letters: what a share link carries, and what a visitor's own device keeps.

Tables are written as JSON, of a farm only what differs from the defaults, and deflated with a preset dictionary of the
names that stand in most farms. Before them go the format's number, one byte, and the check sum of the JSON, four. A
share link writes these bytes in digits and capitals, after one for the format: nothing in it is cut off by a
messenger, and a picture code holds such letters in two thirds of the room.

What is packed by one version opens in it and in newer ones: the dictionary of a format never changes, a new one is a
new format. As a farm's file does, it says nothing of what is as the defaults have it.
"""

import json
import zlib
from functools import cache
from importlib import resources
from typing import Any

from renovation.inputs.errors import Problem, ScenarioError
from renovation.inputs.files import scenario_of, written
from renovation.inputs.overrides import Table
from renovation.inputs.parse import MOST_BYTES
from renovation.inputs.scenario import Scenario

FORMAT = 1
_RAW = -15
"""Deflated bytes without a head of their own."""
_HEAD = 5
_DIGITS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
MOST_LETTERS = 20_000
"""Letters of a link that are read at all."""


def pack(farm: Scenario) -> str:
    """A farm as digits and capitals.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> unpack(pack(demo_scenario()), "link") == demo_scenario()
        True
    """
    number = int.from_bytes(b"\1" + packed(written(farm)), "big")
    letters = []
    while number:
        number, digit = divmod(number, len(_DIGITS))
        letters.append(_DIGITS[digit])
    return _DIGITS[FORMAT] + "".join(reversed(letters))


def unpack(text: str, name: str) -> Scenario:
    """The farm of `pack`; capitals or not.

    Errors: ScenarioError, `packed_damaged` for what is cut or changed, `packed_newer` for a later format,
    `packed_too_large` for more than any farm has; else as for a file called `name`.
    """
    if len(text) > MOST_LETTERS:
        raise ScenarioError([Problem(name, "", "packed_too_large")])
    if not text or not (text.isascii() and text.isalnum()):
        raise ScenarioError([Problem(name, "", "packed_damaged")])
    if int(text[0], len(_DIGITS)) > FORMAT:
        raise ScenarioError([Problem(name, "", "packed_newer")])
    number = 0
    for place in range(1, len(text), _AT_A_TIME):
        part = text[place : place + _AT_A_TIME]
        number = number * len(_DIGITS) ** len(part) + int(part, len(_DIGITS))
    data = number.to_bytes((number.bit_length() + 7) // 8, "big")
    if text[0] != _DIGITS[FORMAT] or data[:2] != bytes([1, FORMAT]):
        raise ScenarioError([Problem(name, "", "packed_damaged")])
    return scenario_of(unpacked(data[1:], name), name)


_AT_A_TIME = 512
"""Letters read as one number."""


def packed(table: Table) -> bytes:
    """Tables as few bytes: format, check sum, deflated JSON."""
    plain = json.dumps(table, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode("utf-8")
    squeeze = zlib.compressobj(9, zlib.DEFLATED, _RAW, 9, zlib.Z_DEFAULT_STRATEGY, _dictionary())
    return bytes([FORMAT]) + zlib.crc32(plain).to_bytes(4, "big") + squeeze.compress(plain) + squeeze.flush()


def unpacked(data: bytes, name: str) -> Table:
    """The tables of `packed`, never more than a farm's file may hold.

    Errors: ScenarioError as of `unpack`.
    """
    if data[:1] > bytes([FORMAT]):
        raise ScenarioError([Problem(name, "", "packed_newer")])
    damaged = ScenarioError([Problem(name, "", "packed_damaged")])
    if data[:1] != bytes([FORMAT]):
        raise damaged
    swell = zlib.decompressobj(_RAW, _dictionary())
    try:
        plain = swell.decompress(data[_HEAD:], MOST_BYTES + 1)
    except zlib.error:
        raise damaged from None
    if len(plain) > MOST_BYTES:
        raise ScenarioError([Problem(name, "", "packed_too_large")])
    if not swell.eof or swell.unused_data or zlib.crc32(plain).to_bytes(4, "big") != data[1:_HEAD]:
        raise damaged
    try:
        table = json.loads(plain, parse_constant=_refuse_constant)
    except (ValueError, RecursionError):
        raise damaged from None
    if not isinstance(table, dict):
        raise damaged
    return table


def _refuse_constant(text: str) -> Any:
    """NaN and the infinities are no numbers of a farm."""
    raise ValueError(text)


@cache
def _dictionary() -> bytes:
    """What stands in most farms, the likeliest last; part of format 1, never to be changed."""
    return resources.files("renovation.defaults").joinpath("packed_1.txt").read_bytes()
