"""The terms of a loan, to be changed one by one; loans added and taken out."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import streamlit as st

from renovation.decide.lending import best_harvest_months
from renovation.inputs import Loan, Scenario, ScenarioError, declared, month_count, read_decimal, year_month
from renovation.screens.controls.fields import (
    Place,
    as_text,
    choice,
    decimal_input,
    field_words,
    free_name,
    several,
    several_numbers,
    switch,
    text_entry,
)
from renovation.screens.controls.forms import NewEntry
from renovation.screens.controls.phone import NUMBER
from renovation.screens.controls.text import plain
from renovation.screens.memory import state
from renovation.screens.memory.state import key_of
from renovation.show.voice import Voice
from renovation.words import Words

Changes = Mapping[str, Any]
NEW_FIELDS = ("amount", "rate_per_year", "term_months", "grace_months")
"""What must be written down of a new loan; the rest can be changed once it is there."""
ROUNDING = 0.005
"""Typed shares may miss 100 % by this much, as thirds do."""


def chosen_key(number_of_loans: int) -> str:
    """The key of the control that chooses one of so many loans."""
    return key_of(f"loan_of_{number_of_loans}")


def draw(farm: Scenario, number: int, words: Words) -> None:
    """Every term of loan number `number`, from 0, and the way out."""
    loan = farm.loans[number]
    st.markdown(words("screen.lender.terms_lead"))
    left, middle, right = st.columns(3)
    with left:
        label, help_text = _words("name", words)
        put = _put(number, "name")
        text_entry(label, loan.name, lambda name: put(name.strip()), name=f"loan.{number}.name", help_text=help_text)
        for field in ("amount", "rate_per_year", "fee_share"):
            _number(number, field, words)
    with middle:
        for field in ("term_months", "grace_months"):
            _number(number, field, words)
        _one_of(number, "grace_interest", ("paid", "added"), words)
        _number(number, "late_rate_per_year", words)
    with right:
        _one_of(number, "repayment", ("level", "equal_principal", "harvest"), words)
        label, help_text = _words("running", words)
        switch(label, loan.running, _put_running(number), name=f"loan.{number}.running", help_text=help_text)
        if loan.running:
            _number(number, "owed", words)
    if loan.repayment == "harvest":
        _harvest_months(number, loan, words)
    _payouts(farm, number, loan, words)
    st.button(
        words("screen.lender.remove_loan", name=plain(loan.name)),
        key=key_of(f"remove_loan_{number}"),
        on_click=_remove,
        args=(number,),
    )


def asked(words: Words) -> None:
    """What the lender asks of a loan: the coverage, and of which money."""
    st.subheader(words("screen.lender.asked"), anchor=False)
    left, right = st.columns(2)
    with left:
        help_text = words("field.LoanTest.cover.help")
        decimal_input(words("field.LoanTest.cover.label"), Place(("loan_test", "cover")), help_text=help_text)
    with right:
        switch(
            words("field.LoanTest.farm_only.label"),
            state.scenario().loan_test.farm_only,
            lambda on: {"loan_test__farm_only": on},
            name="farm_only",
            help_text=words("field.LoanTest.farm_only.help"),
        )
    several_numbers(
        words("screen.lender.lower_prices"),
        Place(("loan_test", "lower_prices")),
        help_text=words("screen.lender.lower_prices_help"),
    )


def _words(field: str, words: Words) -> tuple[str, str]:
    """A term's name and meaning."""
    return field_words(declared(Loan, field).model, field, words)


def _number(number: int, field: str, words: Words) -> None:
    """A number among the terms."""
    label, help_text = _words(field, words)
    decimal_input(label, Place(("loans", number, field), put=_put(number, field)), help_text=help_text)


def _one_of(number: int, field: str, options: Sequence[str], words: Words) -> None:
    """A term that is one of a few."""
    label, help_text = _words(field, words)
    choice(
        label,
        options,
        getattr(state.scenario().loans[number], field),
        _put(number, field),
        name=f"loan.{number}.{field}",
        say_option=lambda key: words(f"screen.lender.{field}.{key}"),
        help_text=help_text,
    )


# Changes


def _put(number: int, field: str) -> Callable[[Any], Changes]:
    """Turn a value into all loans with that term changed; harvest repayment begins with the months of the harvest."""

    def put(value: Any) -> Changes:
        farm = state.scenario()
        terms: dict[str, Any] = {field: value}
        if value == "harvest" and not farm.loans[number].harvest_months:
            terms["harvest_months"] = best_harvest_months(farm.market.season)
        return _with(farm, number, terms)

    return put


def _put_running(number: int) -> Callable[[bool], Changes]:
    """Turn yes or no into all loans: what runs was paid out before the first month."""

    def put(on: bool) -> Changes:
        farm = state.scenario()
        first = farm.appraisal.start
        payouts = [payout.model_dump() for payout in farm.loans[number].payouts]
        if on and min(payout["month"] for payout in payouts) >= first:
            payouts[0]["month"] = year_month(month_count(first) - 1)
        if not on:
            later = [payout for payout in payouts if payout["month"] > first]
            now = 1 - sum(payout["share"] for payout in later)
            payouts = [{"month": first, "share": now}, *later] if len(later) < len(payouts) else later
        terms: dict[str, Any] = {"running": on, "payouts": tuple(payouts)}
        return _with(farm, number, terms if on else terms | {"owed": None})

    return put


def _with(farm: Scenario, number: int, terms: Changes) -> Changes:
    """All loans, as tables, with some terms of one changed."""
    tables = [loan.model_dump() for loan in farm.loans]
    tables[number] |= terms
    return {"loans": tuple(tables)}


def _remove(number: int) -> None:
    """Take a loan out."""
    tables = [loan.model_dump() for place, loan in enumerate(state.scenario().loans) if place != number]
    state.say_problems(state.change({"loans": tuple(tables)}))
    state.redraw()


# Harvest months


def _harvest_months(number: int, loan: Loan, words: Words) -> None:
    """The months in which a loan is repaid at harvest."""
    label, help_text = _words("harvest_months", words)
    several(
        label,
        range(1, 13),
        loan.harvest_months,
        _take_months,
        number,
        name=f"loan.{number}.harvest_months",
        say_option=words.month_name,
        help_text=help_text,
    )


def _take_months(key: str, number: int) -> None:
    """Take the months chosen, in the order of the year, or keep those from before and say why."""
    state.memory("refused").pop(key, None)
    terms = {"harvest_months": tuple(sorted(st.session_state[key]))}
    problems = state.change(_with(state.scenario(), number, terms))
    if problems:
        state.memory("refused")[key] = " ".join(problems)
        state.memory("shown_text").pop(key, None)


# Payouts


def _payouts(farm: Scenario, number: int, loan: Loan, words: Words) -> None:
    """In which months the money comes; of several payouts the share of each."""
    one = len(loan.payouts) == 1
    first = month_count(farm.appraisal.start)
    earliest = -loan.term_months if loan.running else 0
    offered = [year_month(first + month) for month in range(earliest, farm.appraisal.months)]
    columns = st.columns(3)
    for place, payout in enumerate(loan.payouts):
        with columns[place % 3]:
            key = "screen.lender.payout_month_one" if one else "screen.lender.payout_month"
            choice(
                words(key, n=place + 1),
                offered,
                payout.month,
                _put_payout_month(number, place),
                name=f"loan.{number}.payout.{place}",
                say_option=words.month,
            )
            _live_trees(number, place, words)
    if any(payout.live_trees is not None for payout in loan.payouts):
        _works(farm, number, words)
    if not one:
        _shares(number, loan, words)
    with st.container(horizontal=True):
        st.button(words("screen.lender.add_payout"), key=key_of(f"more.{number}"), on_click=_split, args=(number,))
        if not one:
            label = words("screen.lender.remove_payout")
            st.button(label, key=key_of(f"fewer.{number}"), on_click=_join, args=(number,))


def _live_trees(number: int, place: int, words: Words) -> None:
    """How many live trees are counted before a payout; without a count where it is left empty."""

    def put(count: int | None) -> Changes:
        payouts = [payout.model_dump() for payout in state.scenario().loans[number].payouts]
        payouts[place]["live_trees"] = count
        return _with(state.scenario(), number, {"payouts": tuple(payouts)})

    label, help_text = field_words("Payout", "live_trees", words)
    decimal_input(label, Place(("loans", number, "payouts", place, "live_trees"), put=put), help_text=help_text)


def _works(farm: Scenario, number: int, words: Words) -> None:
    """The ways whose live trees count."""
    label, help_text = _words("works", words)
    say, now = Voice.of(farm, words).way, farm.loans[number].works
    several(
        label,
        list(farm.techniques),
        now,
        _take_works,
        number,
        name=f"loan.{number}.works",
        say_option=say,
        help_text=help_text,
    )


def _take_works(key: str, number: int) -> None:
    """Take the ways chosen."""
    chosen = {"works": tuple(st.session_state[key])}
    state.say_problems(state.change(_with(state.scenario(), number, chosen)))


def _put_payout_month(number: int, place: int) -> Callable[[str], Changes]:
    """Move one payout."""

    def put(month: str) -> Changes:
        farm = state.scenario()
        payouts = [payout.model_dump() for payout in farm.loans[number].payouts]
        payouts[place]["month"] = month
        return _with(farm, number, {"payouts": tuple(payouts)})

    return put


def _shares(number: int, loan: Loan, words: Words) -> None:
    """The shares of several payouts, taken together: one alone could not change."""
    shares = [payout.share for payout in loan.payouts]
    keys = [key_of(f"loan.{number}.share.{place}.{share:.6g}") for place, share in enumerate(shares)]
    with st.form(key_of(f"shares.{number}.{len(shares)}"), border=True):
        columns = st.columns(min(3, len(shares)))
        for place, (key, share) in enumerate(zip(keys, shares, strict=True)):
            label = words("screen.lender.payout_share", n=words.number(place + 1))
            columns[place % len(columns)].text_input(
                label, as_text(round(share, 8), 100.0), key=key, autocomplete=NUMBER
            )
        st.form_submit_button(words("screen.lender.use_shares"), on_click=_take_shares, args=(number, keys))
    said = state.memory("notes").get(f"payouts{number}")
    if said:
        st.error(plain(" ".join(said)))


def _take_shares(number: int, keys: Sequence[str]) -> None:
    """Take the typed shares where each is a number and they sum to 100 %."""
    words, farm = state.words(), state.scenario()
    said, shares = [], []
    for key in keys:
        try:
            shares.append(read_decimal(st.session_state[key], per=100, words=words))
        except ScenarioError as error:
            said += error.sentences(words)
    if not said and not abs(sum(shares) - 1) <= ROUNDING:
        said = [words("screen.lender.shares_sum", sum=words.percent(sum(shares), 1))]
    if not said:
        whole = sum(shares)
        months = [payout.month for payout in farm.loans[number].payouts]
        payouts = [{"month": m, "share": share / whole} for m, share in zip(months, shares, strict=True)]
        said = state.change(_with(farm, number, {"payouts": tuple(payouts)}))
    notes = state.memory("notes")
    notes.pop(f"payouts{number}", None)
    if said:
        notes[f"payouts{number}"] = [*said, words("screen.lender.shares_kept")]


def _split(number: int) -> None:
    """Let half of the last payout come a month later."""
    farm = state.scenario()
    *payouts, last = [payout.model_dump() for payout in farm.loans[number].payouts]
    half = last["share"] / 2
    after = year_month(month_count(last["month"]) + 1)
    payouts += [{**last, "share": half}, {"month": after, "share": half}]
    state.say_problems(state.change(_with(farm, number, {"payouts": tuple(payouts)})))


def _join(number: int) -> None:
    """Let the last payout come with the one before it."""
    farm = state.scenario()
    *payouts, before, last = [payout.model_dump() for payout in farm.loans[number].payouts]
    payouts.append({**before, "share": min(1.0, before["share"] + last["share"])})
    state.say_problems(state.change(_with(farm, number, {"payouts": tuple(payouts)})))


# One loan more


def add(farm: Scenario, words: Words) -> None:
    """A form for a new loan; what is not written down is not assumed."""
    new = NewEntry("new_loan", ("loans",), len(farm.loans), NEW_FIELDS)
    with new.box():
        st.subheader(words("screen.lender.add_loan"), anchor=False)
        new.draw(st.columns(2))
        first = month_count(farm.appraisal.start)
        offered = [year_month(first + month) for month in range(farm.appraisal.months)]
        label = words("screen.lender.payout_month_one")
        st.selectbox(label, offered, key=new.key("month"), format_func=words.month)
        st.form_submit_button(words("screen.lender.use_loan"), on_click=_add, args=(new,))
    new.say_refusal()


def _add(new: NewEntry) -> None:
    """Add the loan where every number can be read and the farm accepts it."""
    words, farm = state.words(), state.scenario()
    terms, said = new.read()
    if not said:
        month = st.session_state[new.key("month")]
        name = free_name("screen.lender.new_loan", [loan.name for loan in farm.loans], words)
        loan = {**terms, "name": name, "payouts": ({"month": month, "share": 1.0},)}
        said = state.change({"loans": (*(loan.model_dump() for loan in farm.loans), loan)})
    new.settle([*said, words("screen.lender.not_added")] if said else [])
    if not said:
        st.session_state[chosen_key(new.number + 1)] = new.number
