"""Loans after signing in words: the account of the season, payouts against counted trees, what can be agreed."""

from collections.abc import Iterator
from typing import Any

from renovation.decide.after_signing import AfterSigning, LoanNow, PayoutAhead, WayOn
from renovation.decide.signed import PayoutCheck, SignedLoan
from renovation.money.loan_near import LONGER, LONGEST_GRACE
from renovation.show.grid import Table, blank, columns, lines, month_cell, number_cell, paragraph, render
from renovation.show.voice import Voice
from renovation.words import Words, smallest_unit

ACCOUNT = ("due", "paid", "interest", "late_charge", "balance", "late")
WAYS = ("fits", "at_prices", "last", "largest", "more", "rate", "npv")


def shown(found: AfterSigning) -> bool:
    """Whether there is anything to say: a record, or a loan under way."""
    return found.record is not None or bool(found.loans)


def account_said(found: AfterSigning, one: LoanNow, words: Words) -> list[str]:
    """Due, paid, late in the season, or what is owed where none is recorded; then each payout.

    Example:
        >>> from renovation.decide.after_signing import after_signing
        >>> from renovation.inputs import SeasonRecord, demo_scenario
        >>> farm = demo_scenario()
        >>> found = after_signing(farm, SeasonRecord(season=farm.appraisal.start, money_in_hand=900.0))
        >>> account_said(found, found.loans[0], Words("en"))[1]
        'No payment is recorded. We take that all was paid as due.'
    """
    voice = Voice.of(found.farm, words)
    said = _running(one, voice) if one.season is None else list(_season(one.season, voice))
    return [*said, *(_ahead(ahead, one, voice) for ahead in one.ahead)]


def _running(one: LoanNow, voice: Voice) -> list[str]:
    return [voice("signed.running", loan=one.loan.name, owed=voice.exact_money(one.owed))]


def _season(season: SignedLoan, voice: Voice) -> Iterator[str]:
    """The season's account in sentences."""
    account, unit = season.account, smallest_unit(voice.currency)
    if account is None or season.plan is None or season.plan.terms.first_month >= account.due.size:
        yield voice("signed.none_paid_out", loan=season.loan.name)
    else:
        due, owed = float(account.due.sum()), float(account.balance[-1])
        money = {"due": voice.exact_money(due), "paid": voice.exact_money(season.paid)}
        said = [voice("signed.due_paid", loan=season.loan.name, **money)]
        facts = {"owed": voice.exact_money(owed)}
        if owed < unit / 2:
            said.append(voice("signed.repaid"))
        elif season.late >= unit / 2:
            said.append(voice("signed.late", late=voice.exact_money(season.late), **facts))
        elif account.ahead[-1] >= unit / 2:
            said.append(voice("signed.ahead", ahead=voice.exact_money(float(account.ahead[-1])), **facts))
        else:
            said.append(voice("signed.on_time", **facts))
        entry = season.entry
        if entry is not None and entry.owed is not None and abs(entry.owed - owed) > unit:
            said.append(voice("signed.lender_says", owed=voice.exact_money(entry.owed)))
        yield " ".join(said)
        if account.overpaid >= unit / 2:
            yield voice("signed.overpaid", money=voice.exact_money(account.overpaid))
        if season.assumed != "nothing":
            yield voice(f"signed.assumed_{season.assumed}")
    yield from (_payout(check, voice) for check in season.payouts if check.received is not None)


def _payout(check: PayoutCheck, voice: Voice) -> str:
    """A payout of the season."""
    facts = {"month": voice.words.month(check.label), "money": voice.exact_money(check.money)}
    came = voice.exact_money(check.received or 0.0)
    if check.status == "received":
        return voice("signed.payout.received", month=facts["month"], money=came)
    if check.status == "withheld":
        if check.missing:
            more = {"n": check.missing, "asked": voice.words.number(check.live_trees or 0)}
            return voice("signed.payout.trees_missing", received=came, **more, **facts)
        return voice("signed.payout.withheld", received=came, **facts)
    if check.live_trees is None:
        return voice("signed.payout.by_contract", **facts)
    return voice("signed.payout.released", n=check.live_trees, counted=voice.words.number(check.counted), **facts)


def _ahead(ahead: PayoutAhead, one: LoanNow, voice: Voice) -> str:
    """A payout still to come, and the months to come without it where trees are missing."""
    check, words = ahead.check, voice.words
    facts = {"month": words.month(check.label), "money": voice.exact_money(check.money)}
    if check.status == "to_come":
        return voice("signed.payout.to_come", **facts)
    asked = words.number(check.live_trees or 0)
    if check.status == "met":
        return voice("signed.payout.met", asked=asked, counted=words.number(check.counted), **facts)
    lowest = {"without": voice.money(ahead.lowest_without), "with_it": voice.money(ahead.lowest)}
    said = [voice("signed.payout.waiting", n=check.missing, asked=asked, **facts)]
    said.append(voice("signed.payout.without", **lowest))
    if ahead.short_without is not None and one.judged is not None:
        floor, month = voice.money(one.judged.as_stated.means.floor), words.month(ahead.short_without)
        said.append(voice("signed.payout.without_short", floor=floor, month=month))
    return " ".join(said)


def now_said(found: AfterSigning, one: LoanNow, words: Words) -> list[str]:
    """What now: the lead first, then a line for each change that fits; nothing where none is late and all fits."""
    voice, stands = Voice.of(found.now or found.farm, words), one.as_it_stands
    if stands is None:
        return _without_a_next_year(found, one, voice)
    late = one.season is not None and one.season.late >= smallest_unit(voice.currency) / 2
    if stands.holds and not late:
        return []
    facts = {"last": words.month(stands.last), "largest": voice.exact_money(stands.largest)}
    said = [voice("signed.now.spread", **facts)]
    if stands.holds:
        return [" ".join([*said, voice("signed.now.spread_fits")])]
    said.append(voice("signed.now.spread_breaks"))
    if one.ways:
        said.append(voice("signed.now.lead", n=len(one.ways)))
        return [" ".join(said), *(_way(way, voice) for way in one.ways)]
    spans = {"shift": words("unit.months", n=LONGEST_GRACE), "stretch": words("unit.months", n=LONGER)}
    said.append(voice("signed.now.none", **spans))
    if (short := one.without_it) is not None and one.judged is not None:
        month = words.month(one.judged.as_stated.label(short.period))
        said.append(voice("signed.now.none_without", money=voice.money(short.value), month=month))
    return [" ".join(said)]


def _without_a_next_year(found: AfterSigning, one: LoanNow, voice: Voice) -> list[str]:
    """Why nothing can be agreed on a loan that is still owed."""
    if one.owed < smallest_unit(voice.currency) / 2:
        return []
    if found.refused is not None:
        why = " ".join(found.refused.sentences(voice.words))
        return [voice("signed.not_judged", why=why)]
    return [voice("signed.over", owed=voice.exact_money(one.owed))]


def _way(way: WayOn, voice: Voice) -> str:
    """One change: what it is, what it costs, at which lower prices it still fits."""
    words = voice.words
    facts = {"months": words("unit.months", n=way.months), "last": words.month(way.last)}
    facts |= {"money": voice.exact_money(way.amount), "month": words.month(voice.start)}
    said = [voice(f"signed.now.{way.kind}", largest=voice.exact_money(way.largest), **facts)]
    more = {"more": voice.exact_money(way.more_paid)}
    if way.effective_per_year is None:
        said.append(voice("signed.now.costs_no_rate", **more))
    else:
        said.append(voice("signed.now.costs", rate=words.percent(way.effective_per_year, 2), **more))
    said.append(voice("signed.now.gain" if way.npv >= 0 else "signed.now.loss", npv=voice.money(abs(way.npv))))
    shares = _shares(way, words)
    said.append(voice("signed.now.at_prices", shares=shares) if shares else voice("signed.now.at_no_price"))
    return " ".join(said)


def _shares(way: WayOn, words: Words) -> str:
    """By how much the price may fall with which it still fits, those that were tried."""
    return words.listing([words.percent(1 - factor) for factor, holds in way.holds_at.items() if holds])


def notes(found: AfterSigning, words: Words) -> list[str]:
    """How the account is kept, and who decides."""
    rates = [one.loan.late_rate_per_year for one in found.loans if one.loan.late_rate_per_year]
    charge = words("signed.charge", rate=words.rate(max(rates))) if rates else ""
    return [words("signed.how", charge=charge), words("signed.now.decide")]


# Tables


def account_table(found: AfterSigning, one: LoanNow, words: Words) -> Table | None:
    """Due, paid, late by month from the first payout on, nominal money; None where nothing is recorded."""
    season = one.season
    if season is None or season.account is None:
        return None
    voice = Voice.of(found.farm, words)
    digits = len(voice.exact_money(0).partition(words.decimal_sign())[2])
    rows = season.rows(found.farm.appraisal.start)
    keys = [key for key in ACCOUNT if key != "late_charge" or any(row[key] for row in rows)]
    begun = next((at for at, row in enumerate(rows) if row["balance"] or row["due"]), 0)
    cells = [
        (month_cell(row["month"], words), *(_account_cell(row, key, digits, words) for key in keys))
        for row in rows[begun:]
    ]
    headed = columns("signed.column", ("month", *keys), words, keys, currency=voice.sign)
    return Table(words("signed.table.account", loan=one.loan.name), headed, tuple(cells))


def _account_cell(row: dict[str, Any], key: str, digits: int, words: Words) -> str:
    """A sum of a month; of one that was due and not paid, 0."""
    missed = key == "paid" and row["due"] > row["paid"] == 0
    return words.number(0.0, digits) if missed else number_cell(row[key], digits, words)


def ways_table(found: AfterSigning, one: LoanNow, words: Words) -> Table | None:
    """The loan as it stands and each change that fits, side by side; None where nothing need be agreed."""
    stands = one.as_it_stands
    if stands is None or not now_said(found, one, words):
        return None
    voice = Voice.of(found.now or found.farm, words)
    rows = [_way_row(way, voice) for way in (stands, *one.ways)]
    headed = columns("signed.column", ("way", *WAYS), words, WAYS[3:], currency=voice.sign)
    return Table(words("signed.table.ways", loan=one.loan.name), headed, tuple(rows))


def _way_row(way: WayOn, voice: Voice) -> tuple[str, ...]:
    words = voice.words
    facts = {"months": words("unit.months", n=way.months), "money": voice.exact_money(way.amount)}
    digits = len(voice.exact_money(0).partition(words.decimal_sign())[2])
    rate = blank(words) if way.effective_per_year is None else words.percent(way.effective_per_year, 2)
    return (
        voice(f"signed.way.{way.kind}", **facts),
        words("lending.cell.yes" if way.holds else "lending.cell.no"),
        _shares(way, words) or words("lending.cell.none"),
        month_cell(way.last, words),
        number_cell(way.largest, digits, words),
        number_cell(way.more_paid, digits, words),
        rate,
        number_cell(round(way.npv, digits), digits, words),
    )


def signed_text(found: AfterSigning, words: Words, width: int) -> str:
    """All of it for the terminal."""
    parts = [words("signed.title")]
    if not found.loans:
        return "\n\n".join([*parts, paragraph(nothing(found, words), width)])
    for one in found.loans:
        parts.append(lines([*account_said(found, one, words), *now_said(found, one, words)], width))
        tables = (account_table(found, one, words), ways_table(found, one, words))
        parts += [render(table, width) for table in tables if table is not None]
    return "\n\n".join([*parts, lines(notes(found, words), width)])


def nothing(found: AfterSigning, words: Words) -> str:
    """That no loan is there to keep an account of."""
    return words("signed.nothing" if found.record is None else "signed.nothing_in_season")
