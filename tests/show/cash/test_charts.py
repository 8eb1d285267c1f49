"""The pictures of the family's money and work hold what the accounts hold."""

import pytest
from drawings import rows
from results import cash_of

from renovation.farm import farm_flows, labour_by_month
from renovation.inputs import demo_names, demo_scenario, month_count
from renovation.show.cash import charts as cash_charts
from renovation.show.cash import sentences as cash_sentences
from renovation.show.plan.work_calendar import first_work, planned_years, work_calendar
from renovation.words import Words

WORDS = Words("en")


@pytest.mark.parametrize("name", demo_names())
def test_the_shaded_years_spend_more_than_they_bring(name):
    cash = cash_of(demo_scenario(name))
    chart = cash_charts.balance_chart(cash, WORDS)
    shaded = [row for row in rows(chart) if "what" in row]
    first = month_count(cash.start) / 12
    assert [row["year"] - first for row in shaded] == pytest.approx([year - 1.0 for year in cash.with_plan.gap_years])
    for said in (cash_sentences.short, cash_sentences.spends_more):
        assert said(cash, cash.with_plan, WORDS) in chart.description


@pytest.mark.parametrize("name", demo_names())
def test_the_work_chart_holds_every_day_of_work(name):
    scenario = demo_scenario(name)
    labour = labour_by_month(scenario, farm_flows(scenario, scenario.plan))
    chart = cash_charts.labour_chart(labour, WORDS, years=5)
    days = sum(row["days"] for row in rows(chart) if "who" in row)
    assert days == pytest.approx(float(labour.days[:60].sum()))


@pytest.mark.parametrize("name", demo_names())
def test_the_calendar_names_each_month_that_lacks_hands(name):
    scenario = demo_scenario(name)
    labour = labour_by_month(scenario, farm_flows(scenario, scenario.plan))
    assert any(days[first_work(labour)] > 0 for kind, days in labour.work.items() if kind not in ("upkeep", "harvest"))
    for year in planned_years(labour):
        table = work_calendar(labour, scenario, year, WORDS)
        told = sum(bool(row.get("note")) for row in table.records())
        shown = [row["month"] for row in table.records()]
        short = [m for m in labour.short_months if 12 * (year - 1) <= m < 12 * year]
        names = [WORDS.month(labour.months[m], "abbreviated").replace(" ", "\u00a0") for m in short]
        assert told == sum(month in shown for month in names)
