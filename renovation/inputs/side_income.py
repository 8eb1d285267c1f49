"""What a renewed tree brings beside its crop: payments for the work, and trees of permanent shade (method §12)."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from renovation.inputs.quantities import Figure, Model, Name, NotNegative, Quantity, problem


class Payment(Model):
    """Money that a tree under a way brings the household: a grant, a survival bonus, a yearly payment (method §12).

    Paid `month` months after the anchor: the start of the work, or the month in which a tree is established. With
    `until` it is paid again every 12 months while the months after the anchor are not above it. In constant prices.
    """

    name: Name
    anchor: Literal["start", "established"]
    month: Annotated[int, Field(ge=-60, le=480), Quantity("months after the anchor")] = 0
    until: Annotated[int | None, Field(ge=0, le=480), Quantity("months after the anchor")] = None
    amount: Annotated[Figure[NotNegative], Quantity("money/tree")]

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.month < 0 and self.anchor == "established":
            raise problem("before_known", found=str(self.month), anchor=self.anchor)
        if self.until is not None and self.until < self.month:
            raise problem("payment_backwards", found=str(self.until), month=self.month)
        return self


class PermanentShade(Model):
    """Shade trees that stay, planted with the work: what they bring and cost, and what they do to the crop.

    From the start of the work on, the crop of the tree is times `crop_factor`; income and days are those of a tree
    place by year after the start, the last entry holding from then on.
    """

    crop_factor: Annotated[Figure[Annotated[float, Field(ge=0, le=2)]], Quantity("factor on the crop")]
    income: Annotated[
        Figure[Annotated[tuple[NotNegative, ...], Field(min_length=1, max_length=40)]],
        Quantity("money/place/year by year after the start"),
    ]
    days: Annotated[
        Figure[Annotated[tuple[NotNegative, ...], Field(min_length=1, max_length=40)]],
        Quantity("person-days/place/year by year after the start"),
    ]
