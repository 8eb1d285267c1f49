"""Your numbers without a browser: what is typed, chosen and taken back is in the farm, or is refused in a sentence."""

import pytest
from screens.visiting import choose, farm, key, run, shown, type_in, upload, visit
from screens.visiting import press as press_key

from renovation.inputs import demo_scenario, read_scenario, write_scenario
from renovation.inputs.notebook import new_farm
from renovation.screens.controls.overrides import own_value
from renovation.screens.controls.text import plain
from renovation.words import Words

WORDS = Words("en")


@pytest.mark.parametrize("way", demo_scenario().techniques)
def test_the_figures_of_every_way_open(way):
    at = choose(visit("numbers"), "numbers", "figures")
    at.selectbox(key=key(at, f"figures_of|{'|'.join(demo_scenario().techniques)}")).set_value(way)
    run(at)
    for section in ("crown", "tries", "work", "upkeep", "beside", "prices"):
        choose(at, "figures", section)


def beside_the_crop(way="rooted_cutting"):
    at = choose(visit("numbers"), "numbers", "figures")
    at.selectbox(key=key(at, f"figures_of|{'|'.join(demo_scenario().techniques)}")).set_value(way)
    return choose(run(at), "figures", "beside")


@pytest.mark.long
def test_losses_of_a_way_are_typed_as_percent_and_taken_back():
    at = beside_the_crop()
    at.toggle(key=key(at, "own_tree_loss_per_year.rooted_cutting")).set_value(True)
    at = type_in(run(at), "techniques.rooted_cutting.tree_loss_per_year", "2,5")
    loss = farm(at).techniques["rooted_cutting"].tree_loss_per_year
    assert (loss.value, loss.source) == (0.025, "own")
    at.toggle(key=key(at, "own_tree_loss_per_year.rooted_cutting")).set_value(False)
    assert farm(run(at)) == demo_scenario()


@pytest.mark.long
def test_a_crop_between_is_changed_added_and_taken_out():
    at = beside_the_crop()
    spans = demo_scenario().techniques["rooted_cutting"].intercrop
    type_in(at, "techniques.rooted_cutting.intercrop.0.income", "0.35")
    press_key(at, "add_intercrop")
    added = len(spans)
    type_in(at, f"techniques.rooted_cutting.intercrop.{added}.days", "0.01")
    changed = farm(at).techniques["rooted_cutting"].intercrop
    assert changed[0].income.value == 0.35
    assert changed[added].days.value == 0.01
    assert (changed[added].first_month, changed[added].last_month) == (
        spans[-1].last_month + 1,
        spans[-1].last_month + 12,
    )
    assert read_scenario(write_scenario(farm(at)), "again.toml") == farm(at)
    type_in(at, f"techniques.rooted_cutting.intercrop.{added}.first_month", "1")
    assert farm(at).techniques["rooted_cutting"].intercrop[added].first_month == spans[-1].last_month + 1  # overlaps
    for place in reversed(range(added + 1)):
        press_key(at, f"remove_intercrop_{place}")
    assert farm(at).techniques["rooted_cutting"].intercrop == ()
    assert read_scenario(write_scenario(farm(at)), "again.toml") == farm(at)


@pytest.mark.long
def test_shade_and_a_payment_are_stated_in_the_farm_s_own_money():
    at = beside_the_crop()
    at.toggle(key=key(at, "permanent_shade.rooted_cutting")).set_value(True)
    run(at)
    type_in(at, "techniques.rooted_cutting.permanent_shade.crop_factor", "0.9")
    type_in(at, "entry0.techniques.rooted_cutting.permanent_shade.income", "1.5")
    press_key(at, "add_payments")
    type_in(at, "payment_name.rooted_cutting.0", "Survival bonus")
    type_in(at, "techniques.rooted_cutting.payments.0.amount", "0.5")
    type_in(at, "techniques.rooted_cutting.payments.0.month", "12")
    type_in(at, "techniques.rooted_cutting.payments.0.until", "36")
    way = farm(at).techniques["rooted_cutting"]
    assert (way.permanent_shade.crop_factor.value, way.permanent_shade.income.value) == (0.9, (1.5,))
    (paid,) = way.payments
    assert (paid.name, paid.amount.value, paid.amount.unit, paid.month, paid.until) == (
        "Survival bonus",
        0.5,
        f"{farm(at).appraisal.currency}/tree",
        12,
        36,
    )
    assert read_scenario(write_scenario(farm(at)), "again.toml") == farm(at)


def test_losses_of_a_stand_are_typed_as_percent():
    at = type_in(choose(visit("numbers"), "numbers", "trees"), "stands.0.tree_loss_per_year", "3")
    assert farm(at).stands[0].tree_loss_per_year == 0.03


def test_temporary_shade_is_chosen_with_one_switch_and_back():
    at = choose(visit("numbers"), "numbers", "figures")
    before = farm(at)
    at.selectbox(key=key(at, f"figures_of|{'|'.join(demo_scenario().techniques)}")).set_value("rooted_cutting")
    run(at)
    choose(at, "figures", "tries")
    name = "temporary_shade.rooted_cutting"
    at.toggle(key=key(at, name)).set_value(False)
    run(at)
    bare = farm(at).techniques["rooted_cutting"]
    assert (bare.temporary_shade, bare.take, bare.intercrop) == (False, bare.take_without_shade, ())
    at.toggle(key=key(at, name)).set_value(True)
    run(at)
    assert farm(at) == before


def test_without_shade_an_own_take_is_that_without_shade_too():
    path = ("techniques", "rooted_cutting", "take")
    bare = demo_scenario().changed(**own_shade_of(demo_scenario()))
    stated = bare.changed(**own_value(bare, path, (0.4,))).techniques["rooted_cutting"]
    assert stated.take.value == stated.take_without_shade.value == (0.4,)
    shaded = demo_scenario().changed(**own_value(demo_scenario(), path, (0.6,))).techniques["rooted_cutting"]
    assert shaded.take_without_shade == demo_scenario().techniques["rooted_cutting"].take_without_shade


def own_shade_of(scenario):
    """The change that grows no temporary shade over cuttings, written out."""
    way = scenario.techniques["rooted_cutting"].model_dump()
    bare = {"temporary_shade": False, "take": way["take_without_shade"], "intercrop": ()}
    return {"techniques__rooted_cutting": way | bare}


def test_a_stand_is_added_renamed_and_removed():
    at = visit("numbers")
    at.button(key=key(at, "add_stand")).click()
    run(at)
    assert len(farm(at).stands) == 5
    type_in(at, "stand.0.name", "By the river")
    assert farm(at).stands[0].name == "By the river"
    assert farm(at).comparison.stand == "By the river"
    assert {treatment.stand for treatment in farm(at).plan} <= {stand.name for stand in farm(at).stands}
    at.button(key=key(at, "remove_stand_0_By the river")).click()
    run(at)
    assert "By the river" not in [stand.name for stand in farm(at).stands]
    assert all(treatment.stand != "By the river" for treatment in farm(at).plan)


def test_two_stands_of_one_name_are_refused():
    at = type_in(visit("numbers"), "stand.0.name", farm(visit()).stands[1].name)
    assert farm(at) == demo_scenario()
    assert at.error


def test_fewer_trees_than_the_plan_treats_leave_the_plan_out_and_say_so():
    at = type_in(visit("numbers"), "stands.0.trees", "210")
    assert farm(at).stands[0].trees == 210
    assert farm(at).plan == ()
    assert WORDS("screen.left_out.plan") in at.warning[0].value


def test_an_own_figure_takes_the_default_s_place_and_gives_it_back():
    at = choose(visit("numbers"), "numbers", "figures")
    type_in(at, "techniques.side_graft.mature_crop", "2,5")
    figure = farm(at).techniques["side_graft"].mature_crop
    assert (figure.value, figure.high, figure.source) == (2.5, 2.5, "own")
    at.button(key=key(at, "back('techniques', 'side_graft', 'mature_crop')")).click()
    run(at)
    assert farm(at) == demo_scenario()


def curve_entry(at, place, part):
    return next(
        entry
        for entry in at.text_input
        if entry.key.startswith("curve('techniques', 'side_graft', 'new_crown')")
        and entry.key.endswith(f".{place}.{part}")
    )


def use_curve(at):
    next(button for button in at.button if button.label == WORDS("screen.figures.use_curve")).click()
    return run(at)


def test_a_curve_is_typed_point_by_point():
    at = choose(visit("numbers"), "numbers", "figures")
    before = farm(at).techniques["side_graft"].new_crown.value
    curve_entry(at, 1, "share").set_value("12,5")
    curve_entry(at, len(before), "age").set_value("15")  # the empty point, put where its age belongs
    curve_entry(at, len(before), "share").set_value("20")
    use_curve(at)
    expected = sorted([before[0], (before[1][0], 0.125), *before[2:], (15.0, 0.2)])
    assert farm(at).techniques["side_graft"].new_crown.value == tuple(expected)
    at.button(key=key(at, "back('techniques', 'side_graft', 'new_crown')")).click()
    run(at)
    assert farm(at) == demo_scenario()


@pytest.mark.parametrize(("part", "text"), [("share", "1,500"), ("age", "12x"), ("age", "9"), ("share", "900")])
def test_a_curve_that_cannot_be_is_refused_and_the_old_one_stays(part, text):
    at = choose(visit("numbers"), "numbers", "figures")
    curve_entry(at, 1, part).set_value(text)
    use_curve(at)
    assert farm(at) == demo_scenario()
    assert WORDS("screen.figures.curve_kept") in at.error[0].value


def test_crop_by_pods_keeps_what_it_says():
    at = visit("numbers")
    at.selectbox(key=key(at, "stand.0.crop_by")).set_value("pods")
    run(at)
    assert farm(at).stands[0].kg_per_tree == pytest.approx(demo_scenario().stands[0].kg_per_tree)


def shares(at, values):
    for month, value in enumerate(values):
        at.text_input(key=at.session_state["season_keys"][month]).set_value(value)
    next(button for button in at.button if button.label == WORDS("screen.numbers.use_shares")).click()
    return run(at)


def test_twelve_shares_must_be_whole():
    at = choose(visit("numbers"), "numbers", "market")
    shares(at, ["10"] * 12)
    assert farm(at) == demo_scenario()
    assert "120" in at.error[0].value
    shares(at, ["12,5"] * 8 + ["0"] * 4)
    assert farm(at).market.season.shares == pytest.approx([0.125] * 8 + [0.0] * 4)


def test_another_currency_turns_the_default_costs():
    at = choose(visit("numbers"), "numbers", "time")
    at.text_input(key=key(at, "currency_code")).set_value("GHS")
    at.text_input(key=key(at, "currency_rate")).set_value("12,5")
    next(button for button in at.button if button.label == WORDS("screen.numbers.use_currency")).click()
    run(at)
    before, after = demo_scenario(), farm(at)
    assert after.appraisal.currency == "GHS"
    assert after.market.price_per_kg == before.market.price_per_kg
    cost, cost_before = (f.supplies.items["scion"].unit_cost.value for f in (after, before))
    assert cost == pytest.approx(12.5 * cost_before)


def test_twelve_months_for_one():
    at = choose(visit("numbers"), "numbers", "household")
    at.toggle(key=key(at, "household.family_days.by_month")).set_value(True)
    run(at)
    type_in(at, "month4.household.family_days", "3,5")
    days = demo_scenario().household.family_days
    assert farm(at).household.family_days == tuple(3.5 if month == 4 else days for month in range(12))


def test_a_way_is_left_out_and_taken_up_again():
    at = choose(visit("numbers"), "numbers", "ways")
    at.toggle(key=key(at, "consider.rooted_cutting")).set_value(False)
    run(at)
    assert "rooted_cutting" not in farm(at).techniques
    assert farm(at).comparison.against in farm(at).techniques
    at.toggle(key=key(at, "consider.rooted_cutting")).set_value(True)
    run(at)
    assert farm(at).techniques["rooted_cutting"] == demo_scenario().techniques["rooted_cutting"]


def test_trees_under_way_are_told_beside_their_stand():
    entry = {"stand": "Lower field", "technique": "side_graft", "trees": 80, "start": "2026-04", "taken": (20,)}
    at = visit("numbers")
    name = farm(at).stands[0].name
    begun = farm(at).changed(under_way=({**entry, "stand": name},), plan=())
    upload(at, "begun.toml", write_scenario(begun).encode())
    run(at)
    assert farm(at) == begun
    assert "Of these: 80 under way." in [caption.value for caption in at.caption]
    type_in(at, "stand.0.name", "Upper half")
    assert [one.stand for one in farm(at).under_way] == ["Upper half"]


# What stands already


def standing(**changes):
    at = visit("numbers")
    at.session_state["scenario"] = farm(at).changed(**changes)
    run(at)
    return choose(at, "numbers", "standing")


def test_trees_under_way_are_typed_try_by_try_and_taken_out():
    at = standing()
    at.button(key=key(at, "add_under_way")).click()
    run(at)
    begun = farm(at).under_way[0]
    assert (begun.stand, begun.technique, begun.trees, begun.taken) == ("River field", "side_graft", 1, ())
    type_in(at, "under_way.0.trees", "180")
    at.selectbox(key=key(at, "under_way.0.start")).set_value("2026-04")
    run(at)
    type_in(at, "under_way.0.taken", "40, 30")
    type_in(at, "under_way.0.given_up", "10")
    begun = farm(at).under_way[0]
    assert (begun.trees, begun.start, begun.taken, begun.given_up) == (180, "2026-04", (40, 30), 10)
    assert farm(at).free_trees("River field") == farm(at).stands[0].trees - 180
    captions = [entry.value for entry in at.caption]
    assert "The tries were in April 2026 and July 2026." in captions
    assert "100 trees wait for their next try, in January 2027." in captions
    at.button(key=key(at, "remove_under_way_0")).click()
    run(at)
    assert farm(at).under_way == ()


LONG = pytest.mark.long
ENTRY = {"stand": "River field", "technique": "bud_graft", "trees": 20, "start": "2026-09"}


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("trees", "100000", "Trees of River field: 600. No more in all can be under way. Write fewer trees."),
        ("taken", "3, x", "x is not a number."),
        ("taken", "1,200", "1,200 can be read in two ways."),
        pytest.param("taken", "30", "Trees that took or were given up: 30. Write 30 or more.", marks=LONG),
        pytest.param("taken", "3.5", "3.5 is not a whole number. Write one without a decimal sign.", marks=LONG),
        pytest.param("given_up", "2", "No try has been made. Write first, under Taken, how many", marks=LONG),
    ],
)
def test_what_cannot_stand_is_refused_in_one_sentence_beside_its_field(field, typed, sentence):
    at = standing(under_way=(ENTRY,))
    before = farm(at)
    type_in(at, f"under_way.0.{field}", typed)
    assert farm(at) == before
    assert len(at.error) == 1
    assert at.error[0].value.startswith(sentence)


def test_what_did_not_take_at_the_last_try_is_given_up():
    at = standing(under_way=({**ENTRY, "technique": "hard_pruning"},))
    type_in(at, "under_way.0.taken", "15")
    assert (farm(at).under_way[0].given_up, farm(at).under_way[0].waiting) == (5, 0)
    type_in(at, "under_way.0.trees", "18")
    assert farm(at).under_way[0].given_up == 3
    type_in(at, "under_way.0.taken", "")
    assert (farm(at).under_way[0].given_up, farm(at).under_way[0].waiting) == (0, 18)


def test_tools_that_are_there_are_chosen_and_their_months_typed():
    at = standing()
    chosen = at.selectbox(key=key(at, f"new_tool|{len(farm(at).supplies.tools)}"))
    chosen.set_value("grafting_knife")
    run(at)
    at.button(key=key(at, "add_tool")).click()
    run(at)
    assert farm(at).tools_owned == {"grafting_knife": farm(at).supplies.tools["grafting_knife"].lasts_years.value * 12}
    type_in(at, "tools_owned.grafting_knife", "8")
    assert farm(at).tools_owned == {"grafting_knife": 8.0}
    type_in(at, "tools_owned.grafting_knife", "0")
    assert at.error[0].value.startswith("0 is not possible here.")
    at.button(key=key(at, "remove_tool_grafting_knife")).click()
    run(at)
    assert not farm(at).tools_owned


def test_empty_places_are_typed_beside_the_trees_and_ask_for_a_way():
    at = visit("numbers")
    type_in(at, "stands.0.empty_places", "30")
    assert farm(at).stands[0].empty_places == 30
    hint = "No way plants the empty places of this stand. Choose one under Ways, such as gap planting."
    assert hint in [entry.value for entry in at.caption]
    choose(at, "numbers", "ways")
    at.toggle(key=key(at, "consider.gap_planting")).set_value(True)
    run(at)
    assert farm(at).techniques["gap_planting"].works_on == "empty places"
    choose(at, "numbers", "trees")
    assert hint not in [entry.value for entry in at.caption]
    choose(at, "numbers", "figures")
    at.selectbox(key=key(at, f"figures_of|{'|'.join(farm(at).techniques)}")).set_value("gap_planting")
    run(at)
    for section in ("crown", "tries", "work", "upkeep", "prices"):
        choose(at, "figures", section)


def walk_of(*pods):
    rows = "\n".join(f"{tree},{count}" for tree, count in enumerate(pods, 1))
    return f"tree,pods\n{rows}\n".encode()


def test_a_walk_is_brought_as_a_table_looked_at_and_used():
    at = choose(visit("numbers", farm="few_hands"), "numbers", "walk")
    stand = farm(at).stands[0]
    counted = [30, 18, 6, 0] * ((stand.trees + 3) // 4)
    at.file_uploader(key=key(at, "walk_table")).set_value(("walk.csv", walk_of(*counted, "lost"), "text/csv"))
    run(at)
    assert f"walk.csv, line {len(counted) + 2}: lost is not a number" in at.error[0].value
    at.file_uploader(key=key(at, "walk_table")).set_value(("walk.csv", walk_of(*counted), "text/csv"))
    run(at)
    assert "Usual borders: good from 25 pods on, average from 15, poor below." in shown(at)
    at.button(key=key(at, "walk_use")).click()
    run(at)
    assert [part.trees for part in farm(at).wholes[stand.name]] == [len(counted) // 4] * 4
    choose(at, "numbers", "trees")
    assert f"{stand.name} in all: {len(counted):,} trees in 4 classes" in shown(at)


def test_the_sums_of_a_walk_are_typed():
    at = choose(visit("numbers", farm="few_hands"), "numbers", "walk")
    at.text_input(key=key(at, "walk.good.trees")).set_value("ten")
    press(at)
    assert "not a number" in at.error[0].value
    for name, text in (("good.trees", "2000"), ("good.pods_per_tree", "28,5"), ("bare.trees", "40")):
        at.text_input(key=key(at, f"walk.{name}")).set_value(text)
    press(at)
    at.button(key=key(at, "walk_use")).click()
    run(at)
    name = farm(at).stands[0].part_of
    assert [part.trees for part in farm(at).wholes[name]] == [2000, 40]


def press(at):
    next(button for button in at.button if button.label == WORDS("tally.typed")).click()
    return run(at)


# Why this number


def whys(at):
    """What stands behind each button that says why, with the button's words."""
    return [(box.proto.popover.label, " ".join(said.value for said in box.markdown)) for box in at.get("popover")]


def test_why_a_default_is_what_it_is_stands_one_tap_away():
    at = choose(visit("numbers"), "numbers", "figures")
    technique = demo_scenario().techniques["side_graft"]
    crown = [technique.mature_crop, technique.shade, technique.new_crown, technique.old_crown.curve]
    assert whys(at) == [("Why this number", plain(figure.because)) for figure in crown]
    assert "Ahmad Kamil et al. 2006" in whys(at)[0][1]


def test_an_own_number_says_why_the_default_is_unless_the_farm_s_file_says_why():
    at = choose(visit("numbers"), "numbers", "figures")
    type_in(at, "techniques.side_graft.mature_crop", "0,8")
    because = plain(demo_scenario().techniques["side_graft"].mature_crop.because)
    assert whys(at)[0] == ("Why the default", because)
    weighed = farm(at).techniques["side_graft"].mature_crop.model_dump() | {"because": "Weighed in 2025: $1 a tree."}
    stated = farm(at).changed(techniques__side_graft__mature_crop=weighed)
    again = read_scenario(write_scenario(stated), "own.toml")
    assert again.techniques["side_graft"].mature_crop.because == "Weighed in 2025: $1 a tree."
    assert again.digest == farm(at).digest
    at.session_state["scenario"] = again
    assert whys(run(at))[0] == ("Why this number", plain("Weighed in 2025: $1 a tree."))


def test_a_guess_and_the_pods_of_a_kilogram_say_why():
    at = visit("numbers")
    at.session_state["scenario"] = new_farm("2026-11", "A farm", "A field")
    said = whys(choose(run(at), "numbers", "household"))
    assert ("Why this number", "Food crops sold, small trade, money sent home.") in said
    label, because = whys(choose(at, "numbers", "walk"))[0]
    assert label == "Why this number"
    assert because.endswith("Count your own.")
