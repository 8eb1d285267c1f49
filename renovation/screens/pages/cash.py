"""Family cash: in which years money runs short, how deep, what carries the family over; the plan that it rests on."""

import streamlit as st

from renovation.inputs import Scenario
from renovation.screens.controls import room
from renovation.screens.controls.text import bullets, plain, section, show_chart, show_table, small
from renovation.screens.memory import before, state
from renovation.screens.memory import cash as cash_results
from renovation.screens.memory.cash import Family
from renovation.screens.memory.state import key_of
from renovation.screens.parts import before as before_part
from renovation.screens.parts import followed, head
from renovation.screens.parts import plan as plan_part
from renovation.screens.parts.sheet import FIRST_DRAWN
from renovation.show import before as moved
from renovation.show.cash import charts as cash_charts
from renovation.show.cash import months
from renovation.show.cash import sentences as cash_sentences
from renovation.show.cash import tables as cash_tables
from renovation.show.grid import Table
from renovation.show.plan.work_calendar import FIRST_YEARS, first_work, planned_kinds, planned_years, work_calendar
from renovation.show.voice import Voice
from renovation.words import Words


def draw() -> None:
    """Draw the page."""
    no_plan = "screen.cash.no_plan"
    farm, words = head.begin("screen.page.cash", no_plan=no_plan, answers_first=True)
    first = st.container()
    if state.in_room():
        head.notes(farm, words, no_plan=no_plan)
    followed.draw(farm, words)
    found = head.unless_refused(lambda: cash_results.family(farm))
    if found is None:
        return
    if state.in_room():
        with first:
            _to_a_room(farm, found, words)
    _answer(farm, found, words)
    if not state.in_room():
        _balance(farm, found, words)
    _beside_chart(farm, found, words)
    _details(farm, found, words)


def _to_a_room(farm: Scenario, found: Family, words: Words) -> None:
    """Before anything else: whether money runs short, what a change has moved, the balance in a chart."""
    st.header(plain(cash_sentences.short(found.cash, found.cash.with_plan, words)), anchor=False)
    stood = before.farm()
    was = None if stood is None else head.unless_refused(lambda: cash_results.family(stood).cash)
    if was is not None:
        before_part.draw(moved.cash(found.cash, was, words))
    place = st.container()
    years = _years_drawn(farm, words)
    chart = cash_charts.balance_chart(found.cash, words, years=years, before=was, height=room.HEIGHT)
    with place:
        show_chart(chart, key=f"balance_{years}")


def _answer(farm: Scenario, found: Family, words: Words) -> None:
    """The answer in sentences, the first one large."""
    cash = found.cash
    st.caption(plain(_subject(farm, found, words)))
    first, *rest = cash_sentences.family_answer(cash, words)
    if not state.in_room():
        st.header(plain(first), anchor=False)
    st.markdown(f"**{plain(' '.join(rest))}**")
    st.markdown(plain(" ".join([*cash_sentences.low_months(cash, words), *cash_sentences.hands(found.labour, words)])))


def _subject(farm: Scenario, found: Family, words: Words) -> str:
    """Which farm, how many trees in the plan, from when to when."""
    months = found.cash.months
    return words(
        "screen.cash.subject",
        name=farm.about.name,
        trees=words("unit.trees", n=sum(treatment.trees for treatment in farm.plan)),
        start=words.month(months[0]),
        end=words.month(months[-1]),
    )


def _balance(farm: Scenario, found: Family, words: Words) -> None:
    """The balance by month, with the plan and without it."""
    st.subheader(words("screen.cash.balance"), anchor=False)
    years = _years_drawn(farm, words)
    show_chart(cash_charts.balance_chart(found.cash, words, years=years), key=f"balance_{years}")


def _beside_chart(farm: Scenario, found: Family, words: Words) -> None:
    """What the balance would be without a plan, and what the chart's words mean."""
    if farm.plan or farm.loans:
        bullets(cash_sentences.beside_no_plan(found.cash, words))
    small([*_meant(found, words), cash_sentences.money_note(farm.appraisal.inflation, words)])


def _meant(found: Family, words: Words) -> list[str]:
    """What it means that money runs short, and that a year spends more than it brings, where either is said."""
    sides = (found.cash.with_plan, found.cash.without)
    said = []
    if any(side.short_years for side in sides):
        floor = Voice.about(found.cash, words).money(sides[0].floor)
        said.append(words("screen.cash.short_means", floor=floor))
    if any(side.gap_years for side in sides):
        said.append(words("screen.cash.spends_more_means"))
    return said


def _years_drawn(farm: Scenario, words: Words) -> int | None:
    """Choose how far the chart looks: the first years, in which money is short first, or all; None for all."""
    if farm.appraisal.horizon_years <= FIRST_DRAWN:
        return None
    near = words("screen.cash.first_years", n=words.number(FIRST_DRAWN))
    far = words("screen.cash.all_years", n=words.number(farm.appraisal.horizon_years))
    label = words("screen.cash.years_drawn")
    chosen = st.segmented_control(label, [near, far], default=near, required=True, key=key_of("years_drawn"))
    return FIRST_DRAWN if chosen == near else None


def _details(farm: Scenario, found: Family, words: Words) -> None:
    """The rest, one thing at a time; the plan itself among it."""
    parts = {
        "years": _years,
        "plan": _plan,
        "hands": _hands,
        "calendar": _calendar,
        "months": _months,
        "without": _without,
    }
    names = list(parts) if farm.plan else ["plan", "without", "hands", "months"]
    parts[section("cash", names)](farm, found, words)


def _years(farm: Scenario, found: Family, words: Words) -> None:
    """The years with the plan; a year short of money says so in a word."""
    del farm
    show_table(led_by(cash_tables.cash_years(found.cash, words), ("from_month", "what"), but=("year", "lowest_month")))


def _months(farm: Scenario, found: Family, words: Words) -> None:
    """The first years month by month."""
    del farm
    show_table(months.cash_months(found.cash, words))


def _without(farm: Scenario, found: Family, words: Words) -> None:
    """The years without the plan."""
    del farm
    table = cash_tables.cash_years(found.cash, words, side="without")
    show_table(led_by(table, ("from_month", "what"), but=("year",)))


def led_by(table: Table, first: tuple[str, ...], *, but: tuple[str, ...] = ()) -> Table:
    """The same table with some columns first, and some left out.

    Example:
        >>> from renovation.show.grid import Column
        >>> table = Table("", (Column("a", "A"), Column("b", "B"), Column("c", "C")), (("1", "2", "3"),))
        >>> led_by(table, ("c",), but=("a",)).rows
        (('3', '2'),)
    """
    keys = [column.key for column in table.columns]
    order = [keys.index(key) for key in first] + [n for n, key in enumerate(keys) if key not in (*first, *but)]
    cells = tuple(tuple(row[n] for n in order) for row in table.rows)
    return Table(table.title, tuple(table.columns[n] for n in order), cells)


def _hands(farm: Scenario, found: Family, words: Words) -> None:
    """Work by month against the days that the family has."""
    labour = found.labour
    show_chart(cash_charts.labour_chart(labour, words), key="labour")
    show_table(cash_tables.work_by_kind(labour, farm, words))
    show_table(cash_tables.labour_years(labour, words))


def _calendar(farm: Scenario, found: Family, words: Words) -> None:
    """The work of the plan in its first years, month by month."""
    labour = found.labour
    first = first_work(labour)
    if not planned_kinds(labour, first, 12 * FIRST_YEARS):
        st.markdown(words("screen.cash.no_work"))
        return
    show_chart(cash_charts.work_chart(labour, farm, first, 12 * FIRST_YEARS, words), key="work")
    years = planned_years(labour)
    names = {year: Voice.about(labour, words).year(year) for year in years}
    key = key_of(f"calendar_year|{years}")
    year = st.selectbox(words("screen.cash.calendar_year"), years, key=key, format_func=lambda n: names[n])
    show_table(work_calendar(labour, farm, year, words))
    st.caption(words("screen.cash.calendar_years"))


def _plan(farm: Scenario, found: Family, words: Words) -> None:
    """The plan, to be changed."""
    del found
    plan_part.draw(farm, words)
