"""What charts write: numbers as the country does, names whatever their signs, on the screen and on paper."""

import re
from html import unescape

import pytest
import vl_convert
from babel.numbers import format_compact_decimal, format_decimal, format_percent

from renovation.show import drawing as draw
from renovation.show.report.html import Html, chart
from renovation.show.vega import Layer, Part, columns, encoding, locale_of
from renovation.words import Words

NAMES = (
    "a" + "\U0001f331" * 79,
    "\U0001e900\U0001e923\U0001e924" * 20,  # Adlam, in which Fulani is written; each sign is stored in two halves
    "a.b[0]'c\\d",
    '"\\ud83c" \\U0001f331 \\',
    "x\u2028y\u2029z",
    "\u202ea\u200b",
    "\U000e0001b",
    "a\u0007b\ufffe",
)


def drawn(words, values, names=(), **axis):
    """A chart of bars that are named at the side, and once more at their ends."""
    rows = columns(name=list(names) or ["a"], amount=[float(max(values))] * (len(names) or 1), year=2027.0)
    x = encoding("year:Q", scale=Part(domain=[2027.0, 2028.0]), axis=None)
    bars = (
        Layer(rows)
        .mark("bar")
        .encode(
            x=encoding(
                "amount:Q", title=None, scale=Part(domain=list(values)), axis={**draw.money_axis(words, values), **axis}
            ),
            y=encoding("name:N", title=None, axis=draw.names_axis(names)),
        )
    )
    ends = (
        draw.names_at_ends({name: float(place) for place, name in enumerate(names)}, x, [0.0, 10.0], 900)
        if names
        else None
    )
    return draw.finish(words, [bars, *([ends] if ends else [])], "Money", "Some money.", 900, own_axes=True)


def labels(svg):
    return [unescape(re.sub("<[^>]*>", "", text)) for text in re.findall(r"<text\b.*?</text>", str(svg))]


def on_a_screen(found):
    return labels(vl_convert.vegalite_to_svg({**found.to_dict(), "width": 400}))


@pytest.mark.parametrize("locale", ["en_GH", "en_IN", "es_CR", "es_EC", "es_PE", "fr_CI", "id_ID", "pt_BR", "pt_ST"])
def test_vega_is_told_the_signs_of_the_country(locale):
    """Babel is the judge."""
    words = Words(*locale.split("_"))
    told = locale_of(words)["number"]
    whole, decimals = format_decimal(1234567.5, locale=locale).split(told["decimal"])
    parts = whole.split(told["thousands"])
    assert (parts[-1], decimals) == ("567", "5")
    assert told["grouping"][1:] == [2] * 8 * (len(parts[1]) == 2)
    assert format_percent(0.25, locale=locale) == f"25{told['percent']}"
    for power in (3, 6):
        size, unit = words.short_unit(power)
        assert format_compact_decimal(10**power, locale=locale) == f"{10**power / size:g}{unit}"


def test_axes_write_numbers_as_babel_does():
    found = labels(chart(drawn(Words("en", "IN"), [0, 400_000]), "a", 400))
    assert format_decimal(400_000, locale="en_IN") == "4,00,000" in found


def test_a_screen_counts_in_millions_as_the_language_does_and_paper_in_full():
    """No language counts in thousands of millions: M is one of them in Indonesia, and a million elsewhere (CLDR)."""
    found = drawn(Words("id"), [0, 4e9])
    assert "4.000\xa0jt" in on_a_screen(found)
    assert "4.000.000.000" in labels(chart(found, "a", 400))


def test_a_chart_on_paper_bears_any_name():
    """Of a label cut in the middle of a sign, and of a sign that no drawing may hold, the program that draws died."""
    found = labels(chart(drawn(Words("en"), [0, 1], NAMES), "a", 400))
    said = "".join(found)
    assert Html.escape("a\x07b\ufffe") == "a\N{REPLACEMENT CHARACTER}b\N{REPLACEMENT CHARACTER}"
    assert not [sign for sign in said if "\ud800" <= sign <= "\uf8ff" or sign in "\ufffe\x07"]
    assert "\U0001f331\U0001f331" in said
    assert "\U0001e900\U0001e923" in said
    assert {"a.b[0]'c\\d", "a\N{REPLACEMENT CHARACTER}b\N{REPLACEMENT CHARACTER}", "\U000e0001b"} < {*found}
    assert any('"\\ud83c"' in label for label in found)
