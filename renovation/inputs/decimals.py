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
APOSTROPHES = "'\u2019"
_TWO_READINGS = re.compile(r"([1-9][0-9]{0,2})[.,]([0-9]{3})")
_PLAIN = re.compile(r"[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+")


def read_decimal(
    text: str, declared: Declared | None = None, currency: str = "USD", *, per: float = 1, words: Words | None = None
) -> float:
    """Read a number as people write it, with a decimal point or a decimal comma.

    per: what one stands for, 100 where percent is typed; it is divided by before binary numbers round.
    words: what was typed on a screen is read as these write numbers, where they are of a country that is stated.

    Spaces may part thousands. One sign followed by exactly three digits has two readings, unless the digits before it
    are 0 or more than three, or spaces part the thousands. It is refused in a file, without `words`, and where no
    country is stated; so are several signs in a file. They are typed where all but the last stand between thousands.

    Errors: ScenarioError with one problem (empty, not a number, ambiguous, several signs, and outside the
    bounds of `declared`, or not whole where it is a count).

    Example:
        >>> read_decimal("3,5"), read_decimal("1 500.5"), read_decimal("1.1", per=100)
        (3.5, 1500.5, 0.011)
        >>> [read_decimal("1.234", words=Words("es", country)) for country in ("EC", "PE")]
        [1234.0, 1.234]
        >>> try:
        ...     read_decimal("1,500")
        ... except ScenarioError as error:
        ...     print(error)
        1,500 can be read in two ways. Write 1500 for the large number, or 1,5 for the small one.
    """
    shown = text.strip()
    if not shown:
        raise _refused("empty", shown, small=3.5)
    sign, digits = _signed(shown)
    value = float(sign * Decimal(_plain(digits, shown, words)) / Decimal(per))
    if not math.isfinite(value):
        raise _refused("not_a_number", shown, small=3.5)
    if declared is not None:
        _check(value, declared, shown, currency)
    return value


def _signed(shown: str) -> tuple[int, str]:
    """The sign of what was typed, and its digits."""
    return (-1, shown[1:].lstrip()) if shown[:1] in ("-", "−") else (1, shown.removeprefix("+").lstrip())


def _plain(digits: str, shown: str, words: Words | None) -> str:
    """Strip the signs of a language from unsigned digits, leaving a decimal point."""
    if words is not None and (typed := _typed(digits, words)):
        return typed
    if re.search(rf"[^0-9.,{SPACES}]", digits) or not re.search("[0-9]", digits):
        raise _refused("not_a_number", shown, small=3.5)
    if sum(digits.count(mark) for mark in ".,") > 1:
        raise _refused("several_signs", shown, small=3.5)
    whole, mark, decimals = digits.partition("," if "," in digits else ".")
    if _GROUPED.fullmatch(whole):
        digits = _bare(whole) + mark + decimals
    elif two := _TWO_READINGS.fullmatch(digits):
        small = f"{two[1]}{mark}{two[2].rstrip('0')}".rstrip(mark)
        raise _refused("ambiguous", shown, large=two[1] + two[2], small=small + "0" * (len(two[2].rstrip("0")) == 3))
    if not _PLAIN.fullmatch(digits):
        raise _refused("not_a_number", shown, small=3.5)
    return digits.replace(",", ".")


def _typed(digits: str, words: Words) -> str:
    """Typed digits with a decimal point, as the stated country writes them, else in the one way they can be read.

    Nothing where there are two ways and no country settles which.
    """
    group, point = words.group_sign(), words.decimal_sign()
    own = next((alike for alike in (SPACES, APOSTROPHES) if group in alike), group)
    if words.country != words.written_as_in and _TWO_READINGS.fullmatch(digits):
        return ""
    if point in digits and _PLAIN.fullmatch(digits):
        return digits.replace(point, ".")
    found = _ungrouped(digits, own, point, *words.groups())
    if not found and sum(digits.count(mark) for mark in ".,") > 1:
        found = _ungrouped(digits, ",", ".") or _ungrouped(digits, ".", ",")
    return found


def _ungrouped(digits: str, group: str, point: str, last: int = 3, between: int = 3) -> str:
    """Digits with a decimal point alone, where signs stand between thousands as they should; else nothing."""
    whole, _, decimals = digits.partition(point)
    parted = rf"[1-9][0-9]{{0,2}}([{group}][0-9]{{{between}}})*[{group}][0-9]{{{last}}}"
    sound = re.fullmatch(parted, whole) and re.fullmatch("[0-9]*", decimals)
    return f"{_bare(whole)}.{decimals}" if sound else ""


def _bare(text: str) -> str:
    """The digits of a text."""
    return "".join(re.findall("[0-9]", text))


def reading(text: str, words: Words) -> str:
    """How a typed number was read in which a sign stands between thousands; else nothing.

    Example:
        >>> reading("1,500", Words("en", "GH")), reading("1,5", Words("en")), reading("1,500", Words("en"))
        ('1,500 is read as 1500.', '', '')
    """
    shown = text.strip()
    try:
        value = read_decimal(shown, words=words)
    except ScenarioError:
        return ""
    _, digits = _signed(shown)
    plain = _PLAIN.fullmatch(digits) and float(digits.replace(",", ".")) == abs(value)
    return "" if plain else words("typed.read_as", found=shown, value=write_decimal(value, words))


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


def write_decimal(value: float, words: Words | None = None, *, per: float = 1) -> str:
    """Write a number so that `read_decimal` gives it back to the last bit, with the country's decimal sign.

    per: what one stands for, 100 where percent is written. No sign parts the thousands; where three decimals would
    have two readings a zero is added. Without words it has a point, as in a file or a link.

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
    return f"{whole}{words.decimal_sign() if words else '.'}{decimals}"
