"""The ten parts of the printed report: each takes the dossier and gives HTML."""

from collections.abc import Callable, Mapping

from renovation.decide.dossier import Dossier
from renovation.decide.lending import LoanAppraisal
from renovation.decide.risk.strategy import LEAVE, PLAN
from renovation.inputs import Scenario
from renovation.inputs.seasons import seasons
from renovation.show import figures, looks
from renovation.show.cash import charts as cash_charts
from renovation.show.cash import months
from renovation.show.cash import sentences as cash_sentences
from renovation.show.cash import tables as cash_tables
from renovation.show.compare import answer as compared
from renovation.show.compare import charts, sentences, tables
from renovation.show.compare.practise import practise_chart, practise_sentences
from renovation.show.compare.reasons import all_reasons
from renovation.show.grid import Table
from renovation.show.held import held_sentences
from renovation.show.loans import charts as lending_charts
from renovation.show.loans import contract
from renovation.show.loans.near import near
from renovation.show.plan.sentences import worth_sentence
from renovation.show.report import rows, stated
from renovation.show.report.happened_part import happened
from renovation.show.report.html import Html, bullets, chart, join, paragraphs, table, tag
from renovation.show.report.planting_part import planting
from renovation.show.report.references import References
from renovation.show.report.risk_part import careful_part, risk_part
from renovation.show.report.sheet_part import sheet_part
from renovation.show.risk import answers as risk_answers
from renovation.show.risk.figures import drawn_from
from renovation.show.tally import whole_sentences
from renovation.show.voice import Voice
from renovation.words import Words

BESIDE_LABELS, ALONE = 520, 630
"""Widths of a chart's plot, with names at the ends of its lines and without."""


def spoken(dossier: Dossier) -> list[str]:
    """The ways of the headline, and the best where it is another."""
    best = dossier.comparison.best
    return list(dict.fromkeys([*dossier.pair, *([best] if best else [])]))


def drawn(dossier: Dossier) -> list[str]:
    """The ways that are drawn in one chart, those spoken of first."""
    return list(dict.fromkeys([*spoken(dossier), *dossier.comparison.outcomes]))[: looks.MOST]


# 1 The answer


def answer(dossier: Dossier, words: Words) -> Html:
    """What is planned and worth, the family's money, each loan, how sure all that is, the ways."""
    comparison, cash = dossier.comparison, dossier.lending.cash
    family = cash_sentences.family_answer(cash, words)
    worth = [worth_sentence(dossier.measures.npv, dossier.scenario, words)] * bool(dossier.scenario.plan)
    side_by_side = rows.glance(dossier.lending, dossier.flows.with_plan.new_kg, words)
    pieces = [
        tag("p", " ".join([rows.planned(dossier.scenario, words), *worth]), class_="lead"),
        tag("h3", words("report.answer.family")),
        bullets(family),
        tag("h3", words("report.answer.loans")),
        *(_loan_answer(judged, words) for judged in dossier.lending.loans),
        *([] if dossier.lending.loans else [bullets([words("lending.no_loans")])]),
        *([table(side_by_side)] if side_by_side.rows else []),
        tag("h3", words("report.answer.sure")),
        bullets(_how_sure(dossier, words)),
        tag("h3", words("report.answer.ways")),
        bullets([sentences.subject(comparison, words), *compared.answer(comparison, dossier.swings(), words)]),
    ]
    return join(pieces)


def _how_sure(dossier: Dossier, words: Words) -> list[str]:
    """How often the futures hurt, and how much of what the answer rests on is printed or made up."""
    found = dossier.risk
    leading = found.answers.get(PLAN) or next((a for key, a in found.answers.items() if key != LEAVE), None)
    chances = [risk_answers.chances(found, leading, words)] if leading else []
    return [*chances, rows.sources(dossier.held, dossier.comparison, dossier.swings(), words)]


def _loan_answer(judged: LoanAppraisal, words: Words) -> Html:
    """One loan under its title."""
    title = tag("p", tag("strong", cash_sentences.loan_title(judged, words)), class_="lead")
    return join([title, bullets([*cash_sentences.lender_answer(judged, words), *near(judged, words)])])


# 2 The plan


def plan(dossier: Dossier, words: Words) -> Html:
    """What the family means to do, and the stands it does it on."""
    voice = Voice.of(dossier.scenario, words)
    scenario = dossier.scenario
    note = [scenario.about.note] if scenario.about.note.strip() else []
    planned = table(rows.plan(scenario, words), total=True) if scenario.plan else tag("p", words("report.plan.none"))
    helps = [
        words("report.plan.way", way=voice.way(key), help=words(f"technique_help.{key}"))
        for key in dict.fromkeys(treatment.technique for treatment in scenario.plan)
        if f"technique_help.{key}" in words
    ]
    in_all = [bullets(said)] if (said := whole_sentences(scenario, words)) else []
    return join([paragraphs(note), planned, bullets(helps), table(rows.stands(scenario, words)), *in_all])


# 3 This year


def this_year(dossier: Dossier, words: Words) -> Html:
    """This year's sheet for the family."""
    return sheet_part(dossier, words)


# 4 Cash


def cash(dossier: Dossier, words: Words) -> Html:
    """The balance chart, the years with the plan and without it, the first years by month."""
    held, planned = dossier.lending.cash, bool(dossier.scenario.plan)
    said = [cash_sentences.money_note(dossier.scenario.appraisal.inflation, words)]
    if planned or dossier.lending.loans:
        said = [*cash_sentences.beside_no_plan(held, words), *said]
    return join(
        [
            bullets(said),
            chart(cash_charts.balance_chart(held, words, height=330), "balance", BESIDE_LABELS),
            table(cash_tables.cash_years(held, words)),
            table(cash_tables.cash_years(held, words, side="without")),
            table(months.cash_months(held, words), small=True),
        ]
    )


# 5 Labour


def labour(dossier: Dossier, words: Words) -> Html:
    """Busiest month, hired days, months without enough hands."""
    work = dossier.labour
    missing = [table(months.short_months(work, words))] if work.short_months else []
    return join(
        [
            bullets(cash_sentences.hands(work, words)),
            *missing,
            table(cash_tables.work_by_kind(work, dossier.scenario, words)),
            chart(cash_charts.labour_chart(work, words, height=250), "labour", ALONE),
            table(cash_tables.labour_years(work, words)),
            table(months.labour_months(work, words), small=True),
        ]
    )


# 6 Loans


def loans(dossier: Dossier, words: Words) -> Html:
    """Each loan on its terms: what is said of it, its contract, its cases, coverage, calendar, every payment."""
    judged = dossier.lending.loans
    if not judged:
        return tag("p", words("lending.no_loans"))
    return join(_loan(loan, number, words) for number, loan in enumerate(judged))


def _loan(judged: LoanAppraisal, number: int, words: Words) -> Html:
    nominal = tag("p", words("report.loan.nominal"), class_="note")
    return tag(
        "section",
        tag("h3", cash_sentences.loan_title(judged, words)),
        bullets(_said_of(judged, words)),
        table(contract.loan_terms(judged, words)),
        table(cash_tables.cases(judged, words)),
        table(cash_tables.cover(judged, words)),
        tag("p", cash_sentences.bands(words), class_="note"),
        chart(lending_charts.cover_chart(judged, words, height=240), f"cover{number}", BESIDE_LABELS),
        table(cash_tables.calendar(judged, words)),
        chart(lending_charts.calendar_chart(judged, words, height=220), f"calendar{number}", ALONE),
        table(contract.loan_schedule(judged, words), total=True),
        nominal,
        table(cash_tables.payments(judged, words)),
        tag("p", words("report.loan.payments"), class_="note"),
        class_="loan",
    )


def _said_of(judged: LoanAppraisal, words: Words) -> list[str]:
    """All that is said of a loan; the two sentences on each lower price stand together."""
    priced = cash_sentences.lower_prices(judged, words)
    pairs = [" ".join(filter(None, priced[at : at + 2])) for at in range(0, len(priced), 2)]
    said = [sentence for sentence in cash_sentences.loan_said(judged, words) if sentence not in priced]
    at = said.index(cash_sentences.beside_harvest(judged, words)) + 1
    at += len(cash_sentences.other_ways(judged, words))
    return [*said[:at], *pairs, *said[at:]]


# 7 The ways


def ways(dossier: Dossier, words: Words) -> Html:
    """Measures side by side, the charts, what the answer rests on, where a way just pays."""
    comparison = dossier.comparison
    if not comparison.outcomes:
        return bullets(compared.answer(comparison, dossier.swings(), words))
    pieces = [
        tag("p", sentences.subject(comparison, words), class_="lead"),
        bullets(compared.answer(comparison, dossier.swings(), words)),
        *([table(hands)] if (hands := compared.both_hands(comparison, words)) else []),
        *([bullets(held)] if (held := held_sentences(dossier.scenario, words)) else []),
        table(tables.measures(comparison, words)),
        paragraphs(sentences.blanks(comparison.outcomes.values(), words), class_="note"),
        *_crops(dossier, words),
        chart(charts.cumulative_cash_chart(comparison, drawn(dossier), words), "cash", BESIDE_LABELS),
    ]
    if dossier.practise is not None:
        pieces += [
            tag("h4", words("report.heading.practise")),
            bullets(practise_sentences(dossier.practise, comparison, words)),
            chart(practise_chart(dossier.practise, comparison, words, height=200), "practise", ALONE),
        ]
    if comparison.headline:
        pieces.append(table(tables.ranges(comparison, comparison.headline, dossier.swings(), words)))
    pieces += [_just_pays(dossier, words), table(tables.npv_per_tree(dossier.scenario, dossier.npv_per_tree, words))]
    return join(pieces)


def _crops(dossier: Dossier, words: Words) -> list[Html]:
    """The crop of one tree for each way of the headline, on one scale."""
    voice = Voice.of(dossier.scenario, words)
    comparison, ways = dossier.comparison, spoken(dossier)
    highest = charts.most_kg([comparison.outcomes[key] for key in ways])
    crops = []
    for number, key in enumerate(ways):
        picture = charts.crop_chart(comparison, key, words, highest=highest, height=200)
        title = tag("h4", words("report.crop_of", way=voice.way(key)))
        crops.append(tag("div", title, chart(picture, f"crop{number}", ALONE), class_="whole"))
    return crops


def _just_pays(dossier: Dossier, words: Words) -> Html:
    """Break-even values of the ways spoken of, and where the two of the headline tie."""
    comparison = dossier.comparison
    said = [sentence for key in spoken(dossier) for sentence in sentences.break_even(comparison, key, words)]
    starts = [
        f"{sentences.start(comparison, key, words)} {compared.tried(comparison, key, words)}".strip()
        for key in spoken(dossier)
    ]
    return join(
        [
            tag("h4", words("report.heading.break_even")),
            tag("p", words("compare.each_alone")),
            bullets([*said, *sentences.ties(comparison, words)]),
            tag("h4", words("report.heading.starts")),
            bullets([*starts, *(sentences.rate_of_return(comparison, key, words) for key in spoken(dossier))]),
        ]
    )


# 8 Risk


def risk(dossier: Dossier, words: Words) -> Html:
    """What the futures say, the hard cases, what the answer rests on, the careful plan where that is asked for."""
    return join([risk_part(dossier, words), *(careful_part(dossier, words) if dossier.prints_careful else [])])


# 9 Assumptions


def assumptions(dossier: Dossier, words: Words) -> Html:
    """What the family states, the harvest months, and every figure of every way with its source."""
    scenario = dossier.held
    own = {words("source.own"), words("source.counted")}
    cited = References(scenario, words)
    used = dict.fromkeys(key for way in scenario.techniques.values() for key in figures.supplies_of(way))
    costs = figures.supplies(scenario.supplies, scenario.appraisal.currency, words, list(used))
    return join(
        [
            paragraphs([words("report.assumptions.lead")]),
            bullets(_kinds(scenario, words)),
            table(stated.stated(scenario, words), shares=STATED),
            table(stated.stated_stands(scenario, words)),
            *_season(scenario, words),
            table(drawn_from(scenario, words), shares=DRAWN_FROM),
            *(
                table(
                    cited.shortened(figures.figures(scenario, key, words)),
                    marked=own | figures.own_copied(scenario, key, words),
                    shares=FIGURES,
                )
                for key in scenario.techniques
            ),
            *planting(scenario, cited.shortened, words),
            table(cited.shortened(costs), marked=own, shares=SUPPLIES),
            table(all_reasons(scenario, words), shares=REASONS),
            tag("h3", words("report.heading.sources")),
            tag("ol", *(tag("li", citation) for citation in cited.citations), class_="sources"),
        ]
    )


FIGURES, SUPPLIES, STATED = (28, 17, 22, 17, 16), (24, 12, 24, 11, 13, 16), (24, 22, 26, 28)
DRAWN_FROM, REASONS = (22, 12, 12, 19, 13, 22), (26, 18, 56)
"""Widths of columns, in percent."""


def _kinds(scenario: Scenario, words: Words) -> list[str]:
    """What each class of source means; of what was counted only where something was."""
    kinds = ["published", "common practice", "from memory", "invented", "own"]
    kinds += ["counted"] if scenario.planning.records else []
    return [words("sources.kind", kind=words(f"source.{k}"), meaning=words(f"source_help.{k}")) for k in kinds]


def _season(scenario: Scenario, words: Words) -> list[Html]:
    """When the crop ripens, and who says so."""
    window = scenario.market.season.window
    if window is None:
        return [tag("p", words("sources.own_season")), table(stated.season(scenario, words))]
    said = [
        words("sources.window", window=words.name("window", window)),
        words("sources.window_source", citation=seasons().windows_source.citation),
        words("window_help.spread"),
    ]
    return [table(stated.season(scenario, words)), paragraphs(said, class_="note")]


# 10 Cautions


def cautions(dossier: Dossier, words: Words) -> Html:
    """What to beware of, what the figures are not, and room to sign."""
    scenario = dossier.scenario
    listed = figures.cautions(scenario.techniques, words, losses=scenario.states_losses)
    said = [_caution(row, listed, words) for row in listed.rows[:-1]]
    if dossier.lending.loans:
        said = [words("caution.debt"), *said]
    return join(
        [
            tag("p", words("caution.planning_aid"), class_="lead"),
            bullets(said),
            bullets(sentences.notes(scenario, words)),
            _to_sign(words),
        ]
    )


def _caution(row: tuple[str, ...], listed: Table, words: Words) -> str:
    """A caution with the ways it belongs to, where these are not all."""
    one_for_all = row[1] == words("cell.all_ways") or len({ways for _, ways in listed.rows}) == 1
    return row[0] if one_for_all else words("compare.caution", caution=row[0], ways=row[1])


def _to_sign(words: Words) -> Html:
    """Lines for notes, and for date, name and signature of family and lender."""
    lines = [tag("div", class_="line") for _ in range(6)]
    fields = ("date", "name", "signature")
    signed = [
        tag(
            "div",
            tag("h4", words(f"report.sign.{who}")),
            *(tag("p", words(f"report.sign.{field}"), class_="field") for field in fields),
        )
        for who in ("family", "lender")
    ]
    notes = tag("div", tag("h4", words("report.sign.notes")), *lines)
    return tag("div", notes, tag("div", *signed, class_="sign"), class_="whole")


PARTS: Mapping[str, Callable[[Dossier, Words], Html]] = {
    "answer": answer,
    "plan": plan,
    "happened": happened,
    "this_year": this_year,
    "cash": cash,
    "labour": labour,
    "loans": loans,
    "ways": ways,
    "risk": risk,
    "assumptions": assumptions,
    "cautions": cautions,
}
"""The parts in order, by the key of their title."""
