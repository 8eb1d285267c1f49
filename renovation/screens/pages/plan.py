"""The plan: how many trees this year, who does what when, what to get, the money it takes, and why not more."""

from collections.abc import Mapping
from typing import Any

import streamlit as st

from renovation.decide.plan import Plan, SolverFailed
from renovation.decide.replacement import WhenToRenovate
from renovation.decide.risk.careful import CarefulPlan
from renovation.inputs import Loan, Scenario, Treatment
from renovation.inputs.planning import Learning, LoanOffer
from renovation.money.loans import LoanError
from renovation.screens.controls.fields import Place, decimal_input, key_of, percent, switch
from renovation.screens.controls.text import bullets, plain, section, show_chart, show_table, small
from renovation.screens.memory import plan as plan_results
from renovation.screens.memory import state
from renovation.screens.memory.plan import Found, Job
from renovation.screens.parts import careful as careful_part
from renovation.screens.parts import records as records_part
from renovation.show.cash import sentences as cash_sentences
from renovation.show.compare.sentences import way_name
from renovation.show.plan import charts as plan_charts
from renovation.show.plan import tables as plan_tables
from renovation.show.plan.learning import learning_sentences
from renovation.show.plan.sentences import (
    caution_sentences,
    head_in_parts,
    head_sentence,
    limit_sentences,
    plan_sentences,
    standing_sentence,
    when_sentences,
)
from renovation.show.plan.sheet_sentences import caution_lines, clone_sentences, look_sentence
from renovation.words import Words

Changes = Mapping[str, Any]

FIRST_DRAWN = 10
"""Years of the balance chart that can be read month by month."""
EVERY = 1.0
"""Seconds between two looks at a search that is at work."""
PARTS = ("rules", "limits", "caution", "careful", "when", "trees", "years")


def draw() -> None:
    """Draw the page."""
    words = state.words()
    farm = state.scenario()
    st.title(words("screen.plan.title"), anchor=False)
    if farm.about.invented:
        st.info(words("screen.invented"))
    take_in()
    made = _found(farm) is not None
    with st.expander(words("screen.plan.promises"), expanded=not made, key=key_of(f"plan_promises_{made}")):
        _promises(farm, words)
    with st.expander(words("screen.plan.records"), key=key_of("plan_records")):
        records_part.draw(farm, words)
    _buttons(farm, words)
    found = _found(farm)
    if found is None:
        if "plan_job" not in st.session_state:
            st.markdown(words("screen.plan.none_yet"))
        return
    if plan_results.question(found.farm) != plan_results.question(farm):
        st.warning(words("screen.plan.older"))
    _answer(found, words)
    _use(farm, found, words)
    _sheet(found, words)
    _details(farm, found, words)


# The search


def take_in() -> None:
    """Keep what a search that has ended has found; say what went wrong, if anything did."""
    job: Job | None = st.session_state.get("plan_job")
    if job is None or job.at_work:
        return
    del st.session_state["plan_job"]
    if job.error is not None:
        _went_wrong(job.error)
        return
    # what was stopped is this visitor's alone: nobody else should be given less than was asked for
    st.session_state["plan_mine"] = {(job.key, job.name): job.result}
    if not job.stop.is_set():
        plan_results.remembered(job.key)[job.name] = job.result
    if job.name == "found":
        st.session_state["plan_found"] = job.result


def _went_wrong(error: Exception) -> None:
    """Say why there is no plan; what is no fault of the farm is raised again."""
    words = state.words()
    if isinstance(error, LoanError):
        st.error(plain(cash_sentences.refusal(error, words)))
    elif isinstance(error, SolverFailed):
        st.error(words("plan.failed"))
    elif isinstance(error, ValueError):
        st.error(words("screen.plan.refused"))
    else:
        raise error


def _found(farm: Scenario) -> Found | None:
    """The plan for these numbers where it is known, else the last one of this visit to the same farm."""
    known: Found | None = _known(plan_results.question(farm), "found")
    if known is not None:
        st.session_state["plan_found"] = known
        return known
    last: Found | None = st.session_state.get("plan_found")
    return last if last is not None and last.farm.about.name == farm.about.name else None


def _known(key: str, name: str) -> Any:
    """What has been found on a question, by anybody to the end or by this visitor as far as it was sought."""
    mine = st.session_state.get("plan_mine", {}).get((key, name))
    return plan_results.remembered(key).get(name, mine)


def _buttons(farm: Scenario, words: Words) -> None:
    """Start the search; while it is at work, how long it has taken and the way out."""
    if "plan_job" in st.session_state:
        if not _at_work_below(farm):
            _at_work()
        return
    again = "make" if _found(farm) is None else "make_again"
    st.button(words(f"screen.plan.{again}"), key=key_of("make_plan"), on_click=_begin)


def _at_work_below(farm: Scenario) -> bool:
    """Whether the part that is looked at waits for the search: it shows it then, where the button was pressed."""
    job: Job | None = st.session_state.get("plan_job")
    shown = st.session_state.get(key_of("section.plan"))
    return job is not None and job.name == shown and _found(farm) is not None


def _begin() -> None:
    """Start the search for the farm in hand."""
    farm = state.scenario()
    _start("found", plan_results.question(farm), lambda job: plan_results.find(farm, job))


def _start(name: str, asked: str, work: plan_results.Work) -> None:
    """Start a search for what is asked; one at a time."""
    if "plan_job" not in st.session_state:
        step = "search" if name == "found" else name
        st.session_state["plan_job"] = Job(asked, name, work, step).start()


def _stop() -> None:
    """Ask the search to end with the best that it has."""
    job: Job | None = st.session_state.get("plan_job")
    if job is not None:
        job.stop.set()


@st.fragment(run_every=EVERY)
def _at_work() -> None:
    """What is being worked out; the page is drawn anew once it is done."""
    words = state.words()
    job: Job | None = st.session_state.get("plan_job")
    if job is None:
        return
    if not job.at_work:
        st.rerun(scope="app")
    facts = {"seconds": words("unit.seconds", n=int(job.seconds)), "plans": words("unit.plans", n=job.tried)}
    said = words(f"screen.plan.step.{'stopping' if job.stop.is_set() else job.step}", **facts)
    if job.name == "caution":
        st.progress(job.done, said)
    else:
        # as a context it would be marked complete at the end of the block
        st.status(said, state="running").markdown(words("screen.plan.meanwhile"))
    st.button(words("screen.plan.stop"), key=key_of("stop_plan"), on_click=_stop, disabled=job.stop.is_set())


# What the plan must keep


def _promises(farm: Scenario, words: Words) -> None:
    """Floor, hands, scions, years, loan, learning."""
    left, middle, right = st.columns(3)
    with left:
        decimal_input(
            words("screen.plan.floor"), Place(("household", "floor")), help_text=words("screen.plan.floor_help")
        )
        _hands(farm, words)
    with middle:
        years = farm.planning.years_of(farm.appraisal.horizon_years)
        decimal_input(
            words("screen.plan.years"),
            Place(("planning", "years"), value=years),
            help_text=words("field.Planning.years.help"),
        )
        _scions(farm, words)
    with right:
        _loan(farm, words)
        _learning(farm, words)


def _hands(farm: Scenario, words: Words) -> None:
    """The most days that can be hired in a month: one number, none, or twelve that are stated elsewhere."""
    limit = farm.household.hired_days_limit
    label = words("screen.plan.hands")
    if isinstance(limit, tuple):
        said = words.listing(
            [
                words("screen.plan.in_month", month=words.month_name(month, "abbreviated"), days=words.number(days))
                for month, days in enumerate(limit, 1)
            ]
        )
        st.markdown(label)
        st.caption(words("screen.plan.by_month", said=said))
        return
    place = Place(("household", "hired_days_limit"))
    decimal_input(label, place, name="plan.", help_text=words("screen.plan.empty_help"))
    if limit is None:
        st.caption(words("screen.plan.no_limit"))


def _scions(farm: Scenario, words: Words) -> None:
    """Scions to be had in a year: one number or none, or one for each year."""
    stated = farm.planning.scions_per_year
    path = ("planning", "scions_per_year")
    if not isinstance(stated, tuple):
        decimal_input(words("screen.plan.scions"), Place(path), help_text=words("screen.plan.empty_help"))
        if stated is None:
            st.caption(words("screen.plan.no_limit"))
        return
    for place, number in enumerate(stated):

        def put(value: float, place: int = place) -> Changes:
            return {"planning__scions_per_year": (*stated[:place], float(value), *stated[place + 1 :])}

        label = words("screen.plan.scions_in", year=words.number(place + 1))
        decimal_input(label, Place(path, value=number, put=put), name=f"year{place}.")


def _loan(farm: Scenario, words: Words) -> None:
    """Whether the plan may borrow, and how much at most."""
    offer = farm.planning.loan
    if offer is not None:
        state.memory("plan_offers")[farm.about.name] = offer
    known = offer or _offer(farm)
    if known is None:
        st.markdown(words("screen.plan.loan_no"))
        st.caption(words("screen.plan.loan_none"))
        return
    switch(
        words("screen.plan.loan"),
        offer is not None,
        lambda on: {"planning__loan": known.model_dump() if on else None},
        name="plan_loan",
        help_text=words("screen.plan.loan_help"),
    )
    if offer is not None:
        st.caption(plain(words("screen.plan.loan_name", loan=offer.name)))
        decimal_input(words("screen.plan.limit"), Place(("planning", "loan", "limit")))


def _offer(farm: Scenario) -> LoanOffer | None:
    """An offer to turn on: the one turned off before, else the farm's first loan."""
    before: LoanOffer | None = state.memory("plan_offers").get(farm.about.name)
    if before is not None or not farm.loans:
        return before
    terms = farm.loans[0].model_dump()
    return LoanOffer.model_validate({"limit": terms.pop("amount"), **terms})


def _learning(farm: Scenario, words: Words) -> None:
    """Whether the take rises with practice, and from where to where."""
    now = farm.planning.learning
    if now is not None:
        state.memory("plan_learning")[farm.about.name] = now
    kept = now or state.memory("plan_learning").get(farm.about.name) or Learning()
    switch(
        words("screen.plan.learning"),
        now is not None,
        lambda on: {"planning__learning": kept.model_dump() if on else None},
        name="plan_learning",
        help_text=words("screen.plan.learning_help"),
    )
    if now is not None and now.form != "table":
        for field in ("first_take", "highest_take"):
            decimal_input(words(f"screen.plan.{field}"), percent(("planning", "learning", field)))


# The answer


def _answer(found: Found, words: Words) -> None:
    """The answer in sentences, the first one large; then the trees of each stand."""
    plan = found.learned.plan
    _, *rest = plan_sentences(plan, words)
    head, parts = head_in_parts(plan, words)
    standing = standing_sentence(plan, words)
    st.header(plain(head), anchor=False)
    if parts:
        bullets(parts)
    st.markdown(f"**{plain(standing)}**")
    st.markdown(plain(" ".join(sentence for sentence in rest if sentence != standing)))
    with st.container(horizontal=True, gap="medium"):
        for stand in plan.scenario.stands:
            now = sum(start.trees for start in found.laid_out.starts if start.stand == stand.name)
            every = sum(start.trees for start in plan.starts if start.stand == stand.name)
            with st.container(border=True, width="content"):
                said = words("unit.trees", n=now) if now else words("screen.plan.none_now")
                st.metric(stand.name, said, width="content")
                st.caption(words("screen.plan.in_all", n=words.number(every), there=words("unit.trees", n=stand.trees)))
    st.caption(words("screen.plan.of_this_year"))


def _use(farm: Scenario, found: Found, words: Words) -> None:
    """Let every page follow the plan; say what of it the other pages reckon otherwise."""
    plan = found.learned.plan
    if not plan.starts:
        return
    loans = _loans_with(farm, plan, (plan.loan,) if plan.loan else ())
    if farm.plan == plan.treatments and farm.loans == loans:
        st.success(words("screen.plan.in_use"))
    else:
        st.button(words("screen.plan.use"), key=key_of("use_plan"), on_click=_take_up, args=(plan.treatments, loans))
    others = [loan.name for loan in loans if plan.loan is None or loan.name != plan.loan.name]
    notes = []
    if plan.loan is not None:
        notes.append(words("screen.plan.lender_asks"))
    if others:
        notes.append(words("screen.plan.other_loans", loans=words.listing(others)))
    if found.learned.learners or found.learned.beliefs:
        notes.append(words("screen.plan.other_takes"))
    small(notes)


def _loans_with(farm: Scenario, plan: Plan, taken: tuple[Loan, ...]) -> tuple[Loan, ...]:
    """The farm's loans with those taken in place of the offer's; the offer gone where nothing is borrowed."""
    offer = plan.problem.planning.loan
    kept = [loan for loan in farm.loans if offer is None or loan.name.casefold() != offer.name.casefold()]
    return (*taken, *kept)


def _take_up(treatments: tuple[Treatment, ...], loans: tuple[Loan, ...]) -> None:
    """Write a plan and its loans into the farm in hand."""
    changes = {
        "plan": tuple(treatment.model_dump() for treatment in treatments),
        "loans": tuple(loan.model_dump() for loan in loans),
    }
    problems = state.change(changes)
    if problems:
        state.say_problems([state.words()("screen.plan.not_used"), *problems])


# This year's sheet


def _sheet(found: Found, words: Words) -> None:
    """Calendar, balance, shopping, looks, money to have in hand, cautions."""
    plan, laid_out = found.learned.plan, found.laid_out
    st.subheader(words("screen.plan.work"), anchor=False)
    bullets([*clone_sentences(laid_out, plan, words)])
    show_table(plan_tables.work(laid_out, plan.scenario, words))
    st.subheader(words("screen.cash.balance"), anchor=False)
    years = min(FIRST_DRAWN, plan.scenario.appraisal.horizon_years)
    show_chart(plan_charts.balance_chart(plan, words, years=years), key="plan_balance")
    st.markdown(plain(plan_charts.balance_finding(plan, words)))
    if laid_out.shopping:
        st.subheader(words("screen.plan.shopping"), anchor=False)
        show_table(plan_tables.shopping(laid_out, words))
        small([words("plan.sheet.spare")])
    if laid_out.looks:
        st.subheader(words("plan.sheet.looks"), anchor=False)
        bullets(look_sentence(look, plan, words) for look in laid_out.looks)
    st.subheader(words("screen.plan.in_hand"), anchor=False)
    show_table(plan_tables.in_hand(laid_out, words))
    small([words("plan.sheet.in_hand_note")])
    with st.container(border=True):
        st.subheader(words("screen.compare.cautions"), anchor=False)
        bullets(caution_lines(laid_out, plan, words))


# Closer


def _details(farm: Scenario, found: Found, words: Words) -> None:
    """The rest, one thing at a time."""
    st.subheader(words("screen.plan.why"), anchor=False)
    part = section("plan", PARTS)
    plan = found.learned.plan
    if part == "rules":
        show_table(plan_tables.rules(plan, found.rules, words))
        small(plan_tables.broken(plan, found.rules, words))
    elif part == "limits":
        bullets(limit_sentences(found.limits, plan, words))
        small([words("screen.plan.limits_note")])
    elif part == "caution":
        _caution(farm, found, words)
    elif part == "careful":
        _careful(farm, found, words)
    elif part == "when":
        _when(farm, words)
    elif part == "trees":
        st.markdown(plain(head_sentence(plan, words)))
        bullets(learning_sentences(found.learned, words))
        show_table(plan_tables.trees(plan, words))
    else:
        show_table(plan_tables.years(plan, words))


def _caution(farm: Scenario, found: Found, words: Words) -> None:
    """What a higher floor costs: asked for, since each floor is a search of its own."""
    points = _known(plan_results.question(found.farm), "caution")
    if points is None and _at_work_below(farm):
        _at_work()
        return
    if points is None:
        st.markdown(words("screen.plan.caution_lead"))
        st.button(
            words("screen.plan.caution_make"),
            key=key_of("make_caution"),
            disabled="plan_job" in st.session_state,
            on_click=_start,
            args=("caution", plan_results.question(found.farm), lambda job: plan_results.caution(found, job)),
        )
        return
    plan = found.learned.plan
    chart = plan_charts.caution_chart(plan, points, words)
    if chart is None:
        bullets(caution_sentences(plan, points, words))
    else:
        show_chart(chart, key="plan_caution")
    show_table(plan_tables.floors(plan, points, words))
    if plan.standing == "within_gap" and plan.at_most_better is not None:
        close = words.round_money(plan.at_most_better, plan.scenario.appraisal.currency)
        small([words("screen.plan.caution_note", amount=close)])


def _careful(farm: Scenario, found: Found, words: Words) -> None:
    """The plan that keeps the floor in nine futures of ten, on the futures of the farm in hand."""
    asked = plan_results.careful_question(found.farm, farm.risk)
    careful: CarefulPlan | None = _known(asked, "careful")
    if careful is None and _at_work_below(farm):
        _at_work()
        return
    if careful is None:

        def work(job: Job) -> CarefulPlan:
            return plan_results.careful(found, farm, job)

        careful_part.lead(farm, lambda: _start("careful", asked, work), "plan_job" in st.session_state, words)
        return
    loans = _loans_with(farm, found.learned.plan, careful.careful.loans)
    in_use = farm.plan == careful.careful.treatments and farm.loans == loans
    careful_part.draw(careful, in_use, lambda: _take_up(careful.careful.treatments, loans), words)


def _when(farm: Scenario, words: Words) -> None:
    """When to renovate at all: by year of starting, and by age."""
    found = plan_results.when(farm)
    ageing = [curve for curve in found.renewals if curve.best_age is not None]
    bullets([*when_sentences(farm, found.starts, ageing, found.old_trees, words), *_ageless(farm, found, words)])
    stands = list(dict.fromkeys(curve.stand for curve in found.starts))
    if stands:
        stand = st.selectbox(words("screen.cash.stand"), stands, key=key_of(f"when_stand|{'|'.join(stands)}"))
        chart = plan_charts.start_chart(farm, [curve for curve in found.starts if curve.stand == stand], words)
        if chart is not None:
            show_chart(chart, key=f"when_{stands.index(stand)}")
    chart = plan_charts.renewal_chart(farm, found.renewals, words)
    if chart is not None:
        show_chart(chart, key="renewal")
    small([words("screen.plan.when_note")])


def _ageless(farm: Scenario, found: WhenToRenovate, words: Words) -> list[str]:
    """The ways whose trees show no age at which renewing them again pays, in one sentence."""
    ageless = [curve for curve in found.renewals if curve.best_age is None]
    if not ageless:
        return []
    ways = words.listing([way_name(farm, curve.technique, words) for curve in ageless])
    return [words("plan.when.renewal_none", way=ways, years=words("unit.years", n=ageless[0].lev.size))]
