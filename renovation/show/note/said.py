"""What stands in the credit note, in sentences and tables: the dossier's figures, nothing worked out anew."""

from collections.abc import Iterable

from renovation.decide.dossier import Dossier
from renovation.decide.funds import UseOfFunds, use_of_funds
from renovation.decide.lending import LoanAppraisal
from renovation.decide.risk.strategy import PLAN
from renovation.decide.risk.stress import BEGINNERS, LOST_CROP, LOST_TREES, TOGETHER
from renovation.inputs import month_count
from renovation.money import missed
from renovation.money.loans import to_constant_prices
from renovation.show.cash import sentences as cash_sentences
from renovation.show.cash import tables as cash_tables
from renovation.show.grid import Column, Table, column, columns, number_cell
from renovation.show.held import held_sentences
from renovation.show.loans.contract import payouts
from renovation.show.report import rows
from renovation.show.voice import Voice
from renovation.words import Words

MOST_YEARS, MOST_DEBTS, MOST_PAYOUTS = 10, 4, 4
"""Years of coverage, other loans and payouts that are told one by one."""
CASES = (LOST_CROP, BEGINNERS, LOST_TREES, TOGETHER)


def asked_for(dossier: Dossier) -> LoanAppraisal | None:
    """The loan that the note is about: the first that is not running yet, else the first that is; None without one."""
    loans = sorted(dossier.lending.loans, key=lambda loan: loan.as_stated.terms.running)
    return loans[0] if loans else None


def who(dossier: Dossier, words: Words) -> list[str]:
    """Whose farm, how many trees stand, what the plan does with them."""
    scenario = dossier.scenario
    voice = Voice.of(scenario, words)
    trees = sum(stand.trees for stand in scenario.stands)
    facts = {"fields": words("note.fields", n=len(scenario.stands)), "trees": voice.trees(trees)}
    return [words("note.farm", **facts), rows.planned(scenario, words)]


def recommendation(judged: LoanAppraisal | None, words: Words) -> str:
    """What the figures speak for: as asked, a smaller loan, none on these terms."""
    if judged is None or judged.as_stated.terms.running:
        return words("note.recommend.none")
    if judged.as_stated.holds:
        return words("note.recommend.fits")
    if (amount := _smaller(judged)) is not None:
        return words("note.recommend.smaller", money=Voice.about(judged, words).exact_money(amount))
    return words("note.recommend.not")


def _smaller(judged: LoanAppraisal) -> float | None:
    """The largest amount that fits on the same terms."""
    return None if judged.as_stated.largest is None else judged.as_stated.largest.amount


def conditions(judged: LoanAppraisal | None, words: Words) -> list[str]:
    """On what the recommendation stands: live trees, months of payment, what the lowest price tried does.

    None where no loan can be given.
    """
    if judged is None:
        return []
    running = judged.as_stated.terms.running
    if not (running or judged.as_stated.holds or judged.near or _smaller(judged) is not None):
        return []
    said = [] if running else [words("note.condition.count")]
    if judged.outside_harvest:
        said.append(cash_sentences.beside_harvest(judged, words))
        if judged.harvest is not None and judged.harvest.holds:
            months = words.listing([words.month_name(month) for month in judged.harvest_months])
            said.append(words("note.condition.harvest", months=months))
    factor, priced = judged.lowest_price
    if priced.missed_own.any():
        month = words.month(priced.label(int(priced.missed_own.argmax())))
        said.append(words("note.condition.price", month=month, share=cash_sentences.lower_by(factor, words)))
    return [*said, words("note.condition.debts")]


def asks(judged: LoanAppraisal, words: Words) -> list[str]:
    """The loan, when it is paid out, whether each payment can be made, what it costs."""
    if judged.as_stated.terms.running:
        paid = cash_sentences.still_owed(judged, words)
    else:
        paid = words("note.paid_out", payouts=payouts(judged, words, MOST_PAYOUTS))
    return [paid, *cash_sentences.lender_answer(judged, words), cash_sentences.full_cost(judged, words)]


# Use of funds


def funds_of(dossier: Dossier, judged: LoanAppraisal) -> UseOfFunds:
    """The plan's own needs beside the loan's payouts, both in today's money."""
    paid = to_constant_prices(judged.as_stated.schedule.payout, dossier.scenario.appraisal.inflation)
    return use_of_funds(dossier.flows, dossier.scenario.appraisal.start, paid)


def funds_tables(found: UseOfFunds, voice: Voice) -> list[Table]:
    """Month by month in two tables side by side: supplies and tools, hired hands, paid out."""
    words = voice.words
    names = ("month", "supplies", "hands", "payout")
    headed = columns("note.funds", names, words, set(names[1:]), currency=voice.sign)
    cells = [
        (
            words.month(month.month, "abbreviated"),
            *(number_cell(amount, 0, words) for amount in (month.supplies, month.hands, month.payout)),
        )
        for month in found.months
    ]
    half = -(-len(cells) // 2)
    return [Table("", headed, tuple(part)) for part in (cells[:half], cells[half:]) if part]


def funds_said(found: UseOfFunds, voice: Voice) -> str:
    """Both sums over the span, and whether more is paid out than the plan asks for."""
    words = voice.words
    facts = {
        "first": words.month(found.first),
        "last": words.month(found.last),
        "needed": voice.money(found.needed),
        "paid": voice.money(found.paid_out),
        "rest": voice.money(abs(found.paid_out - found.needed)),
    }
    more = words("note.more_months", n=found.more) if found.more else ""
    kind = "none" if not found.paid_out else "more" if found.paid_out > found.needed else "less"
    return f"{words(f'note.funds_{kind}', **facts)} {more}".rstrip()


# How safe


def cover(judged: LoanAppraisal, words: Words) -> Table:
    """Coverage of the first years that have payments, after living costs and by farm cash alone."""
    whole = cash_tables.cover(judged, words)
    kept = whole.rows[:MOST_YEARS]
    return Table(whole.title, whole.columns[1:6], tuple(row[1:6] for row in kept))


def bad_cases(dossier: Dossier, judged: LoanAppraisal | None, words: Words) -> Table:
    """As expected and in each bad case: payments missed on all loans, and the lowest balance."""
    voice, cash = Voice.of(dossier.scenario, words), dossier.cash.with_plan
    late = int(missed(cash.debt_service, cash.balance).sum())
    cases = [(words("risk.case.expected"), late, cash.deepest)]
    if judged is not None:
        factor, priced = judged.lowest_price
        fit, share = priced.fit, words.rate(1 - factor)
        late = int(missed(fit.debt_service, fit.balance).sum())
        cases.append((words("lending.case.price", share=share), late, float(fit.balance.min())))
    rest = {row.case: row for row in dossier.stress.rows.get(PLAN, ())}
    cases += [
        (words(f"risk.case.{key}"), len(rest[key].missed_months), rest[key].deepest) for key in CASES if key in rest
    ]
    headed = (
        column("note.case.case", words),
        column("note.case.missed", words, "right"),
        column("note.case.deepest", words, "right"),
    )
    body = tuple((name, words.number(late), voice.future_money(deepest)) for name, late, deepest in cases)
    return Table(words("note.bad_cases"), headed, body)


def lowest(dossier: Dossier, words: Words) -> list[str]:
    """The lowest balance with the plan, and what breaks first where the loan does not fit."""
    return [cash_sentences.deepest(dossier.cash, words)]


def other_debts(dossier: Dossier, judged: LoanAppraisal | None, words: Words) -> list[str]:
    """Every other loan of the family in a line; more are counted."""
    others = [loan for loan in dossier.lending.loans if loan is not judged]
    said = [
        " ".join(
            [
                cash_sentences.loan_title(loan, words) + ".",
                *([cash_sentences.still_owed(loan, words)] if loan.as_stated.terms.running else []),
            ]
        )
        for loan in others[:MOST_DEBTS]
    ]
    more = len(others) - MOST_DEBTS
    return [*said, *([words("note.more_debts", n=more)] if more > 0 else [])]


def checks(dossier: Dossier, judged: LoanAppraisal, words: Words) -> Table:
    """Before each payout: how many trees were started by then, how many live ones are asked for, room for the count."""
    voice, scenario = Voice.about(judged, words), dossier.scenario
    body, counted = [], any(payout.live_trees is not None for payout in judged.loan.payouts)
    for payout in judged.loan.payouts[:MOST_PAYOUTS]:
        month = month_count(payout.month)
        started = sum(t.trees for t in scenario.plan if month_count(t.start) < month)
        money = voice.exact_money(payout.share * judged.loan.amount)
        cells = {"month": words.month(payout.month), "money": money}
        cells["started"] = voice.trees(started) if started else words("note.none_yet")
        if counted:
            cells["asked"] = words("lending.cell.none") if payout.live_trees is None else voice.trees(payout.live_trees)
        body.append((*cells.values(), ""))
    keys = ("month", "money", "started", *(["asked"] if counted else []), "alive")
    headed = [column(f"note.check.{key}", words) for key in keys]
    return Table(words("note.checks"), tuple(Column(c.key, c.heading) for c in headed), tuple(body))


def more_checks(judged: LoanAppraisal, words: Words) -> str:
    """That the payouts which have no row are counted before in the same way; nothing where each has one."""
    more = len(judged.loan.payouts) - MOST_PAYOUTS
    return words("note.more_checks", n=more) if more > 0 else ""


def rests_on(dossier: Dossier, words: Words) -> Iterable[str]:
    """Of which sources the figures are, how many are guesses, what was counted."""
    yield rows.sources(dossier.held, dossier.comparison, dossier.swings(), words)
    if dossier.scenario.guessed:
        yield words("note.guessed", n=len(dossier.scenario.guessed))
    yield from held_sentences(dossier.scenario, words)[:1]
