"""Numbers typed on a screen: one reader for points and commas, and the writer that fills the box."""

import math
import re
from decimal import Decimal

from renovation.inputs.declared import Declared
from renovation.inputs.errors import Problem, ScenarioError
from renovation.inputs.quantities import FrozenDict
from renovation.words import Words

SPACES = "\u0020\u00a0\u2007\u2009\u202f"
"""Space, no-break space, figure space, thin space, narrow no-break space: all may part thousands."""
_GROUPED = re.compile(rf"[0-9]{{1,3}}(?:[{SPACES}][0-9]{{3}})+")
_TWO_READINGS = re.compile(r"([1-9][0-9]{0,2})[.,]([0-9]{3})")
_PLAIN = re.compile(r"[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+")


def read_decimal(text: str, declared: Declared | None = None, currency: str = "USD", *, per: float = 1) -> float:
    """Read a number as people write it, with a decimal point or a decimal comma.

    per: what one stands for, 100 where percent is typed; it is divided by before binary numbers round.

    Spaces may part thousands. One sign followed by exactly three digits has two readings and is refused,
    unless the digits before it are 0 or more than three, or spaces part the thousands.

    Errors: ScenarioError with one problem (empty, not a number, ambiguous, several signs, and outside the
    bounds of `declared`, or not whole where it is a count).

    Example:
        >>> read_decimal("3,5"), read_decimal("1 500.5"), read_decimal("1.1", per=100)
        (3.5, 1500.5, 0.011)
        >>> try:
        ...     read_decimal("1,500")
        ... except ScenarioError as error:
        ...     print(error)
        1,500 can be read in two ways. Write 1500 for the large number, or 1,5 for the small one.
    """
    shown = text.strip()
    if not shown:
        raise _refused("empty", shown)
    sign, digits = (-1, shown[1:].lstrip()) if shown[0] in "-−" else (1, shown.removeprefix("+").lstrip())
    value = float(sign * Decimal(_plain(digits, shown)) / Decimal(per))
    if not math.isfinite(value):
        raise _refused("not_a_number", shown)
    if declared is not None:
        _check(value, declared, shown, currency)
    return value


def _plain(digits: str, shown: str) -> str:
    """Strip the signs of a language from unsigned digits, leaving a decimal point."""
    if re.search(rf"[^0-9.,{SPACES}]", digits) or not re.search("[0-9]", digits):
        raise _refused("not_a_number", shown)
    if sum(digits.count(mark) for mark in ".,") > 1:
        raise _refused("several_signs", shown)
    whole, mark, decimals = digits.partition("," if "," in digits else ".")
    if _GROUPED.fullmatch(whole):
        digits = "".join(re.findall("[0-9]", whole)) + mark + decimals
    elif two := _TWO_READINGS.fullmatch(digits):
        small = f"{two[1]}{mark}{two[2].rstrip('0')}".rstrip(mark)
        raise _refused("ambiguous", shown, large=two[1] + two[2], small=small)
    if not _PLAIN.fullmatch(digits):
        raise _refused("not_a_number", shown)
    return digits.replace(",", ".")


def _check(value: float, declared: Declared, shown: str, currency: str) -> None:
    """Refuse a number outside its field's bounds, or a broken count."""
    facts = {
        "kind": "whole" if declared.whole else "number",
        "lower": declared.lower,
        "upper": declared.upper,
        "lower_open": declared.lower_open,
        "upper_open": declared.upper_open,
        "unit": declared.unit,
        "currency": currency,
    }
    if declared.whole and not value.is_integer():
        raise _refused("not_whole", shown, **facts)
    if not declared.bounds.holds(value):
        raise _refused("out_of_bounds", shown, **facts)


def _refused(code: str, shown: str, **facts: object) -> ScenarioError:
    """Make the error for one typed number."""
    return ScenarioError([Problem("", "", f"typed.{code}", shown, FrozenDict(facts))])


def write_decimal(value: float, words: Words, *, per: float = 1) -> str:
    """Write a number so that `read_decimal` gives it back to the last bit, with the language's decimal sign.

    per: what one stands for, 100 where percent is written. No sign parts the thousands. Where three decimals would
    have two readings a zero is added.

    Example:
        >>> english = Words("en")
        >>> write_decimal(1500.0, english), write_decimal(1.125, english), write_decimal(0.07, english, per=100)
        ('1500', '1.1250', '7')
    """
    text = format(Decimal(repr(float(value))) * Decimal(per), "f")
    whole, _, decimals = text.partition(".")
    decimals = decimals.rstrip("0")
    if not decimals:
        return whole
    if _TWO_READINGS.fullmatch(f"{whole.lstrip('-')}.{decimals}"):
        decimals += "0"
    return f"{whole}{words.decimal_sign()}{decimals}"
