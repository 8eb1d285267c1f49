"""Loans near to one that does not fit, in sentences: what each changes, and what it costs the family."""

from renovation.decide.lending import LoanAppraisal
from renovation.decide.verdict import Verdict
from renovation.show.voice import Voice
from renovation.words import Words


def near(judged: LoanAppraisal, words: Words) -> list[str]:
    """The nearest loans that fit, or that none does and why; nothing of a loan that fits or is running."""
    if judged.as_stated.holds or judged.as_stated.terms.running:
        return []
    if judged.near:
        lead = words("lending.near.lead", n=len(judged.near))
        return [lead, *(_near(judged, verdict, words) for verdict in judged.near)]
    voice, short = Voice.about(judged, words), judged.without_it
    floor = voice.money(judged.as_stated.means.floor)
    said = words("lending.near.none")
    if short is None:
        return [said, words("lending.near.none_better", floor=floor)]
    month = words.month(judged.as_stated.label(short.period))
    return [said, words("lending.near.none_without", money=voice.money(short.value), month=month, floor=floor)]


def _near(judged: LoanAppraisal, verdict: Verdict, words: Words) -> str:
    """One loan: what it changes, and its full cost."""
    cost, changes = verdict.credit_cost, words.listing(_changes(judged, verdict, words))
    money = Voice.about(judged, words).exact_money(cost.more_than_received)
    if cost.effective_per_year is None:
        return words("lending.near.one_no_rate", changes=changes, money=money)
    return words("lending.near.one", changes=changes, effective=words.percent(cost.effective_per_year, 2), money=money)


def _changes(judged: LoanAppraisal, verdict: Verdict, words: Words) -> list[str]:
    """What differs from the loan asked for."""
    voice, asked, terms = Voice.about(judged, words), judged.as_stated.terms, verdict.terms
    said = []
    if terms.amount != asked.amount:
        facts = {"money": voice.exact_money(terms.amount), "asked": voice.exact_money(asked.amount)}
        said.append(words("lending.near.change.amount", **facts))
    for name in ("term", "grace"):
        months, before = (getattr(one, f"{name}_months") for one in (terms, asked))
        if months != before:
            facts = {"months": words("unit.months", n=months), "asked": words("unit.months", n=before)}
            said.append(words(f"lending.near.change.{name}", **facts))
    if (terms.repayment, terms.harvest_months) != (asked.repayment, asked.harvest_months):
        months = words.listing([words.month_name(month) for month in terms.harvest_months])
        said.append(words(f"lending.near.change.{terms.repayment}", months=months))
    return said
