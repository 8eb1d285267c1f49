"""What stands already at month 0: trees on which work has begun, tools that are there (method §11)."""

from typing import Annotated

from pydantic import Field

from renovation.inputs.quantities import Key, Model, Name, Named, Quantity, YearMonth

Count = Annotated[int, Field(ge=0, le=1_000_000)]
MonthsLeft = Annotated[float, Field(gt=0, le=480)]
ToolsOwned = Annotated[Named[MonthsLeft], Quantity("months")]
"""By tool the months, from month 0 on, that the piece in the shed still serves."""


class UnderWay(Model):
    """Trees of one stand on which work by one technique has begun; those that neither took nor were given up wait."""

    stand: Name
    technique: Key
    trees: Annotated[int, Field(ge=1, le=1_000_000), Quantity("trees")]
    start: YearMonth
    """The month in which work on them started; from month 0 on only where a nursery has begun."""
    taken: Annotated[tuple[Count, ...], Field(max_length=12), Quantity("trees")] = ()
    """Trees that took at each try made so far, in turn."""
    tried: Annotated[tuple[YearMonth, ...], Field(max_length=12)] = ()
    """Months of these tries; the usual ones, a gap apart from the start on, where absent."""
    given_up: Annotated[Count, Quantity("trees")] = 0

    @property
    def waiting(self) -> int:
        """Trees that wait for their next try: trees − Σ taken − given up.

        Example:
            >>> begun = UnderWay(
            ...     stand="A", technique="bud_graft", trees=180, start="2026-04", taken=(40, 30), given_up=10
            ... )
            >>> begun.waiting
            100
        """
        return self.trees - sum(self.taken) - self.given_up

    @property
    def counts(self) -> tuple[int, ...]:
        """Trees by what became of them: n_1 … n_k, waiting, given up."""
        return (*self.taken, self.waiting, self.given_up)
