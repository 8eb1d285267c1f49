"""Typed numbers: read as meant, or refused with both readings."""

import pytest
from babel import Locale
from babel.localedata import exists
from babel.numbers import format_decimal
from hypothesis import given, settings
from hypothesis import strategies as st

from renovation.inputs import ScenarioError, declared, read_decimal, reading, write_decimal
from renovation.inputs.scenario import Household, Stand
from renovation.words import Words, countries, languages


def refused(text, *more):
    with pytest.raises(ScenarioError) as caught:
        read_decimal(text, *more)
    (problem,) = caught.value.problems
    return problem.code, str(caught.value)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("3,5", 3.5),
        ("3.5", 3.5),
        ("1 500", 1500.0),
        ("1 500,5", 1500.5),
        ("1\u00a0500.5", 1500.5),
        ("1\u202f500", 1500.0),
        ("1\u2009234\u2009567,25", 1234567.25),
        ("1 500,500", 1500.5),
        ("0,500", 0.5),
        ("0.125", 0.125),
        ("1500,500", 1500.5),
        ("1500", 1500.0),
        ("-3,5", -3.5),
        ("−2", -2.0),
        ("+4", 4.0),
        (" 7 ", 7.0),
        (",5", 0.5),
        ("3.", 3.0),
        ("1,50", 1.5),
        ("1,5000", 1.5),
    ],
)
def test_what_is_read(text, value):
    assert read_decimal(text) == value


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "typed.empty"),
        ("  ", "typed.empty"),
        ("1,500", "typed.ambiguous"),
        ("1.500", "typed.ambiguous"),
        ("-12,345", "typed.ambiguous"),
        ("1,500.5", "typed.several_signs"),
        ("1.500,5", "typed.several_signs"),
        ("1,500,000", "typed.several_signs"),
        ("3..5", "typed.several_signs"),
        ("--3", "typed.not_a_number"),
        ("3-", "typed.not_a_number"),
        ("three", "typed.not_a_number"),
        ("3 kg", "typed.not_a_number"),
        ("1e5", "typed.not_a_number"),
        ("nan", "typed.not_a_number"),
        ("inf", "typed.not_a_number"),
        ("0x10", "typed.not_a_number"),
        ("1_000", "typed.not_a_number"),
        ("1'500", "typed.not_a_number"),
        ("٣", "typed.not_a_number"),
        ("²", "typed.not_a_number"),
        ("12 34", "typed.not_a_number"),
        ("1 5000", "typed.not_a_number"),
        ("1500 500", "typed.not_a_number"),
        (".", "typed.not_a_number"),
        ("-", "typed.not_a_number"),
        ("9" * 400, "typed.not_a_number"),
    ],
)
def test_what_is_refused(text, code):
    assert refused(text)[0] == code


def test_both_readings_are_told():
    told = "can be read in two ways. Write 1500 for the large number, or 1,5 for the small one."
    assert refused("1,500")[1] == f"1,500 {told}"
    assert refused("1.500")[1] == f"1.500 {told.replace('1,5 ', '1.5 ')}"
    assert read_decimal("1500") == 1500
    assert read_decimal("1,5") == read_decimal("1.5") == 1.5


def test_bounds_are_told_with_their_unit():
    crop, trees = declared(Stand, "crop_per_tree"), declared(Stand, "trees")
    assert refused("35", crop)[1] == (
        "35 is out of bounds. Write a number from 0 to 20 (kg of dry beans per tree and year)."
    )
    assert refused("2,5", trees)[0] == "typed.not_whole"
    assert refused("0", trees)[0] == "typed.out_of_bounds"
    wage = declared(Household, "wage_per_day")
    assert refused("-1", wage, "GHS")[1].endswith("Write a number of 0 or more (GHS per day of work).")
    assert read_decimal("0,3", crop) == 0.3


finite = st.floats(-1e15, 1e15) | st.integers(-2_000_000, 2_000_000).map(lambda n: n / 1000)


class CommaWords:
    """The one thing that the writer asks of a language, with a decimal comma."""

    def decimal_sign(self):
        return ","


@given(finite, st.sampled_from([Words("en"), CommaWords()]), st.sampled_from([1, 100.0]))
def test_what_is_written_is_read_back(value, words, per):
    text = write_decimal(value, words, per=per)
    assert "e" not in text
    assert read_decimal(text, per=per) == value


def test_percent_is_divided_before_it_is_rounded():
    """One decimal number is one binary number (IEEE 754), however it was reached: 1.1 % is 0.011."""
    assert read_decimal("1.1", per=100) == 0.011 != 1.1 / 100
    assert [read_decimal(str(n), per=100) for n in range(101)] == [float(f"{n}e-2") for n in range(101)]


@given(st.floats(0, 1e9), st.sampled_from(["fr", "es", "en", "de", "pt", "id", "sv"]))
def test_every_language_s_own_writing_is_read_right_or_refused(value, language):
    """Babel is the outside judge: numbers as CLDR writes them are never read as another number."""
    text = format_decimal(value, "#,##0.######", locale=Locale.parse(language))
    meant = round(value, 6)
    try:
        assert read_decimal(text) == pytest.approx(meant, abs=1e-6, rel=1e-12)
    except ScenarioError as error:
        assert error.problems[0].code in ("typed.ambiguous", "typed.several_signs")  # noqa: PT017


WRITTEN = sorted(
    f"{language}_{country}" for language in languages() for country in countries() if exists(f"{language}_{country}")
)


@settings(max_examples=40)
@given(st.floats(0, 1e9), st.sampled_from(WRITTEN))
def test_what_a_country_writes_is_typed_there_and_read_as_it_was_meant(value, locale):
    """Babel is the outside judge again: with its country known, every writing of CLDR's is read, and none refused."""
    value, words = round(value, 6), Words(*locale.split("_"))
    for pattern in ("#,##0.######", "#,##0.000", None):
        text = format_decimal(value, pattern, locale=locale)
        digits = {"#,##0.000": 3, None: 3}.get(pattern, 6)
        assert read_decimal(text, words=words) == pytest.approx(round(value, digits), abs=1e-6 + 1.1e-3 * (digits == 3))
    assert read_decimal(write_decimal(value, words), words=words) == value
    assert read_decimal(write_decimal(value)) == value


@pytest.mark.parametrize(
    ("language", "country", "text", "value"),
    [
        ("es", "EC", "1.234", 1234.0),
        ("es", "PE", "1.234", 1.234),
        ("es", "EC", "1,234", 1.234),
        ("es", "PE", "1,234", 1234.0),
        ("es", "PE", "-1,234.50", -1234.5),
        ("es", "PE", "1.234,5", 1234.5),
        ("es", "PE", "1.234.567", 1234567.0),
        ("es", "EC", "3.5", 3.5),
        ("es", "PE", "3,5", 3.5),
        ("es", "EC", "0.500", 0.5),
        ("es", "EC", "1234.567", 1234.567),
        ("es", "CR", "1 234,5", 1234.5),
        ("fr", "CI", "1\u202f234", 1234.0),
        ("fr", "CI", "1,234", 1.234),
        ("pt", "BR", "1.234", 1234.0),
        ("pt", None, "1.234,5", 1234.5),
        ("en", "IN", "12,34,567.5", 1234567.5),
        ("en", "CH", "1\u2019234.5", 1234.5),
    ],
)
def test_typed_numbers_are_read_as_the_country_writes_them(language, country, text, value):
    assert read_decimal(text, words=Words(language, country)) == value


@pytest.mark.parametrize(
    ("country", "text", "code"),
    [
        ("CI", "1.234", "typed.ambiguous"),  # neither sign of the country's
        ("CI", "1.23.4", "typed.several_signs"),
        ("CI", "12.34,5", "typed.several_signs"),
        ("CI", "1'234", "typed.not_a_number"),
        ("CI", "0.123.456", "typed.several_signs"),
        ("CI", "", "typed.empty"),
    ],
)
def test_what_is_written_nowhere_is_refused_with_an_example_in_the_country_s_own_writing(country, text, code):
    words = Words("fr", country)
    with pytest.raises(ScenarioError) as caught:
        read_decimal(text, words=words)
    assert caught.value.problems[0].code == code
    assert ("3,5" in caught.value.sentences(words)[0]) == (code != "typed.ambiguous")


def test_where_no_country_settles_two_readings_both_are_told():
    for language, country in (("en", None), ("es", None), ("fr", None), ("en", "EC")):  # CLDR: no English of Ecuador
        with pytest.raises(ScenarioError) as caught:
            read_decimal("1.234", words=Words(language, country))
        (told,) = caught.value.sentences(Words("en"))
        assert told.endswith("Write 1234 for the large number, or 1.2340 for the small one.")
    assert read_decimal("1.2340") == 1.234
    assert read_decimal("1,234.5", words=Words("es")) == read_decimal("1.234,5", words=Words("en")) == 1234.5


def test_a_number_in_which_signs_part_the_thousands_is_said_back():
    assert reading("1.234", Words("es", "EC")) == "1.234 se lee como 1234."
    assert reading("-1,234.5", Words("en")) == "-1,234.5 is read as -1234.5."
    for text in ("1,5", "1.50", "1500", "1.234", "x", ""):
        assert reading(text, Words("es", "PE")) == ""


@given(st.text("0123456789., -", min_size=1, max_size=10))
def test_any_scrap_is_read_or_refused_and_never_crashes(text):
    try:
        value = read_decimal(text)
    except ScenarioError as error:
        assert len(error.problems) == 1  # noqa: PT017
    else:
        assert value == float(text.strip().replace(" ", "").replace(",", "."))
