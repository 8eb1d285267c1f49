"""The solver layer: a mixed-integer programme as arrays, solved by HiGHS through scipy (method §8).

It knows nothing of trees. Status, bound and gap are kept apart: a programme stopped by its time limit is
"stopped", never "proven".

HiGHS called directly (highspy 1.16) in place of scipy's wrapper was tried on eight programmes of random farms: the
same plans within the gap, processor seconds 0.7 to 1.5 times those of scipy. So whole programmes stay with scipy;
`branch` calls it directly: for warm starts, and to stop a programme of its own once that says what the search needs.
"""

import threading
import warnings
from dataclasses import dataclass, replace
from typing import Any, Literal

import highspy
import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csr_array

from renovation.types import BoolArray, FloatArray

Status = Literal["proven", "stopped", "infeasible", "unbounded", "failed", "cancelled"]


@dataclass(frozen=True, eq=False)
class Program:
    """Maximise gain·v + constant subject to low ≤ rows·v ≤ high, lower ≤ v ≤ upper, whole where `whole`.

    gain, lower, upper, whole: (V,). rows: (R, V) sparse. low, high: (R,).
    """

    gain: FloatArray
    rows: Any
    low: FloatArray
    high: FloatArray
    lower: FloatArray
    upper: FloatArray
    whole: BoolArray
    constant: float = 0.0

    @property
    def relaxed(self) -> "Program":
        """The same programme with nothing asked to be whole."""
        return replace(self, whole=np.zeros_like(self.whole))

    def with_bounds(self, lower: FloatArray, upper: FloatArray) -> "Program":
        """The same programme with other bounds on its variables."""
        return replace(self, lower=lower, upper=upper)

    def with_rows(self, rows: Any, low: FloatArray, high: FloatArray) -> "Program":
        """The same programme with more rows."""
        from scipy.sparse import vstack

        return replace(
            self,
            rows=vstack([self.rows, csr_array(rows)], format="csr"),
            low=np.concatenate([self.low, low]),
            high=np.concatenate([self.high, high]),
        )


@dataclass(frozen=True, eq=False)
class Answer:
    """What the solver found: the best point so far (None where none), its value, and a bound no point beats."""

    status: Status
    point: FloatArray | None
    value: float | None
    bound: float | None
    nodes: int = 0

    @property
    def gap(self) -> float | None:
        """(bound − value) / |value|: how much better a plan could still be; None where unknown."""
        return relative_gap(self.value, self.bound)


def relative_gap(value: float | None, bound: float | None) -> float | None:
    """(bound − value) / |value|, not below 0; None where either is unknown, or the value too near 0."""
    if value is None or bound is None or not np.isfinite(bound):
        return None
    rest = max(0.0, bound - value)
    if rest == 0:
        return 0.0
    gap = rest / abs(value) if value else np.inf
    return gap if np.isfinite(gap) else None


_begun = threading.local()


def _on_one_thread() -> None:
    """Let HiGHS work on one thread, so that the same programme has the same plan on every machine.

    It takes as many as its first call in a thread of this process asks for, half of the cores where none are named,
    and refuses another number later; scipy hands the number on, with a warning, from `milp` alone.
    """
    if not hasattr(_begun, "here"):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            milp([0.0], options={"threads": 1})
        _begun.here = True


_STATUS: dict[int, Status] = {0: "proven", 1: "stopped", 2: "infeasible", 3: "unbounded"}


def solve_program(program: Program, gap: float = 0.0, time_limit_seconds: float | None = None) -> Answer:
    """Solve a mixed-integer programme to a relative gap.

    The constant joins the objective as a fixed variable, so that the gap is one of the whole value.

    Example (two knapsack items of which one fits):
        >>> import numpy as np
        >>> p = Program(np.array([3.0, 2.0]), np.array([[2.0, 2.0]]), np.array([-np.inf]), np.array([3.0]),
        ...             np.zeros(2), np.ones(2), np.ones(2, dtype=bool))
        >>> solve_program(p).value
        3.0
    """
    _on_one_thread()
    options: dict[str, Any] = {"mip_rel_gap": gap}
    if time_limit_seconds is not None:
        options["time_limit"] = max(0.01, time_limit_seconds)
    rows, size = csr_array(program.rows), program.gain.size
    widened = csr_array((rows.data, rows.indices, rows.indptr), shape=(rows.shape[0], size + 1))
    result = milp(
        -np.append(program.gain, program.constant),
        integrality=np.append(program.whole, False).astype(np.uint8),
        bounds=Bounds(np.append(program.lower, 1.0), np.append(program.upper, 1.0)),
        constraints=LinearConstraint(widened, program.low, program.high) if rows.shape[0] else (),
        options=options,
    )
    status = _STATUS.get(result.status, "failed")
    if result.x is None:
        bound = getattr(result, "mip_dual_bound", None)
        return Answer(status, None, None, None if bound is None else -bound)
    bound = getattr(result, "mip_dual_bound", None)
    value = -float(result.fun)
    return Answer(
        status,
        np.asarray(result.x[:-1]),
        value,
        value if bound is None else max(value, -float(bound)),
        int(getattr(result, "mip_node_count", 0) or 0),
    )


def loaded(program: Program, *, whole: bool = False) -> Any:
    """A programme in HiGHS, called directly: one thread, nothing printed; without wholeness unless it is asked for."""
    solver = highspy.Highs()  # type: ignore[no-untyped-call]
    solver.silent()
    solver.setOptionValue("threads", 1)
    rows, lp = csr_array(program.rows), highspy.HighsLp()
    lp.num_col_, lp.num_row_ = program.gain.size, rows.shape[0]
    lp.col_cost_, lp.offset_ = -program.gain, -program.constant
    lp.col_lower_, lp.col_upper_ = program.lower, program.upper
    lp.row_lower_, lp.row_upper_ = program.low, program.high
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_, lp.a_matrix_.index_, lp.a_matrix_.value_ = rows.indptr, rows.indices, rows.data
    if whole:
        kinds = np.array([highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger])
        lp.integrality_ = kinds[program.whole.astype(np.intp)].tolist()
    solver.passModel(lp)
    return solver


@dataclass(frozen=True)
class Ends:
    """What ends a solve before its gap is reached: no point is worth more than `enough`, or one is worth `wanted`."""

    enough: float = -np.inf
    wanted: float = np.inf


def settle(
    program: Program,
    gap: float,
    time_limit_seconds: float,
    ends: Ends,
    known: FloatArray | None = None,
) -> Answer:
    """Solve a mixed-integer programme with HiGHS called directly, no further than is asked: then it is "stopped".

    known: a point that keeps the rows.

    Example (what the relaxation says is enough):
        >>> import numpy as np
        >>> p = Program(np.array([3.0, 2.0]), np.array([[2.0, 2.0]]), np.array([-np.inf]), np.array([3.0]),
        ...             np.zeros(2), np.ones(2), np.ones(2, dtype=bool))
        >>> settle(p, 0.0, 10.0, Ends(enough=5.0)).bound <= 5.0
        True
    """
    solver = loaded(program, whole=True)
    solver.setOptionValue("mip_rel_gap", gap)
    solver.setOptionValue("time_limit", max(0.01, time_limit_seconds))
    if known is not None:
        start = highspy.HighsSolution()
        start.col_value = known.tolist()
        solver.setSolution(start)

    def look(event: Any) -> None:
        if -event.data_out.mip_dual_bound < ends.enough or -event.data_out.mip_primal_bound >= ends.wanted:
            event.data_in.user_interrupt = True

    solver.cbMipInterrupt += look
    solver.run()
    found, status = solver.getInfo(), _SETTLED.get(solver.getModelStatus(), "failed")
    bound = None if status == "infeasible" else -float(found.mip_dual_bound)
    if found.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return Answer(status, None, None, bound, int(found.mip_node_count))
    value = -float(found.objective_function_value)
    bound = value if bound is None else max(value, bound)
    return Answer(status, np.array(solver.getSolution().col_value), value, bound, int(found.mip_node_count))


_SETTLED: dict[Any, Status] = {
    highspy.HighsModelStatus.kOptimal: "proven",
    highspy.HighsModelStatus.kInfeasible: "infeasible",
    highspy.HighsModelStatus.kUnbounded: "unbounded",
    highspy.HighsModelStatus.kInterrupt: "stopped",
    highspy.HighsModelStatus.kTimeLimit: "stopped",
}


@dataclass(frozen=True, eq=False)
class Relaxation:
    """The programme without wholeness: its value, point, and what one more unit of each limit is worth.

    worth_of_high, worth_of_low: (R,) gain per unit by which a row's upper or lower limit is raised.
    worth_of_upper, worth_of_lower: (V,) gain per unit by which a column's bound is raised.
    """

    status: Status
    value: float | None
    point: FloatArray | None
    worth_of_high: FloatArray
    worth_of_low: FloatArray
    worth_of_upper: FloatArray
    worth_of_lower: FloatArray


def relax(program: Program, time_limit_seconds: float | None = None) -> Relaxation:
    """Solve the programme without wholeness and read the duals of its rows; "stopped" where the time was too short.

    Example (one more unit of the only limit is worth 1.5):
        >>> import numpy as np
        >>> p = Program(np.array([3.0]), np.array([[2.0]]), np.array([-np.inf]), np.array([3.0]),
        ...             np.zeros(1), np.full(1, 9.0), np.zeros(1, dtype=bool))
        >>> relax(p).worth_of_high.tolist()
        [1.5]
    """
    from scipy.sparse import vstack

    _on_one_thread()
    rows = csr_array(program.rows)
    equal = (program.low == program.high) & np.isfinite(program.low)
    above = np.flatnonzero(np.isfinite(program.high) & ~equal)
    below = np.flatnonzero(np.isfinite(program.low) & ~equal)
    same = np.flatnonzero(equal)
    result = linprog(
        -program.gain,
        A_ub=vstack([rows[above], -rows[below]], format="csr") if above.size + below.size else None,
        b_ub=np.concatenate([program.high[above], -program.low[below]]) if above.size + below.size else None,
        A_eq=rows[same] if same.size else None,
        b_eq=program.low[same] if same.size else None,
        bounds=np.column_stack([program.lower, program.upper]),
        method="highs",
        options={} if time_limit_seconds is None else {"time_limit": time_limit_seconds},
    )
    status = _STATUS.get(result.status, "failed")
    worth_high, worth_low = np.zeros(rows.shape[0]), np.zeros(rows.shape[0])
    if result.x is None:
        nothing = np.zeros(program.gain.size)
        return Relaxation(status, None, None, worth_high, worth_low, nothing, nothing)
    if above.size + below.size:
        marginals = -np.asarray(result.ineqlin.marginals)
        worth_high[above] = marginals[: above.size]
        worth_low[below] = -marginals[above.size :]
    if same.size:
        worth_high[same] = -np.asarray(result.eqlin.marginals)
    return Relaxation(
        status,
        -float(result.fun) + program.constant,
        np.asarray(result.x),
        worth_high,
        worth_low,
        -np.asarray(result.upper.marginals),
        -np.asarray(result.lower.marginals),
    )
