"""Small invented inputs for tests: a technique, a stand, supplies and a scenario with round numbers."""

from collections.abc import Iterable
from typing import Any

import pytest
from hypothesis import strategies as st

from renovation.inputs import LoanOffer, Scenario, Stand, Supplies, Technique


def some_plain(values: Iterable[Any], plain: Iterable[Any]) -> list[Any]:
    """Values to try one by one: those in `plain` in every run, the others with the long checks."""
    chosen = list(plain)
    return [value if value in chosen else pytest.param(value, marks=pytest.mark.long) for value in values]


def figure(value: Any, unit: str, low: Any = None, high: Any = None) -> dict[str, Any]:
    """One invented figure as plain data; its range is the value itself where none is given."""
    low = value if low is None else low
    high = value if high is None else high
    return {"value": value, "low": low, "high": high, "unit": unit, "source": "invented"}


def operation(anchor: str = "start", month: int = 0, days: float = 0.0, **more: Any) -> dict[str, Any]:
    """One operation as plain data."""
    return {"anchor": anchor, "month": month, "days": figure(days, "person-days/tree"), **more}


def use(quantity: float, loss: float | None = None) -> dict[str, Any]:
    """How much of a supply an operation uses, as plain data."""
    data: dict[str, Any] = {"quantity": figure(quantity, "units/tree")}
    if loss is not None:
        data["loss_before_use"] = figure(loss, "share")
    return data


def technique_data(**changes: Any) -> dict[str, Any]:
    """A technique as plain data: one sure attempt, full crop at once, old crown gone at once."""
    data: dict[str, Any] = {
        "family": "graft",
        "material": "clone",
        "start_months": tuple(range(1, 13)),
        "attempts": figure(1, "attempts"),
        "gap_months": figure(1, "months"),
        "take": figure((1.0,), "share by project year"),
        "mature_crop": figure(1.0, "kg/tree/year"),
        "new_crown": figure(((0.0, 1.0),), "months, share"),
        "old_crown": {"anchor": "established", "curve": figure(((0.0, 0.0),), "months, share")},
        "shade": figure(0.0, "share"),
        "operations": {},
        "tools": (),
        "upkeep_days": figure((0.0,), "person-days/tree/year by year of age"),
        "upkeep_inputs": figure((0.0,), "USD/tree/year by year of age"),
    }
    return {**data, **changes}


def technique(**changes: Any) -> Technique:
    """A technique with round numbers; any key may be changed."""
    return Technique.model_validate(technique_data(**changes))


def stand(**changes: Any) -> Stand:
    """Ten trees that bear 1 kg a year and do not decline."""
    data = {"name": "Lower field", "trees": 10, "crop_per_tree": 1.0, "decline_per_year": 0.0, "upkeep_days": 0.0}
    return Stand.model_validate({**data, **changes})


def supplies_data() -> dict[str, Any]:
    """One bag, one scion, one plant and two tools, as plain data."""
    return {
        "items": {
            "bag": {"unit": "piece", "unit_cost": figure(0.5, "USD/unit")},
            "scion": {"unit": "piece", "unit_cost": figure(0.25, "USD/unit"), "counts_as": "scion"},
            "plant": {"unit": "piece", "unit_cost": figure(2.0, "USD/unit"), "counts_as": "plant"},
        },
        "tools": {
            "knife": {"price": figure(10.0, "USD/piece"), "lasts_years": figure(2.0, "years")},
            "shears": {"price": figure(20.0, "USD/piece"), "lasts_years": figure(3.0, "years")},
        },
    }


def supplies() -> Supplies:
    """The supplies of `supplies_data`."""
    return Supplies.model_validate(supplies_data())


def scenario_data(techniques: dict[str, dict[str, Any]] | None = None, **changes: Any) -> dict[str, Any]:
    """A farm of one stand over ten years in US dollars, as plain data; top-level tables may be changed."""
    data: dict[str, Any] = {
        "about": {"name": "Invented test farm", "invented": True},
        "appraisal": {"start": "2027-01", "horizon_years": 10, "discount_rate": 0.1, "currency": "USD"},
        "household": {"family_days": 20.0, "wage_per_day": 8.0, "savings": 100.0},
        "market": {
            "price_per_kg": 4.0,
            "season": {"shares": (1 / 12,) * 12},
            "harvest_days_per_kg": 0.0,
        },
        "stands": (stand().model_dump(),),
        "techniques": techniques or {"way_a": technique_data()},
        "supplies": supplies_data(),
        "comparison": {},
    }
    return {**data, **changes}


def scenario(techniques: dict[str, dict[str, Any]] | None = None, **changes: Any) -> Scenario:
    """The farm of `scenario_data`."""
    return Scenario.model_validate(scenario_data(techniques, **changes))


def loan_data(**changes: Any) -> dict[str, Any]:
    """A loan of 120 for a year at no interest, paid out in January 2027, as plain data."""
    data = {
        "name": "Tree loan",
        "amount": 120.0,
        "payouts": ({"month": "2027-01"},),
        "rate_per_year": 0.0,
        "term_months": 12,
    }
    return {**data, **changes}


def loan_offer(**changes: Any) -> LoanOffer:
    """An offer of up to 1,000 over six years at 8 %, two of them grace, paid out in January 2027."""
    terms = {"rate_per_year": 0.08, "term_months": 72, "grace_months": 24}
    offer = {"name": "Offer", "limit": 1000.0, "payouts": ({"month": "2027-01"},)}
    return LoanOffer.model_validate({**offer, **terms, **changes})


def ten_a_month(
    *loans: dict[str, Any],
    people: dict[str, Any] | None = None,
    test: dict[str, Any] | None = None,
    shares: tuple[float, ...] = (1 / 12,) * 12,
    **changes: Any,
) -> Scenario:
    """Ten trees, 10 kg a year at 12 a kg: 120 a year, 10 a month where the crop ripens evenly; no work."""
    return scenario(
        market={"price_per_kg": 12.0, "season": {"shares": shares}, "harvest_days_per_kg": 0.0},
        household={"family_days": 20.0, "wage_per_day": 8.0, "savings": 0.0, **(people or {})},
        loans=loans,
        loan_test={"cover": 1.1, **(test or {})},
        **changes,
    )


shares = st.floats(0, 1).map(lambda x: round(x, 4))
amounts = st.floats(0, 3).map(lambda x: round(x, 4))


@st.composite
def curves(draw: st.DrawFn, lowest_age: int = -12, highest_share: float = 1.0) -> tuple[tuple[float, float], ...]:
    """A curve of up to five points with rising ages."""
    ages = sorted(draw(st.sets(st.integers(lowest_age, 60), max_size=5)))
    tops = st.floats(0, highest_share).map(lambda x: round(x, 4))
    return tuple((float(age), draw(tops)) for age in ages)


def months_of_takes() -> st.SearchStrategy[dict[str, Any]]:
    """Twelve factors on the take, none of them above 1."""
    return st.tuples(*[shares] * 12).map(lambda factors: figure(factors, "factor by calendar month"))


@st.composite
def operations(draw: st.DrawFn, attempts: int, gap: int) -> dict[str, Any]:
    """Up to four operations of any anchor, some recurring, some before the start."""
    result = {}
    for number in range(draw(st.integers(0, 4))):
        anchor = draw(st.sampled_from(["start", "attempt", "established", "never"]))
        lowest = {"start": -6, "attempt": -6 if attempts == 1 else 1 - gap}.get(anchor, 0)
        more: dict[str, Any] = {}
        if draw(st.booleans()):
            more["every"] = draw(st.integers(1, 14))
            more["times"] = draw(st.none() | st.integers(1, 5))
        materials = draw(st.dictionaries(st.sampled_from(["bag", "scion", "plant"]), amounts, max_size=2))
        more["materials"] = {
            item: use(quantity, draw(st.none() | st.floats(0, 0.9))) for item, quantity in materials.items()
        }
        month = draw(st.integers(max(lowest, -6), 20))
        result[f"work_{number}"] = operation(anchor, month, draw(amounts), **more)
    return result


@st.composite
def techniques(draw: st.DrawFn) -> dict[str, Any]:
    """Any sound technique, as plain data."""
    attempts = draw(st.integers(1, 4))
    gap = draw(st.integers(1, 9))
    anchor = draw(st.sampled_from(["established", "start"]))
    take = tuple(draw(st.lists(shares, min_size=1, max_size=4)))
    changes: dict[str, Any] = {
        "attempts": figure(attempts, "attempts"),
        "gap_months": figure(gap, "months"),
        "take": figure(take, "share by project year"),
        "attempt_factor": draw(st.none() | st.just(figure((1.0, 0.8), "factor by attempt"))),
        "take_by_month": draw(st.none() | months_of_takes()),
        "mature_crop": figure(draw(amounts), "kg/tree/year"),
        "new_crown": figure(draw(curves()), "months, share"),
        "old_crown": {"anchor": anchor, "curve": figure(draw(curves(highest_share=1.5)), "months, share")},
        "shade": figure(draw(shares), "share"),
        "operations": draw(operations(attempts, gap)),
        "tools": tuple(draw(st.sets(st.sampled_from(["knife", "shears"])))),
        "upkeep_days": figure(
            tuple(draw(st.lists(amounts, min_size=1, max_size=3))), "person-days/tree/year by year of age"
        ),
        "upkeep_inputs": figure(tuple(draw(st.lists(amounts, min_size=1, max_size=3))), "USD/tree/year by year of age"),
    }
    if anchor == "start" and draw(st.booleans()):
        changes["intercrop"] = (
            {
                "first_month": 3,
                "last_month": 20,
                "income": figure(draw(amounts), "USD/place/month"),
                "days": figure(draw(amounts), "person-days/place/month"),
            },
        )
    return technique_data(**changes)


@st.composite
def beside_the_crop(draw: st.DrawFn) -> dict[str, Any]:
    """What a technique may state of losses, permanent shade and payments, as plain data."""
    by_year = st.lists(amounts, min_size=1, max_size=3).map(tuple)
    more: dict[str, Any] = {
        "tree_loss_per_year": draw(st.none() | st.floats(0, 0.9).map(lambda loss: figure(loss, "share/year"))),
        "pods_lost": draw(st.none() | shares.map(lambda lost: figure(lost, "share"))),
    }
    if draw(st.booleans()):
        more["permanent_shade"] = {
            "crop_factor": figure(draw(st.floats(0, 2)), "factor on the crop"),
            "income": figure(draw(by_year), "USD/place/year by year after the start"),
            "days": figure(draw(by_year), "person-days/place/year by year after the start"),
        }
    payments = []
    for number in range(draw(st.integers(0, 3))):
        anchor = draw(st.sampled_from(["start", "established"]))
        month = draw(st.integers(-9 if anchor == "start" else 0, 30))
        until = draw(st.none() | st.integers(max(0, month), 60))
        amount = figure(draw(amounts), "USD/tree")
        payments.append(
            {"name": f"Payment {number}", "anchor": anchor, "month": month, "until": until, "amount": amount}
        )
    return {**more, "payments": tuple(payments)}


def poor_farm(**changes):
    """A farm that lives above its means: doing nothing breaks the floor whatever is planned."""
    household = {"family_days": 20.0, "wage_per_day": 8.0, "savings": 10.0, "living_costs": 30.0, **changes}
    way = technique_data(
        start_months=(1, 7),
        mature_crop=figure(1.2, "kg/tree/year"),
        operations={"work": operation("start", 0, 0.1)},
    )
    return scenario({"way_a": way}, household=household)
