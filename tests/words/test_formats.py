"""Numbers, sums, months, lists and spans as each language writes them. House style: CLDR 47 through Babel where it is
followed; what departs from it (FCFA, the Spanish "e", Rp without a space) is common practice."""

from datetime import date

import pytest

from renovation.words import Words

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
