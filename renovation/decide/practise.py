"""Practise first: how many trees to graft before deciding on the rest, and what of them must live (method §11)."""

from dataclasses import dataclass
from typing import Any

from renovation.decide.belief import beliefs_of, practice_of
from renovation.decide.compare import Comparison
from renovation.decide.learners import learners_of
from renovation.decide.switching import worth_by_take
from renovation.inputs import Scenario
from renovation.money.hands import FIRST_WEIGHT, NEAREST
from renovation.money.learning import Belief
from renovation.money.trial import Trial, trial


@dataclass(frozen=True, eq=False)
class Trained:
    """A way stated for other hands, with a take and a price of its own. worth: of all the trees, started at once."""

    technique: str
    worth: float

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {"technique": self.technique, "worth": self.worth}


@dataclass(frozen=True, eq=False)
class PractiseFirst:
    """How many trees of a stand to graft by one way before deciding on the rest.

    trees: the stand's free ones. belief: what is held of the take. trial: the worth of every number of first trees,
    one tree's worth being its incremental NPV, tools left out, at a take the same in every season and try; what was
    tried is counted after a year. trained: ways stated for other hands.
    """

    technique: str
    stand: str
    trees: int
    belief: Belief
    trial: Trial
    trained: tuple[Trained, ...]

    @property
    def first(self) -> int:
        """The fewest of the numbers of first trees worth most; 0 decides against it at once, all of them for it."""
        return self.trial.best

    @property
    def decides_at_once(self) -> bool:
        """Whether nothing is gained by practising first."""
        return self.first in (0, self.trees)

    @property
    def live(self) -> int | None:
        """The fewest living of the first trees from which it is worth going on; None where none are tried first."""
        return None if self.decides_at_once else int(self.trial.going_on_from[self.first])

    @property
    def worth(self) -> float:
        """V at the best number of first trees."""
        return self.trial.all_now if self.first == self.trees else float(self.trial.worth[self.first])

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "technique": self.technique,
            "stand": self.stand,
            "trees": self.trees,
            "alpha": self.belief.alpha,
            "beta": self.belief.beta,
            "first": self.first,
            "live": self.live,
            "worth": self.worth,
            "value": self.trial.value,
            "all_now": self.trial.all_now,
            "worth_by_first": self.trial.worth.tolist(),
            "trained": [one.as_dict() for one in self.trained],
        }


def practise_first(comparison: Comparison, technique: str | None = None) -> PractiseFirst | None:
    """Weigh practising first with one way of grafting, the first of the headline's that is one where None.

    None where no way of the pair grafts, or the way cannot be compared. Of practice that brings a higher take to later
    trees nothing is counted: the take of the coming season is that of all.

    Example:
        >>> from renovation.decide import compare
        >>> from renovation.inputs import demo_scenario
        >>> found = practise_first(compare(demo_scenario("first_grafters")))
        >>> found.technique, found.trees, found.first, found.live
        ('side_graft', 600, 600, None)
    """
    scenario = comparison.scenario
    grafts = [key for key, way in scenario.techniques.items() if way.family == "graft" and key in comparison.outcomes]
    wanted = (comparison.headline, comparison.against) if technique is None else (technique,)
    key = next((key for key in wanted if key in grafts), None)
    if key is None:
        return None
    trees, belief = scenario.free_trees(comparison.stand), belief_of(scenario, key)
    curve = worth_by_take(scenario, comparison.outcomes[key].flows.treated[0])
    found = trial(curve.of, belief, trees, 1 / (1 + scenario.appraisal.discount_rate))
    learners = learners_of(scenario, scenario.planning.learning)
    trained = tuple(
        Trained(other, trees * outcome.per_tree.npv)
        for other, outcome in comparison.outcomes.items()
        if scenario.techniques[other].based_on == key and other not in learners
    )
    return PractiseFirst(key, comparison.stand, trees, belief, found, trained)


def belief_of(scenario: Scenario, technique: str) -> Belief:
    """What is held of a way's take in the coming season: by its records, or of hands that learn by theirs.

    Of hands that learn and were not counted: the take stated of them, weighing as much as a stated first take does.
    """
    planning = scenario.planning
    practice = practice_of(scenario, planning)
    if practice is not None and technique in practice.learners:
        stated = min(max(practice.take(practice.before), NEAREST), 1 - NEAREST)
        return practice.held_now() or Belief(FIRST_WEIGHT * stated, FIRST_WEIGHT * (1 - stated))
    return beliefs_of(planning).get(technique, Belief(planning.prior_taken, planning.prior_failed))
