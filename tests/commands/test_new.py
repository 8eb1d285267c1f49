"""`renovation new`: the same questions in a terminal, the same farm; an empty file that says what it lacks."""

import io
from datetime import date

import pytest
from own_farm import ROWS

from renovation.commands.new import _chosen, _wanted
from renovation.commands.program import main
from renovation.inputs import ScenarioError, load_scenario
from renovation.inputs.notebook import QUESTIONS, answered, new_farm
from renovation.words import Words, languages
from renovation.words.folding import folded

WORDS = Words("en")
TYPED = [
    *("Ghana", ""),
    *("", "200", "180", "140", "", ""),
    *("sacks", "2,5", "64"),
    *("2", "8"),
    *("30", ""),
    *("60",),
    *("900",),
    *("700", "500"),
    *("",),
    *("20", "5", "", ""),
]


def ended(capsys, *argv):
    """How a command ends, what it prints, and what it refuses."""
    code = main([str(word) for word in argv])
    told = capsys.readouterr()
    return code, told.out, told.err


def typing(monkeypatch, lines):
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def test_what_is_typed_is_the_farm_of_the_same_answers(monkeypatch, capsys, tmp_path):
    typing(monkeypatch, TYPED)
    path = tmp_path / "mine.toml"
    code, out, error = ended(capsys, "new", "-o", str(path))
    assert (code, error) == (0, "")
    made = new_farm(date.today().strftime("%Y-%m"), WORDS("notebook.farm_name"), WORDS("notebook.field_name", n=1))
    for question in QUESTIONS:
        made = answered(made, question, ROWS.get(question.name, []))
    assert load_scenario(path) == made
    assert "10 of 10" in out


def test_a_bad_line_is_asked_again_and_the_end_of_input_writes_nothing(monkeypatch, capsys, tmp_path):
    typing(monkeypatch, ["Gana", "Ghana", "", "1", "many", "200"])
    path = tmp_path / "mine.toml"
    code, out, error = ended(capsys, "new", "-o", str(path))
    assert code == 2
    assert "Did you mean Ghana?" in out
    assert "many is not a number" in out
    assert error.strip() == WORDS("notebook.ended")
    assert not path.exists()


def test_numbers_are_read_as_the_country_that_was_told_writes_them(monkeypatch, capsys, tmp_path):
    """A point parts thousands in Ecuador, and does not in Peru (CLDR); both are told where nobody said which."""
    for lines, told in (
        (["Ecuador", ""], "1.234 se lee como 1234.\n"),
        (["", "si", "peru", ""], "1.234 no es un número entero"),
        (["", ""], "Escriba 1234 para el número grande, o 1.2340 para el pequeño.\n"),
    ):
        typing(monkeypatch, [*lines, "1", "1.234", ""])
        code, out, error = ended(capsys, "new", "-o", str(tmp_path / "mine.toml"), "--language", "es")
        assert code == 2
        assert told in out, error


def test_back_asks_the_question_before_once_more(monkeypatch, capsys, tmp_path):
    typing(monkeypatch, ["Brazil", "back", "8", "", *TYPED[2:-4], "20", "25", "", "", "back", *TYPED[-5:]])
    path = tmp_path / "mine.toml"
    code, out, _ = ended(capsys, "new", "-o", str(path))
    assert code == 0
    farm = load_scenario(path)
    assert (farm.market.season.window, farm.appraisal.currency) == ("Ghana", "GHS")
    assert [(record.made, record.taken) for record in farm.planning.records] == [(20, 5)]
    assert out.count("25 are said to have taken, but only 20 were made.") == 1


@pytest.mark.parametrize(
    ("language", "typed", "country", "yes"),
    [
        ("es", "camerun", "Cameroon", "SI"),
        ("es", "Camerún", "Cameroon", "s"),
        ("fr", "cote d\u2019ivoire", "Côte d'Ivoire", "Oui"),
        ("pt", "republica  dominicana", "Dominican Republic", "sim"),
        ("id", "PAPUA NUGINI", "Papua New Guinea", "Ya"),
        ("en", "3", "Colombia", "Y"),
    ],
)
def test_choices_and_yes_are_read_in_the_language_with_and_without_accents(monkeypatch, language, typed, country, yes):
    words = Words(language)
    typing(monkeypatch, [typed])
    assert _chosen("", {key: words.name("window", key) for key in WORDS.names("window")}, words) == country
    typing(monkeypatch, [yes])
    assert _wanted(QUESTIONS[0], words)
    for no in ("", "no", "n", "x"):
        typing(monkeypatch, [no])
        assert not _wanted(QUESTIONS[0], words)


def test_a_country_is_offered_and_read_by_its_name_in_the_language(monkeypatch, capsys, tmp_path):
    typing(monkeypatch, ["Cameroun", "o", "XOF"])
    code, out, _ = ended(capsys, "new", "-o", tmp_path / "mine.toml", "--language", "fr")
    assert (code, "2 Cameroun, " in out, "XOF" in out) == (2, True, True)  # what was typed ends too early


@pytest.mark.parametrize("language", languages())
def test_no_two_choices_look_alike_without_their_accents(language):
    words = Words(language)
    for group in ("window", "notebook.measure"):
        names = [folded(name) for key, name in words.names(group).items() if key != "ask"]
        assert len(set(names)) == len(names)
    assert folded(words("notebook.yes"))[0] != "n"


def test_the_empty_file_holds_no_figure_of_a_farm_and_says_what_is_missing(capsys, tmp_path):
    path = tmp_path / "blank.toml"
    assert ended(capsys, "new", "--blank", "-o", str(path))[0] == 0
    text = path.read_text("utf-8")
    assert [line for line in text.splitlines() if line and line[0] not in "#["] == [
        text.split("\n\n")[1].split("\n")[1]
    ]
    with pytest.raises(ScenarioError) as missing:
        load_scenario(path)
    keys = {problem.key for problem in missing.value.problems}
    assert {"household.wage_per_day", "household.family_days", "about.name", "appraisal.start"} <= keys
