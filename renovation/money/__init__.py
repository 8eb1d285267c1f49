"""Pure finance on arrays: measures and rates of return, paybacks, switching values, loan schedules."""

from typing import TYPE_CHECKING

from renovation.money.credit import CreditCost, contract_cost, credit_cost
from renovation.money.flows import (
    discount_factors,
    incremental,
    net_present_value,
    present_value_split,
    zero_small,
)
from renovation.money.loan_cover import balance, cover_band, cover_by_year, debt_cover, first_missed, missed
from renovation.money.loan_terms import LoanError, LoanTerms, balance_after_grace, instalment, instalment_months
from renovation.money.loans import Schedule, schedule, to_constant_prices, unit_schedule
from renovation.money.measures import (
    Measures,
    MeasuresMany,
    annuity_factor,
    appraise,
    appraise_many,
    benefit_cost_ratio,
    equivalent_annual_value,
    net_benefit_investment_ratio,
    return_per_day,
)
from renovation.money.payback import discounted_payback, discounted_payback_many, payback, payback_many
from renovation.money.rates import (
    Irr,
    IrrMany,
    crossover_rates,
    effective_rate,
    irr,
    irr_many,
    irr_roots,
    irr_roots_many,
    mirr,
    mirr_many,
    nominal_rate,
    real_rate,
)
from renovation.money.switching import (
    sample_points,
    switching_change,
    switching_value,
    switching_values,
    tie_value,
)
from renovation.on_demand import on_demand

if TYPE_CHECKING:
    from renovation.money.loan_fit import Condition, Fit, RepaymentMeans, TermsComparison, compare_terms, fits
    from renovation.money.loan_search import (
        GraceFit,
        LargestAmount,
        largest_amount,
        largest_amounts,
        latest_start,
        shortest_grace,
    )

__all__ = [
    "Condition",
    "CreditCost",
    "Fit",
    "GraceFit",
    "Irr",
    "IrrMany",
    "LargestAmount",
    "LoanError",
    "LoanTerms",
    "Measures",
    "MeasuresMany",
    "RepaymentMeans",
    "Schedule",
    "TermsComparison",
    "annuity_factor",
    "appraise",
    "appraise_many",
    "balance",
    "balance_after_grace",
    "benefit_cost_ratio",
    "compare_terms",
    "contract_cost",
    "cover_band",
    "cover_by_year",
    "credit_cost",
    "crossover_rates",
    "debt_cover",
    "discount_factors",
    "discounted_payback",
    "discounted_payback_many",
    "effective_rate",
    "equivalent_annual_value",
    "first_missed",
    "fits",
    "incremental",
    "instalment",
    "instalment_months",
    "irr",
    "irr_many",
    "irr_roots",
    "irr_roots_many",
    "largest_amount",
    "largest_amounts",
    "latest_start",
    "mirr",
    "mirr_many",
    "missed",
    "net_benefit_investment_ratio",
    "net_present_value",
    "nominal_rate",
    "payback",
    "payback_many",
    "present_value_split",
    "real_rate",
    "return_per_day",
    "sample_points",
    "schedule",
    "shortest_grace",
    "switching_change",
    "switching_value",
    "switching_values",
    "tie_value",
    "to_constant_prices",
    "unit_schedule",
    "zero_small",
]

__getattr__ = on_demand(
    __name__,
    loan_fit=(
        "Condition",
        "Fit",
        "RepaymentMeans",
        "TermsComparison",
        "compare_terms",
        "fits",
    ),
    loan_search=(
        "GraceFit",
        "LargestAmount",
        "largest_amount",
        "largest_amounts",
        "latest_start",
        "shortest_grace",
    ),
)
