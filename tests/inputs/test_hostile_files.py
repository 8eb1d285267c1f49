"""Files meant to harm, and files broken at random: reading ends in two seconds, each mistake is a short sentence."""

import random
import re
import time
import warnings

import pytest
from farm_files import FARMS, SMALL

from renovation.inputs import ScenarioError, demo_scenario, read_scenario, write_scenario
from renovation.words import Words

WORDS = Words("en")
MOST_SECONDS = 2.0
MOST_LETTERS = 500
BIG = "1" + "0" * 400
LOAN = """
[[loans]]
name = "Bank"
amount = 100
payouts = [{ month = "2027-04" }]
rate_per_year = 0.12
term_months = 24
repayment = "harvest"
harvest_months = [10]
"""
BAD_LOAN = '[[loans]]\nname = "L"\namount = -1\npayouts = [{ month = "x" }]\nrate_per_year = 9\nterm_months = -3\n'
BAD_STAND = '[[stands]]\nname = 3\ntrees = -1\ncrop_per_tree = 99\nwrong = "x"\n'


def refusal(text):
    """The sentences that refuse a text, found in time, each short; nothing where it is read."""
    began = time.process_time()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            read_scenario(text, "farm.toml")
        said = []
    except ScenarioError as error:
        said = error.sentences(WORDS)
        assert said
    assert time.process_time() - began < MOST_SECONDS
    assert max(map(len, said), default=0) <= MOST_LETTERS
    assert not any("\n" in sentence or "Traceback" in sentence for sentence in said)
    assert len(said) <= 21
    return said


def put(key, value, text=SMALL + LOAN):
    """The small farm with what a key is set to changed."""
    changed, count = re.subn(rf"(?m)^{key} = .*$", lambda _: f"{key} = {value}", text)
    assert count == 1
    return changed


def test_the_small_farm_with_its_loan_is_good():
    assert refusal(SMALL + LOAN) == []


# Reading always ends


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            put("term_months", 10**12),
            'farm.toml: loans "Bank".term_months is 1000000000000. Write a whole number from 1 to 480 (months).',
        ),
        (
            SMALL + LOAN + f"grace_months = -{10**12}\n",
            'farm.toml: loans "Bank".grace_months is -1000000000000. Write a whole number from 0 to 240 (months).',
        ),
        (
            SMALL + "[x]\n" + ".".join("a" * 20_000) + " = 1\n",
            "farm.toml has brackets inside brackets too many times over. A scenario needs at most a few.",
        ),
        (SMALL + BAD_LOAN * 2000, "farm.toml: loans has 2000 entries. Write at most 20."),
        (
            SMALL + BAD_STAND * 15_000,
            "farm.toml holds too much. A scenario file has room for at most 50,000 keys and entries of lists in all.",
        ),
        (SMALL + BAD_STAND * 1500, "farm.toml: stands has 1501 entries. Write at most 200."),
    ],
    ids=["term", "grace", "long key", "bad loans", "bad stands", "fewer bad stands"],
)
def test_reading_ends_whatever_is_stated(text, sentence):
    assert refusal(text) == [sentence]


def crowds():
    """Texts near the upload limit, or near the number of keys that a file may hold, by name."""
    rows = {
        "unknown tables": "".join(f"[t{i}]\n" for i in range(30_000)),
        "unknown keys": "".join(f"[t{j}]\n" + "".join(f"k{i}=1\n" for i in range(390)) for j in range(95)),
        "keys of stands": "".join(
            f'[[stands]]\nname="s{j}"\n' + "".join(f"k{i}=1\n" for i in range(190)) for j in range(195)
        ),
        "plan of unknown stands": "".join(
            f'[[plan]]\nstand = "Lower field {i}"\ntrees = 1\ntechnique = "side_graftt"\nstart = "2027-04"\n'
            for i in range(999)
        ),
        "long keys": "".join(f'"{chr(97 + i % 26) * 900}{i}" = 1\n' for i in range(990)),
        "keys of eight parts": "".join(
            f"[t{j}.b.c.d.e.f.g.h]\n" + "".join(f"k{i}.b.c.d.e.f.g.h=1\n" for i in range(200)) for j in range(10)
        ),
        "keys of two parts": "".join(
            f"[t{j}.b.c.d.e.f.g.h]\n" + "".join(f"k{i}.b=1\n" for i in range(390)) for j in range(95)
        ),
        "keys of many parts": "".join(f"k{i}.b.c.d.e.f.g.h.i.j.k.l=1\n" for i in range(30_000)),
        "one key of many parts": "a . " * 240_000,
        "one long list": "[t]\nx = [" + "1," * 480_000 + "]\n",
        "one long text": '[t]\nx = "' + "\\n" * 480_000 + '"\n',
        "an open text": '[t]\nx = """' + '\\"""' * 240_000,
        "open texts": "x = '" * 190_000,
        "brackets": "x = " + "[" * 900_000,
        "comments": "# a.b.c.d.e.f.g.h.i.j.k = 1, 2\n" * 30_000,
        "empty lines": "\n" * 990_000,
    }
    ways = [f"w{i}" for i in range(60)]
    work = "".join(f"o{j} = {{ month = 3, days = -1 }}\n" for j in range(125))
    tables = [f'[techniques.{way}]\nbased_on = "side_graft"\n[techniques.{way}.operations]\n{work}' for way in ways]
    considered = SMALL.replace("consider = [", "consider = [" + "".join(f'"{way}", ' for way in ways))
    return {name: SMALL + text for name, text in rows.items()} | {"work of ways": considered + "".join(tables)}


CROWDS = crowds()


@pytest.mark.parametrize("name", CROWDS)
def test_the_cost_of_reading_is_bounded_up_to_the_upload_limit(name):
    assert len(CROWDS[name].encode()) <= 1_000_000
    said = refusal(CROWDS[name])
    assert (said == []) == (name in ("comments", "empty lines"))


@pytest.mark.long
def test_a_farm_of_sixty_ways_written_in_full_is_read():
    farm = demo_scenario()
    way = {**farm.techniques["side_graft"].model_dump(), "based_on": None}
    known = {key: technique.model_dump() for key, technique in farm.techniques.items()}
    ways = {f"own_{i}": way for i in range(60 - len(known))}
    large = farm.changed(techniques={**known, **ways})
    assert refusal(write_scenario(large)) == []
    assert read_scenario(write_scenario(large), "large.toml") == large


def test_at_most_twenty_mistakes_are_told_and_the_number_of_the_others_is_said():
    said = refusal(SMALL + "[household.extra]\n" + "".join(f"[t{i}]\n" for i in range(500)))
    assert len(said) == 21
    assert said[-1] == "And 481 more mistakes."
    assert len(refusal(SMALL + "".join(f"[t{i}]\n" for i in range(20)))) == 20
    assert refusal(SMALL + "".join(f"[t{i}]\n" for i in range(21)))[-1] == "And 1 more mistake."


@pytest.mark.parametrize(
    ("text", "key", "most"),
    [
        (put("consider", [f"way_{i}" for i in range(61)]), "consider", 60),
        (SMALL + "[market.premium]\n" + "".join(f"clone_{i} = 0.1\n" for i in range(61)), "market.premium", 60),
        (SMALL + "[planning.batch]\n" + "".join(f"way_{i} = 1\n" for i in range(61)), "planning.batch", 60),
        (
            SMALL
            + "[techniques.side_graft.operations]\n"
            + "".join(f'o{i} = {{ anchor = "start", days = 1 }}\n' for i in range(61)),
            "techniques.side_graft.operations",
            60,
        ),
        (SMALL + "[techniques.side_graft]\ntools = [" + '"saw",' * 61 + "]\n", "techniques.side_graft.tools", 60),
        (SMALL + "techniques = [" + '"side_graft",' * 61 + "]\n", 'stands "Lower field".techniques', 60),
        (
            SMALL + "".join(f"[supplies.tools.t{i}]\nprice = 1\nlasts_years = 1\n" for i in range(201)),
            "supplies.tools",
            200,
        ),
    ],
    ids=lambda part: part if isinstance(part, str) and len(part) < 40 else "",
)
def test_every_list_that_a_farm_holds_has_a_limit(text, key, most):
    assert any(
        re.fullmatch(rf"farm\.toml: {re.escape(key)} has \d+ entries\. Write at most {most}\.", sentence)
        for sentence in refusal(text)
    )


# Every mistake is a sentence


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            put("wage_per_day", "1" + "0" * 5000),
            "farm.toml, line 11: found a number of 5,001 digits. Write one of at most 15 digits.",
        ),
        (
            put("wage_per_day", "0x1" + "0" * 3999),
            f"farm.toml: household.wage_per_day is 0x1{'0' * 37}…{'0' * 39}. Write a number of 0 or more ({{unit}}).",
        ),
        (
            put("horizon_years", "0x1" + "0" * 3999),
            f"farm.toml: appraisal.horizon_years is 0x1{'0' * 37}…{'0' * 39}. "
            "Write a whole number from 1 to 40 (years).",
        ),
        (
            put("wage_per_day", BIG),
            f"farm.toml: household.wage_per_day is 1{'0' * 39}…{'0' * 39}. Write a number of 0 or more ({{unit}}).",
        ),
        (
            put("rate_per_year", BIG),
            f'farm.toml: loans "Bank".rate_per_year is 1{"0" * 39}…{"0" * 39}. Write a number from 0 to 2 ({{unit}}).',
        ),
        (
            SMALL + LOAN + f"grace_months = {BIG}\n",
            f'farm.toml: loans "Bank".grace_months is 1{"0" * 39}…{"0" * 39}. '
            "Write a whole number from 0 to 240 (months).",
        ),
        (
            put("horizon_years", -5),
            "farm.toml: appraisal.horizon_years is -5. Write a whole number from 1 to 40 (years).",
        ),
        *(
            (
                put("start", f'"{month}"'),
                f'farm.toml: appraisal.start is "{month}". Write a year and month in quotes, such as "2027-04".',
            )
            for month in ("0000-01", "0000-12", "10000-01", "-001-01", "2027-13", "２０２７-01")
        ),
    ],
    ids=lambda part: part[11:60] if part.startswith("farm.toml") else "",
)
def test_a_number_or_month_that_nobody_can_reckon_with_is_told(text, sentence):
    """Tracebacks before: integers of over 4,300 digits or hex, 1 and 400 zeros, years outside 1–9999."""
    whole, hole, tail = sentence.partition("{unit}")
    (said,) = refusal(text)
    assert said.startswith(whole)
    assert said.endswith(tail)
    assert hole or said == sentence


@pytest.mark.parametrize(
    ("text", "key"),
    [
        (SMALL + '[[plan]]\nstand = "Lower field"\ntechnique = {a = 1}\ntrees = 1\nstart = "2027-04"\n', "technique"),
        (SMALL + '[[plan]]\nstand = {a = 1}\ntechnique = "side_graft"\ntrees = 1\nstart = "2027-04"\n', "stand"),
        (SMALL + "[comparison]\nheadline = {a = 1}\n", "headline"),
        (SMALL + "[comparison]\nstand = [[1]]\n", "stand"),
        (SMALL + "techniques = [{a = 1}]\n", "techniques[1]"),
        (SMALL + "[techniques.side_graft]\nbased_on = {a = 1}\n", "based_on"),
        (SMALL + "[techniques.side_graft]\ntools = [{a = 1}]\n", "tools[1]"),
        (SMALL + "[planning.learning]\ntechniques = [{a = 1}]\n", "techniques[1]"),
        (put("season", "{ window = { a = 1 } }"), "window"),
        (SMALL + LOAN.replace("[10]", "[{a = 1}]"), "harvest_months[1]"),
        (SMALL + LOAN.replace('"Bank"', "{a = 1}"), "name"),
    ],
    ids=range(11),
)
def test_a_table_where_a_name_is_wanted_is_told(text, key):
    assert any(f"{key} is {{a}}" in said or f"{key} is [[1]]" in said for said in refusal(text))


def test_a_schedule_beyond_the_year_9999_is_told():
    said = refusal(put("term_months", 480).replace("2027-04", "9989-11").replace("2027-01", "9970-01"))
    assert any("the last instalment falls in 10029-10, after the years looked at" in sentence for sentence in said)
    with pytest.raises(ScenarioError) as caught:
        demo_scenario().changed(appraisal__start="9999-12", plan=(), loans=())
    assert "go beyond the year 9999" in str(caught.value)


def test_a_sentence_quotes_at_most_eighty_characters_of_what_was_found():
    for text in (put("currency", '"' + "x" * 5000 + '"'), put("wage_per_day", '"' + "7" * 5000 + '"')):
        assert all(len(quote) <= 82 for said in refusal(text) for quote in re.findall(r'"[^"]*"', said))
    (said,) = refusal(SMALL + f'["{"k" * 100_000}"]\n')
    assert len(said) < 400


# Broken at random


NUMBERS = ("-1", "0", "1e400", "-1e-320", "nan", "inf", BIG, "0x" + "f" * 500, "1" + "0" * 4400, "9" * 20, "0.1.2")
TEXTS = ('"0000-01"', '"9999-12"', '"ｘ"', '""', '"' + "y" * 300 + '"')
VALUES = (*NUMBERS, *TEXTS, "true", "[]", "[[]]", "{}", "{a = 1}")
KEYS = ("name", "trees", "start", "month", "term_months", "grace_months", "harvest_months", "technique", "stand")
ODD_LETTERS = "\"'.=[\\{é\u202e"


def broken(text, draw):
    """A text with a few of its lines, values or letters changed, doubled, moved or lost."""
    lines = text.splitlines()
    for _ in range(draw.randint(1, 4)):
        at = draw.randrange(len(lines))
        kind = draw.randrange(8)
        if kind == 0:
            del lines[at]
        elif kind == 1:
            lines.insert(draw.randrange(len(lines)), lines[at])
        elif kind in (2, 3) and "=" in lines[at]:
            lines[at] = lines[at].split("=")[0] + "= " + draw.choice(VALUES)
        elif kind == 4:
            lines[at] = re.sub(r"-?\d[\d.]*", lambda _: draw.choice(NUMBERS), lines[at])
        elif kind == 5:
            lines.insert(at, f"{draw.choice(KEYS)} = {draw.choice(VALUES)}")
        elif kind == 6 and lines[at]:
            letter = draw.randrange(len(lines[at]))
            lines[at] = lines[at][:letter] + draw.choice(ODD_LETTERS) + lines[at][letter:]
        else:
            first = draw.randrange(len(lines))
            lines[at:at] = lines[first : first + draw.randint(1, 40)] * draw.choice((1, 2, 100))
        lines = lines or ["x = 1"]
    return "\n".join(lines)


SOURCES = [*(path.read_text("utf-8") for path in FARMS), write_scenario(demo_scenario()), SMALL + LOAN]


def broken_files(seeds):
    """Read a broken file for each seed; the number that was refused."""
    refused = 0
    for seed in seeds:
        draw = random.Random(seed)
        text = broken(draw.choice(SOURCES), draw)
        try:
            refused += bool(refusal(text))
        except BaseException:
            print(f"seed {seed}")
            raise
    return refused


@pytest.mark.parametrize("start", range(0, 500, 100))
def test_a_file_broken_at_random_is_read_or_told(start):
    assert 50 < broken_files(range(start, start + 100)) < 100


@pytest.mark.long
@pytest.mark.parametrize("start", range(500, 10_500, 1000))
def test_ten_thousand_files_broken_at_random_are_read_or_told(start):
    assert 500 < broken_files(range(start, start + 1000)) < 1000
