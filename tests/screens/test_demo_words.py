"""A demo farm on the pages, called as the visitor's language calls it: from the list, by a link, after a change."""

from screens.visiting import farm, key, run, type_in, visit

from renovation.inputs import demo_scenario, write_scenario
from renovation.screens.memory import state
from renovation.screens.memory.heard import Heard

WAGE = "sidebar.wage.household.wage_per_day"


def speak(monkeypatch, language):
    """Let the pages be in a language from the next run on, once it has heard what was typed before."""
    begin, words = state.begin_run, Heard(language)

    def begun():
        monkeypatch.setattr(state, "words", lambda: words)
        begin()

    monkeypatch.setattr(state, "begin_run", begun)


def test_a_changed_demo_farm_is_called_anew_in_another_language_and_its_changes_taken_back(monkeypatch):
    at = type_in(visit("mine", stand="House field"), WAGE, "7")
    speak(monkeypatch, "es")
    run(at)
    here = demo_scenario("first_grafters", "es")
    assert farm(at).about == here.about
    assert (farm(at).household.wage_per_day, farm(at).comparison.stand) == (7.0, "La Casa")
    assert dict(at.query_params) == {"stand": "La Casa", "trees": "400", "wage": "7"}
    at.button(key="history.back").click()
    run(at)
    assert farm(at) == here.changed(comparison__stand="La Casa", comparison__trees=None)
    assert at.button(key="history.back").disabled


def test_a_link_from_another_language_opens_its_stand_and_the_list_names_farms_in_this_one(monkeypatch):
    speak(monkeypatch, "fr")
    at = visit("mine", farm="few_hands", stand="Far trees")
    assert farm(at).comparison.stand == "Le Fond"
    listed = at.selectbox(key=key(at, "farm")).options
    assert "Peu de bras (inventée)" in listed
    at.selectbox(key=key(at, "farm")).set_value("third_year")
    run(at)
    assert farm(at) == demo_scenario("third_year", "fr")
    assert (state.words().language, write_scenario(farm(at)).count("Hill block")) == ("fr", 0)
