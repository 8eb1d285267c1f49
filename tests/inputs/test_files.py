"""Scenario files: read, written, read again."""

import tomllib

import pytest
from factories import scenario_data, techniques
from farm_files import SMALL
from hypothesis import given, settings
from hypothesis import strategies as st

from renovation.inputs import (
    Scenario,
    ScenarioError,
    default_supplies,
    default_technique,
    default_techniques,
    demo_names,
    demo_scenario,
    load_scenario,
    read_scenario,
    save_scenario,
    scenario_folder,
    season_from_window,
    write_scenario,
)

GHANA = SMALL.replace('currency = "USD"', 'currency = "GHS"\ncurrency_per_usd = 12.0')


def read(text):
    return read_scenario(text, "test.toml")


@pytest.mark.parametrize("name", demo_names())
def test_every_demo_farm_loads_is_invented_and_comes_back_whole(name):
    scenario = load_scenario(scenario_folder() / f"{name}.toml")
    assert scenario.about.invented
    assert read(write_scenario(scenario)) == scenario
    assert read(write_scenario(scenario)).digest == scenario.digest


def test_every_default_loads():
    assert len(default_techniques()) >= 6
    assert {"side_graft", "rooted_cutting"} <= set(default_techniques())
    assert default_supplies().items
    with pytest.raises(KeyError):
        default_technique("no_such")


def test_a_bare_value_is_own_and_widens_the_range_to_hold_itself():
    default = default_technique("side_graft")
    scenario = read(SMALL + "[techniques.side_graft]\nmature_crop = 5.5\nshade = 0.05\n")
    crop, shade = scenario.techniques["side_graft"].mature_crop, scenario.techniques["side_graft"].shade
    assert (crop.value, crop.source, crop.low, crop.high) == (5.5, "own", default.mature_crop.low, 5.5)
    assert (shade.value, shade.low, shade.high) == (0.05, 0.05, default.shade.high)
    assert crop.unit == default.mature_crop.unit


def test_a_list_of_another_length_goes_on_with_its_last_entry():
    take = read(SMALL + "[techniques.side_graft]\ntake = [0.1, 0.5, 0.95]\n").techniques["side_graft"].take
    default = default_technique("side_graft").take
    low = (*default.low, *default.low[-1:] * 3)[:3]
    high = (*default.high, *default.high[-1:] * 3)[:3]
    assert take.low == tuple(map(min, low, take.value))
    assert take.high == tuple(map(max, high, take.value))


def test_a_curve_of_other_ages_has_no_known_range():
    text = SMALL + "[techniques.side_graft]\nnew_crown = [[11, 0.0], [40, 1.0]]\n"
    crown = read(text).techniques["side_graft"].new_crown
    assert crown.value == crown.low == crown.high == ((11, 0.0), (40, 1.0))


def test_part_of_a_figure_keeps_the_rest():
    default = default_technique("side_graft").shade
    shade = read(SMALL + "[techniques.side_graft]\nshade = { high = 0.99 }\n").techniques["side_graft"].shade
    assert (shade.value, shade.low, shade.high) == (default.value, default.low, 0.99)


def test_default_money_is_turned_by_the_stated_rate_and_own_money_is_not():
    dollars = read(SMALL)
    cedis = read(GHANA + "[supplies.items.cord]\nunit_cost = 0.7\n")
    label, cord = cedis.supplies.items["label"].unit_cost, cedis.supplies.items["cord"].unit_cost
    assert label.value == pytest.approx(12 * dollars.supplies.items["label"].unit_cost.value, rel=1e-15)
    assert label.unit == "GHS/unit"
    assert (cord.value, cord.unit, cord.source) == (0.7, "GHS/unit", "own")
    days = "look_and_take_bag_off"
    assert cedis.techniques["side_graft"].operations[days] == dollars.techniques["side_graft"].operations[days]


def test_a_variant_takes_its_base_and_its_own_name():
    text = SMALL.replace('"rooted_cutting"]', '"rooted_cutting", "patient_graft"]')
    text += '[techniques.patient_graft]\nbased_on = "side_graft"\nlabel = "Patient graft"\nattempts = 5\n'
    variant = read(text).techniques["patient_graft"]
    assert (variant.label, variant.attempts.value) == ("Patient graft", 5)
    assert variant.operations == default_technique("side_graft").operations


def test_an_operation_is_left_out_by_name():
    text = SMALL + '[techniques.rooted_cutting]\nleave_out = ["operations.lime"]\n'
    scenario = read(text)
    before, after = default_technique("rooted_cutting").operations, scenario.techniques["rooted_cutting"].operations
    assert set(before) - set(after) == {"lime"}
    assert read(write_scenario(scenario)) == scenario


def test_new_supplies_and_tools_and_work_may_be_added():
    text = SMALL + (
        '[supplies.items.tape]\nunit = "metre"\nunit_cost = 0.02\n'
        "[supplies.tools.ladder]\nprice = 30\nlasts_years = 8\n"
        '[techniques.side_graft]\ntools = ["saw", "ladder"]\n'
        '[techniques.side_graft.operations.tape_up]\nanchor = "attempt"\ndays = 0.01\n'
        'label = "Tape it up"\nmaterials = { tape = { quantity = 0.5 } }\n'
    )
    scenario = read(text)
    assert scenario.supplies.items["tape"].unit_cost.unit == "USD/unit"
    assert scenario.supplies.tools["ladder"].lasts_years.value == 8
    assert scenario.techniques["side_graft"].operations["tape_up"].materials["tape"].demand == 0.5
    assert read(write_scenario(scenario)) == scenario


def test_only_overrides_are_written():
    table = tomllib.loads(write_scenario(read(SMALL)))
    assert "techniques" not in table
    assert "supplies" not in table
    assert table["market"]["season"] == {"window": "Ghana"}
    table = tomllib.loads(write_scenario(read(SMALL + "[techniques.side_graft]\nshade = 0.4\n")))
    assert table["techniques"] == {"side_graft": {"shade": 0.4}}


def test_a_window_with_its_mid_share():
    text = SMALL.replace('window = "Ghana"', 'window = "Ghana", mid_share = 0.16')
    scenario = read(text)
    assert scenario.market.season == season_from_window("Ghana", mid_share=0.16)
    assert read(write_scenario(scenario)) == scenario


@pytest.mark.parametrize("share", ['"0.2"', "true", "1.5", "nan"])
def test_a_wrong_mid_share_is_told(share):
    with pytest.raises(ScenarioError) as caught:
        read(SMALL.replace('window = "Ghana"', f'window = "Ghana", mid_share = {share}'))
    assert [problem.key for problem in caught.value.problems] == ["market.season.mid_share"]


def test_no_text_of_a_person_is_read_as_anything_else():
    odd = 'A "quoted" \\ name = [1]\n# no comment'
    scenario = read(SMALL).changed(about__note=odd, stands__0__name="=1+1")
    again = read(write_scenario(scenario))
    assert (again.about.note, again.stands[0].name) == (odd, "=1+1")


def test_save_puts_the_whole_file_or_leaves_the_old_one(tmp_path, monkeypatch):
    path = tmp_path / "farm.toml"
    save_scenario(read(SMALL), path)
    before = path.read_bytes()

    def fail(*_):
        raise OSError("disk full")

    monkeypatch.setattr("renovation.whole.os.fsync", fail)
    with pytest.raises(OSError, match="disk full"):
        save_scenario(read(SMALL).changed(about__name="Other"), path)
    assert path.read_bytes() == before
    assert [entry.name for entry in tmp_path.iterdir()] == ["farm.toml"]
    monkeypatch.undo()
    save_scenario(read(SMALL).changed(about__name="Other"), path)
    assert load_scenario(path).about.name == "Other"


money = st.floats(0, 1e9, allow_nan=False)
share = st.floats(0, 1, allow_nan=False)
CHANGES = st.fixed_dictionaries(
    {},
    optional={
        "about__name": st.text(st.characters(codec="utf-8"), min_size=1, max_size=20).filter(
            lambda t: t.strip() and "\x00" not in t
        ),
        "about__note": st.text(st.characters(codec="utf-8", exclude_characters="\x00\r"), max_size=40),
        "household__family_days": money | st.tuples(*[money] * 12),
        "household__hired_days_limit": st.none() | money,
        "household__savings": money,
        "market__premium": st.dictionaries(st.just("clone"), st.floats(-0.9, 5)),
        "market__price_per_kg": money,
        "appraisal__discount_rate": share,
        "appraisal__finance_rate": st.none() | share,
        "stands__0__trees": st.integers(600, 1_000_000),
        "stands__0__hectares": st.none() | st.floats(0.01, 1000),
        "stands__1__untouched": st.just(False),
        "stands__0__techniques": st.none() | st.just(("side_graft", "rooted_cutting", "hard_pruning")),
        "loans": st.just(()),
        "plan": st.just(()),
        "comparison__trees": st.none() | st.integers(1, 600),
        "techniques__side_graft__shade__value": st.floats(0.1, 0.6),
        "techniques__side_graft__shade__low": st.floats(0, 0.1),
        "techniques__side_graft__shade__source": st.sampled_from(["own", "invented"]),
        "techniques__side_graft__take__value": st.lists(share, min_size=1, max_size=6).map(tuple),
        "techniques__side_graft__attempts__high": st.integers(5, 12),
        "techniques__side_graft__label": st.none() | st.just("Our graft"),
        "techniques__rooted_cutting__intercrop": st.just(()),
        "techniques__rooted_cutting__tools": st.just(()) | st.just(("saw",)),
        "techniques__side_graft__operations__graft__materials": st.just({}),
        "supplies__items__cord__unit_cost__citation": st.text("ab ", max_size=5),
        "supplies__items__cord__unit_cost__because": st.text("ab ", max_size=5),
        "supplies__tools__saw__price__high": st.floats(1e3, 1e6),
    },
)


@settings(max_examples=25)
@given(CHANGES)
def test_what_is_written_is_read_back_whole(changes):
    scenario = demo_scenario("first_grafters").changed(**changes)
    assert read(write_scenario(scenario)) == scenario
    assert read(write_scenario(scenario)).digest == scenario.digest


@settings(max_examples=20)
@given(st.floats(0.001, 1e5), st.sampled_from(["GHS", "XOF", "IDR"]))
def test_written_back_in_any_currency(rate, currency):
    scenario = read(GHANA.replace('"GHS"', f'"{currency}"').replace("12.0", repr(rate)))
    again = write_scenario(scenario)
    assert "unit_cost" not in again
    assert read(again) == scenario


def test_a_changed_rate_keeps_the_costs_and_is_still_lossless():
    """The rate turns defaults at reading; changing it later in a copy leaves the costs as they were."""
    scenario = read(GHANA).changed(appraisal__currency_per_usd=15.0)
    assert scenario.supplies == read(GHANA).supplies
    assert read(write_scenario(scenario)) == scenario


def test_factors_by_month_are_stated_as_twelve_numbers_and_written_back():
    bare = write_scenario(demo_scenario())
    assert "take_by_month" not in bare
    stated = (0.5, *(1.0,) * 11)
    text = f"{bare}\n[techniques.bud_graft]\ntake_by_month = {list(stated)}\n"
    farm = read_scenario(text, "seasonal.toml")
    figure = farm.techniques["bud_graft"].take_by_month
    assert (figure.value, figure.unit, figure.source) == (stated, "factor by calendar month", "own")
    again = write_scenario(farm)
    assert read_scenario(again, "again.toml") == farm


@settings(max_examples=40)
@given(techniques(), st.sampled_from(["way_a", "side_graft"]), st.sampled_from([None, "bud_graft"]))
def test_a_technique_that_is_wholly_one_s_own_is_read_back_whole(technique, key, base):
    """Also under the name of a default, or said to vary one that it has nothing in common with."""
    data = scenario_data({key: {**technique, "based_on": base}})
    farm = Scenario.model_validate(data)
    assert read(write_scenario(farm)) == farm


def test_a_season_of_one_s_own_is_written_by_its_shares():
    season = {"shares": (0.5, 0.5, *[0.0] * 10), "window": "Ghana"}
    farm = read(SMALL).changed(market__season=season)
    assert tomllib.loads(write_scenario(farm))["market"]["season"]["shares"][:2] == [0.5, 0.5]
    assert read(write_scenario(farm)) == farm
