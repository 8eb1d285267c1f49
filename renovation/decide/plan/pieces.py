"""The programme in running counts of pieces, for the planner's own branching (method §8).

In place of a yes/no for each technique and start stand the trees themselves: of a stand's trees that need a tool in one
month there are none where no piece serves, and at most all. Pieces are counted from month 0 on, C(k) = u(0) + … + u(k):
those that serve a need are a difference of two counts, and "one has been bought by then, or none" is a bound on one
column. Where counts are whole this is the programme of `rows` without its yes/no.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_array, hstack, vstack

from renovation.decide.plan.branch import Pool, first_point
from renovation.decide.plan.exact import Promise, tool_pieces
from renovation.decide.plan.labour import Labour
from renovation.decide.plan.question import PlanProblem
from renovation.decide.plan.rows import Model, formulate, held_floor
from renovation.decide.plan.solver import Answer, Program
from renovation.decide.plan.tools import ToolColumns
from renovation.types import BoolArray, FloatArray, IntArray

SOONER = 0.95
"""What a month takes from the weight of a purchase: later ones follow from earlier ones. Branched on by its price alone
the slowest of the random farms takes six times the nodes."""

LIKED = 0.5
"""Trees of a technique and month from which on the relaxation is taken to like it."""


@dataclass(frozen=True, eq=False)
class Pieces:
    """The model with counts in the place of purchases; the needs of tools and the floor of each month in a pool.

    purchases: (V, V) by which a row over purchases, from the right, becomes one over counts.
    """

    model: Model
    switches: IntArray
    weights: FloatArray
    pool: Pool
    purchases: csr_array

    def with_program(self, program: Program, *more: int) -> "Pieces":
        """The same with another programme, which may have columns after the others; more: those to be branched on."""
        rows, width = self.pool.rows, program.gain.size
        widened = csr_array((rows.data, rows.indices, rows.indptr), shape=(rows.shape[0], width))
        return replace(
            self,
            model=replace(self.model, program=program),
            switches=np.append(self.switches, np.array(more, dtype=np.int64)),
            weights=np.append(self.weights, np.full(len(more), self.weights.max(initial=1.0))),
            pool=replace(self.pool, rows=widened),
        )

    @property
    def whole_pool(self) -> Program:
        """The programme with every row of the pool."""
        pool = self.pool
        return self.model.program.with_rows(pool.rows, np.full(pool.high.size, -np.inf), pool.high)


def in_pieces(problem: PlanProblem, margin: float = 0.0, ease: Sequence[Promise] = ()) -> Pieces:
    """Write the problem in counts of pieces; margin: money by which the floor is raised. ease: as in `formulate`."""
    model = formulate(problem, [], ease, margin, tied=False)
    program = model.program
    rows, low, high = program.rows, program.low, program.high
    if problem.money_limit is not None:
        rows, low, high = _bought_when_needed(problem, model, rows, low, high)
    first = _first_of_tool(model.tools)
    purchases = _differences(model, first)
    steps = purchases[model.bought.start + np.flatnonzero(~first)]
    begun = _begun(problem, model)
    counted = replace(
        program,
        gain=np.asarray(program.gain @ purchases),
        rows=vstack([rows @ purchases, steps, begun @ purchases], format="csr"),
        low=np.concatenate([low, np.zeros(steps.shape[0]), np.ones(begun.shape[0])]),
        high=np.concatenate([high, np.ones(steps.shape[0]), np.full(begun.shape[0], np.inf)]),
        lower=_lower(model),
        upper=_upper(model, first),
        whole=_whole(model),
    )
    switches = np.concatenate([_span(model.batches), _span(model.bought)])
    needs, none = _needs(problem, model, first)
    floor, room = _floor(problem, model, margin)
    pool = Pool(csr_array(vstack([needs, floor], format="csr")), np.append(none, room))
    dear = np.sqrt(model.tools.price) * SOONER**model.tools.month
    weights = np.append(np.full(len(problem.batches), dear.max(initial=1.0)), dear)
    return Pieces(replace(model, program=counted), switches, weights, pool, purchases)


def at_once(problem: PlanProblem, pieces: Pieces, gap: float, time_limit_seconds: float) -> Answer:
    """A whole point at once: the starts that the relaxation likes, with whole tools for them; see `first_point`."""
    model = pieces.model
    kinds = {(tool.life_months, tool.need.tobytes()): tool for tool in problem.tools}
    place = np.cumsum(_first_of_tool(model.tools)) - 1

    def rounded(point: FloatArray) -> FloatArray:
        number = np.bincount(problem.group, weights=point[model.trees], minlength=len(problem.groups))
        at_work = (number >= LIKED) | problem.always
        so_far = [np.cumsum(tool_pieces(tool, at_work)) for tool in kinds.values()]
        return np.array([so_far[kind][month] for kind, month in zip(place, model.tools.month, strict=True)])

    return first_point(model.program, _span(model.bought), rounded, pieces.pool, gap, time_limit_seconds)


def _span(columns: slice) -> IntArray:
    return np.arange(columns.start, columns.stop)


def _first_of_tool(tools: ToolColumns) -> BoolArray:
    """(K,) whether a column is the first of its tool: months rise within one."""
    first: BoolArray = np.append(True, tools.month[1:] <= tools.month[:-1])[: tools.month.size]
    return first


def _differences(model: Model, first: BoolArray) -> csr_array:
    """The matrix by which purchases follow from counts, all other columns as they are."""
    width = model.program.gain.size
    later = model.bought.start + np.flatnonzero(~first)
    rows, columns = np.append(np.arange(width), later), np.append(np.arange(width), later - 1)
    values = np.append(np.ones(width), -np.ones(later.size))
    return csr_array((values, (rows, columns)), shape=(width, width))


def _lower(model: Model) -> FloatArray:
    """No yes/no."""
    lower = model.program.lower.copy()
    lower[model.active] = 0.0
    return lower


def _upper(model: Model, first: BoolArray) -> FloatArray:
    """No yes/no; as many pieces as there were months to buy one in."""
    upper = model.program.upper.copy()
    upper[model.active] = 0.0
    starts = np.flatnonzero(first)
    upper[model.bought] = 1.0 + np.arange(first.size) - np.repeat(starts, np.diff(np.append(starts, first.size)))
    return upper


def _whole(model: Model) -> BoolArray:
    """Trees, batches and counts are whole."""
    whole = model.program.whole.copy()
    whole[model.active] = False
    whole[model.bought] = True
    return whole


def _begun(problem: PlanProblem, model: Model) -> csr_array:
    """Purchases that serve each need of the trees under way: at least one."""
    windows = [(first, after) for group, first, after in model.tools.cover if problem.always[group]]
    rows = np.zeros((len(windows), model.program.gain.size))
    for row, (first, after) in zip(rows, windows, strict=True):
        row[model.bought.start + first : model.bought.start + after] = 1.0
    return csr_array(rows)


def _needs(problem: PlanProblem, model: Model, first: BoolArray) -> tuple[csr_array, FloatArray]:
    """Σ x of a stand's starts that share a need of a tool ≤ trees of the stand · pieces that serve it."""
    tools, width = model.tools, model.program.gain.size
    number = tools.first.size
    if not number:
        return csr_array((0, width)), np.zeros(0)
    served = np.flatnonzero(tools.after > tools.first)
    before = served[~first[tools.first[served]]]
    counts = csr_array(
        (
            np.append(-np.ones(served.size), np.ones(before.size)),
            (np.append(served, before), np.append(tools.after[served], tools.first[before]) - 1 + model.bought.start),
        ),
        shape=(number, width),
    )
    asks = tools.asks[:, problem.group]
    blocks = []
    for stand, trees in enumerate(problem.trees.tolist()):
        here = csr_array(asks & (problem.stand == stand), dtype=np.float64)
        some = np.flatnonzero(here.sum(axis=1))
        padded = hstack([here[some], csr_array((some.size, width - here.shape[1]))], format="csr")
        blocks.append(padded + float(trees) * counts[some])
    rows = csr_array(vstack(blocks, format="csr"))
    return rows, np.zeros(rows.shape[0])


def _floor(problem: PlanProblem, model: Model, margin: float) -> tuple[csr_array, FloatArray]:
    """−(what has flowed by a month) ≤ what is known by then − the floor, for each month."""
    labour, tools, scale = Labour.of(problem), model.tools, model.scale
    months = problem.months
    left = np.zeros((months, model.program.gain.size))
    left[:, model.trees] = -np.cumsum(labour.cash[:, :months], axis=1).T
    left[:, model.hired] = problem.wage * (labour.months <= np.arange(months)[:, None])
    bought = (tools.month <= np.arange(months)[:, None]).astype(np.float64)
    # the count of the last month so far stands for all before it
    later = np.append(tools.month[1:] > tools.month[:-1], False)[: tools.month.size]
    latest = bought - np.where(later, np.roll(bought, -1, axis=1), 0.0) if tools.month.size else bought
    left[:, model.bought] = latest * tools.price
    known = problem.scenario.household.savings + np.cumsum(labour.base_cash[:months] + problem.household)
    if model.loan is not None and problem.loan_unit is not None:
        left[:, model.loan] = -np.cumsum(problem.loan_unit) * scale
    return csr_array(left / scale), known / scale - held_floor(problem, scale, margin)


def _bought_when_needed(
    problem: PlanProblem, model: Model, rows: csr_array, low: FloatArray, high: FloatArray
) -> tuple[csr_array, FloatArray, FloatArray]:
    """The rule written out, where the money of a year is limited: u(k) ≤ Σ x of the starts that need it then.

    No limit where trees under way do.
    """
    asked = np.zeros((model.tools.month.size, model.program.gain.size))
    most = np.zeros(model.tools.month.size)
    for column, groups in enumerate(model.tools.asked_by):
        asked[column, model.trees] = -np.isin(problem.group, groups).astype(np.float64)
        asked[column, model.bought.start + column] = 1.0
        most[column] = problem.always[list(groups)].any()
    return (
        csr_array(vstack([rows, csr_array(asked)], format="csr")),
        np.append(low, np.full(most.size, -np.inf)),
        np.append(high, most),
    )
