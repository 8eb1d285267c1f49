"""Years looked at, rates, currency."""

import streamlit as st

from renovation.inputs import Scenario, ScenarioError, read_decimal
from renovation.inputs.files import scenario_of, written
from renovation.screens.controls.fields import Path, Place, as_text, echo, field_words, number, numbers
from renovation.screens.controls.phone import NUMBER
from renovation.screens.controls.text import plain, show_chart
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.show import figure_charts
from renovation.words import Words


def draw(farm: Scenario, words: Words) -> None:
    """Horizon, rates, currency."""
    at: Path = ("appraisal",)
    left, right = st.columns(2)
    with left:
        numbers(at, "horizon_years", "discount_rate")
        rate, currency = farm.appraisal.discount_rate, farm.appraisal.currency
        show_chart(figure_charts.discount_chart(rate, currency, words), key=key_of(f"discount_chart.{rate}"))
        numbers(at, "inflation")
        for field in ("finance_rate", "reinvestment_rate"):
            now = getattr(farm.appraisal, field)
            number(Place((*at, field), value=farm.appraisal.discount_rate if now is None else now))
    with right:
        _currency(farm, words)


def _currency(farm: Scenario, words: Words) -> None:
    """The currency and what a dollar buys of it, changed together; the amounts stay the numbers they are."""
    with st.form(key_of(f"currency.{farm.appraisal.currency}.{farm.appraisal.currency_per_usd}")):
        label, help_text = field_words("Appraisal", "currency", words)
        st.text_input(label, farm.appraisal.currency, key=key_of("currency_code"), help=help_text, max_chars=3)
        label, help_text = field_words("Appraisal", "currency_per_usd", words)
        per_usd = farm.appraisal.currency_per_usd or 1.0
        st.text_input(label, as_text(per_usd), key=key_of("currency_rate"), help=help_text, autocomplete=NUMBER)
        st.caption(words("screen.numbers.currency_note"))
        st.form_submit_button(words("screen.numbers.use_currency"), on_click=_take_currency)
    said = state.memory("notes").get("currency")
    if said:
        st.error(plain(" ".join(said)))


def _take_currency() -> None:
    """Write the farm down in the other currency's name and read it back, so that default costs are turned anew."""
    words, notes = state.words(), state.memory("notes")
    notes.pop("currency", None)
    code = st.session_state[key_of("currency_code")].strip().upper()
    try:
        table = written(state.scenario())
        table["appraisal"]["currency"] = code
        rate = read_decimal(st.session_state[key_of("currency_rate")], words=words)
        echo([st.session_state[key_of("currency_rate")]])
        table["appraisal"].pop("currency_per_usd", None)
        if code != "USD":
            table["appraisal"]["currency_per_usd"] = rate
        state.reread(scenario_of(table, state.origin()))
    except ScenarioError as error:
        notes["currency"] = [*error.sentences(words), words("screen.numbers.currency_kept")]
