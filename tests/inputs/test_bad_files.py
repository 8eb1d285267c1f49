"""Every mistake gets its sentence: file, key, what was found, what is accepted."""

from pathlib import Path

import pytest
from farm_files import BAD, TESTS, expected_of

from renovation.inputs import (
    ScenarioError,
    demo_scenario,
    load_scenario,
    read_scenario,
    write_scenario,
)
from renovation.words import Words


def sentences(path):
    """The sentences that loading a file gives."""
    with pytest.raises(ScenarioError) as caught:
        load_scenario(path)
    return caught.value.sentences(Words("en"))


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.stem)
def test_a_bad_file_gives_exactly_the_sentences_in_its_head(path):
    head = expected_of(path)
    assert head
    assert sentences(path) == head


def test_a_bad_file_is_good_but_for_its_mistake():
    """The text that all bad files share reads well, so that each file shows one thing."""
    text = (TESTS / "inputs" / "bad" / "no_trees.toml").read_text("utf-8")
    good = read_scenario(text.replace("trees = 0", "trees = 100"), "good.toml")
    assert good.stands[0].trees == 100


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "farm.toml is empty. Copy a demo farm and change its numbers."),
        (b"  \n# only a comment\n", "farm.toml is empty. Copy a demo farm and change its numbers."),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "farm.toml is not plain text. A scenario is a text file saved as UTF-8."),
        (b'name = "a\x00b"', "farm.toml is not plain text. A scenario is a text file saved as UTF-8."),
        (
            'name = "Río"'.encode("latin-1"),
            "farm.toml is not plain text. A scenario is a text file saved as UTF-8.",
        ),
        (b"#" * 1_000_001, "farm.toml is too large. A scenario file holds at most 1,000 kilobytes."),
    ],
    ids=["empty", "comment only", "picture", "zero byte", "latin-1", "too large"],
)
def test_a_file_that_is_no_scenario_at_all(tmp_path, content, sentence):
    path = tmp_path / "farm.toml"
    path.write_bytes(content)
    assert sentences(path) == [sentence]


@pytest.mark.parametrize("depth", [50, 100, 200, 300, 400, 600, 1000, 50_000])
@pytest.mark.parametrize("key", ["plan", "about", "extra"])
def test_deep_brackets_are_refused_and_do_not_crash(tmp_path, key, depth):
    path = tmp_path / "deep.toml"
    path.write_text(f"{key} = {'[' * depth}{']' * depth}")
    said = sentences(path)
    if depth >= 1000:
        told = "deep.toml has brackets inside brackets too many times over. A scenario needs at most a few."
        assert said == [told]


def test_a_missing_file_and_a_folder(tmp_path):
    assert sentences(tmp_path / "no.toml") == ["no.toml: there is no such file. Check the name and the folder."]
    folder = tmp_path / "farms"
    folder.mkdir()
    assert sentences(folder) == ["farms is a folder. Name a scenario file that ends in .toml."]


def test_a_file_that_may_not_be_read(tmp_path, monkeypatch):
    path = tmp_path / "farm.toml"
    path.write_text("x = 1")

    def refuse(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    assert sentences(path) == ["farm.toml cannot be opened. Check that you are allowed to read it."]


def test_a_byte_order_mark_and_windows_line_ends_are_read(tmp_path):
    path = tmp_path / "windows.toml"
    path.write_bytes(b"\xef\xbb\xbf" + write_scenario(demo_scenario()).replace("\n", "\r\n").encode())
    assert load_scenario(path) == demo_scenario()


def test_str_of_the_error_is_the_english_sentences():
    with pytest.raises(ScenarioError) as caught:
        read_scenario("", "x.toml")
    assert str(caught.value) == "x.toml is empty. Copy a demo farm and change its numbers."


@pytest.mark.parametrize("key", ["about", "appraisal", "household", "market", "stands", "consider"])
@pytest.mark.parametrize("value", ["1", '"text"', "true", "[]", "[1, [2]]", "{ a = 1 }", "[{ name = 3 }]", "nan"])
def test_any_value_in_the_place_of_a_table_is_refused_and_does_not_crash(key, value):
    with pytest.raises(ScenarioError) as caught:
        read_scenario(f"{key} = {value}\n", "odd.toml")
    assert all(sentence.startswith("odd.toml") for sentence in caught.value.sentences(Words("en")))
