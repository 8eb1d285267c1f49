"""Every work has a drawing of our own; every drawing is plain lines that fetch nothing."""

import re
from importlib import resources
from xml.etree import ElementTree

import pytest

from renovation.inputs import demo_scenario
from renovation.show import pictures

FOLDER = resources.files("renovation.show.pictures")
FILES = sorted(file.name for file in FOLDER.iterdir() if file.name.endswith(".svg"))
DRAWN = {"svg", "path", "circle"}
LOOKS = {
    "xmlns",
    "viewBox",
    "fill",
    "stroke",
    "stroke-width",
    "stroke-linecap",
    "stroke-linejoin",
    "d",
    "cx",
    "cy",
    "r",
}


def works():
    """Every operation of every way that the program knows, and what a farm does each year."""
    techniques = demo_scenario().techniques
    return {key for technique in techniques.values() for key in technique.operations} | {
        "upkeep",
        "harvest",
        "intercrop",
    }


def test_every_operation_of_every_way_has_a_drawing_and_no_other_is_named():
    assert set(pictures.named()["work"]) == works()


def test_every_drawing_that_is_named_is_there_and_every_one_there_is_named():
    there = {name for group in pictures.named().values() for name in group.values()}
    assert {f"{name}.svg" for name in there} == set(FILES)


@pytest.mark.parametrize("name", FILES)
def test_a_drawing_is_lines_in_the_colour_of_the_words_and_fetches_nothing(name):
    text = FOLDER.joinpath(name).read_text("utf-8")
    root = ElementTree.fromstring(text)
    assert root.get("viewBox") == "0 0 48 48"
    assert root.get("stroke") == "currentColor"
    assert re.findall(r"\b(?:href|url|style|font|script)\b", text) == []
    for element in root.iter():
        assert element.tag.removeprefix("{http://www.w3.org/2000/svg}") in DRAWN
        assert set(element.attrib) <= LOOKS
        assert element.get("fill") in (None, "none", "currentColor")


@pytest.mark.parametrize("name", FILES)
def test_a_drawing_keeps_within_its_square(name):
    """From the ends of its lines, worked out here: relative commands are not used."""
    text = FOLDER.joinpath(name).read_text("utf-8")
    for d in re.findall(r'\bd="([^"]*)"', text):
        assert set(re.findall("[A-Za-z]", d)) <= set("MLHVCZ")
        assert all(0 <= float(number) <= 48 for number in re.findall(r"-?[\d.]+", d))
