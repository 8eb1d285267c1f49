"""Tables: what a cell says against the result it stands for, and a setting on the terminal that never cuts."""

import re
from dataclasses import replace
from types import MappingProxyType

import pytest
from factories import figure, scenario, technique_data
from hypothesis import given
from hypothesis import strategies as st
from results import stated

from renovation.decide import compare, npv_per_tree, ranges
from renovation.inputs import (
    Appraisal,
    Figure,
    Household,
    Learning,
    Loan,
    Market,
    Payout,
    Planning,
    Risk,
    Stand,
    Stress,
    declared,
    default_supplies,
    default_techniques,
    demo_names,
    demo_scenario,
)
from renovation.money import Irr
from renovation.show import figures
from renovation.show.compare import sentences, tables
from renovation.show.grid import Column, Table, render
from renovation.words import Words

WORDS = Words("en")
NO_BREAK = "\N{NO-BREAK SPACE}"


@pytest.fixture(scope="module")
def demo():
    """Every way on the demo farm."""
    return compare(demo_scenario())


def row(table: Table, first: str) -> dict[str, str]:
    """The row whose first cell is given."""
    return next(record for record in table.records() if next(iter(record.values())) == first)


# Measures


def test_measures_stand_side_by_side_as_the_comparison_has_them(demo):
    table = tables.measures(demo, WORDS)
    assert [column.key for column in table.columns] == ["measure", *demo.outcomes]
    assert len(table.rows) == len(tables.MEASURES)
    for key, outcome in demo.outcomes.items():
        assert row(table, "Net present value")[key] == WORDS.money(outcome.measures.npv, "USD", 0)
        assert row(table, "Net present value a tree")[key] == WORDS.money(outcome.per_tree.npv, "USD")
        assert row(table, "Benefit-cost ratio")[key] == f"{outcome.measures.benefit_cost:.2f}"
        assert row(table, "Rate of return a year")[key] == f"{outcome.measures.irr.value:.1%}"
        assert row(table, "Start of work on the trees")[key] == WORDS.month(outcome.treatment.start)


def test_a_blank_a_late_payback_and_several_rates_are_said_in_the_cell(demo):
    outcome = demo.outcomes["side_graft"]
    measures = replace(
        outcome.measures,
        mirr=None,
        irr=Irr(None, (0.25, 4.0), "several"),
        payback_years=None,
        discounted_payback_years=0.0,
    )
    changed = replace(demo, outcomes=MappingProxyType({"side_graft": stated(outcome, measures=measures)}))
    cells = {name: tables.measure_cell(changed, "side_graft", name, WORDS) for name in tables.MEASURES}
    assert cells["mirr"] == "–"
    assert cells["irr"] == "not unique: 25.0% and 400.0%"
    assert cells["payback_years"] == "not within 25 years"
    assert cells["discounted_payback_years"] == "at once"


def test_sums_of_money_in_one_row_show_the_same_decimals(demo):
    for name in ("Net present value", "Worth a year", "Most money out"):
        cells = list(row(tables.measures(demo, WORDS), name).values())[1:]
        assert len({"." in cell for cell in cells}) == 1


@pytest.mark.parametrize("name", demo_names())
def test_a_break_even_value_in_the_table_is_the_one_in_the_sentence(name):
    """Both rounded to the side on which the way still pays: a price is not 1.96 here and 1.97 there."""
    comparison = compare(demo_scenario(name))
    for key in (comparison.headline, comparison.against):
        said = " ".join(sentences.break_even(comparison, key, WORDS))
        for driver in ("price_per_kg", "wage_per_day", "mature_crop"):
            assert tables.measure_cell(comparison, key, f"break_even_{driver}", WORDS) in said


def test_no_unit_beside_a_percentage_speaks_of_a_decimal_share():
    """A cell says 8%; "share a year; 0.05 is 5%" beside it would be another number."""
    models = (Appraisal, Market, Household, Loan, Payout, Risk, Stress, Planning, Learning, Stand)
    units = {declared(model, name).unit for model in models for name in model.model_fields}
    shares = {unit for unit in units if unit.startswith("share")}
    assert len(shares) > 8
    for unit in shares:
        assert figures.figure_cell(0.08, unit, WORDS) == "8%"
        told = figures.figure_unit(unit, "USD", WORDS)
        assert not re.search(r"\d|share", told), (unit, told)


# Years


@pytest.mark.parametrize("name", demo_names())
def test_the_year_table_holds_every_year_and_its_figures(name):
    comparison = compare(demo_scenario(name))
    key = comparison.headline
    table, rows = tables.years(comparison, key, WORDS), comparison.outcomes[key].year_rows()
    assert len(table.rows) == len(rows) == comparison.scenario.appraisal.horizon_years
    for cells, row in zip(table.records(), rows, strict=True):
        for column in tables.YEAR_COLUMNS:
            shown = float(cells[column].replace(",", ""))
            digits = len(cells[column].partition(".")[2])
            assert shown == pytest.approx(row[column], abs=0.5 * 10**-digits + 1e-9)
    first = comparison.scenario.appraisal.start
    assert table.records()[0]["from_month"].replace(NO_BREAK, " ") == WORDS.month(first)


def test_the_year_table_names_its_currency():
    comparison = compare(demo_scenario("few_hands"))
    headings = [column.heading for column in tables.years(comparison, comparison.headline, WORDS).columns]
    sign = WORDS.currency_sign(comparison.scenario.appraisal.currency)
    assert sum(heading.endswith(sign) for heading in headings) == 7


# Stands, ranges


def test_npv_of_one_tree_by_stand_and_way(demo):
    values = npv_per_tree(demo.scenario)
    table = tables.npv_per_tree(demo.scenario, values, WORDS)
    assert [cells[0] for cells in table.rows] == [stand.name for stand in demo.scenario.stands]
    gap = row(table, "Gap field")
    assert gap["side_graft"] == "not for this stand"  # the stand names the ways that suit it
    assert gap["rooted_cutting"] == WORDS.money(values["Gap field"]["rooted_cutting"], "USD")
    none = {"Gap field": {"rooted_cutting": None}}
    assert row(tables.npv_per_tree(demo.scenario, none, WORDS), "Gap field")["rooted_cutting"] == "no month suits"


def test_ranges_stand_widest_first_and_all_together_last(demo):
    swings = ranges(demo, "side_graft")
    table = tables.ranges(demo, "side_graft", swings, WORDS)
    by_driver = {WORDS(f"compare.driver.{swing.driver}"): swing for swing in swings}
    widths = [by_driver[cells[0]].width for cells in table.rows[:-1]]
    assert widths == sorted(widths, reverse=True)
    assert table.rows[-1][0] == "everything together"
    price = row(table, "the price")
    assert (price["low"], price["high"]) == ("$3.20", "$4.80")  # 4.00 less and more a fifth
    assert row(table, "the share that takes")["low"] == "20%, 53%"
    assert row(table, "the crop of the grown tree")["high"] == "2.34 kg a year"


# Figures and where they come from


@pytest.mark.parametrize("key", default_techniques())
def test_every_figure_of_a_default_is_shown_with_its_source(key):
    """Counted from the model: every figure anywhere below the technique has a row."""

    def count(node) -> int:
        if isinstance(node, Figure):
            return 1
        if isinstance(node, dict):
            return sum(map(count, node.values()))
        if isinstance(node, tuple):
            return sum(map(count, node))
        if hasattr(type(node), "model_fields"):
            return sum(count(getattr(node, name)) for name in type(node).model_fields)
        return 0

    technique = default_techniques()[key]
    table = figures.technique_figures(technique, default_supplies(), "USD", key, WORDS)
    sources = [cells["source"] for cells in table.records()][1:]  # the first row is the months of the calendar
    assert len(sources) == count(technique)
    known = [WORDS(f"source.{source}") for source in ("published", "common practice", "from memory", "invented")]
    assert all(source.startswith(tuple(known)) for source in sources)
    for cells in table.records():
        if cells["source"].startswith("published"):
            assert cells["source"].startswith("published: ")  # the citation stands beside it


def test_own_numbers_are_marked():
    farm = demo_scenario()
    stated = farm.techniques["side_graft"].mature_crop.model_dump()
    farm = farm.changed(techniques__side_graft__mature_crop={**stated, "value": 1.2, "source": "own"})
    cells = row(figures.figures(farm, "side_graft", WORDS), "Crop of a grown tree")
    assert (cells["value"], cells["source"]) == ("1.2", "own number")


def test_figures_are_shown_as_people_read_them():
    published = Figure[float].model_validate({**figure(0.15, "share", 0.05, 0.4), "citation": "Somebody 2001"})
    assert figures.figure_row(published, "USD", WORDS) == ("15%", "5% – 40%", "–", "invented: Somebody 2001")
    fixed = Figure[float].model_validate(figure(0.00571428, "person-days/tree"))
    assert figures.figure_row(fixed, "USD", WORDS) == ("0.00571", "0.00571", "days of work per tree", "invented")
    money = Figure[float].model_validate(figure(655.0, "XAF/tree/year"))
    assert figures.figure_row(money, "XAF", WORDS)[2] == "FCFA per tree and year"
    assert figures.figure_cell((), "months, share", WORDS) == "none"
    assert figures.figure_cell(0.125, "share", WORDS) == "12.5%"


def test_supplies_are_priced_with_range_and_life():
    table = figures.supplies(default_supplies(), "USD", WORDS, only=["scion", "plastic_strip", "saw"])
    assert [cells[0] for cells in table.rows] == ["Scion", "Plastic strip, 2 × 20 cm", "Saw"]
    assert row(table, "Plastic strip, 2 × 20 cm")["price"] == "$0.005"  # a price below a cent is not rounded away
    assert row(table, "Saw")["lasts"] == "4 (2 – 8)"
    everything = figures.supplies(default_supplies(), "USD", WORDS)
    assert len(everything.rows) == len(default_supplies().items) + len(default_supplies().tools)


def test_the_supplies_of_a_way_are_those_of_its_operations_and_its_tools():
    technique = default_techniques()["side_graft"]
    used = figures.supplies_of(technique)
    assert set(used) >= {"scion", "plastic_strip", "graft_bag", "grafting_knife"}
    assert len(set(used)) == len(used)


def test_cautions_stand_once_with_the_ways_they_belong_to():
    chosen = {key: default_techniques()[key] for key in ("side_graft", "rooted_cutting")}
    table = figures.cautions(chosen, WORDS)
    texts = [cells[0] for cells in table.rows]
    assert len(set(texts)) == len(texts)
    belongs = dict(table.rows)
    assert belongs[WORDS("caution.hormone")] == "Rooted cutting"
    assert belongs[WORDS("caution.blades")] == "all ways"
    assert belongs[WORDS("caution.planning_aid")] == "all ways"


@pytest.mark.parametrize("name", demo_names())
def test_every_name_of_a_farm_has_words(name):
    """A name that the catalogue lacks would be shown as its key: none may be."""
    farm = demo_scenario(name)
    named = [("item", key) for key in farm.supplies.items] + [("tool", key) for key in farm.supplies.tools]
    for technique in farm.techniques.values():
        named += [("operation", key) for key in technique.operations]
        named += [("caution", key) for key in technique.cautions]
    assert not [f"{group}.{key}" for group, key in named if f"{group}.{key}" not in WORDS]
    shown = [cell for key in farm.techniques for cells in figures.figures(farm, key, WORDS).rows for cell in cells]
    assert not [cell for cell in shown if re.search(r"[a-z]_[a-z]", cell)]


# Setting on the terminal

words_of_letters = st.text("abcdefghij.-", min_size=1, max_size=9)
cells = st.lists(words_of_letters, max_size=5).map(" ".join)


@st.composite
def any_table(draw: st.DrawFn) -> Table:
    """A table of up to six columns and five rows."""
    columns = draw(st.integers(1, 6))
    heads = draw(st.lists(cells, min_size=columns, max_size=columns))
    sides = draw(st.lists(st.sampled_from(["left", "right"]), min_size=columns, max_size=columns))
    rows = draw(st.lists(st.lists(cells, min_size=columns, max_size=columns).map(tuple), max_size=5))
    made = tuple(Column(f"c{i}", head, side) for i, (head, side) in enumerate(zip(heads, sides, strict=True)))
    return Table("A table", made, tuple(rows))


@given(any_table(), st.integers(10, 120))
def test_a_table_on_the_terminal_loses_no_word_and_fits_where_words_allow(table, width):
    lines = render(table, width).split("\n")
    shown = sorted(word for line in lines for word in line.split() if not set(word) <= {"─"})
    wanted = [column.heading for column in table.columns[1:]] + [c for cells in table.rows for c in cells[1:]]
    for word in {word for cell in wanted for word in cell.split()}:
        assert shown.count(word) >= sum(cell.split().count(word) for cell in wanted)
    longest = max((len(word) for word in shown), default=0)
    if longest * 2 + 2 <= width:  # the first column and one other stand side by side at the least
        assert max(map(len, lines)) <= width


def test_columns_are_aligned_and_numbers_stand_on_the_right():
    table = Table(
        "Crops",
        (Column("stand", "Stand"), Column("kg", "kg", "right")),
        (("Hill", "1,200"), ("Far river field", "7")),
    )
    assert render(table, 80) == "\n".join(
        [
            "Crops",
            "",
            "Stand               kg",
            "───────────────  ─────",
            "Hill             1,200",
            "Far river field      7",
        ]
    )


def test_a_table_too_wide_is_set_in_blocks_with_its_first_column():
    columns = (Column("a", "Name"), *(Column(f"c{i}", f"Column{i}") for i in range(6)))
    table = Table("Wide", columns, (("first", *(f"value{i}" for i in range(6))),))
    text = render(table, 30)
    assert text.count("first") == text.count("Name") > 1
    assert all(f"value{i}" in text for i in range(6))
    assert max(map(len, text.split("\n"))) <= 30


def test_a_table_becomes_a_frame_under_its_headings():
    table = tables.measures(compare(scenario({"way_a": technique_data()})), WORDS)
    frame = table.frame()
    assert list(frame.columns) == ["Measure", "way a"]
    assert frame.shape == (len(tables.MEASURES), 2)
