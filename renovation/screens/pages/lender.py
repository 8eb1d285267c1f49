"""Lender: is each instalment due when there is money to pay it, what loan would fit, and the files to take along."""

from functools import partial

import streamlit as st

from renovation.decide.lending import Lending, LoanAppraisal
from renovation.farm import HouseholdCash
from renovation.inputs import Scenario
from renovation.screens.controls.sidebar import file_name
from renovation.screens.controls.text import bullets, plain, section, show_chart, show_table, small
from renovation.screens.memory import cash as cash_results
from renovation.screens.memory.state import key_of
from renovation.screens.parts import followed, head, signed
from renovation.screens.parts import loans as loans_part
from renovation.show.cash import sentences as cash_sentences
from renovation.show.cash import tables as cash_tables
from renovation.show.loans import charts as lending_charts
from renovation.show.loans import contract
from renovation.show.loans.near import near
from renovation.words import Words

MIME_OF_WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def draw() -> None:
    """Draw the page."""
    farm, words = head.begin("screen.page.lender", no_plan="screen.lender.no_plan")
    followed.draw(farm, words)
    found = head.unless_refused(lambda: cash_results.lending(farm))
    if found is None:
        _each_terms(farm, words)
        return
    if found.loans:
        _judged(farm, found, words)
    else:
        st.header(words("screen.lender.no_loan"), anchor=False)
        loans_part.add(farm, words)
    _files(farm, words)
    _cautions(farm, words)


def _judged(farm: Scenario, found: Lending, words: Words) -> None:
    """One loan: the answer, then the rest one thing at a time."""
    number = _which(farm, words)
    judged = found.loans[number]
    _answer(judged, found.cash, words)
    parts = {
        "cover": lambda: _cover(judged, words),
        "terms": lambda: _terms(farm, number, words),
        "calendar": lambda: _calendar(judged, words),
        "cases": lambda: _cases(judged, words),
        "payments": lambda: _payments(judged, words),
        "schedule": lambda: _schedule(judged, words),
        **({"signed": lambda: signed.draw(farm, words)} if signed.there(farm) else {}),
        "add": lambda: loans_part.add(farm, words),
    }
    parts[section("lender", list(parts))]()


def _which(farm: Scenario, words: Words) -> int:
    """Choose one of several loans; returns its place."""
    if len(farm.loans) == 1:
        return 0
    names = [loan.name for loan in farm.loans]
    key = loans_part.chosen_key(len(names))
    places = range(len(names))
    return int(st.selectbox(words("screen.lender.loan"), places, key=key, format_func=lambda place: names[place]))


def _answer(judged: LoanAppraisal, cash: HouseholdCash, words: Words) -> None:
    """The answer in sentences, the first one large."""
    st.caption(plain(cash_sentences.loan_title(judged, words)))
    first, *rest = cash_sentences.lender_answer(judged, words)
    st.header(plain(first), anchor=False)
    st.markdown(f"**{plain(' '.join(rest))}**")
    if nearest := near(judged, words):
        st.markdown(plain(nearest[0]))
        bullets(nearest[1:])
    bullets(
        [
            cash_sentences.first_due(judged, cash, words),
            cash_sentences.tightest_year(judged, words),
            cash_sentences.grace(judged, words),
            cash_sentences.full_cost(judged, words),
            cash_sentences.beside_harvest(judged, words),
        ]
    )


def _cover(judged: LoanAppraisal, words: Words) -> None:
    """Coverage by year, with its bands and their source."""
    show_chart(lending_charts.cover_chart(judged, words), key="cover")
    st.caption(plain(cash_sentences.bands(words)))
    show_table(cash_tables.cover(judged, words))


def _calendar(judged: LoanAppraisal, words: Words) -> None:
    """Payments beside the harvest, by month of the year."""
    show_chart(lending_charts.calendar_chart(judged, words), key="calendar")
    show_table(cash_tables.calendar(judged, words))


def _cases(judged: LoanAppraisal, words: Words) -> None:
    """The same loan on other terms and at lower prices."""
    prices = cash_sentences.lower_prices(judged, words)
    by_price = [" ".join(filter(None, pair)) for pair in zip(prices[::2], prices[1::2], strict=True)]
    bullets([*cash_sentences.other_ways(judged, words), *by_price])
    show_table(cash_tables.cases(judged, words))
    _joining(judged, words)


def _payments(judged: LoanAppraisal, words: Words) -> None:
    """Every payment beside the money there is."""
    show_table(cash_tables.payments(judged, words))
    _joining(judged, words)


def _joining(judged: LoanAppraisal, words: Words) -> None:
    """Say where interest that joins the debt is repaid."""
    if judged.as_stated.schedule.interest_added.any():
        small([words("lending.note.interest_joins")])


def _schedule(judged: LoanAppraisal, words: Words) -> None:
    """The contract month by month, in its own money."""
    st.caption(words("screen.lender.nominal"))
    show_table(contract.loan_schedule(judged, words))
    _joining(judged, words)


def _terms(farm: Scenario, number: int, words: Words) -> None:
    """One loan's terms, and what the lender asks for."""
    loans_part.draw(farm, number, words)
    loans_part.asked(words)


def _each_terms(farm: Scenario, words: Words) -> None:
    """The terms alone, so that what cannot be can be mended."""
    loans_part.draw(farm, _which(farm, words), words)


def _files(farm: Scenario, words: Words) -> None:
    """The credit note, the report behind it and the workbook, each made when it is asked for."""
    stem, asked = file_name(farm).removesuffix(".toml"), cash_results.Asked.now(farm)
    with st.container(horizontal=True):
        for name, make, file, mime in (
            ("note", cash_results.note_file, f"{stem}-note.html", "text/html"),
            ("report", cash_results.report_file, f"{stem}.html", "text/html"),
            ("workbook", cash_results.workbook_file, f"{stem}.xlsx", MIME_OF_WORKBOOK),
        ):
            st.download_button(
                words(f"screen.lender.{name}"),
                partial(make, asked),
                file_name=file,
                mime=mime,
                on_click="ignore",
                key=key_of(name),
                help=words(f"screen.lender.{name}_help"),
                wrap=True,
            )
    st.caption(words("screen.lender.ends"))


def _cautions(farm: Scenario, words: Words) -> None:
    """What to beware of before signing."""
    with st.container(border=True):
        st.subheader(words("screen.lender.cautions"), anchor=False)
        note = cash_sentences.money_note(farm.appraisal.inflation, words)
        bullets([words("caution.debt"), words("caution.planning_aid"), note])
