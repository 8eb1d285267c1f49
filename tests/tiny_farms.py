"""Tiny random farms whose every plan can be counted out, and the counting: no solver, no planner code.

Two stands of up to four trees, two ways of up to four start months, up to three years. The plans are worked out from
the farm model's own pieces: per-tree flows, `tool_purchases`, hired(t) = max(0, days − family days).
"""

import itertools
import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from factories import figure, operation, scenario_data, technique_data, use

from renovation.farm import (
    Begun,
    Treated,
    by_project_month,
    by_year,
    setting_of,
    tool_purchases,
    treated_trees,
    tree_flows,
    trees_under_way,
)
from renovation.inputs import Scenario, Treatment, month_count, year_month
from renovation.inputs.loans import LoanOffer, Payout
from renovation.inputs.planning import Planning
from renovation.money.loan_terms import LoanTerms
from renovation.money.loans import to_constant_prices, unit_schedule
from renovation.tree import untouched

FloatArray = npt.NDArray[np.float64]
YEARS = 3
MOST_PLANS = 12_000
"""Plans of a farm that are worth counting out; years, and then trees, are taken away until there are no more."""


def tiny_farm(seed: int) -> tuple[Scenario, Planning]:
    """A farm of two stands of one to four trees and two ways of one to four months, drawn from the seed."""
    rng = np.random.default_rng(seed)
    u = rng.uniform

    def way(material: str) -> dict[str, object]:
        grafted = rng.random() < 0.5
        return technique_data(
            material=material,
            start_months=tuple(sorted(int(m) for m in rng.choice(12, rng.integers(1, 5), replace=False) + 1)),
            attempts=figure(int(rng.integers(1, 4)), "attempts"),
            gap_months=figure(int(rng.integers(2, 5)), "months"),
            take=figure(tuple(float(t) for t in np.round(u(0.3, 0.95, 2), 3)), "share by project year"),
            mature_crop=figure(round(u(1.0, 4.0), 3), "kg/tree/year"),
            new_crown=figure(((8.0, 0.0), (round(u(18, 30), 1), 1.0)), "months, share"),
            old_crown={
                "anchor": "established" if grafted else "start",
                "curve": figure(((6.0, 1.0), (14.0, 0.0)) if grafted else ((-1.0, 1.0), (0.0, 0.0)), "months, share"),
            },
            shade=figure(0.2, "share"),
            operations={
                "begin": operation("start", 0, round(u(0, 0.6), 3)),
                "raise_it": operation(
                    "attempt", 0 if grafted else -1, round(u(0.05, 0.5), 3), materials={"scion": use(1.0, 0.2)}
                ),
                "settle": operation(
                    "established", 3, round(u(0, 0.4), 3), every=int(rng.integers(6, 20)), materials={"bag": use(1.0)}
                ),
            },
            tools=tuple(sorted(rng.choice(["knife", "shears"], int(rng.integers(0, 3)), replace=False).tolist())),
            upkeep_days=figure((round(u(0, 0.5), 3), round(u(0, 0.5), 3)), "person-days/tree/year by year of age"),
            upkeep_inputs=figure((round(u(0, 0.5), 3),), "USD/tree/year by year of age"),
        )

    data = scenario_data(
        techniques={"way_a": way("clone"), "way_b": way("other_clone")},
        appraisal={
            "start": f"2027-{rng.integers(1, 13):02d}",
            "horizon_years": 7,
            "discount_rate": round(u(0.02, 0.2), 3),
            "inflation": float(rng.choice([0.0, 0.05])),
            "currency": "USD",
        },
        household={
            "family_days": tuple(round(d, 2) for d in u(0, 0.8, 12)),
            "wage_per_day": round(u(0.5, 4), 2),
            "hired_days_limit": None if rng.random() < 0.3 else tuple(round(d, 2) for d in u(0.3, 2.0, 12)),
            "living_costs": round(u(0.5, 1.2), 2),
            "other_income": round(u(0, 0.5), 2),
            "savings": round(u(2, 25), 2),
            "floor": float(rng.choice([0.0, 1.0])),
        },
        stands=tuple(
            {
                "name": name,
                "trees": int(rng.integers(1, 5)),
                "crop_per_tree": round(u(0.3, 1.5), 3),
                "decline_per_year": round(u(0, 0.1), 3),
                "upkeep_days": round(u(0, 0.5), 3),
                "upkeep_inputs": round(u(0, 0.3), 3),
            }
            for name in ("Left", "Right")
        ),
    )
    data["market"]["season"] = {"shares": tuple(s / 12 for s in (0, 0, 2, 3, 2, 0, 0, 0, 1, 2, 2, 0))}
    data["market"]["harvest_days_per_kg"] = round(u(0, 0.2), 3)
    data["supplies"]["tools"]["knife"]["price"] = figure(round(u(0.2, 3), 2), "USD/piece")
    data["supplies"]["tools"]["shears"]["price"] = figure(round(u(0.2, 3), 2), "USD/piece")
    data["supplies"]["tools"]["shears"]["lasts_years"] = figure(float(rng.choice([1.0, 1.5, 3.0])), "years")
    months = sum(len(way["start_months"]) for way in data["techniques"].values())  # type: ignore[misc]
    years = YEARS
    while _plans(data["stands"], months * years) > MOST_PLANS and years > 1:
        years -= 1
    while _plans(data["stands"], months * years) > MOST_PLANS:
        largest = max(data["stands"], key=lambda one: one["trees"])
        largest["trees"] -= 1
    scenario = Scenario.model_validate(data)
    return scenario, _tiny_planning(scenario, years, rng)


def _plans(stands: tuple[dict[str, object], ...], starts: int) -> int:
    """How many plans there are: the ways to spread each stand's trees over its starts, or leave them."""
    return math.prod(math.comb(one["trees"] + starts, starts) for one in stands)  # type: ignore[operator]


def _tiny_planning(scenario: Scenario, years: int, rng: np.random.Generator) -> Planning:
    """Limits drawn so that some bind and most are absent."""
    start = scenario.appraisal.start
    offer = LoanOffer(
        name="Offer",
        limit=float(rng.integers(2, 20)),
        payouts=(Payout(month=start),),
        rate_per_year=round(float(rng.uniform(0.0, 0.2)), 3),
        term_months=36,
        grace_months=int(rng.choice([0, 12])),
        grace_interest="added" if rng.random() < 0.5 else "paid",
        fee_share=float(rng.choice([0.0, 0.02])),
    )

    def sometimes(chance: float, value: object) -> object:
        return value if rng.random() < chance else None

    return Planning(
        years=years,
        gap=0.0,
        loan=sometimes(0.5, offer),
        scions_per_year=sometimes(0.3, (float(rng.integers(2, 9)), float(rng.integers(2, 9)))),
        money_per_year=sometimes(0.2, round(float(rng.uniform(4, 20)), 2)),
        most_share_per_year=sometimes(0.2, 0.5),
        batch={"way_a": 2} if rng.random() < 0.3 else {},
        at_least_two_clones=bool(rng.random() < 0.2),
        value_per_family_day=sometimes(0.6, float(rng.choice([0.0, 0.4]))),
    )


@dataclass(frozen=True)
class Counted:
    """The best of all plans that keep every promise; None where none does. plans: how many were tried."""

    worth: float | None
    starts: dict[tuple[str, str, int, int], int] | None
    plans: int


def count_out(scenario: Scenario, planning: Planning) -> Counted:
    """Work out every plan of a tiny farm and keep the one worth most."""
    cells = _cells(scenario, planning)
    plans = _all_plans(scenario, cells)
    months = scenario.appraisal.months
    setting = setting_of(scenario)
    cash_0, days_0 = np.zeros(months), np.zeros(months)
    alone = [(scenario.free_trees(s.name), tree_flows(scenario, untouched(s, setting))) for s in scenario.stands]
    begun = trees_under_way(scenario, setting)
    for trees, flows in [*alone, *((1, tree_flows(scenario, b.tree, b.technique.material)) for b in begun)]:
        cash_0 += trees * (flows.benefits - flows.materials)
        days_0 += trees * flows.days
    per_tree = [_change(scenario, cell) for cell in cells]
    days = days_0 + plans.astype(float) @ np.array([d for _, d, _, _ in per_tree]) if cells else np.tile(days_0, (1, 1))
    cash = cash_0 + plans.astype(float) @ np.array([c for c, _, _, _ in per_tree]) if cells else np.tile(cash_0, (1, 1))
    household, first = scenario.household, scenario.appraisal.start_calendar_month
    family = by_project_month(household.family_days, first, months)
    hired = np.maximum(0.0, days - family)
    tools = _tools(scenario, cells, plans, months)
    cash = cash - hired * household.wage_per_day - tools
    discount = (1 + scenario.appraisal.discount_rate) ** (-(np.arange(months) + 1) / 12)
    other = by_project_month(household.other_income, first, months) - by_project_month(
        household.living_costs, first, months
    )
    balance = household.savings + np.cumsum(cash + other, axis=1)
    stated = planning.value_per_family_day
    value = household.wage_per_day * household.labour_value if stated is None else stated
    worth = cash @ discount - value * ((days - hired) @ discount)
    keeps = np.ones(len(plans), dtype=bool)
    if household.hired_days_limit is not None:
        keeps &= (hired <= by_project_month(household.hired_days_limit, first, months) + 1e-9).all(axis=1)
    keeps &= _keeps_limits(scenario, planning, cells, plans, per_tree, hired, tools)
    worth, ok = _with_loan(scenario, planning, balance, worth, discount)
    keeps &= ok
    if not keeps.any():
        return Counted(None, None, len(plans))
    best = int(np.argmax(np.where(keeps, worth, -np.inf)))
    starts = {cell: int(n) for cell, n in zip(cells, plans[best], strict=True) if n}
    return Counted(float(worth[best]), starts, len(plans))


Cell = tuple[str, str, int, int]


def _cells(scenario: Scenario, planning: Planning) -> list[Cell]:
    """(stand, way, planning year, start month): every month of the year that suits calendar and nursery."""
    cells = []
    for stand, key, year in itertools.product(
        scenario.stands, scenario.techniques, range(1, (planning.years or 0) + 1)
    ):
        technique = scenario.techniques[key]
        if technique.works_on == "empty places" and not stand.empty_places:
            continue
        for month in range(12 * (year - 1), 12 * year):
            calendar = (scenario.appraisal.start_calendar_month - 1 + month) % 12 + 1
            if calendar in technique.start_months and month + technique.earliest_month >= 0:
                cells.append((stand.name, key, year, month))
    return cells


def _all_plans(scenario: Scenario, cells: list[Cell]) -> npt.NDArray[np.int64]:
    """Every way to spread each stand's trees over its cells, and its empty places over theirs, (plans, cells)."""
    parts = []
    for stand, works_on in itertools.product(scenario.stands, ("trees", "empty places")):
        here = [cell[0] == stand.name and scenario.techniques[cell[1]].works_on == works_on for cell in cells]
        mine = np.flatnonzero(here).tolist()
        if not mine:
            continue
        free = scenario.free_trees(stand.name) if works_on == "trees" else scenario.free_places(stand.name)
        # each tree goes into one of the cells or, as the last, into none
        chosen = itertools.combinations_with_replacement(range(len(mine) + 1), free)
        ways = np.array([np.bincount(one, minlength=len(mine) + 1)[:-1] for one in chosen]).reshape(-1, len(mine))
        part = np.zeros((len(ways), len(cells)), dtype=np.int64)
        part[:, mine] = ways
        parts.append(part)
    every = np.zeros((1, len(cells)), dtype=np.int64)
    for part in parts:
        every = (every[:, None, :] + part[None, :, :]).reshape(-1, len(cells))
    return every


def _treatment(scenario: Scenario, cell: Cell, trees: int = 1) -> Treatment:
    year, month = divmod(int(scenario.appraisal.start[:4]) * 12 + int(scenario.appraisal.start[5:]) - 1 + cell[3], 12)
    return Treatment(stand=cell[0], technique=cell[1], trees=trees, start=f"{year:04d}-{month + 1:02d}")


def _change(scenario: Scenario, cell: Cell) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Change of cash before labour and of days per tree, (T,); scions and spending by year, (H,)."""
    item = treated_trees(scenario, [_treatment(scenario, cell)])[0]
    tree = tree_flows(scenario, item.tree, item.technique.material)
    alone = tree_flows(scenario, item.left_alone)
    scions = _scions(scenario, item)
    cash = (tree.benefits - tree.materials) - (alone.benefits - alone.materials)
    return cash, tree.days - alone.days, by_year(scions), by_year(item.tree.operation_cost[0])


def _scions(scenario: Scenario, item: Treated | Begun) -> FloatArray:
    """Scions that the trees of one row use, (T,)."""
    scions = np.zeros(scenario.appraisal.months)
    for key, touched in zip(item.tree.operations, item.tree.touched[:, 0], strict=True):
        for supply, needed in item.technique.operations[key].materials.items():
            if scenario.supplies.items[supply].counts_as == "scion":
                scions += touched * needed.demand
    return scions


def with_trees_under_way(scenario: Scenario, seed: int) -> Scenario:
    """The same farm with up to four trees more under way in each stand, and with a tool of its own."""
    rng = np.random.default_rng([seed, 7])
    stands, entries = scenario.model_dump()["stands"], []
    first = month_count(scenario.appraisal.start)
    for stand in stands:
        key = str(rng.choice(list(scenario.techniques)))
        way = scenario.techniques[key]
        tries, gap = way.attempts.value, way.gap_months.value
        made = int(rng.integers(0, tries + 1))
        trees = int(rng.integers(1, 5))
        taken = rng.multinomial(trees, [1 / (made + 1)] * (made + 1))
        ago = max(1, (made - 1) * gap + 1) + int(rng.integers(0, 3))
        entries.append(
            {
                "stand": stand["name"],
                "technique": key,
                "trees": trees,
                "start": year_month(first - ago),
                "taken": tuple(int(n) for n in taken[:made]),
                "given_up": int(taken[made]) if made == tries else 0,
            }
        )
        stand["trees"] += trees
    owned = {"knife": float(rng.integers(1, 30))} if rng.random() < 0.5 else {}
    data = {**scenario.model_dump(), "stands": stands, "under_way": tuple(entries), "tools_owned": owned}
    return Scenario.model_validate(data)


def with_empty_places(scenario: Scenario, seed: int) -> Scenario:
    """The same farm where its second way plants empty places, up to three a stand, some of them planted already."""
    rng = np.random.default_rng([seed, 13])
    data = scenario.model_dump()
    way = data["techniques"]["way_b"]
    way |= {"works_on": "empty places", "family": "replant", "old_crown": None, "shade": None}
    entries = []
    for stand in data["stands"]:
        stand["empty_places"] = int(rng.integers(0, 4))
        if stand["empty_places"] and rng.random() < 0.5:
            start = year_month(month_count(scenario.appraisal.start) - int(rng.integers(1, 3)))
            taken = int(scenario.techniques["way_b"].attempts.value == 1)
            entries.append(
                {"stand": stand["name"], "technique": "way_b", "trees": 1, "start": start, "taken": (taken,)}
            )
    return Scenario.model_validate({**data, "under_way": tuple(entries)})


def _tools(scenario: Scenario, cells: list[Cell], plans: npt.NDArray[np.int64], months: int) -> FloatArray:
    """Money for tools of every plan, by the farm model's own rule, once for each set of starts in use."""
    first = {(c[1], c[3]): c for c in reversed(cells)}  # a tool does not ask whose trees it is for
    in_use = np.array([plans[:, [c[1:4:2] == key for c in cells]].any(axis=1) for key in first], dtype=bool).T
    in_use = in_use.reshape(len(plans), len(first))
    used, which = np.unique(in_use, axis=0, return_inverse=True)
    cost = np.zeros((len(used), months))
    begun = trees_under_way(scenario, setting_of(scenario))
    for row, pattern in enumerate(used):
        chosen = [c for c, on in zip(first.values(), pattern, strict=True) if on]
        treated = treated_trees(scenario, [_treatment(scenario, c) for c in chosen])
        bought = tool_purchases(scenario.supplies, [*begun, *treated], months, scenario.tools_owned)
        for tool, pieces in bought.items():
            cost[row] += pieces * scenario.supplies.tools[tool].price.value
    return cost[which.ravel()]


def _yearly(limit, years):  # type: ignore[no-untyped-def]
    """A limit for each project year, the last holding from then on."""
    stated = [limit] if np.isscalar(limit) else list(limit)
    return np.array([stated[min(y, len(stated) - 1)] for y in range(years)])


def _keeps_limits(scenario, planning, cells, plans, per_tree, hired, tools):  # type: ignore[no-untyped-def]
    """Limits of a year, shares, batches and clones of every plan."""
    years = scenario.appraisal.horizon_years
    keeps = np.ones(len(plans), dtype=bool)
    begun = trees_under_way(scenario, setting_of(scenario))
    if planning.scions_per_year is not None and cells:
        # trees under way have their scions first; the plan has what is left
        left = _yearly(planning.scions_per_year, years) - sum(by_year(_scions(scenario, item)) for item in begun)
        use_ = plans.astype(float) @ np.array([s for _, _, s, _ in per_tree])
        keeps &= (use_ <= np.maximum(0.0, left) + 1e-9).all(axis=1)
    if planning.money_per_year is not None:
        spent = by_year(hired * scenario.household.wage_per_day + tools)
        spent = spent + sum(by_year(item.tree.operation_cost[0]) for item in begun)
        if cells:
            spent = spent + plans.astype(float) @ np.array([m for _, _, _, m in per_tree])
        # the programme keeps this limit as it is stated; half a cent is for the account of what it found
        keeps &= (spent <= _yearly(planning.money_per_year, years) + 1e-6).all(axis=1)
    for year in range(1, YEARS + 1):
        here = np.array([c[2] == year for c in cells], dtype=bool)
        if planning.most_share_per_year is not None:
            most = int(planning.most_share_per_year * sum(s.trees + s.empty_places for s in scenario.stands))
            keeps &= plans[:, here].sum(axis=1) <= most
        for key, least in planning.batch.items():
            for stand in scenario.stands:
                mine = here & np.array([(c[0], c[1]) == (stand.name, key) for c in cells], dtype=bool)
                number = plans[:, mine].sum(axis=1)
                keeps &= (number == 0) | (number >= least)
    if planning.at_least_two_clones:
        for stand, works_on in itertools.product(scenario.stands, ("trees", "empty places")):
            ways = {
                key: np.array([c[0] == stand.name and c[1] == key for c in cells], dtype=bool)
                for key, way in scenario.techniques.items()
                if way.works_on == works_on
            }
            present = [mask for mask in ways.values() if mask.any()]
            total = sum(plans[:, mask].sum(axis=1) for mask in present)
            if len(present) > 1:
                for mask in present:
                    keeps &= plans[:, mask].sum(axis=1) <= planning.largest_clone_share * total + 1e-9
    return keeps


def _with_loan(scenario, planning, balance, worth, discount):  # type: ignore[no-untyped-def]
    """Worth of every plan with its best loan, and whether any amount keeps the floor to half a cent."""
    floor = scenario.household.floor - 0.005
    offer = planning.loan
    if offer is None:
        return worth, (balance >= floor).all(axis=1)
    terms = LoanTerms(
        amount=offer.limit,
        payouts=((0, 1.0),),
        nominal_rate_per_year=offer.rate_per_year,
        term_months=offer.term_months,
        grace_months=offer.grace_months,
        grace_interest=offer.grace_interest,
        fee_share=offer.fee_share,
    )
    plan = unit_schedule(terms, scenario.appraisal.months, scenario.appraisal.start_calendar_month)
    unit = to_constant_prices(plan.payout - plan.debt_service, scenario.appraisal.inflation)
    slope, gain = np.cumsum(unit), float(unit @ discount)
    # only whole cents can be borrowed: try the cents around both ends of the interval that keeps the floor
    exact = scenario.household.floor
    with np.errstate(divide="ignore", invalid="ignore"):
        edge = (exact - balance) / slope
    low = np.maximum(0.0, np.where(slope > 1e-12, edge, -np.inf).max(axis=1))
    high = np.minimum(offer.limit, np.where(slope < -1e-12, edge, np.inf).min(axis=1))
    amount = np.floor(high * 100 + 1e-9) / 100 if gain > 0 else np.ceil(low * 100 - 1e-9) / 100
    amount = np.clip(amount, 0.0, offer.limit)
    with_loan = balance + amount[:, None] * slope
    return worth + amount * gain, (with_loan >= floor).all(axis=1)
