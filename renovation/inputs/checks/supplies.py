"""Supplies and tools that are priced, units as declared, a currency and a harvest window that are known."""

from renovation.inputs.checks.farm import Farm, Findings, table, unknown
from renovation.inputs.errors import as_written, each
from renovation.inputs.materials import Material
from renovation.inputs.overrides import unit_findings
from renovation.inputs.quantities import problem
from renovation.inputs.seasons import window_names
from renovation.inputs.techniques import Supplies, Technique
from renovation.words import known_currency


def supplies(farm: Farm) -> Findings:
    """A supply or a tool that a technique uses and nobody prices."""
    items, tools = farm.section("supplies").get("items"), farm.section("supplies").get("tools")
    for key, technique in farm.techniques.items():
        for name, operation in table(table(technique).get("operations")).items():
            for item in table(table(operation).get("materials")):
                if items is not None and item not in items:
                    place = ("techniques", key, "operations", name, "materials", item)
                    yield unknown("unknown_item", place, item, items)
        for i, tool in each(table(technique).get("tools")):
            if tools is not None and tool is not None and tool not in tools:
                yield unknown("unknown_tool", ("techniques", key, "tools", i), tool, tools)


def units(farm: Farm) -> Findings:
    """A figure in another unit than its field declares."""
    currency = farm.appraisal.get("currency")
    if currency is None:
        return
    for key, technique in farm.techniques.items():
        for path, error in unit_findings(Technique, technique, currency):
            yield ("techniques", key, *path), error
    for key, material in farm.section("materials").items():
        for path, error in unit_findings(Material, material, currency):
            yield ("materials", key, *path), error
    for path, error in unit_findings(Supplies, farm.section("supplies"), currency):
        yield ("supplies", *path), error


def currency(farm: Farm) -> Findings:
    """A currency that nobody knows, or without its rate to the dollar."""
    stated, rate = farm.appraisal.get("currency"), farm.appraisal.get("currency_per_usd")
    if stated is None:
        return
    if not known_currency(stated):
        yield ("appraisal", "currency"), problem("unknown_currency", found=f'"{stated}"')
    elif stated == "USD" and rate is not None and rate != 1:
        yield ("appraisal", "currency_per_usd"), problem("usd_rate_not_one", found=as_written(rate))
    elif stated != "USD" and rate is None and ("appraisal", "currency_per_usd") not in farm.refused:
        yield ("appraisal", "currency_per_usd"), problem("currency_rate_missing", iso=stated)


def window(farm: Farm) -> Findings:
    """A harvest window that no country has."""
    season = farm.section("market").get("season") or {}
    name = season.get("window")
    if name is not None and name not in window_names():
        yield unknown("unknown_window", ("market", "season", "window"), name, window_names())


CHECKS = (supplies, units, currency, window)
