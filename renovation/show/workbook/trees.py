"""The sheet of what chance leaves: crop, upkeep and payments of each group of trees, so that losses are live.

A group is trees that share stand, way and start; its crop and upkeep stand as numbers of trees of which none is lost,
and what is left of them is a formula over the cells of Inputs (method, losses):

    stands = (1 − h)^(min(t, s)/12) · (1 − h′)^(max(0, t − s)/12),   kept = 1 − share of pods lost

Only a farm that states a loss or a payment has this sheet.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from renovation.decide.dossier import Dossier
from renovation.farm import setting_of, treated_trees, trees_under_way
from renovation.farm.trees import tree_left_alone
from renovation.inputs import FrozenDict, Payment, Scenario, Stand, month_count, year_month
from renovation.show.voice import Voice
from renovation.show.workbook.book import Book, Sheet
from renovation.show.workbook.table import SheetColumn, SheetTable, numbers
from renovation.tree import Profile
from renovation.tree.losses import left_alone_shares, worked_shares
from renovation.types import FloatArray

PARTS = {"old_kg": "kg", "new_kg": "kg", "upkeep_days": "days", "upkeep_cost": "flow"}
"""What is left by chance of a tree, with the kind of its numbers."""
TOP = 4
"""The first row of months, counted from 0."""


@dataclass(frozen=True)
class Group:
    """Trees of one stand, left alone (start None) or under a way from a month on; how many on each side."""

    stand: Stand
    way: str
    start: int | None
    with_plan: float
    without: float
    tree: Profile


def has_chance(scenario: Scenario) -> bool:
    """Whether a farm states a loss or a payment."""
    return scenario.states_losses or scenario.states_payments


def cell_of(scenario: Scenario, whose: str, field: str) -> str:
    """The name of the cell of a loss: of a stand by its place, of a way by its key."""
    places = {stand.name: place for place, stand in enumerate(scenario.stands, start=1)}
    return f"stand_{places[whose]}_{field}" if whose in places else f"way_{whose}_{field}"


def payments_of(scenario: Scenario) -> Iterator[tuple[str, str, int, Payment]]:
    """Every payment: the name of its cell, the way, its place there, itself."""
    every = [(key, at, one) for key, way in scenario.techniques.items() for at, one in enumerate(way.payments)]
    for number, (key, at, payment) in enumerate(every, start=1):
        yield f"payment_{number}", key, at, payment


def _with(scenario: Scenario, key: str = "", payment: Payment | None = None) -> Scenario:
    """The farm of which nothing is lost and for which nothing is paid, but one payment of 1 per tree to a way."""
    none = {"tree_loss_per_year": 0.0, "pods_lost": 0.0}
    stands = tuple(stand.model_copy(update=none) for stand in scenario.stands)
    ways = {}
    for name, way in scenario.techniques.items():
        paid: tuple[Payment, ...] = ()
        if payment is not None and name == key:
            paid = (payment.model_copy(update={"amount": payment.amount.model_copy(update={"value": 1.0})}),)
        ways[name] = way.model_copy(update={"tree_loss_per_year": None, "pods_lost": None, "payments": paid})
    return scenario.model_copy(update={"stands": stands, "techniques": FrozenDict(ways)})


class Chance:
    """What chance leaves of a farm's trees, laid out on a sheet of its own."""

    def __init__(self, book: Book, sheet: Sheet, dossier: Dossier) -> None:
        """Lay out every group of the farm with the plan and without it."""
        self.book, self.sheet, self.dossier = book, sheet, dossier
        self.scenario, self.months = dossier.flows.scenario, dossier.months
        self.names = {cell: payment.name for cell, _, _, payment in payments_of(self.scenario)}
        self.groups = tuple(self._groups(_with(self.scenario)))
        self.paid = {
            (cell, key): [group.tree.payments[0] for group in self._groups(_with(self.scenario, key, payment))]
            for cell, key, _, payment in payments_of(self.scenario)
        }
        self.table = SheetTable(book, sheet, TOP, self._columns())

    def _groups(self, farm: Scenario) -> Iterator[Group]:
        """Trees left alone by stand, treatments, trees under way, their trees as a farm without losses has them."""
        setting, mine = setting_of(farm), self.scenario
        treated = treated_trees(farm, [item.treatment for item in self.dossier.flows.treated], setting)
        on_trees = [item.treatment for item in treated if item.technique.works_on == "trees"]
        for stand, plain in zip(mine.stands, farm.stands, strict=True):
            free, worked = mine.free_trees(stand.name), sum(t.trees for t in on_trees if t.stand == stand.name)
            yield Group(stand, "", None, free - worked, free, tree_left_alone(plain, setting))
        for item in treated:
            what = item.treatment
            start = mine.month_of(what.start)
            yield Group(mine.stand(what.stand), what.technique, start, what.trees, 0.0, item.tree)
        for begun in trees_under_way(farm, setting):
            start = mine.month_of(begun.entry.start)
            yield Group(mine.stand(begun.entry.stand), begun.entry.technique, start, 1.0, 1.0, begun.tree)

    def _columns(self) -> Iterator[SheetColumn]:
        """Of each group what stands, what is kept of its crop, and the numbers of trees of which none is lost."""
        words = self.book.words
        yield SheetColumn("n", words("workbook.column.n"), "count", list(range(1, self.months + 1)), width=7)
        for n, group in enumerate(self.groups):
            facts = {"group": self._name(group), "currency": self.book.currency}
            shares, formulas = self._shares(group), self._formulas(group)
            for part, values, formula in zip(("stands", "kept"), shares, formulas, strict=True):
                yield SheetColumn(
                    f"{part}_{n}", words(f"workbook.trees.{part}", **facts), "factor", numbers(values), formula
                )
            for part, kind in PARTS.items():
                values = getattr(group.tree, part)[0]
                yield SheetColumn(f"{part}_{n}", words(f"workbook.trees.{part}", **facts), kind, numbers(values))
            for (cell, key), paid in self.paid.items():
                if key == group.way:
                    head = words("workbook.trees.paid", name=self.names[cell], **facts)
                    yield SheetColumn(f"{cell}_{n}", head, "exact", numbers(paid[n]))

    def _name(self, group: Group) -> str:
        if group.start is None:
            return group.stand.name
        voice = Voice.of(self.scenario, self.book.words)
        month = self.book.words.month(year_month(month_count(self.scenario.appraisal.start) + group.start))
        return self.book.words("workbook.trees.group", stand=group.stand.name, way=voice.way(group.way), month=month)

    def _shares(self, group: Group) -> tuple[FloatArray, FloatArray]:
        """The shares that stand and that are kept, (T,) each, as the program has them."""
        if group.start is None:
            shares = left_alone_shares(group.stand, self.months)
        else:
            way = self.scenario.techniques[group.way].model_copy(update={"permanent_shade": None})
            shares = worked_shares(way, group.stand, np.array([group.start]), self.months)
        whole = np.ones(self.months)
        return (whole, whole) if shares is None else (shares.standing[0], shares.kept[0])

    def _formulas(self, group: Group) -> tuple[str, str]:
        """The same as formulas over the cells of Inputs."""
        loss, pods = (cell_of(self.scenario, group.stand.name, field) for field in ("loss", "pods"))
        if group.start is None:
            return f"=(1-{loss})^(({{n}}-1)/12)", f"=1-{pods}"
        way, begin = self.scenario.techniques[group.way], max(0, group.start)
        own_loss = cell_of(self.scenario, group.way, "loss") if way.tree_loss_per_year else loss
        own_pods = cell_of(self.scenario, group.way, "pods") if way.pods_lost else pods
        before = f"(1-{loss})^(MIN({{n}}-1,{begin})/12)*" if way.works_on == "trees" else ""
        stands = f"={before}(1-{own_loss})^(MAX(0,{{n}}-1-{begin})/12)"
        return stands, f"=IF({{n}}-1<{group.start},1-{pods},1-{own_pods})"

    def crop(self, material: str | None, *, with_plan: bool) -> str:
        """The formula of the old crowns' crop (None), or of the new crowns' of a material."""
        part, ways = "old_kg" if material is None else "new_kg", self.scenario.techniques
        whose = [ways[group.way].material if group.way else "" for group in self.groups]
        mine = [n for n, one in enumerate(whose) if material in (None, one)]
        return self._sum({n: f"{{trees.{part}_{n}}}*{{trees.stands_{n}}}*{{trees.kept_{n}}}" for n in mine}, with_plan)

    def upkeep(self, part: str, *, with_plan: bool) -> str:
        """The formula of the days or the supplies of upkeep."""
        every = range(len(self.groups))
        return self._sum({n: f"{{trees.{part}_{n}}}*{{trees.stands_{n}}}" for n in every}, with_plan)

    def upkeep_now(self, part: str, *, with_plan: bool) -> FloatArray:
        """What that formula comes to, (T,)."""
        parts = (self._trees(g, with_plan) * getattr(g.tree, part)[0] * self._shares(g)[0] for g in self.groups)
        return np.asarray(sum(parts, start=np.zeros(self.months)))

    def payments(self, *, with_plan: bool) -> str:
        """The formula of all payments: those once whole, the yearly ones of the trees that stand."""
        found = []
        for cell, key, _, payment in payments_of(self.scenario):
            often = "" if payment.until is None else "*{{trees.stands_{n}}}"
            mine = [n for n, group in enumerate(self.groups) if group.way == key]
            terms = {n: f"{{trees.{cell}_{n}}}*{cell}" + often.format(n=n) for n in mine}
            found.append(self._sum(terms, with_plan))
        return "+".join(found) or "0"

    def _trees(self, group: Group, with_plan: bool) -> float:
        return group.with_plan if with_plan else group.without

    def _sum(self, terms: dict[int, str], with_plan: bool) -> str:
        """Σ trees · term over the groups that have any trees on this side."""
        counts = {n: self._trees(self.groups[n], with_plan) for n in terms}
        return "+".join(f"{trees:.17g}*{terms[n]}" for n, trees in counts.items() if trees) or "0"

    def write(self) -> None:
        """Write the sheet with its title."""
        self.book.text(self.sheet, 0, 0, self.book.words("workbook.sheet.trees"), "title")
        self.book.note(self.sheet, self.book.words("workbook.about.trees"), 1)
        self.table.write({})
        self.book.pages(self.sheet, TOP - 1, (self.table.last_row, self.table.last_column), fixed_columns=1)
