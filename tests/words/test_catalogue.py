"""The word catalogue: languages agree, every sentence can be filled, numbers are written as CLDR has them."""

import ast
import re
import string
from datetime import date
from functools import cache
from pathlib import Path

import pytest
from babel import Locale
from farm_files import BAD, TESTS
from hypothesis import given
from hypothesis import strategies as st

import renovation
from renovation.inputs import ScenarioError, load_scenario
from renovation.words import Words, known_currency, languages, smallest_unit
from renovation.words.catalogue import Topics, topics

PACKAGE = Path(renovation.__file__).parent
FILE_CODES = {
    "missing_file",
    "is_folder",
    "unreadable_file",
    "file_too_large",
    "binary_file",
    "empty_file",
}
"""Mistakes of a whole file: `test_bad_files` makes these files itself."""
ELSEWHERE = {"nested_too_deep", "no_technique", "too_much", "number_too_long", "no_trees_counted"} | {
    "packed_damaged",
    "packed_newer",
    "packed_too_large",
}
"""Pinned in `test_bad_files`, `test_hostile_files`, `test_models`, `test_tally` and `test_packed`."""


def facts(sentence):
    """The places for facts in a sentence."""
    return {name for _, name, _, _ in string.Formatter().parse(sentence) if name is not None}


def entries(language):
    """Every entry of a language: a sentence, or one for each plural form."""
    return dict(Words(language)._entries)


def facts_of(entry):
    """The facts of an entry and whether it has plural forms, of which any may leave its number out."""
    if isinstance(entry, str):
        return facts(entry), False
    return {fact for text in entry.values() for fact in facts(text)} - {"n"}, True


def differences(first, second):
    """Keys that one language lacks, and keys whose facts differ, or whether they count."""
    lacking = set(first) ^ set(second)
    return lacking | {key for key in set(first) & set(second) if facts_of(first[key]) != facts_of(second[key])}


@pytest.mark.parametrize("language", languages())
def test_what_counts_has_the_plural_forms_of_its_language(language):
    """As CLDR has them (Babel): a form too few would say "other" in its place, one too many would never be said."""
    forms = {*Locale.parse(language).plural_form.rules, "other"}
    counting = {key: set(entry) for key, entry in entries(language).items() if isinstance(entry, dict)}
    assert len(counting) > 80
    assert {key: found for key, found in counting.items() if found != forms} == {}


@pytest.mark.parametrize("language", languages())
def test_every_plural_form_holds_every_fact_but_its_number(language):
    for key, entry in entries(language).items():
        if isinstance(entry, dict):
            assert len({frozenset(facts(text) - {"n"}) for text in entry.values()}) == 1, key


@pytest.mark.parametrize("language", languages())
def test_every_language_has_the_keys_and_the_facts_of_english(language):
    assert differences(entries("en"), entries(language)) == set()


def test_a_language_that_lacks_a_key_or_a_fact_is_caught():
    english = entries("en")
    spoiled = {**english, "error.missing_file": "No {fyle}."}
    del spoiled["error.empty_file"]
    assert differences(english, spoiled) == {"error.missing_file", "error.empty_file"}


@pytest.mark.parametrize("language", languages())
def test_every_language_has_the_files_of_english(language):
    english, there = (topics(PACKAGE / "words" / code) for code in ("en", language))
    assert [file.name for file in there] == [file.name for file in english]
    for one, other in zip(english, there, strict=True):
        assert top_tables(one) == top_tables(other), one.name


def top_tables(file):
    """The tables at the head of a file's keys, as its lines open them."""
    return {line.split(".")[0].strip("[]") for line in file.read_text("utf-8").splitlines() if line.startswith("[")}


def test_a_language_is_a_folder_with_words_in_it():
    folders = {path.parent.name for path in (PACKAGE / "words").glob("*/*.toml")}
    assert set(languages()) == folders
    assert len(topics(PACKAGE / "words" / "en")) > 20


def test_a_topic_is_read_when_it_is_asked_for(tmp_path):
    (tmp_path / "cash.toml").write_text('[cash]\nyears = "{n} years"\n', "utf-8")
    (tmp_path / "plan.toml").write_text("[plan]\nthis is no TOML\n", "utf-8")
    words = Topics(tmp_path)
    assert words["cash.years"] == "{n} years"
    with pytest.raises(ValueError, match="at line 2"):
        words["plan.head"]


def test_topics_are_read_together_and_a_key_in_two_files_is_refused(tmp_path):
    (tmp_path / "cash.toml").write_text('[cash]\nyears = { one = "{n} year", other = "{n} years" }\n', "utf-8")
    (tmp_path / "plan.toml").write_text('[plan]\nhead = "{trees}."\n[cash.low]\nnamed = "{floor}"\n', "utf-8")
    (tmp_path / "notes.txt").write_text("[plan]\n", "utf-8")
    assert sorted(Topics(tmp_path)) == ["cash.low.named", "cash.years", "plan.head"]
    some = Topics(tmp_path)
    assert some["cash.years"] == {"one": "{n} year", "other": "{n} years"}
    assert "cash.low.named" in some  # a table of two files
    assert "cash.low.other" not in some
    (tmp_path / "risk.toml").write_text('[risk]\na = "b"\n[plan]\nhead = "{trees}."\n', "utf-8")
    with pytest.raises(ValueError, match=r"risk\.toml .*: plan\.head$"):
        len(Topics(tmp_path))


@pytest.mark.parametrize("language", languages())
def test_every_sentence_is_well_formed(language):
    words = Words(language)
    for key in sorted(words.keys()):
        text = words.text(key)
        assert text.strip()
        assert all(name.isidentifier() for name in facts(text)), key
        assert "  " not in text, key


def codes_in_inputs():
    """Every code that the readers of inputs can raise, from the calls that raise them."""
    named = {"problem": 0, "unknown": 0, "_refuse": 0}
    for path in (PACKAGE / "inputs").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call):
                name = getattr(node.func, "attr", getattr(node.func, "id", ""))
                if name in named and node.args and isinstance(node.args[named[name]], ast.Constant):
                    yield node.args[named[name]].value


def test_every_code_that_is_raised_has_a_sentence():
    codes = set(codes_in_inputs())
    assert len(codes) > 30
    assert {code for code in codes if f"error.{code}" not in Words("en")} == set()


def test_every_sentence_of_a_mistake_is_pinned_by_a_bad_file():
    raised = set()
    for path in BAD:
        with pytest.raises(ScenarioError) as caught:
            load_scenario(path)
        raised |= {problem.code for problem in caught.value.problems}
    sentences = {key.removeprefix("error.") for key in sorted(Words("en").keys()) if key.startswith("error.")}
    assert sentences - raised - FILE_CODES - ELSEWHERE == set()


def left_over(keys, sources):
    """Keys that no line of the code asks for: whole, by an f-string with some of its words, or by its group."""
    whole, patterns = set(), []
    for node in (node for source in sources for node in ast.walk(ast.parse(source))):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            whole.add(node.value)
        elif isinstance(node, ast.JoinedStr):
            parts = [part.value if isinstance(part, ast.Constant) else None for part in node.values]
            if re.search("[a-z]{3}", "".join(part or "" for part in parts)):
                patterns.append("".join(".+" if part is None else re.escape(part) for part in parts))
    asked_for = re.compile("|".join(patterns) or "(?!)")
    return {key for key in keys if {key, key.rpartition(".")[0]}.isdisjoint(whole) and asked_for.fullmatch(key) is None}


def test_no_sentence_is_left_over():
    sources = [path.read_text("utf-8") for path in PACKAGE.rglob("*.py")]
    assert left_over(Words("en").keys(), sources) == set()


def test_a_left_over_sentence_is_caught():
    code = 'words("a.whole"); words(f"a.part_{kind}"); words.name("a.group", key)'
    assert left_over({"a.whole", "a.part_one", "a.group.any", "a.other", "b.part_one"}, [code]) == {
        "a.other",
        "b.part_one",
    }


def spelled(node):
    """The text of a string, or of an f-string as a pattern; None of anything else."""
    if isinstance(node, ast.Constant):
        return re.escape(node.value) if isinstance(node.value, str) else None
    if isinstance(node, ast.JoinedStr):
        return "".join(re.escape(v.value) if isinstance(v, ast.Constant) else ".+" for v in node.values)
    return None


def asked_for(source):
    """Keys, as patterns, that a file asks the words for: `words("a")`, `self.words(f"a.{b}")`, `state.words()("a")`."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call) or not node.args:
            continue
        called = node.func.func if isinstance(node.func, ast.Call) else node.func
        if getattr(called, "attr", getattr(called, "id", "")) not in ("words", "WORDS"):
            continue
        branches = [node.args[0].body, node.args[0].orelse] if isinstance(node.args[0], ast.IfExp) else [node.args[0]]
        yield from (key for key in map(spelled, branches) if key)


@cache
def spelled_out(keys):
    """Each key as the pattern that only it fits."""
    return {re.escape(key) for key in keys}


def not_there(keys, source):
    """Keys that a file asks for and no file of words has."""
    plain = spelled_out(frozenset(keys))
    unknown = {key for key in asked_for(source) if key not in plain}
    return {key for key in unknown if not any(re.fullmatch(key, known) for known in keys)}


SOURCES = [*sorted(PACKAGE.rglob("*.py")), *sorted(TESTS.rglob("*.py"))]


def test_every_key_that_is_asked_for_is_there():
    keys, here = Words("en").keys(), Path(__file__)
    asked = {path: path.read_text("utf-8") for path in SOURCES if path != here}
    assert len({key for source in asked.values() for key in asked_for(source)}) > 500
    assert {str(path): lost for path, source in asked.items() if (lost := not_there(keys, source))} == {}


def test_a_key_that_is_not_there_is_caught():
    code = 'words("a.b"); WORDS(f"a.{x}"); self.words(f"c.{x}" if x else "d.e"); state.words()("f.g"); print("h.i")'
    assert not_there({"a.b"}, code) == {r"c\..+", r"d\.e", r"f\.g"}


def screen_keys(source):
    """Keys of the screens that a file names, but for its docstrings."""
    tree = ast.parse(source)
    told = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told:
            yield from re.findall(r"\bscreen\.[a-z_.]*", node.value)


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_nothing_outside_the_screens_asks_for_a_word_of_a_screen(path):
    if "screens" not in path.relative_to(PACKAGE).parts:
        assert list(screen_keys(path.read_text("utf-8"))) == []


def test_a_screen_key_would_be_caught():
    code = '"""Keys are `screen.plan.use`."""\nwords("screen.title"); words(f"screen.plan.{kind}"); words("plan.head")'
    assert sorted(screen_keys(code)) == ["screen.plan.", "screen.title"]


def test_numbers_money_and_dates_as_cldr_writes_english():
    """Expected: CLDR English patterns (Unicode Common Locale Data Repository)."""
    words = Words("en")
    assert words.number(1234567) == "1,234,567"
    assert words.number(1234.5) == "1,234.5"
    assert words.number(0.12345, 2) == "0.12"
    assert words.percent(0.256) == "26%"
    assert words.percent(-0.0001) == "0%"
    assert words.money(-1234.5, "USD") == "-$1,234.50"
    assert words.money(1234.4, "JPY") == "¥1,234"
    assert words.money(-0.001, "USD") == "$0.00"
    assert words.month("2027-03") == "March 2027"
    assert words.day(date(2027, 3, 9)) == "March 9, 2027"
    assert [words.month_name(month) for month in (1, 12)] == ["January", "December"]


def test_currencies_and_their_smallest_units():
    """ISO 4217: dollars have cents, yen and CFA francs none, Kuwaiti dinars three decimals."""
    assert [smallest_unit(code) for code in ("USD", "JPY", "XOF", "KWD")] == [0.01, 1.0, 1.0, 0.001]
    assert all(known_currency(code) for code in ("USD", "GHS", "XOF", "XAF", "IDR", "COP", "PHP"))
    assert not any(known_currency(code) for code in ("ZZZ", "usd", "", "EURO"))


def test_spans_are_whole_months_rounded_up():
    words = Words("en")
    assert words.span(3 + 4 / 12) == "3 years 4 months"
    assert words.span(1.0) == "1 year"
    assert words.span(1 / 12) == "1 month"
    assert words.span(0.0) == "0 months"
    assert words.span(2.01) == "2 years 1 month"


@given(st.integers(0, 600))
def test_a_span_of_whole_months_says_exactly_those_months(months):
    years, rest = divmod(months, 12)
    said = Words("en").span(months / 12).replace("years", "year").replace("months", "month").split()
    counts = dict(zip(said[1::2], said[::2], strict=True))
    assert (int(counts.get("year", 0)), int(counts.get("month", 0))) == (years, rest)


def test_lists_in_a_sentence():
    words = Words("en")
    assert [words.listing(["a", "b", "c"][:n]) for n in range(4)] == ["", "a", "a and b", "a, b and c"]


def test_an_unknown_language_or_key_is_refused():
    with pytest.raises(KeyError):
        Words("tlh")
    with pytest.raises(KeyError):
        Words("en")("no.such.key")


def test_an_odd_number_of_any_size_is_written_in_full():
    """Decimal numbers have 28 digits where nobody asks for more: what passed them was refused."""
    words = Words("en")
    assert words.money(1e30, "USD") == "$1" + ",000" * 10 + ".00"
    assert words.number(-1e30) == "-1" + ",000" * 10
    assert words.percent(1e298) == "1" + ",000" * 100 + "%"
