"""What a farm with losses and payments is told: what they rest on, what to beware of, what to count next year."""

from risk_reference import paid

from renovation.decide.next_year import next_year
from renovation.inputs import SeasonRecord, demo_scenario
from renovation.show.compare.sentences import notes
from renovation.show.figures import cautions, named_figures
from renovation.show.season.next_year import next_text
from renovation.words import Words

WORDS = Words("en")


def test_losses_and_payments_are_said_to_be_the_family_s_own_and_wood_is_warned_of():
    farm, plain = paid(demo_scenario()), demo_scenario()
    assert farm.states_losses
    assert farm.states_payments
    told = {WORDS("compare.note.losses"), WORDS("compare.note.payments")}
    assert told <= set(notes(farm, WORDS))
    assert told.isdisjoint(notes(plain, WORDS))
    warned = [cautions(one.techniques, WORDS, losses=one.states_losses).rows for one in (farm, plain)]
    assert [(WORDS("caution.diseased_wood"), WORDS("cell.all_ways")) in rows for rows in warned] == [True, False]


def test_each_payment_and_loss_stands_among_the_figures_with_its_source():
    farm = paid(demo_scenario())
    named = dict(named_figures(farm.techniques["side_graft"], farm.supplies, WORDS))
    assert named["Grant: amount per tree"].value == 0.7
    assert named[WORDS("figure.tree_loss_per_year")].value == 0.03


def test_next_year_s_farm_says_that_trees_have_to_be_counted():
    farm = paid(demo_scenario("few_hands"))
    record = SeasonRecord(season=farm.appraisal.start, money_in_hand=90000.0)
    assert WORDS("next.note.trees_to_count") in " ".join(next_text(next_year(farm, record), WORDS).split())
    plain = next_text(next_year(demo_scenario("few_hands"), record), WORDS)
    assert WORDS("next.note.trees_to_count") not in " ".join(plain.split())
