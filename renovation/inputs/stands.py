"""Groups of trees alike enough to treat alike, and their crop by a count of pods."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from renovation.inputs.quantities import Keys, Model, Name, NotNegative, Quantity, Share, problem


class Pods(Model):
    """A crop stated as a pod count: kg = pods / pods per kg, less the share lost to disease (method §2)."""

    pods_per_tree: Annotated[float, Field(ge=0, le=500), Quantity("pods/tree/year")]
    pods_per_kg: Annotated[float, Field(ge=5, le=100), Quantity("pods/kg dry")]
    lost_share: Annotated[Share, Quantity("share")]

    @property
    def kg_per_tree(self) -> float:
        """Crop after losses, kg of dry beans per tree and year."""
        return self.pods_per_tree / self.pods_per_kg * (1 - self.lost_share)


class Stand(Model):
    """A group of trees alike enough to treat alike."""

    name: Name
    trees: Annotated[int, Field(ge=1, le=1_000_000), Quantity("trees")]
    empty_places: Annotated[int, Field(ge=0, le=1_000_000), Quantity("places")] = 0
    """Places of the stand, beside its trees, on which nothing stands."""
    crop_per_tree: Annotated[float | None, Field(ge=0, le=20), Quantity("kg/tree/year")] = None
    pods: Pods | None = None
    decline_per_year: Annotated[float, Field(ge=-0.2, le=0.6), Quantity("share/year")]
    hectares: Annotated[float | None, Field(gt=0, le=100_000), Quantity("hectares")] = None
    upkeep_days: Annotated[float, Field(ge=0, le=5), Quantity("person-days/tree/year")]
    upkeep_inputs: Annotated[NotNegative, Quantity("money/tree/year")] = 0.0
    tree_loss_per_year: Annotated[float, Field(ge=0, le=0.9), Quantity("share/year")] = 0.0
    """Yearly chance that a tree is lost, left alone or worked on."""
    pods_lost: Annotated[Share, Quantity("share")] = 0.0
    """Share of pods lost from now on, beyond what the crops stated leave out."""
    techniques: Keys | None = None
    """Only these techniques suit this stand; all that the scenario considers where absent."""
    untouched: bool = False
    """Kept as it is whatever the plan."""
    part_of: Name | None = None
    """The stand of which these trees are a class, as a walk told them; it is not itself listed."""

    @model_validator(mode="after")
    def _one_crop(self) -> Self:
        if (self.crop_per_tree is None) == (self.pods is None):
            raise problem("crop_stated_none" if self.pods is None else "crop_stated_both")
        return self

    @property
    def kg_per_tree(self) -> float:
        """Today's crop after losses, kg of dry beans per tree and year."""
        return self.pods.kg_per_tree if self.pods else float(self.crop_per_tree or 0.0)

    @property
    def emptied(self) -> "Stand":
        """Its empty places as a stand of their own, which bears nothing and costs nothing."""
        nothing = {
            "crop_per_tree": 0.0,
            "pods": None,
            "decline_per_year": 0.0,
            "upkeep_days": 0.0,
            "upkeep_inputs": 0.0,
        }
        return self.model_copy(update={"trees": self.empty_places, "empty_places": 0, **nothing})
