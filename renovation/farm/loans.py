"""The loans of a scenario by month: their terms in project months, their schedules, and what they bring and take."""

from collections.abc import Sequence

import numpy as np

from renovation.inputs import Loan, Scenario
from renovation.money.loan_terms import LoanError, LoanTerms
from renovation.money.loans import Schedule, schedule, to_constant_prices
from renovation.types import FloatArray
from renovation.words import smallest_unit

SHARES_NEAR_ONE = 1e-6
"""A scenario's payout shares may miss 1 by this much."""


def loan_terms(scenario: Scenario, loan: Loan) -> LoanTerms:
    """A loan as the scenario states it, its payouts in project months and its currency's smallest unit.

    Payouts stand in the order of their months; their shares, which a file may write as thirds to a few digits,
    are made to sum to 1. Harvest months count only where the loan is repaid in them.
    Raises LoanError, the loan's name among its facts, for a payout before month 0 of a loan that is not running and
    for terms that contradict themselves.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> s = demo_scenario()
        >>> loan_terms(s, s.loans[0]).unit
        0.01
    """
    total = sum(payout.share for payout in loan.payouts)
    if abs(total - 1) > SHARES_NEAR_ONE:
        raise LoanError("payout_shares_not_one", loan=loan.name, total=total)
    payouts = tuple(sorted((scenario.month_of(payout.month), payout.share / total) for payout in loan.payouts))
    if payouts[0][0] < 0 and not loan.running:
        month = min(payout.month for payout in loan.payouts)
        raise LoanError("payout_before_start", loan=loan.name, month=month, first=scenario.appraisal.start)
    try:
        return LoanTerms(
            amount=loan.amount,
            payouts=payouts,
            nominal_rate_per_year=loan.rate_per_year,
            term_months=loan.term_months,
            grace_months=loan.grace_months,
            grace_interest=loan.grace_interest,
            repayment=loan.repayment,
            harvest_months=loan.harvest_months if loan.repayment == "harvest" else (),
            fee_share=loan.fee_share,
            unit=smallest_unit(scenario.appraisal.currency),
            running=loan.running,
            owed=loan.owed,
        )
    except LoanError as error:
        raise named(error, loan) from error


def loan_schedule(scenario: Scenario, loan: Loan) -> Schedule:
    """A loan's schedule over the scenario's horizon, in nominal money.

    Raises LoanError as `loan_terms` does, and for a loan whose last instalment falls after the horizon.
    """
    terms = loan_terms(scenario, loan)
    appraisal = scenario.appraisal
    try:
        return schedule(terms, appraisal.months, appraisal.start_calendar_month)
    except LoanError as error:
        raise named(error, loan) from error


def named(error: LoanError, loan: Loan) -> LoanError:
    """The same refusal with the name of the loan it speaks of."""
    return LoanError(error.code, **{**error.facts, "loan": loan.name})


def running_loans(scenario: Scenario) -> tuple[Loan, ...]:
    """The loans that were paid out before month 0: they are repaid with the plan and without."""
    return tuple(loan for loan in scenario.loans if loan.running)


def flow_of_running_loans(scenario: Scenario) -> FloatArray:
    """Payouts to come, net of fees, less debt service of the running loans, constant prices, (T,).

    Raises LoanError as `loan_schedule` does.
    """
    money = money_of_loans(scenario, [loan_schedule(scenario, loan) for loan in running_loans(scenario)])
    return money["loan_payout"] - money["loan_fee"] - money["debt_service"]


def money_of_loans(scenario: Scenario, schedules: Sequence[Schedule]) -> dict[str, FloatArray]:
    """What loans bring and take by month, in constant prices: `loan_payout`, `loan_fee`, `debt_service`."""
    nothing = np.zeros(scenario.appraisal.months)
    payout, fee, service = (
        to_constant_prices(
            sum((getattr(plan, name) for plan in schedules), start=nothing), scenario.appraisal.inflation
        )
        for name in ("payout", "fee", "debt_service")
    )
    return {"loan_payout": payout + fee, "loan_fee": fee, "debt_service": service}
