"""A farm of one's own, begun from ten questions: all of it guessed at first, and each answer puts a fact in place."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any, Literal

from pydantic import Field

from renovation.inputs.decimals import read_decimal
from renovation.inputs.declared import Declared, declared
from renovation.inputs.defaults import DEFAULT_CURRENCY, default_notebook, default_techniques, default_tree_classes
from renovation.inputs.files import EVEN_SEASON, scenario_of, written
from renovation.inputs.guesses import Guess, at
from renovation.inputs.loans import LoanConditions, Sum
from renovation.inputs.planning import GraftRecord, Learning
from renovation.inputs.quantities import Model, Quantity, month_count, year_month
from renovation.inputs.scenario import Household, Market, Pods, Scenario, Stand
from renovation.inputs.seasons import window_names

HORIZON_YEARS = 25
"""Years looked at: trees need twenty or more; common practice, no source."""
OF_A_STAND = ("trees", "crop_per_tree", "decline_per_year", "upkeep_days", "upkeep_inputs")
OF_THE_HOUSEHOLD = ("family_days", "wage_per_day", "living_costs", "other_income", "savings")
OF_THE_MARKET = ("price_per_kg", "deductions_per_kg")
GRAFTS = "side_graft"
"""The way whose grafts are counted in the notebook."""

Row = Mapping[str, Any]
Changes = dict[str, Any]
Kind = Literal["number", "text", "choice", "month"]


class Told(Model):
    """What a question asks that stands in no file as it is told."""

    kg: Annotated[float, Field(ge=0, le=10_000_000), Quantity("kg/year")]
    sacks: Annotated[float, Field(ge=0, le=1_000_000), Quantity("sacks/year")]
    kg_per_sack: Annotated[float, Field(gt=0, le=200), Quantity("kg/sack")]
    people: Annotated[int, Field(ge=1, le=100), Quantity("people")]
    days_each: Annotated[float, Field(ge=0, le=31), Quantity("days/month")]
    owed: Annotated[Sum, Quantity("money")]
    months_left: Annotated[int, Field(ge=1, le=12 * HORIZON_YEARS), Quantity("months")]


class Unanswered(ValueError):  # noqa: N818 - the name says what happened
    """A part of an answer is missing beside its other parts; `entry` names it."""

    def __init__(self, entry: str) -> None:
        """Keep the entry."""
        super().__init__(entry)
        self.entry = entry


@dataclass(frozen=True)
class Entry:
    """One thing that is asked. model, field: where a number is declared. only: the measure that it belongs to."""

    name: str
    model: type[Model] = Told
    field: str = ""
    kind: Kind = "number"
    needed: bool = True
    only: str = ""

    @property
    def declared(self) -> Declared:
        """Its unit and bounds."""
        return declared(self.model, self.field or self.name)

    @property
    def options(self) -> tuple[str, ...]:
        """What may be chosen: a country with a harvest window, or a currency that one of them has."""
        return window_names() if self.name == "country" else tuple(sorted({*default_notebook().currencies.values()}))

    @property
    def factor(self) -> float:
        """What is typed is the stated value times this: a share is typed as percent."""
        return 100.0 if self.kind == "number" and self.declared.unit.startswith("share") else 1.0


@dataclass(frozen=True)
class Question:
    """One of the ten: its entries, the paths that it answers (`*` for each field), and what an answer changes.

    many: the entries may be told several times, once for each field, loan or season. measures: one of them is chosen.
    """

    name: str
    answers: tuple[str, ...]
    entries: tuple[Entry, ...]
    put: Callable[[Scenario, Sequence[Row]], Changes]
    many: bool = False
    measures: tuple[str, ...] = ()

    def of_measure(self, measure: str) -> tuple[Entry, ...]:
        """The entries of a measure."""
        return tuple(entry for entry in self.entries if entry.only in ("", measure))

    def changes(self, farm: Scenario, rows: Sequence[Row]) -> Changes:
        """What an answer changes; nothing where all of it is empty.

        Errors: Unanswered where a part is missing that another needs.
        """
        told = [row for row in rows if any(row.get(entry.name) is not None for entry in self.entries)]
        for row in told:
            for entry in self.of_measure(_measure(self, row)):
                if entry.needed and row.get(entry.name) is None:
                    raise Unanswered(entry.name)
        return self.put(farm, told) if told else {}


def _measure(question: Question, row: Row) -> str:
    """The measure in which a row is told: the one that is named, else the first that anything is told in."""
    told = {entry.only for entry in question.entries if entry.only and row.get(entry.name) is not None}
    return str(row.get("measure") or next((one for one in question.measures if one in told), ""))


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


def _place(farm: Scenario, rows: Sequence[Row]) -> Changes:
    """Country and currency: the harvest's months, default costs in that money, and money guesses anew."""
    country = rows[-1].get("country")
    currency = rows[-1].get("currency") or default_notebook().currencies[str(country)]
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
    if country is not None:
        tables["market"] = {**tables["market"], "season": {"window": country}}
    tables["guessed"] = _as_tables(guessed)
    after = scenario_of(tables, farm.about.name)
    names = [*type(after).model_fields]
    return {name: getattr(after, name) for name in names if getattr(after, name) != getattr(farm, name)}


def _set(tables: dict[str, Any], path: str, value: float) -> None:
    *parts, last = path.split(".")
    node: Any = tables
    for part in parts:
        node = node[int(part)] if isinstance(node, list | tuple) else node[part]
    node[last] = value


def _fields(farm: Scenario, rows: Sequence[Row]) -> Changes:
    """The fields and their trees; what was told of the whole farm's crop stays its whole crop."""
    before = sum(stand.trees for stand in farm.stands)
    after = sum(row["trees"] for row in rows)
    stands, guessed = [], {p: g for p, g in farm.guessed.items() if not p.startswith("stands.")}
    for place, row in enumerate(rows):
        like = min(place, len(farm.stands) - 1)
        stand = farm.stands[like].model_dump()
        own = {path: guess for path, guess in farm.guessed.items() if path.startswith(f"stands.{like}.")}
        if stand["crop_per_tree"] is not None and f"stands.{like}.crop_per_tree" not in own:
            stand["crop_per_tree"] *= before / after
        empty = row.get("empty_places")
        name = row.get("name") or (
            stand["name"] if like == place else f"{farm.stands[0].name.removesuffix(' 1')} {place + 1}"
        )
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


def _crop(farm: Scenario, rows: Sequence[Row]) -> Changes:
    """What the trees bear: the whole farm's kilograms or sacks shared out by trees, or pods of a tree."""
    row = rows[-1]
    pods: dict[str, float] | None = None
    crop: float | None = None
    if row.get("pods_per_tree") is not None:
        each = row.get("pods_per_kg")
        shipped = default_tree_classes().pods_per_kg.value
        pods = {"pods_per_tree": row["pods_per_tree"], "pods_per_kg": shipped if each is None else each}
        pods["lost_share"] = row.get("lost_share") or 0.0
    else:
        kg = row["kg"] if row.get("kg") is not None else row["sacks"] * row["kg_per_sack"]
        crop = kg / sum(stand.trees for stand in farm.stands)
    changes: Changes = {}
    for place in range(len(farm.stands)):
        changes |= {f"stands__{place}__crop_per_tree": crop, f"stands__{place}__pods": pods}
    return changes | {"guessed": _without(farm, *(f"stands.{i}.crop_per_tree" for i in range(len(farm.stands))))}


def _hands(_: Scenario, rows: Sequence[Row]) -> Changes:
    """People times the days of a month that each of them has."""
    return {"household__family_days": float(sum(row["people"] * row["days_each"] for row in rows))}


def _figures(section: str, *fields: str) -> Callable[[Scenario, Sequence[Row]], Changes]:
    """Plain figures of one section, those that are told."""

    def put(_: Scenario, rows: Sequence[Row]) -> Changes:
        told = {field: value for row in rows for field in fields if (value := row.get(field)) is not None}
        return {f"{section}__{field}": value for field, value in told.items()}

    return put


def _loans(farm: Scenario, rows: Sequence[Row]) -> Changes:
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


def _grafts(farm: Scenario, rows: Sequence[Row]) -> Changes:
    """Grafts made and how many of them live, season by season."""
    others = [record.model_dump() for record in farm.planning.records if record.technique != GRAFTS]
    own = [
        {"technique": GRAFTS, "made": row["made"], "taken": row["taken"], "season": row.get("season")} for row in rows
    ]
    learning = farm.planning.learning or Learning()
    return {"planning__records": (*others, *own), "planning__learning": learning.model_dump()}


def _stated(model: type[Model], *fields: str, needed: bool = False) -> tuple[Entry, ...]:
    return tuple(Entry(field, model, needed=needed) for field in fields)


QUESTIONS = (
    Question(
        "place",
        ("market.season", "appraisal.currency"),
        (
            Entry("country", kind="choice"),
            Entry("currency", kind="choice", needed=False),
        ),
        _place,
    ),
    Question(
        "fields",
        ("stands.*.trees", "stands.*.empty_places"),
        (
            Entry("trees", Stand),
            Entry("name", Stand, kind="text", needed=False),
            Entry("empty_places", Stand, needed=False),
        ),
        _fields,
        many=True,
    ),
    Question(
        "crop",
        ("stands.*.crop_per_tree", "stands.*.pods"),
        (
            Entry("kg", only="kg"),
            Entry("sacks", only="sacks"),
            Entry("kg_per_sack", only="sacks"),
            Entry("pods_per_tree", Pods, only="pods"),
            Entry("pods_per_kg", Pods, needed=False, only="pods"),
            Entry("lost_share", Pods, needed=False, only="pods"),
        ),
        _crop,
        measures=("kg", "sacks", "pods"),
    ),
    Question("hands", ("household.family_days",), (Entry("people"), Entry("days_each")), _hands),
    Question(
        "price",
        ("market.price_per_kg", "market.deductions_per_kg"),
        _stated(Market, *OF_THE_MARKET),
        _figures("market", *OF_THE_MARKET),
    ),
    Question(
        "wage",
        ("household.wage_per_day",),
        _stated(Household, "wage_per_day"),
        _figures("household", "wage_per_day"),
    ),
    Question("money", ("household.savings",), _stated(Household, "savings"), _figures("household", "savings")),
    Question(
        "needs",
        ("household.living_costs", "household.other_income"),
        _stated(Household, "living_costs", "other_income"),
        _figures("household", "living_costs", "other_income"),
    ),
    Question(
        "loans",
        ("loans",),
        (
            Entry("owed"),
            Entry("rate_per_year", LoanConditions),
            Entry("months_left"),
            Entry("lender", kind="text", needed=False),
        ),
        _loans,
        many=True,
    ),
    Question(
        "grafts",
        ("planning.records",),
        (
            Entry("made", GraftRecord),
            Entry("taken", GraftRecord),
            Entry("season", GraftRecord, kind="month", needed=False),
        ),
        _grafts,
        many=True,
    ),
)
"""The ten questions, in the order in which they are asked."""


def answered(farm: Scenario, question: Question, rows: Sequence[Row]) -> Scenario:
    """The farm with one question answered.

    Errors: Unanswered for a part that is missing, ScenarioError for what no farm can be.

    Example:
        >>> farm = new_farm("2027-01", "My farm", "Field 1")
        >>> hands = next(one for one in QUESTIONS if one.name == "hands")
        >>> farm = answered(farm, hands, [{"people": 2, "days_each": 8.0}])
        >>> farm.household.family_days, "household.family_days" in farm.guessed
        (16.0, False)
    """
    changes = question.changes(farm, rows)
    return farm.changed(**changes) if changes else farm


def read_entry(entry: Entry, text: str, currency: str) -> Any:
    """What was typed for an entry; None where it is empty.

    Errors: ScenarioError for a number that cannot be read or is out of bounds.

    Example:
        >>> entry = next(entry for question in QUESTIONS for entry in question.entries if entry.name == "rate_per_year")
        >>> read_entry(entry, "12,5", "USD"), read_entry(entry, " ", "USD")
        (0.125, None)
    """
    text = text.strip()
    if not text or entry.kind != "number":
        return text or None
    shape, factor = entry.declared, entry.factor
    low, high = (None if end is None else end * factor for end in (shape.lower, shape.upper))
    unit = shape.unit if factor == 1 else ""
    read_decimal(text, replace(shape, lower=low, upper=high, unit=unit), currency)
    value = read_decimal(text, per=factor)
    return int(value) if shape.whole else value


def told_before(farm: Scenario, question: Question) -> list[Row]:
    """An answer as it was given before, for what the farm still holds as it was told."""
    if question.name == "fields":
        return [
            {"name": stand.name, "trees": stand.trees, "empty_places": stand.empty_places or None}
            for place, stand in enumerate(farm.stands)
            if f"stands.{place}.trees" not in farm.guessed
        ]
    if question.name == "grafts":
        own = [record for record in farm.planning.records if record.technique == GRAFTS]
        return [{"made": one.made, "taken": one.taken, "season": one.season} for one in own]
    if question.name == "loans":
        fields = ("amount", "rate_per_year", "term_months", "name")
        entries = ("owed", "rate_per_year", "months_left", "lender")
        running = [loan for loan in farm.loans if loan.running]
        return [{e: getattr(loan, f) for e, f in zip(entries, fields, strict=True)} for loan in running]
    paths = {path.rpartition(".")[2]: path for path in question.answers}
    told = {
        entry.name: value
        for entry in question.entries
        if (path := paths.get(entry.name))
        and path not in farm.guessed
        and not isinstance(value := at(farm, path), tuple)
    }
    return [told] if told else []


def open_paths(farm: Scenario, question: Question) -> tuple[str, ...]:
    """The paths of a question that are still guesses."""
    return tuple(path for path in farm.guessed if any(_matches(path, one) for one in question.answers))


def _matches(path: str, pattern: str) -> bool:
    parts, wanted = path.split("."), pattern.split(".")
    return len(parts) == len(wanted) and all(b in ("*", a) for a, b in zip(parts, wanted, strict=True))


def question_of(path: str) -> Question | None:
    """The question that asks for a figure; None where it is asked on the page of numbers only.

    Example:
        >>> question_of("stands.3.trees").name, question_of("stands.0.decline_per_year")
        ('fields', None)
    """
    return next((question for question in QUESTIONS if any(_matches(path, one) for one in question.answers)), None)
