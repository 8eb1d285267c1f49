"""The word catalogue: every word that a person reads, by key; a folder a language, a TOML file a topic.

A sentence is looked up by a dotted key and filled with facts: `words("compare.pays_back", way="Side graft")`.
Numbers, money and dates go through Babel, so that a language brings its own decimal sign and month names.
A key with plural forms is a table of CLDR plural categories (`one`, `other`, …) chosen by the fact `n`.
"""

import math
import re
import tomllib
from collections.abc import Iterator, Mapping
from datetime import date
from decimal import Context, localcontext
from functools import cache, lru_cache
from importlib import resources
from importlib.resources.abc import Traversable
from threading import Lock
from typing import Any, Literal, Self

from babel import Locale
from babel.lists import format_list
from babel.localedata import exists
from babel.numbers import (
    format_decimal,
    format_percent,
    get_currency_precision,
    get_currency_symbol,
    get_decimal_symbol,
    get_group_symbol,
    list_currencies,
)

from renovation.words.dates import format_date, format_skeleton, get_month_names
from renovation.words.reasons import reason

FIRST_COUNTRY = {"en": "US", "es": "EC", "fr": "FR", "pt": "BR", "id": "ID"}
"""The country whose numbers, sums and months a language writes where nobody said otherwise."""
NO_COUNTRIES = frozenset(["AC", "CP", "CQ", "DG", "EA", "EU", "EZ", "IC", "QO", "TA", "UN", "XA", "XB", "XK", "ZZ"])
"""Codes of two letters that CLDR has beside those that ISO 3166 gives to countries."""
LISTS_OF = {"en": "en_001"}
"""Whose lists a language writes: American English alone sets a comma before the last "and"."""
BEFORE_I = re.compile(r'"?h?[ií](?!e|a)', re.IGNORECASE)
"""Words before which the Spanish "and" changes, for they begin with its own sound: "e hijos", yet "y hielo"."""
FIRST_DAY = {"fr": "1er", "pt": "1º"}
"""How the first day of a month is written where it is no plain number."""
Entry = str | dict[str, str]
"""A sentence, or one for each plural form."""
STAND_CLOSE = frozenset({"Rp"})
"""Signs of several letters that no space parts from their number."""
FRANCS = {"XOF": "FCFA", "XAF": "FCFA"}
TABLE = re.compile(r"^\[(\w+)", re.MULTILINE)
"""The head of a table of a word file, up to its first dot."""
DIGITS = Context(prec=400)
"""Room for every digit of the largest number that a float holds, and those behind its point."""
PLURAL_FORMS = frozenset({"zero", "one", "two", "few", "many", "other"})


def topics(folder: Traversable) -> list[Traversable]:
    """The word files of a language's folder, a file a topic, by name."""
    return sorted((file for file in folder.iterdir() if file.name.endswith(".toml")), key=lambda file: file.name)


@cache
def languages() -> tuple[str, ...]:
    """List the languages that have a folder of word files, by language code."""
    here = resources.files("renovation.words")
    return tuple(sorted(folder.name for folder in here.iterdir() if folder.is_dir() and topics(folder)))


def flatten(table: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, Entry]]:
    """Walk nested tables down to strings and plural tables, joining keys by dots."""
    for key, value in table.items():
        path = f"{prefix}{key}"
        if isinstance(value, str):
            yield path, value
        elif set(value) <= PLURAL_FORMS:
            yield path, dict(value)
        else:
            yield from flatten(value, f"{path}.")


class Topics(Mapping[str, Entry]):
    """The words of a language's folder, by flat key; a file is read when a key of one of its tables is asked for.

    A short answer reads a third of the words. Errors: ValueError for a key that stands in two files, when the second
    of them is read; a test reads all.
    """

    def __init__(self, folder: Traversable) -> None:
        """Look for the tables of each file, and read none."""
        self._texts = {file.name: file.read_text("utf-8") for file in topics(folder)}
        self._files = {name: frozenset(TABLE.findall(text)) for name, text in self._texts.items()}
        self._found: dict[str, Entry] = {}
        self._reading = Lock()

    def _read(self, table: str | None = None) -> None:
        """Read the files that have a table of this name and were not read; all of them where no name is given."""
        with self._reading:
            for name in [name for name, tables in self._files.items() if table is None or table in tables]:
                found = dict(flatten(tomllib.loads(self._texts[name])))
                if twice := sorted(found.keys() & self._found.keys()):
                    raise ValueError(f"{name} repeats what another file says: {', '.join(twice)}")
                self._found.update(found)
                del self._files[name], self._texts[name]

    def __getitem__(self, key: str) -> Entry:
        """The words of a key; KeyError where there are none."""
        if key not in self._found:
            self._read(key.partition(".")[0])
        return self._found[key]

    def under(self, group: str) -> dict[str, Entry]:
        """The words of a group of keys, by what follows it; the files of its table alone are read."""
        self._read(group.partition(".")[0])
        start = f"{group}."
        return {key.removeprefix(start): entry for key, entry in [*self._found.items()] if key.startswith(start)}

    def __iter__(self) -> Iterator[str]:
        """Every key, in the order of reading."""
        self._read()
        return iter(self._found)

    def __len__(self) -> int:
        """How many keys there are."""
        self._read()
        return len(self._found)


_KEPT = 4096
"""Sums, numbers and months whose writing is remembered."""


@cache
def formats_of(language: str, country: str | None = None) -> Locale:
    """Whose numbers, sums and months a language writes: the country's, where CLDR has the two together.

    Example:
        >>> [str(formats_of("es", country)) for country in ("PE", "GH", None)]
        ['es_PE', 'es_EC', 'es_EC']
    """
    named = (f"{language}_{code}" for code in (country, FIRST_COUNTRY.get(language)) if code)
    return Locale.parse(next(filter(exists, named), language))


@cache
def _entries(language: str) -> Topics:
    """All words of one language, read once."""
    return Topics(resources.files("renovation.words").joinpath(language))


class Words:
    """The catalogue in one language; numbers, sums and months as a country writes them, which may be stated.

    Errors: KeyError for a key that the language does not have; a test holds every language to the same keys.

    Example:
        >>> words = Words("en")
        >>> words.span(3 + 4 / 12)
        '3 years 4 months'
        >>> words.money(1234.5, "USD")
        '$1,234.50'
        >>> [Words("es", country).number(1234.5) for country in ("EC", "PE")]
        ['1.234,5', '1,234.5']
    """

    def __init__(self, language: str = "en", country: str | None = None) -> None:
        """Open the catalogue of `language` (a code that `languages()` lists), for a country (ISO 3166, two letters)."""
        if language not in languages():
            raise KeyError(language)
        self.language, self.country = language, country
        self._locale = formats_of(language, country)
        self._name, self._plurals = str(self._locale), formats_of(language)
        self._whole = self._locale.decimal_formats[None].pattern.partition(".")[0]
        self._lists = Locale.parse(LISTS_OF.get(language, language))
        self._entries = _entries(language)

    def __contains__(self, key: str) -> bool:
        """Tell whether the key has words."""
        return key in self._entries

    def for_country(self, country: str | None) -> Self:
        """The same language, with numbers, sums and months as this country writes them."""
        return self if country == self.country else type(self)(self.language, country)

    def __call__(self, key: str, /, **facts: Any) -> str:
        """Fill the sentence of `key` with facts; a plural sentence is chosen by the fact `n`."""
        entry = self._entries[key]
        if isinstance(entry, dict):
            entry = entry.get(self._plurals.plural_form(facts["n"]), entry["other"])
            facts = {**facts, "n": self.number(facts["n"])}
        return entry.format(**facts)

    def keys(self) -> frozenset[str]:
        """All keys of this language."""
        return frozenset(self._entries)

    def names(self, group: str) -> dict[str, str]:
        """The names of a group of keys, by what follows it.

        Example:
            >>> Words("en").names("demo.few_hands")["near_trees"]
            'Near trees'
        """
        return {key: entry for key, entry in self._entries.under(group).items() if isinstance(entry, str)}

    def text(self, key: str) -> str:
        """The sentence of a key as it stands, with its places for facts unfilled."""
        entry = self._entries[key]
        return entry if isinstance(entry, str) else entry["other"]

    def name(self, group: str, key: str, label: str | None = None) -> str:
        """Name a thing: its own label, else the catalogue's `group.key`, else the key made readable."""
        path = f"{group}.{key}"
        if label:
            return label
        return self(path) if path in self else key.replace("_", " ")

    def number(self, value: float, digits: int | None = None) -> str:
        """Write a number with the language's signs; `digits` fixes the decimals, else up to 3 as needed."""
        if isinstance(value, int) or digits == 0:
            value, pattern = round(value), self._whole
        else:
            value = _no_minus_zero(value, 3 if digits is None else digits)
            pattern = f"{self._whole}.{'###' if digits is None else '0' * digits}"
        return _decimal(value, pattern, self._name)

    def percent(self, share: float, digits: int = 0) -> str:
        """Write a share as percent: 25% in English, 25 % in French."""
        pattern = self._locale.percent_formats[None].pattern
        if digits:
            pattern = pattern.replace("#,##0", "#,##0." + "0" * digits)
        with localcontext(DIGITS):
            return format_percent(_no_minus_zero(share, digits + 2), pattern, self._locale)

    def rate(self, share: float) -> str:
        """Write a stated rate as percent with the decimals that it has, up to three; one where it does not end.

        Example:
            >>> [Words("en").rate(share) for share in (0.1, 0.075, 0.1225, 0.09875, 1 / 3)]
            ['10%', '7.5%', '12.25%', '9.875%', '33.3%']
        """
        has = (digits for digits in range(4) if math.isclose(share * 100, round(share * 100, digits), abs_tol=1e-9))
        return self.percent(share, next(has, 1))

    def money(self, amount: float, currency: str, digits: int | None = None) -> str:
        """Write money in its currency, rounded to its smallest unit or to `digits` decimals."""
        digits = get_currency_precision(currency) if digits is None else digits
        number, sign = self._whole + ("." + "0" * digits if digits else ""), self.currency_sign(currency)
        if self._locale.currency_formats["standard"].pattern.endswith("¤"):
            pattern = f"{number}\N{NO-BREAK SPACE}¤"
        else:
            pattern = f"¤{number}" if len(sign) == 1 or sign in STAND_CLOSE else f"¤\N{NO-BREAK SPACE}{number}"
        pattern = f"{pattern};-{pattern}".replace("¤", quoted(sign))
        return _decimal(_no_minus_zero(amount, digits), pattern, self._name)

    def round_money(self, amount: float, currency: str) -> str:
        """Write money for a sentence: no decimals from 100 units on."""
        return self.money(amount, currency, 0 if abs(amount) >= 100 else None)

    def currency_sign(self, currency: str) -> str:
        """The sign that the language writes for a currency; the francs of Africa as people there write them."""
        return FRANCS.get(currency) or get_currency_symbol(currency, locale=self._locale)

    def currency_name(self, currency: str) -> str:
        """What a currency is called in a unit: its sign where that is letters, as in sums of it, else its code.

        Example:
            >>> Words("en").currency_name("XAF"), Words("en").currency_name("USD")
            ('FCFA', 'USD')
        """
        sign = self.currency_sign(currency)
        return sign if "".join(sign.split()).isalpha() else currency

    def reason(self, because: str) -> str:
        """Why a default figure is what it is, in this language: `reasons.reason`."""
        return reason(because, self.language)

    def country_name(self, country: str) -> str:
        """What a country (ISO 3166, two letters) is called.

        Example:
            >>> Words("es").country_name("PE")
            'Perú'
        """
        return str(Locale.parse(self.language).territories[country])

    @property
    def written_as_in(self) -> str:
        """The country as whose numbers these are written: the one that is stated, else the language's first."""
        return str(self._locale.territory)

    def decimal_sign(self) -> str:
        """The country's decimal sign."""
        return get_decimal_symbol(self._locale)

    def group_sign(self) -> str:
        """What parts the thousands: a point, a comma, a space of some kind or an apostrophe."""
        return get_group_symbol(self._locale)

    def groups(self) -> tuple[int, int]:
        """How many digits stand behind the last sign of the thousands, and between two.

        Example:
            >>> Words("en").groups(), Words("en", "IN").groups()
            ((3, 3), (3, 2))
        """
        *first, second, last = self._whole.split(",")
        return len(last), len(second) if first else len(last)

    def percent_sign(self) -> str:
        """What stands behind a number of percent, with the space before it."""
        return str(self._locale.percent_formats[None].pattern).rpartition("0")[2]

    def short_unit(self, power: int) -> tuple[float, str]:
        """In what large numbers of 10³ or 10⁶ on are counted, and what stands behind them, with the space before it.

        Example:
            >>> Words("en").short_unit(3), Words("id").short_unit(6), Words("en", "IN").short_unit(6)
            ((1000.0, 'K'), (1000000.0, '\xa0jt'), (100000.0, 'L'))
        """
        pattern = str(self._locale.compact_decimal_formats["short"]["other"][f"1{'0' * power}"].pattern)
        unit = pattern.strip("0'")
        return 10.0 ** (power + 1 - pattern.count("0")) if unit else 1.0, unit

    def month_name(self, calendar_month: int, width: Literal["wide", "abbreviated"] = "wide") -> str:
        """Name a calendar month (1–12); `width` is wide or abbreviated."""
        return str(get_month_names(width, context="stand-alone", locale=self._locale)[calendar_month])

    def month(self, year_month: str, width: str = "wide") -> str:
        """Write `YYYY-MM` with the month's name: March 2027, marzo de 2027."""
        return _month(year_month, "yMMMM" if width == "wide" else "yMMM", self._name)

    def day(self, when: date) -> str:
        """Write a date in full: 9 mars 2027, 1er mars 2027."""
        said = format_date(when, "long", locale=self._locale)
        return said.replace("1", FIRST_DAY.get(self.language, "1"), 1) if when.day == 1 else said

    def span(self, years: float) -> str:
        """Write a span of years as whole years and months, rounded up to the next month."""
        months = -int(-round(years * 12, 6) // 1)
        parts = {unit: self(f"unit.{unit}", n=n) for unit, n in (("years", months // 12), ("months", months % 12)) if n}
        return self("unit.span", **parts) if len(parts) == 2 else next(iter(parts.values()), self("unit.months", n=0))

    def listing(self, items: list[str]) -> str:
        """Join items as a list in a sentence, as CLDR has it for the language: a, b and c; "e" before i- in Spanish."""
        listed = format_list(items, "standard", self._lists)
        if self.language == "es" and len(items) > 1 and BEFORE_I.match(items[-1]):
            return f"{listed.removesuffix(f' y {items[-1]}')} e {items[-1]}"
        return listed


# What was written is remembered: a page says the same sums and months in its figures, sentences and tables.


@lru_cache(maxsize=_KEPT)
def _decimal(value: float, pattern: str, locale: str) -> str:
    with localcontext(DIGITS):
        return format_decimal(value, pattern, _parsed(locale))


@lru_cache(maxsize=_KEPT)
def _month(year_month: str, skeleton: str, locale: str) -> str:
    year, month = (int(part) for part in year_month.split("-"))
    return format_skeleton(skeleton, date(year, month, 1), locale=_parsed(locale))


@cache
def _parsed(locale: str) -> Locale:
    return Locale.parse(locale)


def quoted(sign: str) -> str:
    """A sign as it stands in a pattern, where none of its letters means anything."""
    return f"'{sign}'"


def known_currency(code: str) -> bool:
    """Tell whether a code is an ISO 4217 currency that CLDR knows."""
    return code in list_currencies()


@cache
def countries() -> frozenset[str]:
    """The countries of the world, by the two letters of ISO 3166."""
    codes = map(str, Locale("en").territories)
    return frozenset(code for code in codes if len(code) == 2 and code.isalpha()) - NO_COUNTRIES


def smallest_unit(currency: str) -> float:
    """The smallest unit of a currency in use, as CLDR states it: 0.01 for USD, 1 for XOF."""
    return float(10.0 ** -get_currency_precision(currency))


def _no_minus_zero(value: float, digits: int) -> float:
    """Round, and write -0 as 0."""
    return round(float(value), digits) + 0.0
