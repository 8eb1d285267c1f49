"""Branch and bound where wholeness matters in few columns: the switches (method §8).

It knows nothing of trees. A farm's programme has hundreds of whole columns, but almost all that its relaxation gains
comes from parts of tools: once the pieces bought are whole, whole trees cost hundredths of a percent. So the relaxation
is branched on these few columns alone, and kept warm in HiGHS from one node to the next; the rest is solved as a
programme of its own where they are whole. Rows that few points break wait in a pool and join when one does.

Measured beside HiGHS's own branching on random farms (4 stands × 3 ways × 8 years × up to 4 months, to 0.01 %): a fifth
to a third of its time. What HiGHS spent was not on nodes, of which it often needed one, but on cuts and trials. Asked
only for whole points a few steps from the relaxation, and stopped as soon as what it says decides the search, it left
half of that time, and a third on farms of twelve stands.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from time import monotonic

import highspy
import numpy as np
from scipy.sparse import csr_array

from renovation.decide.plan.solver import Answer, Ends, Program, Status, loaded, settle
from renovation.types import FloatArray, IntArray

WHOLE = 1e-6
"""How far from a whole number a switch may be."""
KEPT = 1e-6
"""By how much a row of the pool may be broken."""
CLOSE = 1e-6
"""Two values nearer than this are one."""
MANY = 8
"""Programmes with whole switches after which HiGHS is left to branch on all columns at once."""
LONG = 150
"""Nodes after which it is left to HiGHS too: with many batches its cuts bound more than ever more nodes do."""
NEAR = 1e-4
"""Share of its value by which whole points are looked for beneath the relaxation."""
A_LOOK = 1.0
"""Seconds that a relaxation is given whatever the limit: without one there is no bound."""
STEPS = 2
"""How far from the relaxation a whole column of them may be."""


@dataclass(frozen=True, eq=False)
class Pool:
    """Rows that hold but that few points break: rows·v ≤ high; (P, V) sparse and (P,)."""

    rows: csr_array
    high: FloatArray


def branch(
    program: Program,
    switches: IntArray,
    weights: FloatArray,
    pool: Pool,
    gap: float = 0.0,
    time_limit_seconds: float = float("inf"),
    least: float = float("-inf"),
    rough_gap: float = 0.0,
) -> Answer:
    """Solve a programme to a relative gap by branching on its switches; the other whole columns follow.

    switches: columns, whole ones among them. weights: what a whole step of each is worth: the largest is branched on
    first. pool: rows that must be kept too. least: the value of a point that is
    known: only better ones are looked for, and the answer has no point where there is none. rough_gap: what will do
    once the nodes are spent: HiGHS is asked for no smaller one.

    Example (two knapsack items of which one fits; the row waits in the pool):
        >>> none = csr_array((0, 2))
        >>> p = Program(np.array([3.0, 2.0]), none, np.zeros(0), np.zeros(0), np.zeros(2), np.ones(2), np.ones(2, bool))
        >>> branch(p, np.array([0]), np.ones(1), Pool(csr_array([[2.0, 2.0]]), np.array([3.0]))).value
        3.0
    """
    search = _Branching(program, switches, weights, pool, gap, monotonic() + time_limit_seconds, least)
    search.rough_gap = max(gap, rough_gap)
    try:
        return search.run()
    except _Undecided:
        return search.as_one()
    except _OutOfTime:
        return search.left_off()


def first_point(
    program: Program,
    switches: IntArray,
    rounded: Callable[[FloatArray], FloatArray],
    pool: Pool,
    gap: float = 0.0,
    time_limit_seconds: float = float("inf"),
) -> Answer:
    """A whole point at once, with the switches that the relaxation's point is rounded to; and the relaxation's bound.

    gap: how near the best of the points with these switches it is. Where there is none, the relaxation's point without
    a value.

    Example (both items are rounded up, and then only one of them fits):
        >>> none = csr_array((0, 2))
        >>> p = Program(np.array([3.0, 2.0]), none, np.zeros(0), np.zeros(0), np.zeros(2), np.ones(2), np.ones(2, bool))
        >>> pool = Pool(csr_array([[2.0, 2.0]]), np.array([3.0]))
        >>> answer = first_point(p, np.array([0]), lambda point: np.ceil(point[:1]), pool)
        >>> answer.value, answer.bound
        (3.0, 4.0)
    """
    search = _Branching(program, switches, np.ones(switches.size), pool, gap, monotonic() + time_limit_seconds, -np.inf)
    try:
        return search.at_once(rounded)
    except _Undecided:
        return Answer("failed", None, None, None)
    except _OutOfTime:
        return search.left_off()


@dataclass(frozen=True, eq=False)
class _Node:
    """A part of the tree: the value and point of its relaxation, and the bounds of its switches."""

    value: float
    point: FloatArray
    lower: FloatArray
    upper: FloatArray


class _Undecided(Exception):  # noqa: N818 - an event: the search goes another way
    """HiGHS gave neither a point of a part of the tree nor that there is none."""


class _OutOfTime(Exception):  # noqa: N818 - an event: the search ends with what it has
    """The time was up within a relaxation."""


class _Branching:
    """One search: the relaxation in HiGHS with the rows it has taken from the pool, the best point, the bound."""

    def __init__(
        self,
        program: Program,
        switches: IntArray,
        weights: FloatArray,
        pool: Pool,
        gap: float,
        until: float,
        least: float,
    ) -> None:
        self.program, self.switches, self.weights, self.pool = program, switches, weights, pool
        self.gap, self.rough_gap, self.until = gap, gap, until
        self.best: FloatArray | None = None
        self.value = least
        self.settled = -np.inf  # no point of the nodes done is worth more
        self.asked = np.zeros(pool.high.size, dtype=bool)
        self.nodes = self.leaves = 0
        self.waiting: list[_Node] = []
        self.at_most = np.inf  # no point of the node in hand is worth more
        self.solver, self.whole_rows = loaded(program), _whole_rows(program)

    @property
    def enough(self) -> float:
        """The bound at which the best point is within the gap."""
        return self.value + max(CLOSE, self.gap * abs(self.value)) if np.isfinite(self.value) else -np.inf

    def run(self) -> Answer:
        """Branch: down to a first whole point, then where the bound is highest."""
        waiting = self.waiting = self._nodes((self.program.lower[self.switches], self.program.upper[self.switches]))
        while waiting and monotonic() < self.until:
            # nodes stand in the order in which they came: the last is the deepest
            at = -1 if self.best is None else max(range(len(waiting)), key=lambda place: waiting[place].value)
            node = waiting.pop(at)
            self.at_most = node.value
            if node.value <= self.enough:
                self.settled = max(self.settled, node.value)
                continue
            if self.leaves == MANY or self.nodes == LONG:
                self._about_best()
                self.gap, bound = self.rough_gap, max([self.settled, node.value, *(other.value for other in waiting)])
                if bound <= self.enough:
                    return Answer("proven", self.best, self.value, max(bound, self.value), self.nodes)
                return self.as_one(bound)
            self.nodes += 1
            switch = self._most_open(node.point)
            if switch is None and self.best is None and self._first(node):
                waiting.append(node)  # another may be worth so much more that this needs no closer look
            elif switch is None:
                self.settled = max(self.settled, self._whole(node))
            else:
                waiting += self._halves(node, switch)
            self.at_most = -np.inf
        bound = max([self.settled, self.value, *(node.value for node in waiting)])
        if bound == -np.inf:
            return Answer("infeasible", None, None, None, self.nodes)
        status: Status = "proven" if bound <= self.enough else "stopped"
        return Answer(status, self.best, None if self.best is None else self.value, bound, self.nodes)

    def left_off(self) -> Answer:
        """The answer where the time was up within a relaxation; without a bound where that was the first."""
        bound = max([self.settled, self.value, self.at_most, *(node.value for node in self.waiting)])
        value = None if self.best is None else self.value
        return Answer("stopped", self.best, value, bound if np.isfinite(bound) else None, self.nodes)

    def at_once(self, rounded: Callable[[FloatArray], FloatArray]) -> Answer:
        """Round the relaxation's switches, and look for a whole point with these."""
        relaxed = self._nodes((self.program.lower[self.switches], self.program.upper[self.switches]))
        if not relaxed:
            return Answer("infeasible", None, None, None)
        self._near(rounded(relaxed[0].point), STEPS)
        if self.best is None:
            return Answer("stopped", relaxed[0].point, None, relaxed[0].value)
        return Answer("stopped", self.best, self.value, relaxed[0].value)

    def as_one(self, bound: float = np.inf) -> Answer:
        """Leave the branching to HiGHS: here wholeness matters in more than the switches."""
        while True:
            left = self.until - monotonic()
            answer = settle(self._grown(), self.gap, left, Ends(enough=self.enough), self.best)
            if answer.bound is not None:
                bound = min(bound, answer.bound)
            if self._kept(answer):
                break
        value = None if self.best is None else self.value
        if answer.status == "infeasible" and not np.isfinite(self.value):
            return Answer("infeasible", None, None, None, self.nodes)
        over = answer.status == "infeasible" or (answer.status == "stopped" and bound <= self.enough)
        bound = self.value if answer.status == "infeasible" else max(self.value, bound)
        return Answer("proven" if over else answer.status, self.best, value, bound, self.nodes + answer.nodes)

    def _grown(self) -> Program:
        """The programme with the rows asked."""
        asked = np.flatnonzero(self.asked)
        return self.program.with_rows(self.pool.rows[asked], np.full(asked.size, -np.inf), self.pool.high[asked])

    def _nodes(self, *bounds: tuple[FloatArray, FloatArray]) -> list["_Node"]:
        """The nodes with the switches within these bounds, solved; those left out where nothing keeps the rows."""
        solved = ((self._relaxed(*within), within) for within in bounds)
        return [_Node(*relaxed, *within) for relaxed, within in solved if relaxed is not None]

    def _halves(self, node: "_Node", switch: int) -> list["_Node"]:
        """The nodes with the switch at most, and at least, the whole numbers beside its part."""
        part = node.point[self.switches[switch]]
        lower, upper = node.lower.copy(), node.upper.copy()
        lower[switch], upper[switch] = np.ceil(part), np.floor(part)
        return self._nodes((node.lower, upper), (lower, node.upper))

    def _most_open(self, point: FloatArray) -> int | None:
        """The switch whose part weighs most, of those that are not whole; None where all are."""
        at = point[self.switches]
        part = np.abs(at - np.round(at))
        if not part.size or part.max() <= WHOLE:
            return None
        return int(np.argmax(np.where(part > WHOLE, part * self.weights, -1.0)))

    def _relaxed(self, lower: FloatArray, upper: FloatArray) -> tuple[float, FloatArray] | None:
        """Value and point of the relaxation with the switches within bounds; None where nothing keeps the rows."""
        columns = self.switches.astype(np.int32)
        self.solver.changeColsBounds(columns.size, columns, lower, upper)
        while True:
            if not self._solved():
                return None
            value = -self.solver.getInfo().objective_function_value
            point = np.array(self.solver.getSolution().col_value)
            if value <= self.enough or not self._ask(point):
                return value, point

    def _solved(self) -> bool:
        """Solve the relaxation as it stands; whether any point keeps the rows. Raises `_Undecided`, `_OutOfTime`."""
        known = {highspy.HighsModelStatus.kOptimal: True, highspy.HighsModelStatus.kInfeasible: False}
        for afresh in (False, True):
            if afresh:
                self.solver.clearSolver()  # what it remembers of the last one may stand in its way
            if np.isfinite(self.until):  # HiGHS counts its time from the first run on
                left = max(A_LOOK, self.until - monotonic())
                self.solver.setOptionValue("time_limit", self.solver.getRunTime() + left)
            self.solver.run()
            if (status := self.solver.getModelStatus()) in known:
                return known[status]
            if status == highspy.HighsModelStatus.kTimeLimit:
                raise _OutOfTime
        raise _Undecided

    def _ask(self, point: FloatArray) -> bool:
        """Take the rows that a point breaks from the pool; whether there were any."""
        broken = np.flatnonzero((self.pool.rows @ point - self.pool.high > KEPT) & ~self.asked)
        if broken.size:
            rows = csr_array(self.pool.rows[broken])
            none = np.full(broken.size, -highspy.kHighsInf)
            high, starts = self.pool.high[broken], rows.indptr[:-1].astype(np.int32)
            self.solver.addRows(broken.size, none, high, rows.nnz, starts, rows.indices.astype(np.int32), rows.data)
            self.asked[broken] = True
        return bool(broken.size)

    def _first(self, node: "_Node") -> bool:
        """Look for any whole point with the switches of this one, nearest first; whether there is one."""
        at = np.round(node.point[self.switches])
        for steps in (0, STEPS):
            self._near(at, steps)
            if self.best is not None:
                return True
        self._bounded(at, at)
        return self.best is not None

    def _whole(self, node: "_Node") -> float:
        """Look for whole points of a node whose switches are whole, keep the best, and give a bound on all of the node.

        With the switches as they are first, and near the relaxation. Where that leaves it too far above, the best
        point may be elsewhere: then the whole node is left to HiGHS.
        """
        self.leaves += 1
        wanted = node.value - 0.99 * max(CLOSE, self.gap / (1 + self.gap) * abs(node.value))
        self._near(np.round(node.point[self.switches]), STEPS, wanted)
        return node.value if node.value <= self.enough else self._bounded(node.lower, node.upper)

    def _about_best(self) -> None:
        """Look for better points with the switches of the best."""
        if self.best is not None:
            self._near(np.round(self.best[self.switches]), STEPS)

    def _near(self, at: FloatArray, steps: int, wanted: float = np.inf) -> None:
        """Keep the best whole point with these switches that is few steps from the relaxation, if it is better.

        Only what a step of costs little may differ. wanted: what is worth more needs no search.
        """
        while relaxed := self._relaxed(at, at):
            value, point = relaxed
            if value <= self.enough:
                return
            program = self._rest(at, at, point, min(value - self.enough, NEAR * abs(value)))
            about = np.where(program.whole, steps, np.inf)
            lower = np.maximum(program.lower, np.floor(point + WHOLE) - about)
            upper = np.minimum(program.upper, np.ceil(point - WHOLE) + about)
            gap = self.gap / 2 if np.isfinite(wanted) else self.gap
            if self._kept(self._settled(program.with_bounds(lower, upper), gap, Ends(wanted=wanted))):
                return

    def _bounded(self, lower: FloatArray, upper: FloatArray) -> float:
        """The best whole point with the switches within bounds, kept if it is better, and a bound on all of them."""
        bound = np.inf
        while relaxed := self._relaxed(lower, upper):
            value, point = relaxed
            bound = min(bound, value)
            if bound <= self.enough:
                return bound
            floor = self.enough
            answer = self._settled(self._rest(lower, upper, point, value - floor), self.gap / 2, Ends(enough=floor))
            bound = min(bound, floor if answer.bound is None else max(floor, answer.bound))
            if self._kept(answer):
                return bound
        return -np.inf

    def _settled(self, program: Program, gap: float, ends: Ends) -> Answer:
        """A programme solved as far as it matters."""
        answer = settle(program, gap, self.until - monotonic(), ends)
        if answer.status not in ("proven", "stopped", "infeasible"):
            raise _Undecided
        return answer

    def _kept(self, answer: Answer) -> bool:
        """Keep an answer's point if it is better; False where it breaks rows of the pool, which are asked now."""
        if answer.point is None or answer.value is None:
            return True
        if self._ask(answer.point):
            return False
        if answer.value > self.value:
            self.best, self.value = answer.point, answer.value
        return True

    def _rest(self, low: FloatArray, high: FloatArray, point: FloatArray, room: float) -> Program:
        """The programme with its switches within bounds and the rows asked, held where more costs beyond the room.

        A column, or a row of whole numbers, that stands at its lower limit rises by no more steps than its dual allows.
        """
        lower, upper = self.program.lower.copy(), self.program.upper.copy()
        lower[self.switches], upper[self.switches] = low, high
        grown = self._grown()
        limits = grown.high.copy()
        if np.isfinite(room):
            solution, rows = self.solver.getSolution(), self.whole_rows
            columns = np.flatnonzero(self.program.whole & (point <= lower + WHOLE))
            steps = _steps(room, np.array(solution.col_dual)[columns])
            upper[columns] = np.minimum(upper[columns], lower[columns] + steps)
            rows = rows[np.array(solution.row_value)[rows] <= self.program.low[rows] + WHOLE]
            steps = _steps(room, np.array(solution.row_dual)[rows])
            limits[rows] = np.minimum(limits[rows], self.program.low[rows] + steps)
        return replace(grown, lower=lower, upper=upper, high=limits)


def _steps(room: float, duals: FloatArray) -> FloatArray:
    """Whole steps that cost no more than there is room for, where a rise costs its dual."""
    costs = duals > 0
    steps: FloatArray = np.full(duals.shape, np.inf)
    steps[costs] = np.floor(room / duals[costs] + WHOLE)
    return steps


def _whole_rows(program: Program) -> IntArray:
    """Rows with a lower limit whose values are whole: whole numbers of whole columns."""
    rows = csr_array(program.rows)
    other = (rows.data != np.round(rows.data)) | ~program.whole[rows.indices]
    parts = np.add.reduceat(np.append(other, 0), rows.indptr[:-1]) * (np.diff(rows.indptr) > 0)
    found: IntArray = np.flatnonzero((parts == 0) & np.isfinite(program.low) & (program.low == np.round(program.low)))
    return found
