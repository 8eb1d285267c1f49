"""A farm in few letters: lossless, short, and refused whole where it is cut, changed, newer or swollen."""

import zlib

import pytest
from factories import scenario_data, techniques
from hypothesis import given

from renovation.inputs import Scenario, ScenarioError, demo_names, demo_scenario
from renovation.inputs.packed import FORMAT, MOST_LETTERS, pack, packed, unpack, unpacked
from renovation.words import Words


def refused(ask):
    with pytest.raises(ScenarioError) as caught:
        ask()
    assert len(caught.value.sentences(Words("en"))) == 1
    return caught.value.problems[0].code


@pytest.mark.parametrize("name", demo_names())
def test_a_demo_farm_comes_back_whole_and_fits_a_picture_code(name):
    farm = demo_scenario(name)
    text = pack(farm)
    assert unpack(text, "link") == farm
    assert unpack(text.lower(), "link") == farm
    assert len(text) < 1700  # a picture code of 109 squares a side at medium correction holds 1,637 such letters


@given(techniques())
def test_any_farm_comes_back_whole(technique):
    farm = Scenario.model_validate(scenario_data({"way_a": technique}))
    assert unpack(pack(farm), "link") == farm


def test_a_cut_or_changed_text_is_refused_in_one_sentence():
    text = pack(demo_scenario())
    for place in range(0, len(text), 29):
        assert refused(lambda: unpack(text[:place], "link")) == "packed_damaged"  # noqa: B023
        other = "0" if not place else "A" if text[place] != "A" else "B"
        changed = text[:place] + other + text[place + 1 :]
        assert refused(lambda: unpack(changed, "link")) == "packed_damaged"  # noqa: B023
    assert refused(lambda: unpack(text + "!", "link")) == "packed_damaged"


def test_a_newer_or_swollen_text_is_refused():
    data = packed({"about": {"name": "A"}})
    assert refused(lambda: unpacked(bytes([FORMAT + 1]) + data[1:], "link")) == "packed_newer"
    assert refused(lambda: unpack("2" + pack(demo_scenario())[1:], "link")) == "packed_newer"
    assert refused(lambda: unpacked(bytes([0]) + data[1:], "link")) == "packed_damaged"
    assert refused(lambda: unpack("1" * (MOST_LETTERS + 1), "link")) == "packed_too_large"
    squeeze = zlib.compressobj(9, zlib.DEFLATED, -15)
    bomb = squeeze.compress(b" " * 50_000_000) + squeeze.flush()
    assert refused(lambda: unpacked(data[:5] + bomb, "link")) == "packed_too_large"
