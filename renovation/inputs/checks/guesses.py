"""What is guessed: a number that stands there, within the range of the guess."""

from renovation.inputs.checks.farm import Farm, Findings, table
from renovation.inputs.guesses import at
from renovation.inputs.quantities import problem


def stands_there(farm: Farm) -> Findings:
    """A guess of nothing, or one whose range does not hold the figure."""
    for path, guess in farm.section("guessed").items():
        low, high = table(guess).get("low"), table(guess).get("high")
        found, place = at(farm.data, path), ("guessed", path)
        if found is None and farm.refused:
            continue
        if isinstance(found, bool) or not isinstance(found, int | float):
            yield place, problem("guess_of_nothing")
        elif low is not None and high is not None and not low <= found <= high:
            yield place, problem("guess_not_around", found=f"{found:g}", low=low, high=high)


CHECKS = (stands_there,)
