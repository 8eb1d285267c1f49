"""What a number means in a sentence: every example by arithmetic on paper, every figure of every way said readably."""

import re

import pytest
from factories import scenario

from renovation.inputs import demo_names, demo_scenario
from renovation.show.figure_charts import discount_chart, season_chart
from renovation.show.figures import placed_figures
from renovation.show.meant import figure_meant, meant, range_meant
from renovation.words import Words

WORDS = Words("en")


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        ("appraisal.discount_rate", 0.1, "$100 a year from now is worth $90.91 today."),  # 100 / 1.1
        ("appraisal.inflation", 0.05, "What costs $100 now costs $105 in a year."),
        ("household.savings_rate", 0.0, "$100 put away is $100 after a year."),
        ("household.labour_value", 0.5, "A day of work counts as $4.00."),  # half of a wage of 8
        ("stands.0.decline_per_year", 0.05, "Of 100 kg now, 77 kg are left after 5 years."),  # 0.95^5 is 0.774
        ("stands.0.pods.pods_per_kg", 25.0, "One pod gives 40 g of dry beans."),
        ("stands.0.pods.lost_share", 0.175, "Lost of 100 pods: 18."),
        ("loans.0.rate_per_year", 0.12, "Owing $100 for a year costs $12.00."),
        ("loan_test.cover", 1.2, "For each $100 to pay in a year there must be $120."),
        ("household.savings", 500.0, ""),
    ],
)
def test_an_example_of_a_rate(path, value, said):
    farm = scenario().changed(household__wage_per_day=8.0)
    steps = [int(part) if part.isdecimal() else part for part in path.split(".")]
    assert meant(farm, steps, value, WORDS) == said


@pytest.mark.parametrize("name", demo_names())
def test_every_figure_of_a_tree_is_told_of_a_hundred_trees(name):
    """No "0.0143 days of work per tree", no "1 units per tree", no "100% until -1 month"."""
    farm = demo_scenario(name)
    for way, technique in farm.techniques.items():
        for label, at, figure in placed_figures(technique, farm.supplies, WORDS):
            path = ("techniques", way, *at)
            told = figure_meant(farm, path, figure.value, WORDS)
            if at[-1] in ("attempts", "gap_months", "attempt_factor", "take_by_month"):
                continue
            assert told or technique.family == "prune", label
            for sentence in (told, *range_meant(farm, path, figure, WORDS)):
                assert not re.search(
                    r"(?<!\.)\b1 (units|pieces|kilograms|grams|days)\b|-\d|\b0\.0[1-9]|\bper tree\b", sentence
                ), label


def test_the_figures_of_a_side_graft_in_words():
    farm = demo_scenario()
    graft = ("techniques", "side_graft", "operations", "graft")

    def told(*path, value):
        return figure_meant(farm, path, value, WORDS)

    assert told(*graft, "days", value=0.03) == "3 days for 100 trees."
    assert told(*graft, "materials", "cord", "quantity", value=0.5) == "50 metres for 100 trees."
    assert told(*graft, "materials", "scion", "loss_before_use", value=0.15) == "Lost before use, of 100: 15."
    assert told("techniques", "side_graft", "take", value=(0.7,)) == "Of 100 grafts these live: 70 from year 1 on."
    assert told("techniques", "side_graft", "shade", value=0.3).endswith("it bears 70 kg in place of 100 kg.")
    assert told("techniques", "rooted_cutting", "old_crown", "curve", value=((-1.0, 1.0), (0.0, 0.0))) == (
        "It still bears, of its crop: nothing from the start on."
    )


def test_the_drawings_say_what_they_show():
    chart = discount_chart(0.1, "USD", WORDS)
    assert chart.description == "$100 is worth $62.09 today if it comes in 5 years."  # 100 / 1.1^5
    assert chart.layers[0].rows[1]["amount"] == pytest.approx(100 / 1.1)
    shares = (0.05,) * 8 + (0.15,) * 4
    assert season_chart(shares, WORDS).description == "Most ripens in September: 15%."
