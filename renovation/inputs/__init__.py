"""What people state (floor 0): frozen, strict models and scenario files in and out."""

from typing import TYPE_CHECKING

from renovation.inputs.appraisal import Appraisal
from renovation.inputs.decimals import read_decimal, reading, write_decimal
from renovation.inputs.declared import Declared, Parameter, declared, json_schema, models, parameter_table
from renovation.inputs.defaults import (
    LearningFigures,
    default_groups,
    default_learning,
    default_materials,
    default_supplies,
    default_technique,
    default_techniques,
    default_tree_classes,
)
from renovation.inputs.demos import demo_names, demo_scenario, scenario_folder
from renovation.inputs.errors import Problem, ScenarioError, unit_words
from renovation.inputs.files import load_scenario, read_scenario
from renovation.inputs.loans import Loan, LoanOffer, LoanTest, Payout
from renovation.inputs.materials import Group, Material, Pollination, pollination, with_material, with_materials
from renovation.inputs.planning import GraftRecord, Learning, Planning, Practice
from renovation.inputs.planted import as_stated, materials_of
from renovation.inputs.quantities import (
    Figure,
    FrozenDict,
    Quantity,
    Source,
    in_currency,
    month_count,
    year_month,
)
from renovation.inputs.risk import Risk, Stress
from renovation.inputs.scenario import (
    About,
    Comparison,
    Household,
    Market,
    Scenario,
    Treatment,
    WetBeans,
    twelve,
)
from renovation.inputs.season import Cohort, DaysWorked, LoanMoney, LoanRecord, Sale, SeasonRecord, Spent, Try
from renovation.inputs.season_checks import season_problems
from renovation.inputs.season_csv import load_season, read_season
from renovation.inputs.season_table import season_cells, season_csv
from renovation.inputs.seasons import Season, season_from_window, window_names
from renovation.inputs.side_income import Payment, PermanentShade
from renovation.inputs.standing import UnderWay
from renovation.inputs.stands import Pods, Stand
from renovation.inputs.techniques import (
    IntercropSpan,
    Item,
    OldCrown,
    Operation,
    Supplies,
    Technique,
    Tool,
    Use,
)
from renovation.on_demand import on_demand

if TYPE_CHECKING:
    from renovation.inputs.document import save_scenario, write_scenario

__all__ = [
    "About",
    "Appraisal",
    "Cohort",
    "Comparison",
    "DaysWorked",
    "Declared",
    "Figure",
    "FrozenDict",
    "GraftRecord",
    "Group",
    "Household",
    "IntercropSpan",
    "Item",
    "Learning",
    "LearningFigures",
    "Loan",
    "LoanMoney",
    "LoanOffer",
    "LoanRecord",
    "LoanTest",
    "Market",
    "Material",
    "OldCrown",
    "Operation",
    "Parameter",
    "Payment",
    "Payout",
    "PermanentShade",
    "Planning",
    "Pods",
    "Pollination",
    "Practice",
    "Problem",
    "Quantity",
    "Risk",
    "Sale",
    "Scenario",
    "ScenarioError",
    "Season",
    "SeasonRecord",
    "Source",
    "Spent",
    "Stand",
    "Stress",
    "Supplies",
    "Technique",
    "Tool",
    "Treatment",
    "Try",
    "UnderWay",
    "Use",
    "WetBeans",
    "as_stated",
    "declared",
    "default_groups",
    "default_learning",
    "default_materials",
    "default_supplies",
    "default_technique",
    "default_techniques",
    "default_tree_classes",
    "demo_names",
    "demo_scenario",
    "in_currency",
    "json_schema",
    "load_scenario",
    "load_season",
    "materials_of",
    "models",
    "month_count",
    "parameter_table",
    "pollination",
    "read_decimal",
    "read_scenario",
    "read_season",
    "reading",
    "save_scenario",
    "scenario_folder",
    "season_cells",
    "season_csv",
    "season_from_window",
    "season_problems",
    "twelve",
    "unit_words",
    "window_names",
    "with_material",
    "with_materials",
    "write_decimal",
    "write_scenario",
    "year_month",
]

__getattr__ = on_demand(__name__, document=("save_scenario", "write_scenario"))
