"""Risk in tables of words, whole answers set out for the terminal, and rows for other programs."""

from collections.abc import Iterable, Mapping

from renovation.decide.risk import Bar, Estimate, RiskResult, Sensitivity, StressResult
from renovation.show.figures import figure_cell, figure_unit
from renovation.show.grid import Column, Table, blank, columns, lines, render
from renovation.show.risk import sentences as say
from renovation.show.tidy import Row, tail
from renovation.show.voice import Voice
from renovation.words import Words

MONEY = ("npv_p10", "npv_p50", "npv_p90", "worst_tenth", "deepest_p10", "deepest_p50", "deepest_p90")
CHANCES = ("worse_than_leaving", "any_gap", "any_missed", "below_floor")


def answers(result: RiskResult, words: Words) -> Table:
    """Strategies side by side: one row per figure, with its sampling error."""
    voice = Voice.of(result.scenario, words)
    columns = tuple(Column(key, voice.strategy(key), "right") for key in result.answers)

    def cell(found: Estimate, name: str) -> str:
        share = name in CHANCES
        value = words.percent(found.value, 1) if share else voice.future_money(found.value)
        if found.error == 0:
            return value
        error = words.percent(found.error, 1) if share else voice.money_error(found)
        return words("risk.cell", value=value, error=error)

    def row(name: str) -> tuple[str, ...]:
        cells = (cell(figure_of(result, key, name), name) for key in result.answers)
        return (words(f"risk.figure.{name}"), *cells)

    expected = tuple(voice.future_money(answer.expected_npv) for answer in result.answers.values())
    rows = ((words("risk.figure.expected_npv"), *expected), *(row(name) for name in (*MONEY, *CHANCES)))
    return Table(words("risk.table.answers"), (Column("figure", words("column.figure")), *columns), rows)


def figure_of(result: RiskResult, key: str, name: str) -> Estimate:
    """One figure of one strategy."""
    answer = result.answers[key]
    kind, _, share = name.rpartition("_")
    found = getattr(getattr(answer, kind), share) if share in ("p10", "p50", "p90") else getattr(answer, name)
    assert isinstance(found, Estimate)
    return found


def chances_by_year(result: RiskResult, words: Words) -> Table:
    """Chance of a cash-gap year, and of a missed instalment where there is a loan, year by year."""
    voice = Voice.of(result.scenario, words)
    columns, series = [Column("year", words("column.year"), "right")], []
    for key, answer in result.answers.items():
        name = voice.strategy(key)
        for kind in ("gap", "missed") if answer.strategy.loans else ("gap",):
            columns.append(Column(f"{kind}_{key}", words(f"risk.column.{kind}", strategy=name), "right"))
            series.append(getattr(answer, f"{kind}_by_year"))
    years = range(result.scenario.appraisal.horizon_years)
    rows = tuple((words.number(y + 1), *(words.percent(found[y].value) for found in series)) for y in years)
    return Table(words("risk.table.years"), tuple(columns), rows)


def stress(result: StressResult, key: str, words: Words) -> Table:
    """One strategy in every hard case, the one that costs most first."""
    voice = Voice.of(result.scenario, words)
    names = ("case", "npv", "npv_change", "deepest", "gap_years", "missed_count", "put_off")
    headed = columns("risk.column", names, words, set(names) - {"case", "gap_years"})
    rows = tuple(
        (
            words(f"risk.case.{row.case}"),
            voice.future_money(row.npv),
            voice.future_money(row.npv_change),
            voice.future_money(row.deepest),
            voice.years(row.gap_years) or blank(words),
            words.number(len(row.missed_months)),
            words.number(row.trees_put_off),
        )
        for row in (result.expected[key], *result.rows[key])
    )
    title = words("risk.table.stress", strategy=voice.strategy(key))
    return Table(title, headed, rows)


def bars(found: Sensitivity, words: Words, only: int | None = None) -> Table:
    """What an answer rests on: every figure from low to high, the widest first; the first `only` of them."""
    voice = Voice.of(found.comparison.scenario, words)
    scenario = found.comparison.scenario
    currency, nothing = scenario.appraisal.currency, blank(words)

    def worth(npv: float | None) -> str:
        return nothing if npv is None else voice.money(npv)

    rows = tuple(
        (
            say.driver_name(found, bar, words),
            _end(bar, "low", words),
            worth(bar.npv_low),
            _end(bar, "high", words),
            worth(bar.npv_high),
            figure_unit(bar.unit, currency, words),
            say.switching_said(bar, words) or nothing,
            nothing if bar.elasticity is None else words.number(bar.elasticity, 2),
            words("sensitivity.critical_mark") if bar.critical else "",
        )
        for bar in found.bars[:only]
    )
    names = ("driver", "low", "npv_low", "high", "npv_high", "unit", "switching", "elasticity", "critical")
    right = ("npv_low", "npv_high", "elasticity")
    columns = tuple(Column(name, _heading(name, words), "right" if name in right else "left") for name in names)
    title = words("risk.table.bars", way=voice.way(found.technique))
    return Table(title, columns, rows)


def _heading(name: str, words: Words) -> str:
    return words(f"risk.column.{name}" if f"risk.column.{name}" in words else f"column.{name}")


def _end(bar: Bar, end: str, words: Words) -> str:
    """One end of a figure in its unit."""
    value = getattr(bar, end)
    return words(f"cell.curve_{end}") if value is None else figure_cell(value, bar.unit, words)


# On the terminal


def risk_text(result: RiskResult, tests: StressResult, words: Words, width: int, *, with_years: bool = False) -> str:
    """Risk: what the futures say of each strategy, the figures, the hard cases, how exact it all is."""
    voice = Voice.of(result.scenario, words)
    parts = []
    for answer in result.answers.values():
        name = voice.strategy(answer.key)
        parts.append("\n".join([name, lines(say.strategy_said(result, answer, words), width)]))
    parts.append(render(answers(result, words), width))
    if with_years:
        parts.append(render(chances_by_year(result, words), width))
    parts.append(lines(say.hardest(tests, words), width))
    parts += [render(stress(tests, key, words), width) for key in tests.rows]
    parts.append(lines(say.case_notes(tests, words), width))
    parts.append(lines([*say.precision(result, words), words("risk.note")], width))
    return "\n\n".join(part for part in parts if part)


def sensitivity_text(found: Iterable[Sensitivity], words: Words, width: int, only: int | None) -> str:
    """For each way the figures that its answer rests on, in sentences and in a table."""
    parts = []
    for one in found:
        parts.append(lines(say.rests_on(one, words), width))
        parts.append(render(bars(one, words, only), width))
    parts.append(lines([words("sensitivity.note")], width))
    return "\n\n".join(parts)


# For other programs


def risk_rows(result: RiskResult, tests: StressResult, stamped: Mapping[str, str]) -> dict[str, list[Row]]:
    """Rows of the answers, of the years and of the hard cases, full precision, stable keys."""
    figures = [
        {"strategy": key, "figure": name, **figure_of(result, key, name).as_dict()}
        for key in result.answers
        for name in (*MONEY, "mean_npv", *CHANCES)
    ]
    worth = ((key, answer.expected_npv) for key, answer in result.answers.items())
    figures += [{"strategy": key, "figure": "expected_npv", **Estimate(npv, 0.0).as_dict()} for key, npv in worth]
    years = [
        {
            "strategy": key,
            "year": y + 1,
            "gap": answer.gap_by_year[y].value,
            "gap_error": answer.gap_by_year[y].error,
            "missed": answer.missed_by_year[y].value,
            "missed_error": answer.missed_by_year[y].error,
            "balance_p10": float(answer.fan[0, y]),
            "balance_p50": float(answer.fan[1, y]),
            "balance_p90": float(answer.fan[2, y]),
        }
        for key, answer in result.answers.items()
        for y in range(len(answer.gap_by_year))
    ]
    cases = [row.as_dict() for key, rows in tests.rows.items() for row in (tests.expected[key], *rows)]
    tables = {"figures": figures, "years": years, "cases": cases}
    return {name: [{**row, **tail(stamped)} for row in rows] for name, rows in tables.items()}


def bar_rows(found: Iterable[Sensitivity], stamped: Mapping[str, str]) -> list[Row]:
    """Rows of all bars, full precision, stable keys."""
    return [{"technique": one.technique, **bar.as_dict(), **tail(stamped)} for one in found for bar in one.bars]
