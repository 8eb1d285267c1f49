"""A farm of which nothing is known yet, and what each answer of the notebook changes in it."""

from collections.abc import Callable, Container, Mapping, Sequence
from itertools import count
from typing import Any

from renovation.inputs.defaults import DEFAULT_CURRENCY, default_notebook, default_techniques, default_tree_classes
from renovation.inputs.errors import Problem, ScenarioError
from renovation.inputs.files import EVEN_SEASON, scenario_of, written
from renovation.inputs.guesses import Guess
from renovation.inputs.planning import Learning
from renovation.inputs.quantities import FrozenDict, month_count, year_month
from renovation.inputs.scenario import Scenario
from renovation.inputs.tally import CLASSES, Tally, TreeClass, walked

HORIZON_YEARS = 25
"""Years looked at: trees need twenty or more; common practice, no source."""
OF_A_STAND = ("trees", "crop_per_tree", "decline_per_year", "upkeep_days", "upkeep_inputs")
OF_THE_HOUSEHOLD = ("family_days", "wage_per_day", "living_costs", "other_income", "savings")
OF_THE_MARKET = ("price_per_kg", "deductions_per_kg")
GRAFTS = "side_graft"
"""The way whose grafts are counted in the notebook."""

Row = Mapping[str, Any]
Changes = dict[str, Any]


class Unanswered(ValueError):  # noqa: N818 - the name says what happened
    """A part of an answer is missing beside its other parts; `entry` names it."""

    def __init__(self, entry: str) -> None:
        """Keep the entry."""
        super().__init__(entry)
        self.entry = entry


# The farm that nothing is known of


def new_farm(start: str, name: str, stand: str) -> Scenario:
    """A whole sound farm in which every figure of the family's is a guess, in US dollars.

    start: its first month. name, stand: what the farm and its first field are called.

    Example:
        >>> farm = new_farm("2027-01", "My farm", "Field 1")
        >>> farm.stands[0].trees, farm.guessed["stands.0.trees"].high, farm.about.invented
        (500, 2000.0, False)
    """
    figures = _priced(1.0)
    tables = {
        "consider": [key for key, way in default_techniques().items() if way.works_on == "trees"],
        "about": {"name": name},
        "appraisal": {"start": start, "horizon_years": HORIZON_YEARS, "currency": DEFAULT_CURRENCY},
        "household": {field: figures[field][0] for field in OF_THE_HOUSEHOLD},
        "market": {**{field: figures[field][0] for field in OF_THE_MARKET}, "season": {"shares": EVEN_SEASON}},
        "stands": [{"name": stand, **{field: figures[field][0] for field in OF_A_STAND}}],
        "planning": {"learning": {}},
        "guessed": _as_tables(_guesses(figures, 1)),
    }
    tables["stands"][0]["trees"] = int(figures["trees"][0])  # type: ignore[index]
    return scenario_of(tables, name)


def _priced(per_usd: float) -> dict[str, tuple[float, float, float]]:
    """Value, low and high of each guess, money in a currency of which a dollar buys so much, to three digits."""
    found = {}
    for name in type(default_notebook().figures).model_fields:
        figure = getattr(default_notebook().figures, name)
        money = per_usd if figure.unit.startswith(DEFAULT_CURRENCY) else 1.0
        value, low, high = (float(f"{end * money:.3g}") for end in (figure.value, figure.low, figure.high))
        found[name] = value, low, high
    return found


def _guesses(figures: Mapping[str, tuple[float, float, float]], stands: int) -> dict[str, Guess]:
    """The ranges of all guesses of a farm, by path."""
    paths = {f"household.{field}": field for field in OF_THE_HOUSEHOLD}
    paths |= {f"market.{field}": field for field in OF_THE_MARKET}
    paths |= {f"stands.{place}.{field}": field for place in range(stands) for field in OF_A_STAND}
    return {path: Guess(low=figures[field][1], high=figures[field][2]) for path, field in paths.items()}


def _as_tables(guessed: Mapping[str, Guess]) -> dict[str, Any]:
    return {path: guess.model_dump() for path, guess in guessed.items()}


def _without(farm: Scenario, *paths: str) -> dict[str, Any]:
    """What stays guessed once these are told."""
    return _as_tables({path: guess for path, guess in farm.guessed.items() if path not in paths})


# What each answer changes


def put_place(farm: Scenario, rows: Sequence[Row]) -> Changes:
    """Country and currency: the harvest's months, default costs in that money, and money guesses anew.

    A country that has no harvest window is told by its two letters (`home`): numbers are read and written as there.
    """
    country = rows[-1].get("country")
    currency = rows[-1].get("currency") or default_notebook().currencies.get(str(country), farm.appraisal.currency)
    home = rows[-1].get("home") or default_notebook().countries.get(str(country))
    rate = default_notebook().per_usd.get(currency.lower())
    per_usd = rate.value if rate else 1.0
    tables, guessed = written(farm), dict(farm.guessed)
    tables["appraisal"] = {**tables["appraisal"], "currency": currency}
    guessed.pop("appraisal.currency_per_usd", None)
    if currency != farm.appraisal.currency:
        tables["appraisal"].pop("currency_per_usd", None)
        if rate is not None:
            tables["appraisal"]["currency_per_usd"] = per_usd
            guessed["appraisal.currency_per_usd"] = Guess(low=rate.low, high=rate.high)
        figures = _priced(per_usd)
        for path, guess in _guesses(figures, len(farm.stands)).items():
            field = path.rpartition(".")[2]
            if path in guessed and getattr(default_notebook().figures, field).unit.startswith(DEFAULT_CURRENCY):
                guessed[path] = guess
                _set(tables, path, figures[field][0])
    if home is not None:
        tables["about"] = {**tables["about"], "country": home}
    if country is not None:
        tables["market"] = {**tables["market"], "season": {"window": country}}
    tables["guessed"] = _as_tables(guessed)
    return _between(farm, scenario_of(tables, farm.about.name))


def _between(before: Scenario, after: Scenario) -> Changes:
    """The sections in which two farms differ."""
    names = type(after).model_fields
    return {name: getattr(after, name) for name in names if getattr(after, name) != getattr(before, name)}


def _set(tables: dict[str, Any], path: str, value: float) -> None:
    *parts, last = path.split(".")
    node: Any = tables
    for part in parts:
        node = node[int(part)] if isinstance(node, list | tuple) else node[part]
    node[last] = value


def told_fields(farm: Scenario) -> list[dict[str, Any]]:
    """The fields whose trees were told, as rows."""
    return [
        {"name": stand.name, "trees": stand.trees, "empty_places": stand.empty_places or None}
        for place, stand in enumerate(farm.stands)
        if f"stands.{place}.trees" not in farm.guessed
    ]


def put_fields(farm: Scenario, rows: Sequence[Row]) -> Changes:
    """The fields and their trees: by number all of them; by rows walked or a tally those that are added.

    What was told of the whole farm's crop stays its whole crop. A tally with pods makes a stand of each class, called
    as the row's `called` says.
    Errors: Unanswered for a tally without trees, or with pods for some of its classes only.
    """
    told = [] if any(row.get("trees") is not None for row in rows) else told_fields(farm)
    counted = [{**row, "trees": _trees(row)} for row in rows]
    after = farm.changed(**_fields(farm, [*told, *counted]))
    for place, row in reversed([*enumerate(counted, start=len(told))]):
        if (tally := _tally(row)) is not None:
            name, pods_per_kg = after.stands[place].name, default_tree_classes().pods_per_kg.value
            after = walked(after, name, tally, _called(row), pods_per_kg).farm
    return _between(farm, after)


def _trees(row: Row) -> int:
    """Trees of a field as they were told: a number, rows times the trees of a row, or the classes of a tally."""
    if row.get("trees") is not None:
        return int(row["trees"])
    if row.get("rows") is not None:
        return int(row["rows"] * row["trees_per_row"])
    trees = sum(row.get(f"{name}_trees") or 0 for name in CLASSES)
    if not trees:
        raise Unanswered(f"{CLASSES[0]}_trees")
    return int(trees)


def _tally(row: Row) -> Tally | None:
    """The tally of a field; None where no pods were counted."""
    trees = {name: row.get(f"{name}_trees") or 0 for name in CLASSES}
    pods = {name: row.get(f"{name}_pods") for name in CLASSES[:-1]}
    if all(one is None for one in pods.values()):
        return None
    for name, one in pods.items():
        if trees[name] and one is None:
            raise Unanswered(f"{name}_pods")
    classes: dict[str, Any] = {
        name: TreeClass(trees=trees[name], pods_per_tree=pods.get(name) or 0.0) for name in CLASSES
    }
    return Tally(**classes, empty_places=row.get("empty_places") or 0)


def _called(row: Row) -> Callable[[str], str]:
    """What the trees of a class are called, beside the name of their field."""
    names: Mapping[str, str] = row.get("called") or {}
    return lambda name: names.get(name, name)


def _fields(farm: Scenario, rows: Sequence[Row]) -> Changes:
    """These fields and no others; what each had before stays, a new one is like the last."""
    before = sum(stand.trees for stand in farm.stands)
    after = sum(row["trees"] for row in rows)
    stands: list[dict[str, Any]] = []
    guessed = {p: g for p, g in farm.guessed.items() if not p.startswith("stands.")}
    for place, row in enumerate(rows):
        like = min(place, len(farm.stands) - 1)
        stand = farm.stands[like].model_dump()
        own = {path: guess for path, guess in farm.guessed.items() if path.startswith(f"stands.{like}.")}
        if like != place and stand["part_of"]:
            stand |= _beside_classes(farm, own, f"stands.{like}.crop_per_tree")
        if stand["crop_per_tree"] is not None and f"stands.{like}.crop_per_tree" not in own:
            stand["crop_per_tree"] *= before / after
        empty = row.get("empty_places")
        taken = {one["name"] for one in stands} | {one.name for one in farm.stands[place:]}
        name = row.get("name") or (stand["name"] if like == place else _next_name(farm, taken))
        stand |= {
            "name": name,
            "trees": row["trees"],
            "empty_places": stand["empty_places"] if empty is None else empty,
        }
        stand["hectares"] = stand["hectares"] if like == place else None
        stands.append(stand)
        for path, guess in own.items():
            field = path.split(".", 2)[2]
            if field != "trees":
                guessed[f"stands.{place}.{field}"] = guess
    changes: Changes = {"stands": tuple(stands), "guessed": _as_tables(guessed)}
    names = [stand["name"] for stand in stands]
    if farm.plan:
        changes["plan"] = ()
    if farm.comparison.stand not in (None, *names) or farm.comparison.trees is not None:
        changes |= {"comparison__stand": None, "comparison__trees": None}
    return changes


def _next_name(farm: Scenario, taken: Container[str]) -> str:
    """What a field that has no name is called: as the first, with the next number."""
    wholes = [*dict.fromkeys(stand.part_of or stand.name for stand in farm.stands)]
    called = wholes[0].removesuffix(" 1")
    return next(name for number in count(len(wholes) + 1) if (name := f"{called} {number}") not in taken)


def _beside_classes(farm: Scenario, own: dict[str, Guess], crop_path: str) -> Row:
    """The crop of a field that comes beside one told by class: as all bear where that is told, else a guess."""
    if all(stand.pods is None for stand in farm.stands):
        return {"part_of": None, "crop_per_tree": _whole_crop(farm) / sum(stand.trees for stand in farm.stands)}
    value, low, high = _priced(1.0)["crop_per_tree"]
    own[crop_path] = Guess(low=low, high=high)
    return {"part_of": None, "pods": None, "crop_per_tree": value}


def _whole_crop(farm: Scenario) -> float:
    """Kilograms of a year, all fields together."""
    return sum(stand.trees * stand.kg_per_tree for stand in farm.stands)


def put_crop(farm: Scenario, rows: Sequence[Row]) -> Changes:
    """What the trees bear: kilograms or sacks of the whole farm, shared out by trees, or pods of a tree.

    Trees that were told class by class keep what one bears beside another.
    """
    row = rows[-1]
    pods: dict[str, float] | None = None
    crops: list[float | None] = [None] * len(farm.stands)
    if row.get("pods_per_tree") is not None:
        each = row.get("pods_per_kg")
        shipped = default_tree_classes().pods_per_kg.value
        pods = {"pods_per_tree": row["pods_per_tree"], "pods_per_kg": shipped if each is None else each}
        pods["lost_share"] = row.get("lost_share") or 0.0
    else:
        kg = row["kg"] if row.get("kg") is not None else row["sacks"] * row["kg_per_sack"]
        whole = _whole_crop(farm) if any(stand.part_of for stand in farm.stands) else 0.0
        even = kg / sum(stand.trees for stand in farm.stands)
        crops = [kg * stand.kg_per_tree / whole if whole else even for stand in farm.stands]
    changes: Changes = {}
    for place, crop in enumerate(crops):
        changes |= {f"stands__{place}__crop_per_tree": crop, f"stands__{place}__pods": pods}
    return changes | {"guessed": _without(farm, *(f"stands.{i}.crop_per_tree" for i in range(len(farm.stands))))}


def put_hands(_: Scenario, rows: Sequence[Row]) -> Changes:
    """People times the days of a month that each of them has."""
    return {"household__family_days": float(sum(row["people"] * row["days_each"] for row in rows))}


def put_figures(section: str, *fields: str) -> Callable[[Scenario, Sequence[Row]], Changes]:
    """Plain figures of one section, those that are told."""

    def put(_: Scenario, rows: Sequence[Row]) -> Changes:
        told = {field: value for row in rows for field in fields if (value := row.get(field)) is not None}
        return {f"{section}__{field}": value for field, value in told.items()}

    return put


def put_loans(farm: Scenario, rows: Sequence[Row]) -> Changes:
    """Loans that run: what is owed is repaid in level instalments over the months that are left."""
    before = year_month(month_count(farm.appraisal.start) - 1)
    made = [
        {
            "name": row.get("lender") or f"{farm.about.name} {number}",
            "amount": row["owed"],
            "payouts": ({"month": before},),
            "rate_per_year": row["rate_per_year"],
            "term_months": row["months_left"],
            "running": True,
        }
        for number, row in enumerate(rows, start=1)
    ]
    return {"loans": (*(loan.model_dump() for loan in farm.loans if not loan.running), *made)}


def put_grafts(farm: Scenario, rows: Sequence[Row]) -> Changes:
    """Grafts made and how many of them live, season by season.

    Errors: ScenarioError for more that live than were made.
    """
    for row in rows:
        if row["taken"] > row["made"]:
            facts = FrozenDict(most=row["made"])
            raise ScenarioError([Problem("", "", "season_error.more_taken", str(row["taken"]), facts)])
    others = [record.model_dump() for record in farm.planning.records if record.technique != GRAFTS]
    own = [
        {"technique": GRAFTS, "made": row["made"], "taken": row["taken"], "season": row.get("season")} for row in rows
    ]
    learning = farm.planning.learning or Learning()
    return {"planning__records": (*others, *own), "planning__learning": learning.model_dump()}
