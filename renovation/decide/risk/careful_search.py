"""The search for a careful plan: the planner's programme, with rows added until its best plan keeps the promise.

The promise P(lowest balance ≥ floor) ≥ 90 % is judged on a sample of futures, but it is not convex and cannot be
planned against outright. What is planned against is the mean of the lowest balances of the worst tenth of futures, its
conditional value at risk (Rockafellar & Uryasev 2000): where that mean is at a level, nine futures in ten are above it.
A balance is a concave function of the trees, the tools bought and the loan (hired days are max(0, days − family days)),
but for the cents to which instalments are rounded. So each plan whose mean is too low gives a straight line above that
mean: one row that every plan with a high enough mean satisfies (Künzi-Bay & Mayer 2006). As in any plan no interest on
savings is counted on: with it a balance would be concave no more. The planner's programme grows by such rows; its
objective stays the worth on expected figures, and the expected run keeps the floor as in any plan. How high a mean to
ask for is found by halving: the lowest at which the promise itself holds on the sample, with a
margin for its size. No more caution is bought than was promised.

Of many starts only those are looked at further that the relaxed programme likes, of each stand, way and year the best
month, and those of the plan on expected figures. A whole plan is then the relaxation with the tools that its starts
need, rounded (`pieces.at_once`): a quarter of a second, where proving each best took half a minute. So nothing is
claimed of how much better another careful plan may be. With few starts each plan is proven to be the best of those that
keep the rows learned; that no other plan keeps the promise and is worth more is not.

Where hands learn, takes rest on the practice of the plan that the search begins from, whatever plan is tried: with its
own a balance would be concave no more. How a plan comes to its own practice stands in `careful_practice`.

Where no such plan is found, the futures that the best plan breaks are given up and the worst of the rest are planned
against. If that fails too, the plan keeps the smallest breach that was found, and says so beside a bound that is
proven: a level above which no plan that keeps its promises as expected brings the mean of the worst tenth.

With a floor of 0 or more a plan that keeps it misses no instalment either. Where the floor lies below 0, or a level
below 0 is all that can be promised, that is asked for beside it: in nine futures of ten no balance is below the level,
and none below 0 in a month with an instalment. To the programme that is one yes/no (whether the loan is taken) and one
amount (by how much more is asked of those months); a plan that borrows nothing has no instalment to miss. Where no plan
keeps the instalments, the level is sought without them, and it is said.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np
from scipy.sparse import block_array, csr_array

from renovation.decide.belief import practice_of
from renovation.decide.plan.clock import Cancel, Cancelled, Clock
from renovation.decide.plan.exact import account, tolerance
from renovation.decide.plan.pieces import Pieces
from renovation.decide.plan.plan import Plan
from renovation.decide.plan.rows import minimising
from renovation.decide.plan.solver import Answer, Program, relax
from renovation.decide.risk.careful_rows import SHARE, Lines, PlansOnFutures, Seen, Trees, Tried
from renovation.decide.risk.futures import Futures
from renovation.types import BoolArray, IntArray

RELAXED_ROUNDS, WHOLE_ROUNDS = 15, 8
"""Rows are learned without wholeness first, which takes a hundredth of the time, and then with it."""
NARROWING_ROUNDS, FEW_STARTS = 6, 60
"""Rows learned before starts are left out, and how many need none left out: there every plan is sought by branching."""
HALVINGS = 6
ROUGH_GAP = 0.002
"""Gap to which plans are proven while the mean to ask for is sought."""
LAST_GAP = 0.001
"""Gap to which the plan that is given is sought: no bound is claimed for it."""
LEVEL_GAP = 0.01
"""How near the highest mean of the worst tenth is looked for, as a share of its distance from the floor."""
CLOSE = 1e-3
"""How near a level counts as reached, as a share of the spread of lowest balances."""
TRIMMINGS, TRIMMED_ROUNDS = 3, 8
"""Where the floor is out of reach: how often futures are given up, and plans tried each time."""


class CarefulSearch(PlansOnFutures):
    """The planner's programme with rows added until its best plan keeps the promise."""

    def __init__(
        self,
        expected: Plan,
        futures: Futures,
        on_round: Callable[[int], None] | None = None,
        cancel: Cancel | None = None,
        *,
        start: Trees | None = None,
        known: Sequence[Trees] = (),
    ) -> None:
        """Begin from the plan on expected figures and the futures to plan on.

        start: a bold plan, that one where None. known: plans that may do; none worth less is looked for.
        """
        super().__init__(expected, futures, start)
        self.known = tuple(known)
        self.on_round, self.cancel = on_round, cancel
        self.tried: list[Tried] = []
        self.rounds, self.stopped, self.sought = 0, False, False
        self.level = self.floor
        self.bound: float | None = None
        self.learns = practice_of(self.scenario, self.scenario.planning) is not None  # other plans have other takes
        self.instalments = True  # whether they are promised; what follows: whether that needs rows of its own, and
        self.guarded, self.depth = False, 0.0  # how much more than of others is asked of a month with one
        offer = self.problem.planning.loan
        # half a unit, and what rounding the payouts and each instalment may add to it
        self.cents = tolerance(self.problem) * (1 + (len(offer.payouts) + offer.term_months if offer else 0))
        self.close = max(self.cents, CLOSE * float(np.ptp(self._see(self.nothing, futures).lowest)))

    def run(self) -> Trees:
        """Find the level that can be promised, then the plan worth most that keeps it in enough futures.

        The plan on expected figures is worth most of all; where it keeps the promise it is the answer.
        """
        start = self._try(self.start, self._see(self.start, self.futures))
        if self.keeps(start):
            return start.plan
        for plan in self.known:
            self._try(plan, self._see(plan, self.futures))
        for plan in (self.nothing, self.start):
            self._learn(self.tail, plan, self._see(plan, self.futures))
        self.guarded = bool(self.owes.any()) and self.floor < 0
        self.depth = -self.floor if self.guarded else 0.0
        if len(self.problem.candidates) > FEW_STARTS:
            self._narrow()
        if not self._halve(self.floor) and not self._seek():
            self._lower()
        if self.level == self.floor or self.scenario.household.savings_rate > 0 or self.learns:
            self.bound = None
        self.guarded = bool(self.owes.any()) and self.instalments and self.level < 0
        self.depth = -self.level if self.guarded else 0.0
        start = self.tried[0]
        keeping = [tried for tried in self.tried if self.keeps(tried)]
        if start not in keeping and (self.level < self.floor or self.sought):
            high = max(tried.mean(self.depth) for tried in keeping)
            self._halve(high)
            self._worth_most(high, max(LAST_GAP, self.problem.planning.gap))
        return max((tried for tried in self.tried if self.keeps(tried)), key=lambda tried: tried.worth).plan

    def _halve(self, high: float) -> bool:
        """Seek the lowest mean to ask for at which the promise is kept, at most this; whether any plan keeps it."""
        low = self.tried[0].mean(self.depth)
        for _ in range(HALVINGS if low < high else 0):
            middle = (low + high) / 2
            found = self._worth_most(middle, ROUGH_GAP)
            kept = found is not None and self.keeps(found)
            low, high = (low, middle) if kept else (middle, high)
        return any(self.keeps(tried) for tried in self.tried)

    def _narrow(self) -> None:
        """Leave out the starts that are liked neither by the safest plan nor by those that are a little bolder.

        With a quarter of the starts a programme takes a tenth of the time.
        """
        low, high = self.tried[0].mean(self.depth), self.floor
        middle = self._asking((low + high) / 2)
        for _ in self._rounds(middle.relaxed, NARROWING_ROUNDS, LEVEL_GAP):
            pass
        aims = minimising(self.model, "floor"), self._asking(low / 4 + 3 * high / 4), middle
        kept = np.flatnonzero(np.any([self._liked(aim) for aim in aims], axis=0))
        learned, self.learned, self.tail, self.calm = self.learned, [], Lines(), Lines()
        self.narrow(kept)
        self.tried = [replace(tried, plan=(tried.plan[0][kept], tried.plan[1])) for tried in self.tried]
        for plan, seen in learned:
            if plan[0].sum() == plan[0][kept].sum():
                self._learn(self.tail, (plan[0][kept], plan[1]), seen)

    def _bound_of_all(self) -> float | None:
        """The bound on the mean of the worst tenth, with all starts; None where the floor is no lower than it."""
        search = CarefulSearch(self.expected, self.futures, self.on_round, self.cancel)
        search.trees = self.all_trees
        for plan in (search.nothing, search.start):
            search._learn(search.tail, plan, search._see(plan, search.futures))
        search._relaxed_safest()
        self.rounds, self.stopped = self.rounds + search.rounds, self.stopped or search.stopped
        return search.bound

    # What the promise asks

    def keeps(self, tried: Tried) -> bool:
        """Whether enough of the training futures keep the level, and the instalments where they are promised."""
        return self._level(tried) >= self.level - self.close

    def _level(self, tried: Tried) -> float:
        """The level that a plan keeps in 90 % of futures and 1.645 standard errors of that share more."""
        return tried.level(self._may_fail(), -self.close if self.instalments else None)

    def _try(self, plan: Trees, seen: Seen) -> Tried:
        """Keep a whole plan in mind."""
        self.tried.append(Tried(plan, seen.lowest, seen.due, account(self.problem, *plan).aim))
        return self.tried[-1]

    @property
    def margin(self) -> float:
        """What the share to be kept is raised by for the number of training futures: 1.645 standard errors of it."""
        return float(1.645 * np.sqrt(SHARE * (1 - SHARE) / self.futures.number))

    def _may_fail(self) -> int:
        """How many of the training futures may break the promise."""
        return self.futures.number - int(np.ceil((SHARE + self.margin) * self.futures.number))

    # The search

    def _seek(self) -> bool:
        """Seek a plan that keeps the floor; whether one was found."""
        self.depth, self.sought = 0.0, True
        return self._seek_safest() or self._leaving_it_does() or self._seek_smallest_breach()

    def _lower(self) -> None:
        """Promise the highest level that was found, and the instalments with it where any plan keeps them."""
        let_be = max(tried.level(self._may_fail()) for tried in self.tried)
        if not self.guarded and let_be < 0 and self._highest() < let_be - self.close:
            self.guarded = True
            if self._seek():
                return
        if self._highest() == -np.inf:
            self.guarded = self.instalments = False
            if self.floor < 0 and self._seek():  # it was sought with the instalments only
                return
        self.level = min(self.floor, self._highest())

    def _highest(self) -> float:
        """The highest level that any plan tried keeps."""
        return max(self._level(tried) for tried in self.tried)

    def _reach(self, tried: Tried) -> float:
        """The level that the worst tenth of futures keep on average."""
        return tried.reach(self.floor) if self.guarded else tried.mean()

    def _relaxed_safest(self) -> float:
        """Learn rows at the plans with the highest mean, without wholeness; the highest that it is proven to be."""
        aim, proven = minimising(self.model, "floor"), self.floor
        for answer, _, _ in self._rounds(aim.relaxed, RELAXED_ROUNDS, LEVEL_GAP):
            bound = self.floor + (0.0 if answer.bound is None else answer.bound) * self.model.scale
            proven = min(proven, bound)
            if bound < self.floor and not self.guarded:  # at the floor it says nothing: no higher mean was looked for
                self.bound = proven
        return proven

    def _seek_safest(self) -> bool:
        """Seek the plan with the highest mean of the worst tenth, up to the floor; whether one keeps the promise.

        Without wholeness first, for the rows and the bound; what it finds is no plan.
        """
        proven = self._relaxed_safest()
        if self.bound is not None and self.narrowed and not self.learns:  # nothing is claimed where hands learn
            self.bound = self._bound_of_all()
        highest = max(self._reach(tried) for tried in self.tried)
        for _, plan, seen in self._rounds(minimising(self.model, "floor"), WHOLE_ROUNDS, LEVEL_GAP):
            tried = self._try(plan, seen)
            if self.keeps(tried):
                return True
            highest = max(highest, self._reach(tried))
            if highest >= proven - LEVEL_GAP * (self.floor - proven) - self.close:
                break
        return False

    def _leaving_it_does(self) -> bool:
        """Leave the farm as it is, where that breaks no promise; whether it keeps the floor in enough futures."""
        kept = account(self.problem, *self.nothing).keeps_promises
        return kept and self.keeps(self._try(self.nothing, self._see(self.nothing, self.futures)))

    def _seek_smallest_breach(self) -> bool:
        """Give up the futures that break the best plan so far, and seek the plan that is best in the worst of the rest.

        Again with the futures that break that one, until none is better; whether one keeps the promise. What the mean
        of the worst tenth asks of futures that may fail anyway is thereby no longer asked.
        """
        aim = minimising(self.model, "floor")
        best = max(self.tried, key=self._safety)
        for _ in range(TRIMMINGS):
            raised = self._raised(max(0.0, -best.level(self._may_fail())), best.plan)
            rest = np.sort(np.argsort(np.minimum(best.lowest, best.due - raised))[self._may_fail() :])
            lines = Lines()
            self._learn(lines, best.plan, self._see(best.plan, self.futures, rest, raised))
            for _, plan, seen in self._rounds(aim, TRIMMED_ROUNDS, LEVEL_GAP, lines, rest):
                if self.keeps(self._try(plan, seen)):
                    return True
            better = max(self.tried, key=self._safety)
            if self._level(better) <= self._level(best) + self.close:
                break
            best = better
        return False

    def _safety(self, tried: Tried) -> tuple[float, float]:
        """What makes one plan safer than another: the level it keeps, then that of its worst tenth."""
        return self._level(tried), self._reach(tried)

    def _worth_most(self, asked: float, gap: float) -> Tried | None:
        """The plan worth most whose worst tenth has the mean asked for; None where the rounds run out.

        A plan on the way to it that keeps the promise is worth more still, and will do.
        """
        program = self._asking(asked)
        best = max((tried.worth for tried in self.tried if self.keeps(tried)), default=-np.inf)
        for answer, plan, seen in self._rounds(program, WHOLE_ROUNDS, gap):
            if answer.bound is not None and answer.bound * self.model.scale <= best:
                return None
            tried = self._try(plan, seen)
            if tried.mean(self.depth) >= asked - self.close or self.keeps(tried):
                return tried
        return None

    def _asking(self, asked: float) -> Program:
        """The programme for the plan worth most whose worst tenth has the mean asked for."""
        upper = self.model.program.upper.copy()
        upper[self.model.slack["floor"]] = max(0.0, self.floor - asked) / self.model.scale
        return replace(self.model.program, upper=upper)

    def _liked(self, program: Program) -> BoolArray:
        """(n,) the starts of the plan to begin with, and of each stand, way and year the one that costs least to begin.

        By the relaxed programme with the rows learned.
        """
        liked: BoolArray = np.any([plan[0] > 0 for plan in (self.start, *self.known)], axis=0)
        relaxed = relax(self._grown(program.relaxed, self.tail).whole_pool)
        if relaxed.point is None:
            return np.ones_like(liked)
        best: dict[tuple[int, str, int], int] = {}
        candidates = self.problem.candidates
        for start in np.argsort(-relaxed.worth_of_lower[self.model.trees], kind="stable").tolist():
            best.setdefault((candidates[start].stand, candidates[start].technique, candidates[start].year), start)
        liked[list(best.values())] = True
        return liked

    def _rounds(
        self, program: Program, number: int, gap: float, lines: Lines | None = None, rest: IntArray | None = None
    ) -> Iterator[tuple[Answer, Trees, Seen]]:
        """Solve, give the plan, and learn its rows if another is asked for.

        lines: of the mean of the worst tenth where None; else of the worst of `rest`. A plan that breaks the floor in
        the expected run is not given, but learned from. One that comes again ends the rounds: its rows are there, and
        no other would come.
        """
        lines = self.tail if lines is None else lines
        known: set[tuple[bytes, float, float]] = set()
        for _ in range(number):
            if self.cancel is not None and self.cancel():
                self.stopped = True
                return
            self.rounds += 1
            if self.on_round is not None:
                self.on_round(self.rounds)
            clock = Clock(self.problem.planning.time_limit_seconds, self.cancel)
            try:
                grown = self._grown(program, lines)
                if not program.whole.any():
                    answer = clock.solve(grown.whole_pool, gap)
                elif len(self.problem.candidates) <= FEW_STARTS and not self.narrowed:
                    answer = clock.branch(grown, gap, -np.inf)
                else:
                    answer = clock.at_once(self.problem, grown, gap)
            except Cancelled:
                self.stopped = True
                return
            self.stopped = self.stopped or clock.run_out  # the clock cut it short
            if answer.point is None:
                return
            plan = self._read(answer.point)
            short = float(answer.point[self.model.slack["floor"]]) * self.model.scale
            raised = self._raised(self.depth or max(0.0, short - self.floor), plan)
            name = plan[0].tobytes(), plan[1], round(raised / self.close)
            if name in known:
                return
            known.add(name)
            seen = self._see(plan, self.futures, raised=raised)
            if float(account(self.problem, *plan).balance.min()) < self.problem.floor - 2 * tolerance(self.problem):
                self._learn(self.calm, plan, self._see(plan, self.sure))
            elif answer.value is not None:
                yield answer, plan, seen
            self._learn(lines, plan, seen if rest is None else self._see(plan, self.futures, rest, raised))

    def _raised(self, depth: float, plan: Trees) -> float:
        """How much more is asked of a plan's months with an instalment."""
        return depth if self.guarded and plan[1] > 0 else 0.0

    def _grown(self, program: Program, lines: Lines) -> Pieces:
        """The programme with the rows learned; where instalments need rows of their own, with those.

        Two more columns: e, what is asked of a month with an instalment above the level, and z, whether the loan is
        taken. loan ≤ limit · z; e ≥ depth · z, or where the level ℓ = floor − slack is still sought e ≥ −ℓ where z = 1.
        """
        rows, limits = np.array(lines.rows + self.calm.rows), np.array(lines.limits + self.calm.limits)
        counted = csr_array(rows.reshape(-1, program.gain.size)) @ self.pieces.purchases
        grown = program.with_rows(counted, limits, np.full(len(rows), np.inf))
        offer = self.problem.planning.loan
        if not self.guarded or offer is None or self.model.loan is None:
            return self.pieces.with_program(grown)
        scale, width, height = self.model.scale, program.gain.size, grown.rows.shape[0]
        due = np.zeros((height, 2))
        due[height - len(rows) :, 0] = -np.array(lines.due + self.calm.due)
        most = 2 * max(float(np.abs(tried.lowest).max()) for tried in self.tried[:1]) + abs(self.floor)
        extra = np.zeros((2, width + 2))
        extra[0, [self.model.loan, width + 1]] = -1.0, offer.limit / scale
        extra[1, [width, width + 1]] = 1.0, -(self.depth or most) / scale
        if not self.depth:
            extra[1, self.model.slack["floor"]] = -1.0
        low = np.array([0.0, 0.0 if self.depth else -(self.floor + most) / scale])
        wider = replace(
            grown,
            gain=np.append(grown.gain, [0.0, 0.0]),
            lower=np.append(grown.lower, [0.0, 0.0]),
            upper=np.append(grown.upper, [np.inf, 1.0]),
            whole=np.append(grown.whole, [False, bool(grown.whole.any())]),
            rows=block_array([[grown.rows, csr_array(due)]], format="csr"),
        )
        return self.pieces.with_program(wider.with_rows(extra, low, np.full(2, np.inf)), width + 1)
