"""Hands drawn from what counted grafts say of them: in each future others, and with them other takes (method §10).

With learning on and grafts counted, a future has one (f, ρ), or one λ, of what is held. The take of a season is its
curve at the grafts made before, and those follow, season after season, from what took in that future: where little
takes more trees are tried again, which is practice too. How good the season is spreads the take about it as ever.
Until grafts are counted the stated curve is used as it is, and no hands are drawn.
"""

from typing import TYPE_CHECKING

import numpy as np

from renovation.decide.belief import Practice, practice_of, takes_of_practice
from renovation.decide.held import begun_of
from renovation.decide.risk.attempts import means_by_take, season_take
from renovation.decide.risk.futures import Futures
from renovation.inputs import Scenario, Treatment
from renovation.types import FloatArray

if TYPE_CHECKING:
    from renovation.decide.risk.strategy import Layout


def practice_counted(scenario: Scenario) -> Practice | None:
    """The practice from whose counted grafts hands are drawn; None where nothing learns or nothing was counted.

    Example:
        >>> from renovation.inputs import demo_scenario
        >>> practice_counted(demo_scenario("first_grafters")) is None
        True
    """
    practice = practice_of(scenario, scenario.planning)
    return practice if practice is not None and practice.held is not None else None


def grafts_before(scenario: Scenario, treatments: tuple[Treatment, ...]) -> FloatArray | None:
    """Grafts made before each season, (H,), where these trees go as expected; None where no hands are drawn."""
    practice = practice_counted(scenario)
    if practice is None:
        return None
    _, grafts = takes_of_practice(scenario, practice, begun_of(scenario, practice, treatments))
    return practice.before + np.concatenate([[0.0], np.cumsum(grafts)[:-1]])


def shares_by_hands(layout: "Layout", futures: Futures) -> dict[int, FloatArray]:
    """Share of trees that each attempt establishes in each future, (n, J), by the place of the outcomes that learn.

    Season by season: take = curve of the future's hands at the grafts made before, times the factors of the attempt;
    spread by the season's luck; grafts made = trees still waiting, those under way too. Empty where no hands are drawn.
    """
    practice = layout.practice
    if practice is None or practice.held is None or futures.hands is None:
        return {}
    held, path = practice.held, layout.grafts_before
    if held not in futures.known:
        futures.known[held] = held.at(futures.hands)
    drawn = futures.known[held]
    learn = {place: one for place, one in enumerate(layout.outcomes) if one.technique in practice.learners}
    shares = {place: np.zeros((futures.number, len(one.seasons))) for place, one in learn.items()}
    waiting = {place: np.ones(futures.number) for place in learn}
    before = np.full(futures.number, practice.before)
    for season in range(futures.years):
        # on a path of its own a season's takes are the same for all that is tried in it, whatever the plan
        known: dict[tuple[float, ...], FloatArray] = {}
        if path is not None:
            before = np.full(futures.number, path[season])
            known = futures.known.setdefault((held, season, path[season]), known)
        mean = drawn.take(before)
        for place, one in learn.items():
            factors: tuple[float, ...] = ()
            for j in (j for j, its in enumerate(one.seasons) if its == season):
                factors = (*factors, one.factors[j])
                if factors not in known:
                    known[factors] = _take(mean, factors, futures, season)
                before = before + one.trees * waiting[place]
                shares[place][:, j] = waiting[place] * known[factors]
                waiting[place] = waiting[place] * (1 - known[factors])
    return shares


def _take(mean: FloatArray, factors: tuple[float, ...], futures: Futures, season: int) -> FloatArray:
    """The take of the last of a season's tries in each future, (n,): its mean, spread by the season's luck."""
    if futures.luck is None:
        return np.minimum(1.0, mean * factors[-1])
    means = means_by_take(factors, futures.spread)(mean)
    return season_take(futures.luck[:, season], means, futures.spread)
