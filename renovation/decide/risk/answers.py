"""Answers from futures: quantiles, chances, the worst tenth, each with its sampling error (method §9).

Sampling errors are half-widths of 95 % intervals. The futures are R independent scramblings of one sequence, so a
figure worked out on each of them has a spread s among the R, and the figure of all of them together has the error
t · s / √R, t the 97.5 % point of Student's distribution on R − 1 degrees (Owen 1997; L'Ecuyer & Lemieux 2002).
A chance that was seen in none of n futures, or in all, is known to within 3/n (the rule of three).
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import stdtrit

from renovation.decide.held import as_held
from renovation.decide.risk.futures import Futures, future_samples
from renovation.decide.risk.judge import Judged, judge
from renovation.decide.risk.strategy import LEAVE, Layout, Strategy, lay_out, strategies_of
from renovation.farm import farm_left_alone, running_loans
from renovation.inputs import Scenario
from renovation.types import BoolArray, FloatArray

if TYPE_CHECKING:
    import pandas as pd


TAIL = 0.1
QUANTILES = {"p10": 0.1, "p50": 0.5, "p90": 0.9}
NEVER_SEEN = 3.0
"""Rule of three: a chance seen in none of n cases is below 3/n with 95 % confidence."""


@dataclass(frozen=True)
class Estimate:
    """A figure worked out from futures, and the half-width of its 95 % interval."""

    value: float
    error: float

    def as_dict(self) -> dict[str, float]:
        """Plain figures."""
        return {"value": self.value, "error": self.error}


@dataclass(frozen=True)
class Spread:
    """One in ten futures lies below p10, half below p50, one in ten above p90; linear interpolation."""

    p10: Estimate
    p50: Estimate
    p90: Estimate

    def as_dict(self) -> dict[str, dict[str, float]]:
        """Plain figures."""
        return {name: getattr(self, name).as_dict() for name in QUANTILES}


@dataclass(frozen=True, eq=False)
class Answers:
    """What the futures say of one strategy; chances are shares of the futures.

    expected_npv, expected_deepest: of the run in which everything is as expected. mean_npv: of all futures.
    worst_tenth: mean NPV of the tenth of futures with the lowest. worse_than_leaving: NPV below 0. gap_by_year,
    missed_by_year: chance of a cash-gap year and of a missed instalment, (H,). any_gap, any_missed: in any year.
    below_floor: the balance ends some month below the floor. fan: (3, H) P10, P50, P90 of the balance at the
    end of each year, the mean of those of the independent samples. npvs, deepests: (n,) every future.
    deepests_due: (n,) lowest balance in a month with an instalment, infinite where there is none.
    """

    strategy: Strategy
    expected_npv: float
    expected_deepest: float
    npv: Spread
    mean_npv: Estimate
    worst_tenth: Estimate
    deepest: Spread
    worse_than_leaving: Estimate
    any_gap: Estimate
    any_missed: Estimate
    below_floor: Estimate
    gap_by_year: tuple[Estimate, ...]
    missed_by_year: tuple[Estimate, ...]
    fan: FloatArray
    npvs: FloatArray
    deepests: FloatArray
    deepests_due: FloatArray

    @property
    def key(self) -> str:
        """The strategy's name."""
        return self.strategy.key

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`: full precision, stable keys."""
        single = ("mean_npv", "worst_tenth", "worse_than_leaving", "any_gap", "any_missed", "below_floor")
        return {
            "strategy": self.key,
            "treatments": [treatment.model_dump() for treatment in self.strategy.treatments],
            "loans": [loan.name for loan in self.strategy.loans],
            "expected_npv": self.expected_npv,
            "expected_deepest": self.expected_deepest,
            "npv": self.npv.as_dict(),
            "deepest": self.deepest.as_dict(),
            **{name: getattr(self, name).as_dict() for name in single},
            "gap_by_year": [chance.as_dict() for chance in self.gap_by_year],
            "missed_by_year": [chance.as_dict() for chance in self.missed_by_year],
            "balance_by_year": {name: row.tolist() for name, row in zip(QUANTILES, self.fan, strict=True)},
        }


@dataclass(frozen=True, eq=False)
class RiskResult:
    """Strategies judged on the same futures, leaving the farm as it is among them.

    number: futures tried. seed: they come again with it. hands: whether hands were drawn in each future (`risk.hands`);
    the expected run of a strategy is then that of the takes its own practice brings on average.
    """

    scenario: Scenario
    number: int
    seed: int
    answers: dict[str, Answers]
    hands: bool = False

    def futures_for(self, chance: float = 0.01, money_share: float = 0.02) -> int:
        """How many futures are enough, a power of two.

        Enough is when every chance is known to within `chance`, and every NPV figure to within `money_share` of
        the distance from P10 to P90 of its strategy. Errors are taken to fall with the root of the number, which is
        cautious for these points.
        """
        ratio = 0.0
        for answer in self.answers.values():
            single = (answer.worse_than_leaving, answer.any_gap, answer.any_missed, answer.below_floor)
            chances = (*single, *answer.gap_by_year, *answer.missed_by_year)
            ratio = max(ratio, *(found.error / chance for found in chances))
            width = answer.npv.p90.value - answer.npv.p10.value
            money = (answer.npv.p10, answer.npv.p50, answer.npv.p90, answer.mean_npv, answer.worst_tenth)
            if width > 0:
                ratio = max(ratio, *(found.error / (money_share * width) for found in money))
        needed = max(1.0, self.number * ratio**2)
        return 1 << int(np.ceil(np.log2(needed) - 1e-9))

    def as_dict(self) -> dict[str, Any]:
        """Everything for `--json`: full precision, stable keys."""
        return {
            "currency": self.scenario.appraisal.currency,
            "scenario_digest": self.scenario.digest,
            "futures": self.number,
            "seed": self.seed,
            "futures_enough": self.futures_for(),
            "error_interval": 0.95,
            "strategies": [answer.as_dict() for answer in self.answers.values()],
        }

    def answers_table(self) -> "pd.DataFrame":
        """One row per strategy and figure: value and sampling error."""
        import pandas as pd

        rows = []
        for answer in self.answers.values():
            figures = {f"npv_{q}": getattr(answer.npv, q) for q in QUANTILES}
            figures |= {f"deepest_{q}": getattr(answer.deepest, q) for q in QUANTILES}
            for name in ("mean_npv", "worst_tenth", "worse_than_leaving", "any_gap", "any_missed", "below_floor"):
                figures[name] = getattr(answer, name)
            rows += [{"strategy": answer.key, "figure": name, **found.as_dict()} for name, found in figures.items()]
        return pd.DataFrame(rows)

    def years_table(self) -> "pd.DataFrame":
        """One row per strategy and project year: chances with their errors, quantiles of the balance at its end."""
        import pandas as pd

        rows = [
            {
                "strategy": answer.key,
                "year": y + 1,
                "gap": answer.gap_by_year[y].value,
                "gap_error": answer.gap_by_year[y].error,
                "missed": answer.missed_by_year[y].value,
                "missed_error": answer.missed_by_year[y].error,
                **{f"balance_{name}": float(row[y]) for name, row in zip(QUANTILES, answer.fan, strict=True)},
            }
            for answer in self.answers.values()
            for y in range(len(answer.gap_by_year))
        ]
        return pd.DataFrame(rows)

    def futures_table(self) -> "pd.DataFrame":
        """One row per strategy and future: NPV and deepest point."""
        import pandas as pd

        parts = [
            pd.DataFrame(
                {
                    "strategy": answer.key,
                    "future": np.arange(self.number),
                    "npv": answer.npvs,
                    "deepest": answer.deepests,
                }
            )
            for answer in self.answers.values()
        ]
        return pd.concat(parts, ignore_index=True)


def risk(
    scenario: Scenario,
    strategies: Sequence[Strategy] | None = None,
    draws: int | None = None,
    seed: int | None = None,
    on_progress: Callable[[float], None] | None = None,
) -> RiskResult:
    """Judge strategies on the futures that the scenario's `risk` table describes (method §9).

    strategies: the scenario's plan and the two ways of its headline where None; leaving the farm as it is always
    stands beside them. draws, seed: the scenario's where None. on_progress is told the share done. Raises
    as `lay_out` and `draw_futures` do, and ValueError for two strategies of one name.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> result = risk(demo_scenario(), draws=1024)
        >>> list(result.answers), result.number
        (['leave', 'plan', 'side_graft', 'rooted_cutting'], 1024)
    """
    chosen = strategies_of(scenario) if strategies is None else tuple(strategies)
    chosen = (
        Strategy(LEAVE, loans=running_loans(scenario)),
        *(strategy for strategy in chosen if strategy.key != LEAVE),
    )
    if len({strategy.key for strategy in chosen}) < len(chosen):
        raise ValueError("each strategy needs a name of its own")
    # trees under way go by the takes that a strategy's practice brings, on both of its sides
    both = None if scenario.under_way else farm_left_alone(scenario)
    layouts = [lay_out(as_held(scenario, strategy.treatments), strategy, both) for strategy in chosen]
    hands = any(layout.practice is not None for layout in layouts)
    draws = scenario.risk.draws if draws is None else draws
    seed = scenario.risk.seed if seed is None else seed
    samples: list[list[Sample]] = [[] for _ in layouts]
    years = scenario.appraisal.horizon_years
    for done, futures in enumerate(future_samples(scenario.risk, years, draws, seed, hands=hands)):
        for found, layout in zip(samples, layouts, strict=True):
            found.append(sample_of(judge(layout, futures), scenario.household.floor))
        if on_progress is not None:
            on_progress((done + 1) * futures.number / draws)
    answers = {layout.strategy.key: answers_of(layout, found) for layout, found in zip(layouts, samples, strict=True)}
    return RiskResult(scenario, draws, seed, answers, hands)


def judged_on(layout: Layout, futures: Futures) -> Answers:
    """The answers of one strategy on given futures: also of a plan that was made without having seen them."""
    size = futures.number // futures.replicates
    rows = [slice(r * size, (r + 1) * size) for r in range(futures.replicates)]
    floor = layout.scenario.household.floor
    return answers_of(layout, [sample_of(judge(layout, futures.part(part)), floor) for part in rows])


@dataclass(frozen=True, eq=False)
class Sample:
    """What one independent sample of futures says; only NPV and deepest points are kept future by future.

    gap, missed: (H,) shares of futures. any_gap, any_missed, below: shares. fan: (3, H).
    """

    npv: FloatArray
    deepest: FloatArray
    deepest_due: FloatArray
    gap: FloatArray
    missed: FloatArray
    any_gap: float
    any_missed: float
    below: float
    fan: FloatArray


def sample_of(judged: Judged, floor: float) -> Sample:
    """Sum up the judged futures of one sample."""
    return Sample(
        npv=judged.npv,
        deepest=judged.deepest,
        deepest_due=judged.deepest_due,
        gap=judged.gap.mean(axis=0),
        missed=judged.missed.mean(axis=0),
        any_gap=float(judged.gap.any(axis=1).mean()),
        any_missed=float(judged.missed.any(axis=1).mean()),
        below=float((judged.deepest < floor - 1e-9 * max(abs(floor), 1.0)).mean()),
        fan=np.quantile(judged.year_end, list(QUANTILES.values()), axis=0),
    )


def answers_of(layout: Layout, samples: Sequence[Sample]) -> Answers:
    """Put the samples of one strategy together; each is an independent scrambling of equal size."""
    npvs, deepests = [s.npv for s in samples], [s.deepest for s in samples]
    number = sum(npv.size for npv in npvs)
    certain = layout.scenario.risk.certain and layout.practice is None
    owes, does_something = bool(layout.cash.debt_service.any()), bool(layout.flows.treated)

    def chance(each: Iterable[float], possible: bool = True) -> Estimate:
        return _chance(np.array(list(each)), number, certain or not possible)

    years = range(layout.scenario.appraisal.horizon_years)
    first = samples[0].fan
    return Answers(
        strategy=layout.strategy,
        expected_npv=layout.expected_npv,
        expected_deepest=layout.cash.deepest,
        npv=_spread(npvs),
        mean_npv=_estimate(_mean, npvs),
        worst_tenth=_estimate(worst_tenth, npvs),
        deepest=_spread(deepests),
        worse_than_leaving=chance((float((npv < 0).mean()) for npv in npvs), does_something),
        any_gap=chance(s.any_gap for s in samples),
        any_missed=chance((s.any_missed for s in samples), owes),
        below_floor=chance(s.below for s in samples),
        gap_by_year=tuple(chance(s.gap[y] for s in samples) for y in years),
        missed_by_year=tuple(chance((s.missed[y] for s in samples), owes) for y in years),
        fan=first + np.mean([s.fan - first for s in samples], axis=0),
        npvs=np.concatenate(npvs),
        deepests=np.concatenate(deepests),
        deepests_due=np.concatenate([s.deepest_due for s in samples]),
    )


def worst_tenth(values: FloatArray) -> float:
    """Mean of the lowest tenth of the values, the one at its edge counted in part.

    Example:
        >>> worst_tenth(np.arange(15.0))
        0.3333333333333333
    """
    many = values.size * TAIL
    whole = int(np.floor(many + 1e-9))
    lowest = np.sort(values)[: whole + 1]
    edge = (many - whole) * (lowest[whole] - lowest[0]) if whole < lowest.size else 0.0
    # summed as distances from the lowest, so that equal values give exactly that value
    return float(lowest[0] + ((lowest[:whole] - lowest[0]).sum() + edge) / many)


def _mean(values: FloatArray) -> float:
    """The mean, exact where all values are equal."""
    return float(values[0] + (values - values[0]).mean())


def _spread(samples: Sequence[FloatArray]) -> Spread:
    """The three quantiles with their errors."""
    shares = list(QUANTILES.values())
    each = np.stack([np.quantile(sample, shares) for sample in samples])
    whole = np.quantile(np.concatenate(samples), shares)
    found = [Estimate(float(value), half_width(each[:, k])) for k, value in enumerate(whole)]
    return Spread(*found)


def _estimate(figure: Callable[[FloatArray], float], samples: Sequence[FloatArray]) -> Estimate:
    """A figure of all samples together, and its error from the spread among them."""
    return Estimate(figure(np.concatenate(samples)), half_width(np.array([figure(sample) for sample in samples])))


def _chance(each: FloatArray, number: int, certain: bool) -> Estimate:
    """The share of all futures, from the shares of equal samples; 0 and 1 no surer than the rule of three allows."""
    value, error = float(each.mean()), half_width(each)
    if value in (0.0, 1.0) and not certain:
        error = max(error, NEVER_SEEN / number)
    return Estimate(value, error)


def chance_of(happens: BoolArray, replicates: int) -> Estimate:
    """The chance of something seen or not in each of n futures, (n,), drawn as so many samples one after the other.

    Example:
        >>> chance_of(np.arange(8) < 4, 4).value
        0.5
    """
    return _chance(happens.reshape(replicates, -1).mean(axis=1), happens.size, certain=False)


def half_width(each: FloatArray) -> float:
    """t · s / √R of R independent figures, (R,); ValueError for a single one.

    Example (t of one degree is 12.706, s is √2):
        >>> round(half_width(np.array([1.0, 3.0])), 3)
        12.706
    """
    if each.size < 2:
        raise ValueError("one sample alone tells nothing of its error")
    if (each == each[0]).all():
        return 0.0
    return float(stdtrit(each.size - 1, 0.975) * each.std(ddof=1) / np.sqrt(each.size))
