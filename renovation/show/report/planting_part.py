"""What is known of a farm's clones, in the appendix of the report."""

from collections.abc import Callable

from renovation.inputs import Scenario
from renovation.show.grid import Table
from renovation.show.planting import material_reasons, materials_table, way_sentences
from renovation.show.report.html import Html, bullets, table
from renovation.words import Words

SHARES = (16, 21, 14, 14, 17, 18)


def planting(scenario: Scenario, shortened: Callable[[Table], Table], words: Words) -> list[Html]:
    """Every figure of the clones that the farm has, whether those of each way set fruit, and why; empty for none.

    shortened: puts numbers in the place of long sources.
    """
    if not scenario.materials:
        return []
    known = materials_table(scenario.materials, scenario.appraisal.currency, words)
    said = [*way_sentences(scenario, scenario.techniques, words), *material_reasons(scenario.materials, words)]
    return [table(shortened(known), marked={words("source.own")}, shares=SHARES), bullets(said)]
