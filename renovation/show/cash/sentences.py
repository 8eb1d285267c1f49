"""The household's cash and its loans in sentences, answer first: pure functions of results.

No sentence stands here: each function chooses a key of the catalogue (`cash.*`, `lending.*`) and its facts.
"""

import numpy as np

from renovation.decide.lending import LoanAppraisal
from renovation.decide.verdict import Verdict
from renovation.farm import CashSide, HouseholdCash, Labour
from renovation.money.loan_cover import CAUTION_COVER_FROM, GOOD_COVER_ABOVE, cover_band
from renovation.money.loan_fit import Condition
from renovation.money.loan_near import MOST_SHARE
from renovation.show.voice import Voice, runs
from renovation.words import Words

FEW_STRETCHES = 4
"""More stretches of months than this are told by the first and the last month."""


# The family's cash


def family_answer(cash: HouseholdCash, words: Words) -> list[str]:
    """In which years money runs short with the plan, how deep, and what reserve carries the family over."""
    return [
        short(cash, cash.with_plan, words),
        deepest(cash, words),
        spends_more(cash, cash.with_plan, words),
        reserve(cash, words),
    ]


def short(cash: HouseholdCash, side: CashSide, words: Words) -> str:
    """The years of one side, with the plan or without, in which the balance falls below the floor."""
    return _years_of(cash, side, "short", side.short_years, words)


def spends_more(cash: HouseholdCash, side: CashSide, words: Words) -> str:
    """The years of one side that spend more than they bring, whether or not savings carry them."""
    return _years_of(cash, side, "spends_more", side.gap_years, words)


def _years_of(cash: HouseholdCash, side: CashSide, what: str, years: tuple[int, ...], words: Words) -> str:
    """None, all or some of the years, in the words of a kind and a side."""
    key = f"cash.{what}.{'with_plan' if side is cash.with_plan else 'without'}"
    if len(years) == side.gap_by_year.size:
        return words(f"{key}.all")
    if not years:
        return words(f"{key}.none")
    return words(f"{key}.some", n=len(years), years=Voice.about(cash, words).years(years))


def deepest(cash: HouseholdCash, words: Words) -> str:
    """The lowest balance with the plan and its month."""
    voice = Voice.about(cash, words)
    side = cash.with_plan
    facts = {
        "money": voice.money(side.deepest),
        "month": words.month(cash.months[side.deepest_month]),
    }
    return words("cash.deepest.below" if side.deepest < 0 else "cash.deepest.above", **facts)


def reserve(cash: HouseholdCash, words: Words) -> str:
    """The reserve needed beyond the savings, or what carries the family through."""
    voice = Voice.about(cash, words)
    side = cash.with_plan
    facts = {
        "money": voice.money(side.reserve_needed),
        "floor": voice.money(side.floor),
    }
    if side.reserve_needed > 0:
        return words("cash.reserve.above_floor" if side.floor > 0 else "cash.reserve.needed", **facts)
    if not side.gap_years:
        return words("cash.reserve.none")
    return words("cash.reserve.loans_carry" if cash.loans else "cash.reserve.savings_carry")


def low_months(cash: HouseholdCash, words: Words) -> list[str]:
    """The months that end with less than the family will go below, by name where they are few stretches."""
    voice = Voice.about(cash, words)
    side = cash.with_plan
    stretches = runs(side.months_below_floor)
    if not stretches:
        return []
    facts = {"floor": voice.money(side.floor), "n": len(side.months_below_floor)}
    ends = [(words.month(cash.months[run[0]]), words.month(cash.months[run[-1]])) for run in stretches]
    if len(stretches) > FEW_STRETCHES:
        return [words("cash.low.many", first=ends[0][0], last=ends[-1][1], **facts)]
    named = [words("cash.years_run", first=a, last=b) if a != b else a for a, b in ends]
    return [words("cash.low.named", months=words.listing(named), **facts)]


def beside_no_plan(cash: HouseholdCash, words: Words) -> list[str]:
    """What the plan changes: dip years, short years without the plan, both balances at the end."""
    voice = Voice.about(cash, words)
    without = cash.without
    said = [words("cash.dip.none")]
    if cash.dip_years:
        years = voice.years(cash.dip_years)
        said = [words("cash.dip.some", n=len(cash.dip_years), years=years)]
    said += [short(cash, without, words), spends_more(cash, without, words)]
    lowest = voice.money(without.deepest)
    month = words.month(cash.months[without.deepest_month])
    said.append(words("cash.deepest.without", money=lowest, month=month))
    said.append(
        words(
            "cash.at_the_end",
            month=words.month(cash.months[-1]),
            money=voice.money(cash.with_plan.final_balance),
            without=voice.money(without.final_balance),
        )
    )
    return said


def hands(labour: Labour, words: Words) -> list[str]:
    """The busiest month, what hired hands cost in the dearest year, and whether there are hands enough."""
    voice = Voice.about(labour, words)
    busiest = labour.busiest_month
    said = [
        words(
            "cash.hands.busiest",
            month=words.month(labour.months[busiest]),
            days=voice.days(float(labour.days[busiest])),
            family=voice.days(float(labour.family_days_available[busiest])),
        )
    ]
    dearest = max(labour.year_rows(), key=lambda row: row["hired_cost"])
    if dearest["hired_cost"] > 0:
        year = voice.year(int(dearest["year"]))
        money = voice.money(dearest["hired_cost"])
        days = voice.days(dearest["hired_days"])
        said.append(words("cash.hands.hired", year=year, money=money, days=days))
    else:
        said.append(words("cash.hands.none_hired"))
    worst = labour.worst_short_month
    if worst is not None:
        facts = {
            "month": words.month(labour.months[worst]),
            "days": voice.days(float(labour.short_days[worst])),
        }
        said.append(words("cash.hands.short", n=len(labour.short_months), **facts))
    elif labour.hired_days_limit is not None:
        said.append(words("cash.hands.enough"))
    return said


# A loan


def loan_title(judged: LoanAppraisal, words: Words) -> str:
    """The loan in a line: name, amount, rate, term, grace."""
    voice = Voice.about(judged, words)
    terms = judged.as_stated.terms
    return words(
        "lending.title" if terms.grace_months else "lending.title_no_grace",
        name=judged.loan.name,
        money=voice.money(terms.amount),
        rate=words.rate(terms.nominal_rate_per_year),
        term=words.span(terms.term_months / 12),
        grace=words.span(terms.grace_months / 12),
    )


def lender_answer(judged: LoanAppraisal, words: Words) -> list[str]:
    """Whether each instalment can be paid (first, where some cannot), whether the loan fits, the largest that does."""
    if judged.first_missed is None and not judged.as_stated.holds:
        return [fits(judged, words), words("lending.paid.still"), largest(judged, words)]
    return [*when_there_is_money(judged, words), fits(judged, words), largest(judged, words)]


def when_there_is_money(judged: LoanAppraisal, words: Words) -> list[str]:
    """Whether every instalment falls in a month with money for it; else the first that does not, and how many."""
    voice = Voice.about(judged, words)
    due = judged.first_missed
    if due is None:
        return [words("lending.paid.all")]
    missed = sum(entry.missed for entry in judged.dues)
    facts = {
        "month": words.month(due.label),
        "due": voice.money(due.amount),
        "money": voice.money(due.available) if due.available > 0 else words("lending.nothing"),
    }
    return [
        words(f"lending.paid.first_missed_{due.kind}", **facts),
        words("lending.paid.missed", n=missed, all=words.number(len(judged.dues))),
    ]


def fits(judged: LoanAppraisal, words: Words) -> str:
    """Whether the loan keeps coverage and balance, or what breaks first."""
    voice = Voice.about(judged, words)
    verdict = judged.as_stated
    condition = verdict.breaks_first
    if condition is None:
        target = words.number(verdict.means.cover_target, 2)
        floor = voice.money(verdict.means.floor)
        return words("lending.fit.yes", target=target, floor=floor)
    return words("lending.fit.no", reason=reason(condition, verdict, voice))


def reason(condition: Condition, verdict: Verdict, voice: Voice) -> str:
    """A broken condition as a part of a sentence: which year's coverage or which month's balance."""
    if condition.kind == "floor":
        return voice(
            "lending.reason.floor",
            month=voice.words.month(verdict.label(condition.period)),
            money=voice.money(condition.value),
            floor=voice.money(condition.bound),
        )
    year = voice.year(condition.period)
    if condition.value <= 0:
        return voice("lending.reason.no_money", year=year)
    cover = {"cover": voice.words.number(condition.value, 2), "target": voice.words.number(condition.bound, 2)}
    return voice("lending.reason.cover", year=year, **cover)


def largest(judged: LoanAppraisal, words: Words) -> str:
    """The largest loan that fits, or why no amount does."""
    voice = Voice.about(judged, words)
    verdict = judged.as_stated
    found = verdict.largest
    if found is None:
        return words("lending.running.amount")
    if found.lowest > MOST_SHARE * verdict.terms.amount:
        return words("lending.largest.none_near")
    lowest = voice.money(found.lowest)
    if found.amount is not None:
        money = voice.exact_money(found.amount)
        if found.need is None:
            return words("lending.largest.amount", money=money)
        return words("lending.largest.between", money=money, lowest=lowest)
    why = reason(found.limit, verdict, voice)
    if found.need is None:
        first = verdict.breaks_first
        if first and reason(first, verdict, voice) == why:
            return words("lending.largest.none_same")
        return words("lending.largest.none", reason=why)
    return words("lending.largest.none_between", reason=why, lowest=lowest)


def tightest_year(judged: LoanAppraisal, words: Words) -> str:
    """The year of lowest coverage after living costs, both coverages of it and the band."""
    voice = Voice.about(judged, words)
    verdict = judged.as_stated
    cover = verdict.cover_after_living
    year = int(np.nanargmin(cover))
    facts = {
        "year": voice.year(year + 1),
        "living": words.number(float(cover[year]), 2),
        "farm": words.number(float(verdict.cover_farm_only[year]), 2),
    }
    case = cover_band(float(cover[year])) if cover[year] > 0 else "no_money"
    return words(f"lending.tightest.{case}", **facts)


def grace(judged: LoanAppraisal, words: Words) -> str:
    """The shortest grace and the latest start of repayment that fit, or that none does."""
    verdict = judged.as_stated
    if verdict.terms.running:
        return still_owed(judged, words)
    shortest, latest = verdict.shortest_grace, verdict.latest_start
    if shortest is None or latest is None:
        return words("lending.grace.none", term=words.span(verdict.terms.term_months / 12))
    month = words.month(verdict.label(latest.first_instalment_month))
    if shortest.grace_months == 0:
        return words("lending.grace.not_needed", month=month)
    return words("lending.grace.shortest", grace=words.span(shortest.grace_months / 12), month=month)


def still_owed(judged: LoanAppraisal, words: Words) -> str:
    """What a running loan has left as the plan begins, and where the lender says otherwise than the contract."""
    voice, plan = Voice.about(judged, words), judged.as_stated.schedule
    facts = {"money": voice.exact_money(plan.owed_before), "month": words.month(judged.start)}
    if plan.owed_before == plan.by_contract_before:
        return words("lending.running.owed", **facts)
    return words("lending.running.owed_otherwise", contract=voice.exact_money(plan.by_contract_before), **facts)


def full_cost(judged: LoanAppraisal, words: Words) -> str:
    """The yearly rate of all that the loan costs, fees among it, and what is paid more than was received."""
    voice, cost = Voice.about(judged, words), judged.as_stated.credit_cost
    money = voice.exact_money(cost.more_than_received)
    if cost.effective_per_year is None:
        rates = words.listing([words.percent(rate, 2) for rate in cost.roots])
        return words("lending.full_cost.several" if rates else "lending.full_cost.none", rates=rates, money=money)
    effective, nominal = (words.percent(rate, 2) for rate in (cost.effective_per_year, cost.nominal_per_year or 0.0))
    return words("lending.full_cost.one", effective=effective, nominal=nominal, money=money)


def first_due(judged: LoanAppraisal, cash: HouseholdCash, words: Words) -> str:
    """When the first instalment is due, and whether the plan's new crop has made up for the old by then."""
    verdict = judged.as_stated
    month = verdict.schedule.first_instalment_month
    year, dips = month // 12 + 1, cash.dip_years
    case = (
        "next"
        if judged.loan.running
        else "first_dip"
        if year in dips
        else "first_after"
        if dips and max(dips) < year
        else "first"
    )
    return words(f"lending.due.{case}", month=words.month(verdict.label(month)))


def beside_harvest(judged: LoanAppraisal, words: Words) -> str:
    """How many payments fall in months in which no crop ripens."""
    if not judged.outside_harvest:
        return words("lending.harvest.all_in")
    return words("lending.harvest.outside", n=judged.outside_harvest, all=words.number(len(judged.dues)))


def other_ways(judged: LoanAppraisal, words: Words) -> list[str]:
    """The same loan repaid every month and in harvest months only: which of them fits, at what interest."""
    voice = Voice.about(judged, words)
    months = words.listing([words.month_name(month) for month in judged.harvest_months])
    said = []
    for way, verdict in (("level", judged.level), ("harvest", judged.harvest)):
        if verdict is not None:
            case = "fits" if verdict.holds else "breaks"
            interest = voice.money(verdict.schedule.total_interest)
            said.append(words(f"lending.way.{way}_{case}", months=months, money=interest))
    return said


def lower_by(factor: float, words: Words) -> str:
    """By how much a price is lower, inside a sentence: a third, 12.5%.

    Example:
        >>> lower_by(0.67, Words("en")), lower_by(0.875, Words("en"))
        ('a third', '12.5%')
    """
    return words("lending.price.third") if abs(factor - 2 / 3) < A_THIRD else words.rate(1 - factor)


A_THIRD = 0.005
"""A share that misses a third by less is called one."""


def lower_prices(judged: LoanAppraisal, words: Words) -> list[str]:
    """What a lower price does: fits, can still be paid, or is first missed, and the largest loan then.

    Two sentences a price, the second of which is empty for a running loan.
    """
    voice = Voice.about(judged, words)
    said = []
    for factor, verdict in judged.at_price.items():
        facts = {"share": words.rate(1 - factor)}
        missed = np.flatnonzero(verdict.missed_own)
        if missed.size:
            month = words.month(verdict.label(int(missed[0])))
            said.append(words("lending.price.missed", month=month, **facts))
        else:
            said.append(words("lending.price.fits" if verdict.holds else "lending.price.paid", **facts))
        largest = verdict.largest
        amount = None if largest is None else largest.amount
        if largest is None:
            said.append("")
        elif amount is None:
            said.append(words("lending.price.no_amount", **facts))
        else:
            said.append(words("lending.price.largest", money=voice.exact_money(amount), **facts))
    return said


def loan_said(judged: LoanAppraisal, words: Words) -> list[str]:
    """Everything that is said of a loan, answer first."""
    return [
        *lender_answer(judged, words),
        tightest_year(judged, words),
        grace(judged, words),
        full_cost(judged, words),
        beside_harvest(judged, words),
        *other_ways(judged, words),
        *filter(None, lower_prices(judged, words)),
        *([words("lending.note.interest_joins")] if judged.as_stated.schedule.interest_added.any() else []),
    ]


def money_note(inflation_per_year: float, words: Words) -> str:
    """In what money the figures stand: constant prices, and the contract's own where inflation is counted."""
    if inflation_per_year == 0:
        return words("lending.note.no_inflation")
    return words("lending.note.inflation", rate=words.rate(inflation_per_year))


def bands(words: Words, key: str = "lending.band.source") -> str:
    """Between which coverages each band lies, with its source."""
    return words(key, good=words.number(GOOD_COVER_ABOVE, 2), caution=words.number(CAUTION_COVER_FROM, 2))
