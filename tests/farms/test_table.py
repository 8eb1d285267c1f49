"""Tables of farms: read as they come, refused where the models refuse, each mistake in one sentence."""

import random
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import renovation
from renovation.farms.columns import columns_of
from renovation.farms.refused import sentence
from renovation.farms.table import Tables, check, open_tables
from renovation.inputs import ScenarioError, demo_scenario, read_decimal
from renovation.inputs.errors import MOST_QUOTED
from renovation.inputs.tally import Tally, TreeClass, walked
from renovation.words import Words

WORDS = Words("en")
WHOLE = "Write a whole number of the smallest unit of the currency, 0.01, or 0 where there is no such loan."
FARM = demo_scenario()


def rows(**columns):
    """A table of one stand a farm."""
    length = max(len(cells) for cells in columns.values())
    base = {"farm": [f"F{i}" for i in range(length)], "stand": ["Hill"] * length, "stands.trees": [90] * length}
    return pd.DataFrame(base | {path.replace("__", "."): cells for path, cells in columns.items()})


def said(found):
    """Every refusal in full."""
    return [sentence(mistake, WORDS) for mistake in found.refused.to_dict("records")]


def names(batches):
    return [name for batch in batches for name in batch.farms.index]


def test_a_farm_with_a_mistake_goes_whole_and_the_others_stay():
    table = pd.DataFrame(
        {"farm": ["A", "A", "B"], "stand": ["Hill", "Low", "Hill"], "stands.trees": [90, -1, 40], "village": "Upper"}
    )
    found = check(FARM, table)
    assert said(found) == ["A and Low, stands.trees: found -1. Write a whole number from 1 to 1,000,000 (trees)."]
    assert (found.farms, found.stands, found.refused_farms, found.tried, found.disagreed) == (2, 3, 1, 1, 0)
    assert found.too_many
    (batch,) = found.batches()
    assert list(batch.farms.index) == ["B"]
    assert list(batch.farms["village"]) == ["Upper"]
    assert batch.scenario("B").stands[0].trees == 40


def test_a_number_in_text_is_read_by_the_one_reader():
    found = check(FARM, rows(stands__crop_per_tree=["0,35", "0.5", "1,500", "", "1 500", "1.5.5", "much"]))
    (batch,) = found.batches()
    assert list(batch.of_stands("stands.kg_per_tree")) == [0.35, 0.5, FARM.stands[0].kg_per_tree]
    assert [line.split(": ", 1)[1].split(". ")[0] for line in said(found)] == [
        "found 1,500",
        "found 1500",
        "found 1.5.5",
        "found much",
    ]
    assert "Write 1500 for the large number, or 1,5 for the small one." in said(found)[0]


@pytest.mark.parametrize(
    ("column", "told"),
    [
        ("stands.crop_per_tre", "Did you mean stands.crop_per_tree?"),
        ("household.saving", "Did you mean household.savings?"),
        ("appraisal.discount_rate", "is not a column of such a table"),
    ],
)
def test_a_column_that_no_template_knows_is_refused(column, told):
    with pytest.raises(ScenarioError, match=told.replace("?", "[?]")):
        open_tables(FARM, rows(**{column.replace(".", "__"): [1]}))


@pytest.mark.long
def test_names_of_every_kind_and_none():
    table = pd.DataFrame(
        {"farm": ["=1+1", " ", None, "a\x07b", "x" * 81, "17"], "stand": "Hill", "stands.trees": [1, 1, 1, 1, 1, 1]}
    )
    found = check(FARM, table)
    assert names(found.batches()) == ["=1+1", "17"]
    assert list(found.refused["row"]) == [2, 3, 4, 5]
    assert found.refused_farms == 4


@pytest.mark.long
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("sign", [",", ";", "\t"])
def test_a_csv_of_any_usual_kind_is_read(tmp_path, encoding, sign):
    lines = [["farm", "stand", "stands.trees"], ["Ñandú", '"Hill"', "90"], ["B", "Low", "40"], ["Ñandú", "Low", "7"]]
    path = tmp_path / "stands.csv"
    path.write_bytes("\r\n".join(sign.join(line) for line in lines).encode(encoding))
    found = {name: batch for batch in check(FARM, path).batches() for name in batch.farms.index}
    assert sorted(found) == ["B", "Ñandú"]
    assert [stand.trees for stand in found["Ñandú"].scenario("Ñandú").stands] == [90, 7]


@pytest.mark.long
@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "is empty"),
        (b"\x89PNG\0\0", "neither Parquet nor CSV"),
        (b"PAR1nothing", "damaged or breaks off"),
        (b"farm,stand,stands.trees\nA,\x81\x8d\n", "holds letters that cannot be read"),
        (b"farm,farm,stand\n", "the column farm is there twice"),
        (b"farm,stands.trees\nA,3\n", "there is no column stand"),
    ],
)
def test_a_file_that_is_no_table_is_told(tmp_path, content, told):
    path = tmp_path / "stands.csv"
    path.write_bytes(content)
    with pytest.raises(ScenarioError, match=told):
        check(FARM, path)
    with pytest.raises(ScenarioError, match="there is no such file"):
        check(FARM, tmp_path / "none.csv")


@pytest.mark.long
def test_a_row_of_too_many_cells_refuses_its_farm(tmp_path):
    path = tmp_path / "stands.csv"
    path.write_text("farm,stand,stands.trees\nA,Hill,90\nA,Low,3,5\nB,Hill,4\n", "utf-8")
    found = check(FARM, path)
    (told,) = said(found)
    assert told.startswith("A, : found A,Low,3,5. The row has 4 cells, and the table 3 columns. Put a text with a")
    assert names(found.batches()) == ["B"]


def checked_or_said(path):
    try:
        return check(FARM, path, tried=0)
    except ScenarioError as error:
        return str(error)


@pytest.mark.long
def test_spoiled_csv_files_are_read_or_told_and_every_farm_is_counted(tmp_path):
    sound = b'farm,stand,stands.trees\nA,Hill,90\nA,Low,"40"\n\nB,Hill,3\n,,\n'
    marks = (b'"', b",", b";", b"\n", b"\r", b"\0", b"\xff", b"\xe2\x80\xae", b"=1", b"9" * 300, b"\x1a", b"\xc3")
    path = tmp_path / "stands.csv"
    told = 0
    for seed in range(150):
        draw = random.Random(seed)
        content = bytearray(sound)
        for _ in range(draw.randint(0, 2)):
            place = draw.randrange(24, len(content))
            content[place : place + draw.choice([0, 0, 1, 9])] = draw.choice(marks)
        path.write_bytes(content)
        found = checked_or_said(path)
        if isinstance(found, str):
            assert found.startswith("stands.csv")
            continue
        told += len(said(found)) > 0
        assert len(names(found.batches())) == found.farms - found.refused_farms, bytes(content)
    assert told > 20


@pytest.mark.long
def test_farms_whose_rows_are_apart_are_whole_and_row_groups_change_nothing(tmp_path):
    rng = np.random.default_rng(5)
    count = 4000
    table = pd.DataFrame(
        {
            "farm": [f"F{i % count}" for i in range(2 * count)],
            "stand": ["Hill"] * count + ["Low"] * count,
            "stands.trees": rng.integers(1, 500, 2 * count),
            "household.savings": [float(i % count) for i in range(2 * count)],
        }
    )
    path = tmp_path / "stands.parquet"
    expected = None
    for order in (table, table.sort_values("farm", kind="stable"), table.sample(frac=1, random_state=1)):
        order.to_parquet(path, row_group_size=700, index=False)
        found = check(FARM, path, tried=5)
        assert (found.farms, found.refused_farms, found.disagreed) == (count, 0, 0)
        stands = pd.concat([batch.stands for batch in found.batches(300)])
        farms = pd.concat([batch.farms for batch in found.batches(300)])
        assert not farms.index.has_duplicates
        got = stands.sort_values(["farm", "stand"], ignore_index=True), farms.sort_index()
        if expected is not None:
            pd.testing.assert_frame_equal(got[0], expected[0])
            pd.testing.assert_frame_equal(got[1], expected[1])
        expected = got


@pytest.mark.long
def test_two_tables_are_joined_by_the_farm():
    stands = rows(household__floor=[10.0, 20.0, None, None])
    farms = pd.DataFrame({"farm": ["F2", "F0", "F1", "F1", "F9"], "household.savings": [2.0, 0.0, 1.0, 1.0, 9.0]})
    found = check(FARM, stands, farms)
    (batch,) = found.batches()
    assert list(batch.of_farms("household.savings")) == [0.0, 2.0]
    assert list(batch.of_farms("household.floor")) == [10.0, FARM.household.floor]
    told = dict(zip(found.refused["farm"], found.refused["accepted"], strict=True))
    assert told == {
        "F1": "The table of farms has several rows for it. Keep one.",
        "F3": "The table of farms has no row for it. Add one, or correct the name.",
        "F9": "The table of stands has no row for this farm. Add one, or take the farm out.",
    }
    assert found.farms == 5


@pytest.mark.long
def test_what_rows_of_a_farm_say_of_it_must_agree():
    table = pd.DataFrame(
        {
            "farm": ["A", "A", "B", "B"],
            "stand": ["Hill", "Low"] * 2,
            "stands.trees": 5,
            "household.savings": [5, 5, 5, 6],
        }
    )
    found = check(FARM, table)
    (told,) = said(found)
    assert told.startswith("B and Low, household.savings: found 6. Another row of this farm says 5. Write the same")


@pytest.mark.long
def test_each_farm_has_the_template_that_it_names():
    other = FARM.changed(household__savings=77.0)
    table = rows(template=["one", "two", "twoo", None])
    found = check({"one": FARM, "two": other}, table)
    saved = {name: batch.scenario(name).household.savings for batch in found.batches() for name in batch.farms.index}
    assert saved == {"F0": FARM.household.savings, "F1": 77.0}
    assert "Did you mean two? Write one of: one and two." in said(found)[0]


@pytest.mark.long
def test_a_walk_in_a_table_is_a_walk():
    walk = Tally(
        good=TreeClass(trees=20, pods_per_tree=30.0),
        poor=TreeClass(trees=60, pods_per_tree=4.0),
        bare=TreeClass(trees=10),
        empty_places=7,
    )
    path = {f"tally.{name}.trees": [getattr(walk, name).trees] for name in ("good", "poor", "bare")}
    path |= {f"tally.{name}.pods_per_tree": [getattr(walk, name).pods_per_tree] for name in ("good", "poor")}
    table = rows(**path, **{"tally.empty_places": [7], "stands.hectares": [0.3]}).drop(columns="stands.trees")
    farm = next(check(FARM, table).batches()).scenario("F0")
    alone = FARM.stands[0].model_copy(update={"name": "Hill", "hectares": 0.3})
    expected = walked(
        FARM.model_copy(update={"stands": (alone,), "plan": (), "comparison": farm.comparison}),
        "Hill",
        walk,
        lambda name: WORDS(f"tally.class.{name}"),
        25.0,
    )
    assert farm.stands == expected.farm.stands


@pytest.mark.long
def test_sums_in_one_place_only_and_trees_that_there_are():
    table = rows(
        stands__crop_per_tree=[0.3, None, None, None],
        stands__pods__pods_per_tree=[9.0, None, None, None],
        **{
            "loans.Tree loan.amount": [None, 100.005, None, None],
            "under_way.side_graft.trees": [None, None, 91, 90],
            "under_way.side_graft.start": [None, None, "2026-04", "2026-04"],
        },
    )
    assert [line.split(": ", 1)[1] for line in said(check(FARM, table))] == [
        "found 0.3. stands.pods says it in another way. Keep one of the two.",
        "Nothing is written here. Write a number from 5 to 100 (pods per kg of dry beans).",
        "Nothing is written here. Write a number from 0 to 1 (share; 0.25 is 25%).",
        f"found 100.005. {WHOLE}",
        "found 91. Trees of the stand: 90. Write 90 or fewer in all.",
        "All trees of the farm are under way, and none is left to weigh. Add a stand with other trees.",
        "All trees of the farm are under way, and none is left to weigh. Add a stand with other trees.",
    ]


@pytest.mark.long
def test_the_table_of_the_readme_is_read_as_it_says(tmp_path):
    readme = (Path(renovation.__file__).parent.parent / "README.md").read_text("utf-8")
    path = tmp_path / "stands.csv"
    path.write_text(readme.partition("<!-- stands.csv -->\n```\n")[2].partition("```")[0], "utf-8")
    found = check(FARM, path)
    assert (found.farms, found.stands, found.refused_farms, found.disagreed) == (2, 3, 0, 0)
    (batch,) = found.batches()
    one, two = batch.scenario("Farm 1"), batch.scenario("Farm 2")
    assert (one.stands[1].crop_per_tree, one.under_way[0].waiting, one.loans) == (0.25, 40, ())
    assert (two.stands[0].pods, two.loans[0].amount, two.household.savings) == (FARM.stands[1].pods, 600.0, 150.0)


# Columns and models agree

NUMBERS = [
    column
    for column in columns_of(FARM).values()
    if column.is_number and column.path.split(".")[0] not in ("tally", "under_way")
]


def at_the_ends(column):
    """Values at, just inside and just outside the bounds of a column, and among them."""
    ends = [edge for edge in (column.bounds.lower, column.bounds.upper) if edge is not None]
    near = [float(to) for edge in ends for to in (edge, np.nextafter(edge, -np.inf), np.nextafter(edge, np.inf))]
    wide = st.floats(allow_nan=False) | st.integers(-3, 1_000_003).map(float)
    return st.none() | st.sampled_from([*near, 0.0, 1.0, 0.25, 0.4]) | wide


@st.composite
def tables(draw):
    """Some farms that state some columns, by values that the models mostly refuse or just accept."""
    chosen = draw(st.lists(st.sampled_from(NUMBERS), min_size=1, max_size=4, unique_by=lambda column: column.path))
    length = draw(st.integers(1, 6))
    cells = {column.path: draw(st.lists(at_the_ends(column), min_size=length, max_size=length)) for column in chosen}
    trees = cells.pop("stands.trees", [90.0] * length)
    return rows().iloc[:0] if length == 0 else rows(**cells, **{"stands.trees": trees})


@st.composite
def under_way(draw):
    """Trees under way by side grafts: months, tries and counts that may be and that may not."""
    length = draw(st.integers(1, 6))

    def column(values):
        return draw(st.lists(values, min_size=length, max_size=length))

    table = rows(
        **{"stands.trees": [40] * length, "under_way.side_graft.trees": column(st.sampled_from([1, 20, 40, 41]))}
    )
    start = column(st.sampled_from(["2025-10", "2026-04", "2026-12", "2027-01", "2027-02", "2060-01"]))
    made = column(st.integers(0, FARM.techniques["side_graft"].attempts.value))
    table["under_way.side_graft.start"] = start
    for number in range(1, FARM.techniques["side_graft"].attempts.value + 1):
        taken = column(st.sampled_from([0, 5, 20]))
        table[f"under_way.side_graft.taken.{number}"] = [
            t if m >= number else None for t, m in zip(taken, made, strict=True)
        ]
    table["under_way.side_graft.given_up"] = column(st.sampled_from([None, 0, 10, 35]))
    return table


@pytest.mark.long
@settings(max_examples=60, deadline=None)
@given(tables() | under_way())
def test_columns_refuse_a_farm_where_the_models_do(table):
    found = check(FARM, table, tried=0)
    refused = set()
    for farm in table["farm"]:
        try:
            as_it_stands(table).scenario(farm)
        except ScenarioError:
            refused.add(farm)
    assert set(found.refused["farm"]) == refused


def as_it_stands(table):
    """A batch that nobody checked."""
    from renovation.farms import Batch

    known = columns_of(FARM)
    ours = [path for path in known if path in table]
    farms = table.set_index("farm")[[path for path in ours if not known[path].of_stand]]
    return Batch(FARM, farms, table[["farm", "stand", *[path for path in ours if known[path].of_stand]]])


@pytest.mark.long
@given(st.from_regex(r"\A ?-?[0-9]{0,5}[.,]?[0-9]{0,5} ?\Z"))
@settings(max_examples=300, deadline=None)
def test_numbers_in_text_are_those_of_the_one_reader(text):
    import pyarrow as pa

    from renovation.farms.cells import read_cells

    read = read_cells(columns_of(FARM)["household.savings"], pa.array([text]))
    value, codes = read.cells[0], [wrong.code for wrong in read.wrong]
    alone = read_or_code(text)
    assert (value if not np.isnan(value) else codes) == (alone if alone != "empty" else [])


def read_or_code(text):
    try:
        return read_decimal(text)
    except ScenarioError as error:
        code = error.problems[0].code.removeprefix("typed.")
        return code if code == "empty" else [code]


# Hostile rows

HOSTILE = (
    "much", "NaN", "inf", "-inf", "-1", "1e309", "9" * 400, "2027-04-01", "true", "1,500", "1.500.000", "", " ",
    "\x00", "a\x07b", "=1+1", "+CMD", "-2+3", "@SUM(A1)", "\u202e12", "٣", "0x10", "1_000", "'", '"', "\n", "--5",
    "1/2", "½", "null", "None", "#REF!", "€5", "5 kg", "12:30", "\ufeff7", "1e5", "⅗", "𝟙", "0.1 0.2", "{}", "[1]",
)  # fmt: skip


@pytest.mark.long
def test_a_hundred_thousand_hostile_rows_get_a_sentence_each_and_no_traceback(tmp_path):
    rng = np.random.default_rng(9)
    count = 100_000
    paths = ["farm", "stand", "stands.trees", "stands.crop_per_tree", "stands.techniques", "stands.untouched"]
    paths += ["household.savings", "under_way.side_graft.start", "under_way.side_graft.trees", "tally.good.trees"]
    odd = np.array(HOSTILE, dtype=object)
    table = pd.DataFrame({path: odd[rng.integers(0, len(odd), count)] for path in paths})
    table["farm"] = [f"{name} {place}" for place, name in enumerate(table["farm"])]
    table["stands.decline_per_year"] = rng.choice([np.nan, np.inf, -np.inf, -1.0, 1e300, 0.05], count)
    path = tmp_path / "hostile.parquet"
    table.to_parquet(path)
    found = check(FARM, path, tried=20)
    refused = set(found.refused["row"])
    assert len(refused) + sum(len(batch) for batch in found.batches()) == count
    assert len(refused) > 0.99 * count
    told = found.refused.drop_duplicates("row")
    assert told["accepted"].str.fullmatch(r"[A-Z{\[].*[.]").all() | told["accepted"].str.len().gt(10).all()
    assert found.refused["found"].str.len().max() <= MOST_QUOTED
    assert found.refused["found"].map(str.isprintable).all()
    assert isinstance(found.tables, Tables)
    assert found.disagreed == 0
