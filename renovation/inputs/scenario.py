"""What one family states: its stands, household, market, loans and the decision it weighs."""

import hashlib
import itertools
import json
from functools import cached_property
from typing import Annotated, Any, NamedTuple, Self

from pydantic import (
    AfterValidator,
    Discriminator,
    Field,
    ModelWrapValidatorHandler,
    Tag,
    ValidationError,
    model_validator,
)

from renovation.inputs.appraisal import Appraisal
from renovation.inputs.checks import cross_checks
from renovation.inputs.errors import ScenarioError
from renovation.inputs.findings import all_findings, problems_of, refused_places
from renovation.inputs.guesses import Guesses, still_guessed
from renovation.inputs.loans import USUAL_LOWER_PRICES, Loan, LoanTest
from renovation.inputs.materials import Materials
from renovation.inputs.planning import Planning
from renovation.inputs.planted import as_stated, planted, with_own_figures
from renovation.inputs.quantities import (
    FrozenDict,
    Key,
    Model,
    Name,
    Named,
    NotNegative,
    Quantity,
    TwelveMonths,
    YearMonth,
    month_count,
    problem,
    refuse_all,
    without_reasons,
)
from renovation.inputs.risk import Risk
from renovation.inputs.seasons import Season
from renovation.inputs.standing import ToolsOwned, UnderWay
from renovation.inputs.stands import Stand
from renovation.inputs.techniques import Supplies, Technique, WorksOn
from renovation.words import countries

MOST_CROSS_CHECKED = 1000
"""Where the fields alone refuse more than this, nobody looks for what stands between them."""
_STATED = "stated"
SAID_ONLY_IF_STATED = {
    "": ("materials", "under_way", "tools_owned", "guessed"),
    "about": ("country",),
    "stands": ("empty_places", "part_of", "tree_loss_per_year", "pods_lost"),
    "techniques": (
        *("take_by_month", "permanent_shade", "tree_loss_per_year", "pods_lost", "payments"),
        *("planting_materials", "own_figures"),
    ),
    "loans": ("running", "owed", "works", "late_rate_per_year"),
    "payouts": ("live_trees",),
    "records": ("work",),
}
"""Fields that came after digests had been printed, of the file, its head, each stand, way, loan, payout and record: a
file that states none of them keeps its digest. So does a way that works on trees, as all did then."""


def _one_or_twelve(value: Any) -> str:
    """Tell a list from a single number, so that a mistake is judged as what was meant."""
    return "twelve" if isinstance(value, tuple | list) else "one"


ByMonth = Annotated[
    Annotated[NotNegative, Tag("one")] | Annotated[TwelveMonths, Tag("twelve")], Discriminator(_one_or_twelve)
]
"""One number for every month, or twelve from January to December."""


def twelve(value: float | tuple[float, ...]) -> tuple[float, ...]:
    """Spread one number over the twelve calendar months; leave twelve as they are.

    Example:
        >>> twelve(3.0)[:2]
        (3.0, 3.0)
    """
    return value if isinstance(value, tuple) else (float(value),) * 12


def _known_country(code: str) -> str:
    if code not in countries():
        raise problem("unknown_country", found=f'"{code}"')
    return code


class About(Model):
    """What the scenario is, for the head of every page and report."""

    name: Name
    country: Annotated[str, AfterValidator(_known_country)] | None = None
    """Where it lies, by the two letters of ISO 3166: its numbers are read and written as there."""
    invented: bool = False
    note: Annotated[str, Field(max_length=2000)] = ""


class Plot(NamedTuple):
    """What techniques of one kind find in a stand: its trees, or its empty places. free: those not under way."""

    name: str
    works_on: WorksOn
    stand: Stand
    free: int


class Household(Model):
    """The people: their days, their money, what hired hands cost."""

    family_days: Annotated[ByMonth, Quantity("person-days/month")]
    wage_per_day: Annotated[NotNegative, Quantity("money/person-day")]
    labour_value: Annotated[float, Field(ge=0, le=1), Quantity("share of the wage", "common practice")] = 1.0
    hired_days_limit: Annotated[ByMonth | None, Quantity("person-days/month")] = None
    living_costs: Annotated[ByMonth, Quantity("money/month")] = 0.0
    other_income: Annotated[ByMonth, Quantity("money/month")] = 0.0
    savings: Annotated[NotNegative, Quantity("money")] = 0.0
    floor: Annotated[NotNegative, Quantity("money", "common practice")] = 0.0
    """The balance the family will not go below."""
    savings_rate: Annotated[float, Field(ge=0, le=0.5), Quantity("share/year", "common practice")] = 0.0


class WetBeans(Model):
    """A price for fresh wet beans, and the kg of dry beans that one kg of them gives."""

    price_per_kg: Annotated[NotNegative, Quantity("money/kg wet")]
    dry_per_wet: Annotated[float, Field(ge=0.2, le=0.6), Quantity("kg dry/kg wet")]


class Market(Model):
    """What a kilogram brings and when the crop ripens."""

    price_per_kg: Annotated[NotNegative | None, Quantity("money/kg dry")] = None
    wet_beans: WetBeans | None = None
    deductions_per_kg: Annotated[NotNegative, Quantity("money/kg dry")] = 0.0
    premium: Annotated[Named[Annotated[float, Field(ge=-0.9, le=5)]], Quantity("share of the price")] = Field(
        default_factory=FrozenDict
    )
    """Quality premium by planting material; 0 where a material is not named."""
    season: Season
    harvest_days_per_kg: Annotated[float, Field(ge=0, le=2), Quantity("person-days/kg dry", "common practice")] = 0.05

    @model_validator(mode="after")
    def _one_price(self) -> Self:
        if (self.price_per_kg is None) == (self.wet_beans is None):
            raise problem("price_stated_none" if self.wet_beans is None else "price_stated_both")
        return self

    @property
    def dry_price_per_kg(self) -> float:
        """Price of a kg of dry beans, before deductions."""
        if self.wet_beans:
            return self.wet_beans.price_per_kg / self.wet_beans.dry_per_wet
        return float(self.price_per_kg or 0.0)


class Treatment(Model):
    """Trees of one stand, treated by one technique, from one month on."""

    stand: Name
    technique: Key
    trees: Annotated[int, Field(ge=0, le=1_000_000), Quantity("trees")]
    start: YearMonth


class Comparison(Model):
    """What the compare page weighs: this many trees of this stand, each technique in turn."""

    stand: Name | None = None
    """The first stand where absent."""
    trees: Annotated[int | None, Field(ge=1, le=1_000_000), Quantity("trees")] = None
    """All trees of the stand where absent."""
    headline: Key = "side_graft"
    against: Key = "rooted_cutting"


class Scenario(Model):
    """Everything that one run rests on (method §§1–4, 6, 7).

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> demo_scenario().about.invented
        True
    """

    about: About
    appraisal: Appraisal
    household: Household
    market: Market
    stands: Annotated[tuple[Stand, ...], Field(min_length=1, max_length=200)]
    techniques: Named[Technique]
    materials: Materials = Field(default_factory=FrozenDict)
    """The planting materials that a way uses, and those that are stated."""
    supplies: Supplies
    comparison: Comparison = Comparison()
    under_way: Annotated[tuple[UnderWay, ...], Field(max_length=1000)] = ()
    tools_owned: ToolsOwned = Field(default_factory=FrozenDict)
    plan: Annotated[tuple[Treatment, ...], Field(max_length=1000)] = ()
    loans: Annotated[tuple[Loan, ...], Field(max_length=20)] = ()
    loan_test: LoanTest = LoanTest()
    risk: Risk = Risk()
    planning: Planning = Planning()
    guessed: Guesses = Field(default_factory=FrozenDict)
    """What nobody has stated: the ranges of our guesses, by path; a change of such a figure takes it out."""

    @model_validator(mode="wrap")
    @classmethod
    def _all_at_once(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        """Report the mistakes of single fields together with those of the cross-checks on what they let pass."""
        if isinstance(data, cls):
            return data
        try:
            scenario = handler(data)
        except ValidationError as error:
            if error.error_count() > MOST_CROSS_CHECKED:
                raise
            raise all_findings(error, cross_checks(data, refused_places(error))) from None
        refuse_all(cls.__name__, cross_checks(data, techniques=scenario.techniques))
        return planted(scenario)

    @property
    def compared_pair(self) -> tuple[str, str | None]:
        """The two techniques of the headline, as stated where considered.

        The default side graft, where it is not considered, gives way to the first graft considered, else to
        the first technique; rooted cutting to the first way of replanting, else to the first other technique.
        None stands where only one technique is considered.
        """
        headline = self._considered_or_first(self.comparison.headline, "graft", {self.comparison.against})
        if headline is None:
            headline = next(iter(self.techniques))
        return headline, self._considered_or_first(self.comparison.against, "replant", {headline})

    def _considered_or_first(self, key: str, family: str, not_these: set[str]) -> str | None:
        """The key itself where considered, else the first other technique, its family first."""
        if key in self.techniques and key not in not_these:
            return key
        ways = self.techniques.items()
        others = [other for other, way in ways if other not in not_these and way.works_on == "trees"]
        return next((o for o in others if self.techniques[o].family == family), others[0] if others else None)

    def stand(self, name: str) -> Stand:
        """Return the stand of this name; KeyError where there is none."""
        for stand in self.stands:
            if stand.name == name:
                return stand
        raise KeyError(name)

    @property
    def wholes(self) -> dict[str, tuple[Stand, ...]]:
        """The stands that were walked, each with its classes, where it has several."""
        found: dict[str, list[Stand]] = {}
        for stand in self.stands:
            if stand.part_of is not None:
                found.setdefault(stand.part_of, []).append(stand)
        return {name: tuple(parts) for name, parts in found.items() if len(parts) > 1}

    def free_trees(self, name: str) -> int:
        """Trees of a stand but those under way; KeyError where there is no such stand."""
        return self.stand(name).trees - self._begun(name, "trees")

    def free_places(self, name: str) -> int:
        """Empty places of a stand but those planted already; KeyError where there is no such stand."""
        return self.stand(name).empty_places - self._begun(name, "empty places")

    def _begun(self, name: str, works_on: WorksOn) -> int:
        """Trees of a stand that are under way by techniques of one kind."""
        mine = (entry for entry in self.under_way if entry.stand == name)
        return sum(entry.trees for entry in mine if self.techniques[entry.technique].works_on == works_on)

    def found_by(self, technique: str, name: str) -> Stand:
        """The stand as a technique finds it: its trees, or its empty places, where nothing stands."""
        stand = self.stand(name)
        return stand if self.techniques[technique].works_on == "trees" else stand.emptied

    @property
    def plots(self) -> tuple[Plot, ...]:
        """The trees of each stand, then the empty places of those that have any.

        Example:
            >>> from renovation.inputs import demo_scenario
            >>> [(plot.name, plot.works_on) for plot in demo_scenario().changed(stands__1__empty_places=9).plots][-1]
            ('House field', 'empty places')
        """
        trees = (Plot(s.name, "trees", s, self.free_trees(s.name)) for s in self.stands)
        gaps = (s for s in self.stands if s.empty_places)
        return (*trees, *(Plot(s.name, "empty places", s.emptied, self.free_places(s.name)) for s in gaps))

    @property
    def states_losses(self) -> bool:
        """Whether a loss of trees or of pods is stated, of a stand, a way or as a hard case."""
        of_stands = any(stand.tree_loss_per_year or stand.pods_lost for stand in self.stands)
        of_ways = any(way.tree_loss_per_year or way.pods_lost for way in self.techniques.values())
        return of_stands or of_ways or self.risk.stress.lost_trees > 0

    @property
    def states_payments(self) -> bool:
        """Whether any way of the farm is paid for."""
        return any(technique.payments for technique in self.techniques.values())

    def month_of(self, year_month: str) -> int:
        """Project month (0 = the first) of a calendar month `YYYY-MM`."""
        return month_count(year_month) - month_count(self.appraisal.start)

    @cached_property
    def digest(self) -> str:
        """Twelve hex digits of the SHA-256 of the whole content but reasons, printed on every output.

        Worked out once; a copy works out its own.
        What stands in `SAID_ONLY_IF_STATED` is left out where nothing is stated.
        """
        if (stated := vars(self).get(_STATED)) is not None:
            return str(stated.digest)
        table = without_reasons(self.model_dump(mode="json", exclude={"techniques"}))
        table["techniques"] = {key: {**technique.numbers} for key, technique in self.techniques.items()}
        ways = table["techniques"].values()
        parts = {"": [table], "about": [table["about"]], "stands": table["stands"]}
        parts |= {"techniques": ways, "loans": table["loans"]}
        parts["records"] = table["planning"]["records"]
        lent = [*table["loans"], *filter(None, [table["planning"]["loan"]])]
        parts["payouts"] = [payout for loan in lent for payout in loan["payouts"]]
        for place, names in SAID_ONLY_IF_STATED.items():
            for part, field in itertools.product(parts[place], names):
                if not part[field]:
                    del part[field]
        if self.loan_test.lower_prices == USUAL_LOWER_PRICES:
            del table["loan_test"]["lower_prices"]
        if not self.risk.stress.lost_trees:
            for field in ("lost_trees", "lost_trees_year"):
                del table["risk"]["stress"][field]
        for way in ways:
            if way["works_on"] == "trees":
                del way["works_on"]
        text = json.dumps(table, sort_keys=True, ensure_ascii=False)
        return hashlib.sha256(text.encode()).hexdigest()[:12]

    def known_as(self, stated: "Scenario") -> "Scenario":
        """This scenario, which follows from what was stated, with the digest of that; a copy has its own again."""
        vars(self)[_STATED] = stated
        vars(self).pop("digest", None)
        return self

    def changed(self, **changes: Any) -> "Scenario":
        """Return a validated copy with keys changed; parts of a key are joined by `__`.

        A key of a way changes the way's own figure; its planting materials are laid over it anew.
        Sections that no key leads into are shared with this scenario: what is equal is held once.

        An entry of a list is named by its position from 0. Errors: KeyError for a path that leads nowhere,
        ScenarioError for a value that is not accepted.

        Example:
            >>> from renovation.inputs import demo_scenario
            >>> demo_scenario().changed(market__price_per_kg=3.0, stands__0__trees=700).stands[0].trees
            700
        """
        led_into = {key.split("__")[0] for key in changes}
        stated = as_stated(self)
        kept = {name: getattr(stated, name) for name in type(self).model_fields if name not in led_into}
        data: Any = kept | stated.model_dump(include=led_into)
        for key, value in changes.items():
            data = _put(data, key.split("__"), value, key)
        if isinstance(data["techniques"], dict):
            data["techniques"] = {key: with_own_figures(table) for key, table in data["techniques"].items()}
        if self.guessed and "guessed" not in led_into:
            data["guessed"] = still_guessed(self, data, changes)
        try:
            return Scenario.model_validate(data)
        except ValidationError as error:
            whole = stated.model_dump() | {name: data[name] for name in led_into}
            raise ScenarioError(*problems_of(error, Scenario, whole, currency=self.appraisal.currency)) from None


def _put(node: Any, path: list[str], value: Any, key: str) -> Any:
    """Copy nested tables and tuples with the value at the end of the path in place."""
    if not path:
        return value
    part, *rest = path
    if isinstance(node, tuple) and part.isdecimal() and int(part) < len(node):
        at = int(part)
        return (*node[:at], _put(node[at], rest, value, key), *node[at + 1 :])
    if isinstance(node, dict) and (part in node or not rest):
        return {**node, part: _put(node.get(part), rest, value, key)}
    raise KeyError(key)
