"""A farm of one's own, begun from ten questions: all of it guessed at first, and each answer puts a fact in place."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any, Literal

from pydantic import Field

from renovation.inputs.answers import (
    GRAFTS,
    HORIZON_YEARS,
    OF_THE_MARKET,
    Changes,
    Row,
    Unanswered,
    new_farm,
    put_crop,
    put_fields,
    put_figures,
    put_grafts,
    put_hands,
    put_loans,
    put_place,
    told_fields,
)
from renovation.inputs.decimals import read_decimal
from renovation.inputs.declared import Declared, declared
from renovation.inputs.defaults import default_notebook
from renovation.inputs.errors import Problem, ScenarioError
from renovation.inputs.guesses import at
from renovation.inputs.loans import LoanConditions, Sum
from renovation.inputs.planning import GraftRecord
from renovation.inputs.quantities import Model, Quantity
from renovation.inputs.scenario import Household, Market, Scenario
from renovation.inputs.seasons import window_names
from renovation.inputs.stands import Pods, Stand
from renovation.inputs.tally import CLASSES, TreeClass
from renovation.words import Words, countries
from renovation.words.folding import folded

Kind = Literal["number", "text", "choice", "country", "month"]


class Told(Model):
    """What a question asks that stands in no file as it is told."""

    kg: Annotated[float, Field(ge=0, le=10_000_000), Quantity("kg/year")]
    sacks: Annotated[float, Field(ge=0, le=1_000_000), Quantity("sacks/year")]
    kg_per_sack: Annotated[float, Field(gt=0, le=200), Quantity("kg/sack")]
    rows: Annotated[int, Field(ge=1, le=10_000), Quantity("rows")]
    trees_per_row: Annotated[float, Field(gt=0, le=10_000), Quantity("trees/row")]
    people: Annotated[int, Field(ge=1, le=100), Quantity("people")]
    days_each: Annotated[float, Field(ge=0, le=31), Quantity("days/month")]
    owed: Annotated[Sum, Quantity("money")]
    months_left: Annotated[int, Field(ge=1, le=12 * HORIZON_YEARS), Quantity("months")]


@dataclass(frozen=True)
class Entry:
    """One thing that is asked. model, field: where a number is declared. only: the measure that it belongs to.

    aside: few can tell it, so that it stands behind the others.
    """

    name: str
    model: type[Model] = Told
    field: str = ""
    kind: Kind = "number"
    needed: bool = True
    only: str = ""
    aside: bool = False

    @property
    def declared(self) -> Declared:
        """Its unit and bounds."""
        return declared(self.model, self.field or self.name)

    @property
    def options(self) -> tuple[str, ...]:
        """What may be chosen: a country with a harvest window, any country, or a currency that one of them has."""
        if self.kind == "country":
            return tuple(sorted(countries()))
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
    return str(
        row.get("measure") or next((one for one in question.measures if one in told), (*question.measures, "")[0])
    )


def _stated(model: type[Model], *fields: str, needed: bool = False) -> tuple[Entry, ...]:
    return tuple(Entry(field, model, needed=needed) for field in fields)


QUESTIONS = (
    Question(
        "place",
        ("market.season", "appraisal.currency"),
        (
            Entry("country", kind="choice", needed=False),
            Entry("home", kind="country", needed=False, aside=True),
            Entry("currency", kind="choice", needed=False, aside=True),
        ),
        put_place,
    ),
    Question(
        "fields",
        ("stands.*.trees", "stands.*.empty_places"),
        (
            Entry("trees", Stand, only="number"),
            Entry("rows", only="rows"),
            Entry("trees_per_row", only="rows"),
            *(Entry(f"{name}_trees", TreeClass, "trees", needed=False, only="tally") for name in CLASSES),
            *(Entry(f"{name}_pods", TreeClass, "pods_per_tree", needed=False, only="tally") for name in CLASSES[:-1]),
            Entry("name", Stand, kind="text", needed=False, aside=True),
            Entry("empty_places", Stand, needed=False, aside=True),
        ),
        put_fields,
        many=True,
        measures=("number", "rows", "tally"),
    ),
    Question(
        "crop",
        ("stands.*.crop_per_tree", "stands.*.pods"),
        (
            Entry("kg", only="kg"),
            Entry("sacks", only="sacks"),
            Entry("kg_per_sack", only="sacks"),
            Entry("pods_per_tree", Pods, only="pods"),
            Entry("pods_per_kg", Pods, needed=False, only="pods", aside=True),
            Entry("lost_share", Pods, needed=False, only="pods", aside=True),
        ),
        put_crop,
        measures=("kg", "sacks", "pods"),
    ),
    Question("hands", ("household.family_days",), (Entry("people"), Entry("days_each")), put_hands),
    Question(
        "price",
        ("market.price_per_kg", "market.deductions_per_kg"),
        _stated(Market, *OF_THE_MARKET),
        put_figures("market", *OF_THE_MARKET),
    ),
    Question(
        "wage",
        ("household.wage_per_day",),
        _stated(Household, "wage_per_day"),
        put_figures("household", "wage_per_day"),
    ),
    Question("money", ("household.savings",), _stated(Household, "savings"), put_figures("household", "savings")),
    Question(
        "needs",
        ("household.living_costs", "household.other_income"),
        _stated(Household, "living_costs", "other_income"),
        put_figures("household", "living_costs", "other_income"),
    ),
    Question(
        "loans",
        ("loans",),
        (
            Entry("owed"),
            Entry("rate_per_year", LoanConditions),
            Entry("months_left"),
            Entry("lender", kind="text", needed=False, aside=True),
        ),
        put_loans,
        many=True,
    ),
    Question(
        "grafts",
        ("planning.records",),
        (
            Entry("made", GraftRecord),
            Entry("taken", GraftRecord),
            Entry("season", GraftRecord, kind="month", needed=False, aside=True),
        ),
        put_grafts,
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


def read_entry(entry: Entry, text: str, currency: str, words: Words | None = None) -> Any:
    """What was typed for an entry, numbers as `words` write them; None where it is empty.

    A country is told by its two letters or by its name. Errors: ScenarioError for a number that cannot be read or is
    out of bounds, and for a country that there is not.

    Example:
        >>> entry = next(entry for question in QUESTIONS for entry in question.entries if entry.name == "rate_per_year")
        >>> read_entry(entry, "12,5", "USD"), read_entry(entry, " ", "USD")
        (0.125, None)
    """
    text = text.strip()
    if text and entry.kind == "country":
        return _country(text, words or Words("en"))
    if not text or entry.kind != "number":
        return text or None
    shape, factor = entry.declared, entry.factor
    low, high = (None if end is None else end * factor for end in (shape.lower, shape.upper))
    unit = shape.unit if factor == 1 else ""
    read_decimal(text, replace(shape, lower=low, upper=high, unit=unit), currency, words=words)
    value = read_decimal(text, per=factor, words=words)
    return int(value) if shape.whole else value


def _country(text: str, words: Words) -> str:
    """The two letters of a country, told by them or by its name, with or without its accents."""
    named = {folded(words.country_name(code)): code for code in countries()}
    if (code := named.get(folded(text), text.upper())) in countries():
        return code
    raise ScenarioError([Problem("", "", "typed.no_country", text)])


def told_before(farm: Scenario, question: Question) -> list[Row]:
    """An answer as it was given before, for what the farm still holds as it was told."""
    if question.name == "fields":
        return [*told_fields(farm)]
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


def unanswered(farm: Scenario, question: Question) -> bool:
    """Whether nothing of what a question asks has been told; none, where none is an answer, is told.

    Example:
        >>> [question.name for question in QUESTIONS if unanswered(new_farm("2027-01", "My farm", "Field 1"), question)]
        ['place', 'fields', 'crop', 'hands', 'price', 'wage', 'money', 'needs']
    """
    if question.name == "place":
        return farm.market.season.window is None
    asked = [path.replace("*", str(place)) for path in question.answers for place in range(len(farm.stands))]
    return any(path in farm.guessed for path in asked) and not any(
        path not in farm.guessed and isinstance(at(farm, path), int | float) for path in asked if "empty" not in path
    )


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


def range_of_guess(farm: Scenario, path: str) -> dict[str, Any]:
    """Low, high and source of a figure that is guessed; empty where somebody has stated it."""
    guess = farm.guessed.get(path)
    if guess is None:
        return {}
    figure = getattr(default_notebook().figures, path.rpartition(".")[2], None)
    return {"low": guess.low, "high": guess.high, "source": figure.source if figure else "from memory"}


__all__ = [
    "QUESTIONS",
    "Entry",
    "Question",
    "Row",
    "Told",
    "Unanswered",
    "answered",
    "new_farm",
    "open_paths",
    "question_of",
    "range_of_guess",
    "read_entry",
    "told_before",
    "unanswered",
]
