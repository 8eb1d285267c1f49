"""What `renovation words` finds in a language's folder: every kind of fault, and none in ours."""

import ast
import re
from importlib import resources
from pathlib import Path

import pytest
from command_line import refused, said

import renovation
from renovation.commands.program import main
from renovation.words import Words, languages
from renovation.words.audit import KINDS, LABELS, begun, emptied, entries, faults, plural_forms

PACKAGE = Path(renovation.__file__).parent
WORDS = Words("en")


def test_our_languages_have_nothing_to_mend():
    folder = resources.files("renovation.words")
    assert {language: faults(folder.joinpath(language), language) for language in languages()} == dict.fromkeys(
        languages(), ()
    )


@pytest.fixture
def folder(tmp_path):
    """A copy of the Indonesian files of a few topics beside an English of nothing else."""
    there = tmp_path / "id"
    there.mkdir()
    for file in (PACKAGE / "words" / "id").glob("*.toml"):
        (there / file.name).write_text(file.read_text("utf-8"), "utf-8")
    return there


def put(folder, name, old, new):
    text = (folder / name).read_text("utf-8")
    assert old in text
    (folder / name).write_text(text.replace(old, new, 1), "utf-8")


def test_each_kind_of_fault_is_told_by_its_key_and_ends_with_1(folder, capsys):
    own = Words("id")
    compare = own("screen.page.compare")
    put(folder, "screen.toml", f'compare = "{compare}"', 'compare = "Bandingkan cara yang satu dengan lain"')
    put(folder, "screen.toml", f'mine = "{own("screen.page.mine")}"', 'mine = ""\nyours = "Kebunmu"')
    put(folder, "notebook.toml", "{back}", "{bakc}")
    put(folder, "translation.toml", "begun = { other =", 'begun = { one = "{n} {folder}", other =')
    (folder / "tally.toml").unlink()
    assert main(["words", str(folder)]) == 1
    out = capsys.readouterr().out
    found = {fault.key: fault for fault in faults(folder, "id")}
    assert {fault.kind for fault in found.values()} == set(KINDS)
    assert found["screen.page.compare"].wanted == "16"
    assert found["screen.page.mine"].kind == found["tally.use"].kind == "missing"
    assert found["screen.page.yours"].kind == "unused"
    assert (found["notebook.empty_goes_on"].found, found["notebook.empty_goes_on"].wanted) == ("{bakc}", "{back}")
    assert (found["translation.begun"].found, found["translation.begun"].wanted) == ("one, other", "other")
    assert all(f", {key}" in out for key in found)
    assert "screen.toml, screen.page.compare (page name, at most 16 letters): Bandingkan" in out


@pytest.mark.parametrize(
    ("name", "text", "sentence"),
    [
        ("a.toml", '[a]\nb = "c" d', "a.toml, line 2: this is not TOML."),
        ("a.toml", "[a]\nb = 3", "a.toml: something here is no text."),
        ("a.txt", "", "sw holds no word files."),
    ],
)
def test_a_folder_that_cannot_be_read_is_refused_in_a_sentence(tmp_path, capsys, name, text, sentence):
    (tmp_path / "sw").mkdir()
    (tmp_path / "sw" / name).write_text(text, "utf-8")
    assert refused(capsys, "words", tmp_path / "sw").startswith(sentence)


def test_a_key_of_two_files_a_name_that_is_no_code_and_no_language_are_refused(tmp_path, capsys):
    (tmp_path / "qqq").mkdir()
    for name in ("a.toml", "b.toml"):
        (tmp_path / "qqq" / name).write_text('[a]\nb = "c"\n', "utf-8")
    assert refused(capsys, "words", tmp_path / "qqq").startswith("qqq is no language code that is known.")
    (tmp_path / "qqq").rename(tmp_path / "sw")
    assert refused(capsys, "words", tmp_path / "sw") == "b.toml: a.b stands in another file too. Keep one of them."
    assert refused(capsys, "words", "klingon").startswith("klingon is neither a language of the program nor a folder.")
    assert refused(capsys, "words").startswith("Name a language, or the folder of a new one.")


def test_a_new_language_is_begun_with_its_own_plural_forms_and_every_key_missing(tmp_path, capsys):
    """Arabic has six plural forms (CLDR), Swahili two."""
    assert (
        said(capsys, "words", "ar", "--begin", tmp_path)
        == WORDS("translation.begun", n=46, folder=tmp_path / "ar") + "\n"
    )
    assert refused(capsys, "words", "ar", "--begin", tmp_path).endswith(
        "exists. Name another file, or move it away first."
    )
    there = entries(tmp_path / "ar")
    assert {key for key, _ in there.items()} == WORDS.keys()
    counting = [entry for _, entry in there.values() if isinstance(entry, dict)]
    assert {frozenset(entry) for entry in counting} == {plural_forms("ar")}
    assert len(plural_forms("ar")) == 6
    found = faults(tmp_path / "ar", "ar")
    assert {fault.kind for fault in found} == {"missing"}
    assert len(found) == len(there)
    assert begun("sw").keys() == {file.name for file in (PACKAGE / "words" / "en").glob("*.toml")}


def test_words_are_taken_out_line_by_line_and_all_else_stays():
    text = (
        '# Why.\n[a]\n"b c" = "He said \\"no\\""\nd.one = "{n} x"\nd.other = "{n} y"\ne = { label = "L", help = "H" }'
    )
    text += '\n[f]\nother = "Another"\nthis = "This"'
    assert [line for line in emptied(text, ["few", "other"]) if not line.startswith("# ")] == [
        "[a]",
        '"b c" = ""',
        'd.few = ""',
        'd.other = ""',
        'e = { label = "", help = "" }',
        "[f]",
        'other = ""',
        'this = ""',
    ]


def named(node):
    """The key that a button's label is asked for by; None where it is worked out or filled."""
    if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "plain":
        return named(node.args[0])
    is_words = isinstance(node, ast.Call) and "words" in ast.unparse(node.func) and node.args
    return node.args[0].value if is_words and isinstance(node.args[0], ast.Constant) else None


def test_every_button_and_every_page_is_held_to_its_room():
    """Buttons as the code of the screens draws them."""
    drawn = {
        key
        for path in (PACKAGE / "screens").rglob("*.py")
        if "button(" in (source := path.read_text("utf-8"))
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call) and getattr(node.func, "attr", "").endswith("button") and node.args
        if (key := named(node.args[0]))
    }
    assert len(drawn) > 25
    assert {key for key in drawn if not re.fullmatch(LABELS["button"], key)} == set()
    held = {place: [key for key in sorted(WORDS.keys()) if re.fullmatch(keys, key)] for place, keys in LABELS.items()}
    assert (len(held["page"]), len(held["tab"]) > 10, len(held["column"]) > 200) == (11, True, True)
