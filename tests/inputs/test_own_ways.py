"""A way of one's own: copied under a name, changed, renamed, removed; kept by file and link; or refused."""

import pytest
from factories import some_plain

from renovation.decide import compare
from renovation.inputs import Scenario, ScenarioError, demo_scenario, read_scenario, write_scenario
from renovation.inputs.demos import demo_text
from renovation.inputs.own_ways import LONGEST_NAME, copied, is_own_way, removed, renamed
from renovation.inputs.packed import pack, unpack
from renovation.words import Words

WORDS = Words("en")


def with_copy(of: str = "side_graft", name: str = "Our graft", farm: Scenario | None = None) -> Scenario:
    farm = farm or demo_scenario()
    return farm.changed(**copied(farm, of, name, WORDS).changes)


def refused(call, *args):
    with pytest.raises(ScenarioError) as caught:
        call(*args, WORDS)
    (sentence,) = caught.value.sentences(WORDS)
    return sentence


def test_a_copy_is_worth_what_its_model_is_until_a_figure_is_changed():
    farm = with_copy()
    found = compare(farm)
    one, other = found.outcomes["our_graft"], found.outcomes["side_graft"]
    assert one.per_tree.npv == other.per_tree.npv
    assert (one.label, list(farm.techniques)[-1]) == ("Our graft", "our_graft")
    better = farm.changed(techniques__our_graft__mature_crop__value=1.19)
    assert compare(better).outcomes["our_graft"].per_tree.npv > other.per_tree.npv
    assert compare(better).outcomes["side_graft"].per_tree.npv == other.per_tree.npv


@pytest.mark.parametrize("of", some_plain(list(demo_scenario().techniques), ["rooted_cutting"]))
def test_a_copy_of_every_way_is_kept_by_file_and_link(of):
    lowest = demo_scenario().techniques[of].mature_crop.low
    farm = with_copy(of, "Façon de chez nous").changed(techniques__facon_de_chez_nous__mature_crop__value=lowest)
    text = write_scenario(farm, demo_text("first_grafters"))
    assert read_scenario(text, "again.toml") == farm
    assert unpack(pack(farm), "link") == farm
    own = text[text.index("[techniques.facon_de_chez_nous]") :].split("\n[")[0]
    assert 'label = "Façon de chez nous"' in own
    assert f'based_on = "{of}"' in own
    lines = iter(text.splitlines())
    listed = ("consider", "techniques = [")
    kept = [line for line in demo_text("first_grafters").splitlines() if not line.startswith(listed)]
    assert all(line in lines for line in kept)  # comments and order: all that was there, in its turn


def test_a_copy_of_a_copy_rests_on_the_same_default():
    first = with_copy().changed(techniques__our_graft__mature_crop__value=0.9)
    second = with_copy("our_graft", "Our other graft", first)
    way = second.techniques["our_other_graft"]
    assert (way.based_on, way.mature_crop.value) == ("side_graft", 0.9)
    assert read_scenario(write_scenario(second), "again.toml") == second


def test_a_copy_suits_the_stands_that_its_model_suits():
    farm = demo_scenario()
    stands = [place for place, stand in enumerate(farm.stands) if stand.techniques is not None]
    assert stands
    made = with_copy("rooted_cutting", "Our cutting")
    assert all(made.stands[place].techniques[-1] == "our_cutting" for place in stands)
    assert made.changed(**removed(made, "our_cutting", WORDS)) == farm


@pytest.mark.parametrize(
    ("name", "key"),
    [("Plan", "plan_2"), ("我们的", "own"), ("3 buds", "own_3_buds"), ("Side-graft", "side_graft_2"), ("own", "own_2")],
)
def test_a_key_is_made_of_any_name(name, key):
    key = "own_2" if name == "我们的" else key
    farm = with_copy(name=name)
    assert list(farm.techniques)[-1] == key
    assert is_own_way(key)
    assert farm.techniques[key].label == name
    assert read_scenario(write_scenario(farm), "again.toml") == farm


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("  ", "The name is empty. Write a name for the way."),
        ("Side Graft", "Side Graft is the name of another way. Write a name that no way has yet."),
        ("gap planting", "gap planting is the name of another way. Write a name that no way has yet."),
        ("our GRAFT", "our GRAFT is the name of another way. Write a name that no way has yet."),
        ("The plan", "The plan is the name of something else on these pages. Write another name."),
        ("x" * (LONGEST_NAME + 1), f"{'x' * 41} has 41 letters. Write 40 letters or fewer."),
    ],
)
def test_a_name_that_no_way_can_have_is_refused_in_one_sentence(name, sentence):
    farm = with_copy()
    assert refused(copied, farm, "side_graft", name) == sentence
    if name != "our GRAFT":  # its own name in other letters
        assert refused(renamed, farm, "our_graft", name) == sentence
    assert farm.changed(**renamed(farm, "our_graft", "our GRAFT", WORDS)).techniques["our_graft"].label == "our GRAFT"


def test_a_way_that_is_used_is_not_removed():
    farm = with_copy()
    treatment = {**farm.plan[0].model_dump(), "technique": "our_graft"}
    planned = farm.changed(plan=(treatment,))
    assert refused(removed, planned, "our_graft") == (
        f"Our graft is in the plan with {WORDS('unit.trees', n=farm.plan[0].trees)}. Take it out of the plan first."
    )
    older = demo_scenario("third_year")
    begun = older.under_way[0]
    older = with_copy(begun.technique, "Our graft", older)
    older = older.changed(under_way__0__technique="our_graft")
    assert refused(removed, older, "our_graft") == (
        f"{WORDS('unit.trees', n=begun.trees)} are under way by Our graft. It stays as long as they stand on the farm."
    )
    lent = farm.changed(loans__0__works=("side_graft", "our_graft"))
    assert refused(removed, lent, "our_graft") == (
        f"Our graft is among the works that {farm.loans[0].name} pays for. Take it out of the loan first."
    )
    counted = farm.changed(planning__records=({"technique": "our_graft", "season": "2026-01", "made": 10, "taken": 4},))
    assert refused(removed, counted, "our_graft") == (
        "Grafts by Our graft were counted. Take them out of the practice first."
    )


def test_a_way_that_is_compared_gives_its_place_to_another():
    farm = with_copy().changed(comparison__headline="our_graft")
    left = farm.changed(**removed(farm, "our_graft", WORDS))
    assert left.comparison.headline != "our_graft"
    assert left.comparison.headline in left.techniques
