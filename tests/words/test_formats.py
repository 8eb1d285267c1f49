"""Numbers, sums, months, lists and spans as each language writes them. House style: CLDR 47 through Babel where it is
followed; what departs from it (FCFA, the Spanish "e", Rp without a space) is common practice."""

from datetime import date

import pytest
from babel.core import get_global
from babel.localedata import exists
from babel.numbers import format_decimal

from renovation.words import Words, countries, languages
from renovation.words.catalogue import FIRST_COUNTRY

NBSP, NARROW = "\N{NO-BREAK SPACE}", "\N{NARROW NO-BREAK SPACE}"


@pytest.mark.parametrize(
    ("language", "money", "francs", "share", "number", "month", "span"),
    [
        ("en", "-$12,345.50", f"FCFA{NBSP}12,346", "25.5%", "1,234.5", "April 2027", "6 years 3 months"),
        ("es", "-$12.345,50", f"FCFA{NBSP}12.346", "25,5%", "1.234,5", "abril de 2027", "6 años y 3 meses"),
        (
            "fr",
            f"-12{NARROW}345,50{NBSP}$US",
            f"12{NARROW}346{NBSP}FCFA",
            f"25,5{NBSP}%",
            f"1{NARROW}234,5",
            "avril 2027",
            "6 ans et 3 mois",
        ),
        ("pt", f"-US${NBSP}12.345,50", f"FCFA{NBSP}12.346", "25,5%", "1.234,5", "abril de 2027", "6 anos e 3 meses"),
        ("id", f"-US${NBSP}12.345,50", f"FCFA{NBSP}12.346", "25,5%", "1.234,5", "April 2027", "6 tahun 3 bulan"),
    ],
)
def test_each_language_writes_its_own(language, money, francs, share, number, month, span):
    words = Words(language)
    assert words.money(-12345.5, "USD") == money
    assert words.money(12346, "XOF") == words.money(12346, "XAF") == francs
    assert words.percent(0.255, 1) == share
    assert words.number(1234.5) == number
    assert words.month("2027-04") == month
    assert words.span(6.25) == span


def test_a_sign_of_letters_stands_apart_but_for_the_rupiah():
    assert Words("id").money(12345, "IDR") == "Rp12.345,00".removesuffix(",00")
    assert Words("pt").money(12.5, "BRL") == f"R${NBSP}12,50"


@pytest.mark.parametrize(
    ("language", "items", "said"),
    [
        ("es", ["poda", "injerto"], "poda e injerto"),
        ("es", ["agua", "hijos", "hielo"], "agua, hijos y hielo"),
        ("es", ["agua", "Isla"], "agua e Isla"),
        ("es", ["agua", '"Isla"'], 'agua e "Isla"'),
        ("es", ["injerto"], "injerto"),
        ("fr", ["a", "b", "c"], "a, b et c"),
        ("pt", ["a", "b", "c"], "a, b e c"),
        ("id", ["a", "b"], "a dan b"),
        ("id", ["a", "b", "c"], "a, b, dan c"),
        ("en", ["a", "b", "c"], "a, b and c"),
    ],
)
def test_a_list_is_joined_as_it_is_said(language, items, said):
    assert Words(language).listing(items) == said


@pytest.mark.parametrize(
    ("language", "first", "eleventh"),
    [
        ("en", "January 1, 2031", "January 11, 2031"),
        ("es", "1 de enero de 2031", "11 de enero de 2031"),
        ("fr", "1er janvier 2031", "11 janvier 2031"),
        ("pt", "1º de janeiro de 2031", "11 de janeiro de 2031"),
        ("id", "1 Januari 2031", "11 Januari 2031"),
    ],
)
def test_the_first_day_of_a_month_is_said_as_such(language, first, eleventh):
    """French and Brazilian usage, common practice: CLDR writes a plain 1."""
    assert [Words(language).day(date(2031, 1, day)) for day in (1, 11)] == [first, eleventh]


@pytest.mark.parametrize(
    ("language", "country", "number", "month"),
    [
        ("es", "EC", "1.234,5", "septiembre de 2027"),
        ("es", "CO", "1.234,5", "septiembre de 2027"),
        ("es", "PE", "1,234.5", "setiembre de 2027"),
        ("es", "DO", "1,234.5", "septiembre de 2027"),
        ("es", "MX", "1,234.5", "septiembre de 2027"),
        ("es", "CR", f"1{NBSP}234,5", "septiembre de 2027"),
        ("fr", "CI", f"1{NARROW}234,5", "septembre 2027"),
        ("pt", "ST", f"1{NBSP}234,5", "setembro de 2027"),
        ("en", "GH", "1,234.5", "September 2027"),
        ("en", "ID", "1.234,5", "September 2027"),
        ("en", "EC", "1,234.5", "September 2027"),
        ("es", "GH", "1.234,5", "septiembre de 2027"),
        ("id", "PE", "1.234,5", "September 2027"),
    ],
)
def test_numbers_follow_the_country_where_it_speaks_the_language(language, country, number, month):
    words = Words(language).for_country(country)
    assert (words.country, words.number(1234.5), words.month("2027-09")) == (country, number, month)
    assert words.for_country(None).number(1234.5) == Words(language).number(1234.5)


def test_each_country_s_numbers_are_grouped_as_cldr_has_them():
    """Babel, with the whole pattern of the country: 12,34,567 in India."""
    for language in languages():
        for country in sorted(countries()):
            if exists(locale := f"{language}_{country}"):
                assert Words(language, country).number(1234567.5) == format_decimal(1234567.5, locale=locale)


def test_the_country_of_a_language_is_that_of_cldr_s_likely_subtags_but_for_latin_america():
    likely = get_global("likely_subtags")
    assert {code: likely[code].split("_")[-1] for code in languages()} == FIRST_COUNTRY | {"es": "ES"}
    assert len(countries()) == 249  # ISO 3166-1
    assert {"EC", "PE", "GH", "CI", "ID", "BR"} < countries()
    assert not {"EU", "UN", "XK", "ZZ", "150", "pe"} & countries()
