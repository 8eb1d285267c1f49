"""The printed report: it says what the program says, fetches nothing, and prints whole on A4."""

import functools
import itertools
import re
import shutil
import subprocess
import sys
import unicodedata
from dataclasses import dataclass, field
from datetime import date
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from factories import some_plain
from farm_files import BAD
from farm_files import FARMS as PATHS
from masked import Masked, letters_left
from naming import other_names
from screens.looking import missing, pdf_of

import renovation
from renovation.commands.program import main
from renovation.decide import appraise_loans, compare, npv_per_tree, ranges
from renovation.decide.dossier import Dossier
from renovation.decide.held import as_held
from renovation.decide.risk import risk, sensitivity, stress_tests
from renovation.decide.risk.strategy import LEAVE
from renovation.farm import farm_flows, labour_by_month
from renovation.inputs import Risk, declared, demo_scenario, load_scenario, read_scenario, scenario_folder
from renovation.show import figures
from renovation.show.cash import sentences as cash_sentences
from renovation.show.cash import tables as cash_tables
from renovation.show.compare import answer, sentences, tables
from renovation.show.compare.reasons import all_reasons
from renovation.show.loans import contract
from renovation.show.note import with_appendix
from renovation.show.report import report
from renovation.show.report.html import style_text, tag
from renovation.show.risk import answers as risk_answers
from renovation.show.risk import charts as risk_charts
from renovation.show.risk import sentences as risk_sentences
from renovation.show.risk import tables as risk_tables
from renovation.show.voice import Voice
from renovation.words import Words

WORDS = Words("en")
TODAY = date(2026, 11, 25)
PLAIN = [path for path in PATHS if path.stem in ("cooperative_nursery", "few_hands")]
"""Two loans, savings that bear interest, and a loan that does not fit in a year that begins in September."""
each_scenario = pytest.mark.parametrize("path", some_plain(PATHS, PLAIN), ids=lambda path: path.stem)
VOID = {"meta", "br", "wbr", "col"}
"""Elements that have no end (HTML Standard, void elements)."""
HOSTILE = "<script>alert(1)</script>"
FEW_FUTURES = {"risk__draws": 512}
"""For what does not rest on how many futures are tried."""


@dataclass
class TableRead:
    """A table as a reader of the page finds it."""

    title: str = ""
    headings: list[str] = field(default_factory=list)
    rows: list[list[str]] = field(default_factory=list)


class Page(HTMLParser):
    """Reads the page: tables, visible text, attributes; every element must be closed in its turn."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tables: list[TableRead] = []
        self.pieces: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.figures: list[str] = []
        self.style = ""
        self.cell: str | None = None
        self.tags: set[str] = set()
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        if tag in VOID:
            return
        self.open.append(tag)
        looks = dict(attrs)
        if tag == "table":
            self.tables.append(TableRead())
        elif tag == "tr" and "tbody" in self.open:
            self.tables[-1].rows.append([])
        elif tag in ("th", "td"):
            self.cell = ""
            self.kind = "title" if looks.get("class") == "title" else "head" if "thead" in self.open else "body"
        elif tag == "figure":
            self.figures.append("")

    def handle_startendtag(self, tag, attrs):
        self.tags.add(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_endtag(self, tag):
        assert self.open.pop() == tag
        if tag in ("th", "td"):
            table = self.tables[-1]
            if self.kind == "title":
                table.title = self.cell
            elif self.kind == "head":
                table.headings.append(self.cell)
            else:
                table.rows[-1].append(self.cell)
            self.cell = None

    def handle_data(self, data):
        if self.open and self.open[-1] == "style":
            self.style += data
            return
        self.pieces.append(data)
        if self.cell is not None:
            self.cell += data
        if "figure" in self.open:
            self.figures[-1] += data

    @property
    def text(self) -> str:
        """All visible words, with single spaces."""
        return " ".join(" ".join(self.pieces).split())

    def table(self, title: str) -> TableRead:
        """The one table of this title, its parts side by side put together again."""
        return together([table for table in self.tables if table.title == title])

    @property
    def wholes(self) -> list[TableRead]:
        """The tables in order, those set in parts put together again."""
        return [together(list(parts)) for _, parts in itertools.groupby(self.tables, lambda table: table.title)]


def together(parts: list[TableRead]) -> TableRead:
    """A table out of its parts side by side; the columns that lead each of them stand once."""
    whole = TableRead(parts[0].title, list(parts[0].headings), [list(row) for row in parts[0].rows])
    for part in parts[1:]:
        new = [place for place, heading in enumerate(part.headings) if heading not in whole.headings]
        whole.headings += [part.headings[place] for place in new]
        for row, other in zip(whole.rows, part.rows, strict=True):
            row += [other[place] for place in new]
    return whole


@functools.cache
def written(path: Path) -> str:
    """The report of a scenario, made once."""
    return report(load_scenario(path), WORDS, TODAY)


@functools.cache
def page(path: Path) -> Page:
    """The report of a scenario, read."""
    return Page(written(path))


def spaced(text: str) -> str:
    return " ".join(text.split())


# What it says


@pytest.mark.long
@each_scenario
def test_the_answer_stands_first_and_the_ten_parts_follow(path):
    text = page(path).text
    keys = ("answer", "plan", "this_year", "cash", "labour", "loans", "ways", "risk", "assumptions", "cautions")
    titles = [f"{n}. {WORDS(f'report.part.{key}')}" for n, key in enumerate(keys, 1)]
    places = [text.rindex(title) for title in titles]
    assert places == sorted(places)
    lending = appraise_loans(load_scenario(path))
    first = cash_sentences.family_answer(lending.cash, WORDS)[0]
    assert places[0] < text.index(spaced(first)) < places[1]


@each_scenario
def test_nothing_in_the_report_has_a_second_name(path):
    assert other_names(page(path).text) == {}


@each_scenario
def test_head_and_foot_carry_name_digest_version_and_date(path):
    scenario = load_scenario(path)
    head = page(path).text
    for fact in (scenario.about.name, scenario.digest, renovation.__version__, "November 25, 2026"):
        assert fact in head
    assert WORDS("compare.note.invented") in head
    assert "counter(page)" in page(path).style
    assert "counter(pages)" in page(path).style
    assert style_text(scenario.digest)[1:-1] in page(path).style


@each_scenario
def test_every_sentence_of_cash_loan_and_comparison_stands_in_the_report(path):
    scenario, text = load_scenario(path), page(path).text
    lending, comparison = appraise_loans(scenario), compare(scenario)
    swings = ranges(comparison, comparison.headline)
    said = [
        *cash_sentences.family_answer(lending.cash, WORDS),
        *cash_sentences.beside_no_plan(lending.cash, WORDS),
        *cash_sentences.hands(labour_by_month(scenario, planned_flows(scenario)), WORDS),
        *(sentence for judged in lending.loans for sentence in cash_sentences.loan_said(judged, WORDS)),
        *answer.answer(comparison, swings, WORDS),
        *sentences.break_even(comparison, comparison.headline, WORDS),
        WORDS("compare.each_alone"),
        *sentences.ties(comparison, WORDS),
        *sentences.notes(scenario, WORDS),
        cash_sentences.bands(WORDS),
        WORDS("caution.debt"),
        WORDS("caution.planning_aid"),
    ]
    assert len(said) > 40
    assert [sentence for sentence in said if spaced(sentence) not in text] == []


@each_scenario
def test_the_tables_are_those_of_the_command_line(path):
    """Cell by cell: measures, what they rest on, years, coverage, cases, calendar, payments."""
    scenario, read = load_scenario(path), page(path)
    lending, comparison = appraise_loans(scenario), compare(scenario)
    cash, head = lending.cash, comparison.headline
    expected = [
        *filter(None, [answer.both_hands(comparison, WORDS)]),
        tables.measures(comparison, WORDS),
        tables.ranges(comparison, head, ranges(comparison, head), WORDS),
        tables.npv_per_tree(scenario, npv_per_tree(scenario), WORDS),
        cash_tables.cash_years(cash, WORDS),
        cash_tables.cash_years(cash, WORDS, side="without"),
        cash_tables.labour_years(labour_by_month(scenario, planned_flows(scenario)), WORDS),
    ]
    for table in expected:
        found = read.table(table.title)
        # a heading that stands twice in a table, such as the band, cannot be put together from parts by name
        assert found.rows == [list(row) for row in table.rows]
        assert found.headings == [column.heading for column in table.columns]
    for judged in lending.loans:
        for make in (cash_tables.cases, cash_tables.cover, cash_tables.calendar, cash_tables.payments):
            rows = [list(row) for row in make(judged, WORDS).rows]
            assert any(table.rows == rows for table in read.wholes), make.__name__


@pytest.mark.long
@each_scenario
def test_the_part_on_risk_says_what_the_futures_say(path):
    """Sentences, tables and hard cases against the program's own calls, on the scenario's own futures."""
    scenario, read = load_scenario(path), page(path)
    found, tests = risk(scenario), stress_tests(scenario)
    doing = [answer for key, answer in found.answers.items() if key != LEAVE]
    said = [
        *(risk_answers.worth(found, answer, WORDS) for answer in doing),
        *(risk_answers.middle(found, answer, WORDS) for answer in doing),
        *(risk_answers.chances(found, answer, WORDS) for answer in found.answers.values()),
        *risk_sentences.precision(found, WORDS),
        *risk_sentences.hardest(tests, WORDS),
        *risk_sentences.case_notes(tests, WORDS),
        WORDS("risk.note"),
    ]
    assert [sentence for sentence in said if spaced(sentence) not in read.text] == []
    ranked = sensitivity(compare(scenario))
    expected = [
        risk_tables.answers(found, WORDS),
        risk_tables.chances_by_year(found, WORDS),
        risk_tables.bars(ranked, WORDS, risk_charts.BARS_SHOWN),
        *(risk_tables.stress(tests, key, WORDS) for key in tests.rows),
    ]
    for table in expected:
        assert read.table(table.title).rows == [list(row) for row in table.rows]


@each_scenario
def test_payback_worth_deepest_point_and_coverage_are_the_programs_own(path):
    scenario, read = load_scenario(path), page(path)
    lending, comparison = appraise_loans(scenario), compare(scenario)
    currency, outcome = scenario.appraisal.currency, comparison.outcomes[comparison.headline]
    measures = read.table(WORDS("table.measures"))
    column = measures.headings.index(Voice.of(scenario, WORDS).way(comparison.headline))
    cells = {row[0]: row[column] for row in measures.rows}
    assert cells["Net present value"] == WORDS.money(outcome.measures.npv, currency, 0)
    assert cells["Payback"] == WORDS.span(outcome.measures.payback_years)
    side = lending.cash.with_plan
    month = WORDS.month(lending.cash.months[int(np.argmin(side.balance))])
    lowest = spaced(WORDS.round_money(float(side.balance.min()), currency))
    assert (
        f"{'The deepest point' if side.balance.min() < 0 else 'The lowest balance'} is {lowest} in {month}" in read.text
    )


@each_scenario
def test_a_loan_stands_beside_the_new_crop(path):
    """What an officer asks first: when paid out, when the new crop comes, when the first instalment, what covers it."""
    scenario, read = load_scenario(path), page(path)
    flows = planned_flows(scenario)
    lending = appraise_loans(scenario, flows)
    months, currency = lending.cash.months, scenario.appraisal.currency
    glance = read.table(WORDS("report.table.glance"))
    assert glance.headings == ["What", *(loan.name for loan in scenario.loans)]
    cells = {row[0]: row[1:] for row in glance.rows}
    bears = next(month for month, kg in zip(months, flows.with_plan.new_kg, strict=True) if kg > 0)
    assert set(cells["New crowns first bear in"]) == {WORDS.month(bears)}
    with_plan, without = (
        [
            number(row[read.table(title).headings.index(f"Farm cash, {WORDS.currency_sign(currency)}")])
            for row in read.table(title).rows
        ]
        for title in (WORDS("cash.table.years"), WORDS("cash.table.years_without"))
    )
    year = next(n for n, (more, less) in enumerate(zip(with_plan, without, strict=True), 1) if more > less)
    assert set(cells["The plan first brings more than the farm as it is in"]) == {
        Voice(WORDS, "USD", scenario.appraisal.start).year(year)
    }
    for place, (loan, judged) in enumerate(zip(scenario.loans, lending.loans, strict=True)):
        assert all(WORDS.month(payout.month) in cells["Paid out"][place] for payout in loan.payouts)
        schedule = read.table(WORDS("report.table.schedule", loan=loan.name))
        headings = [heading.rpartition(",")[0] or heading for heading in schedule.headings]
        column, paid = headings.index("Repaid by it"), headings.index("Payment")
        amount, _, said = cells["First instalment"][place].partition(" in ")
        assert WORDS.month(judged.as_stated.label(judged.as_stated.schedule.first_instalment_month)) == said
        at = [row[0] for row in schedule.rows].index(f"{said[:3]}\xa0{said[-4:]}")
        first, before = schedule.rows[at], schedule.rows[:at]
        assert not any(number(row[column]) for row in before)  # nothing is repaid before
        assert number(re.sub(r"[^\d.,]", "", amount)) == number(first[paid])
        living = [float(row[3]) for row in map(list, cash_tables.cover(judged, WORDS).rows)]
        assert cells["Lowest coverage after living costs"][place].startswith(f"{min(living):.2f} in ")
        assert cells["Lowest coverage after living costs"][place].endswith(f"asked for: {scenario.loan_test.cover:.2f}")


@each_scenario
def test_the_sources_are_counted_as_the_tables_of_figures_have_them(path):
    """The sentence on page one against the rows of the plan's ways at the end of the report."""
    scenario, read = load_scenario(path), page(path)
    scenario = as_held(scenario, scenario.plan)
    said = re.search(r"Figures behind the plan: (\d+) \(([^)]*)\)\.", read.text)
    assert said is not None
    ways = dict.fromkeys(treatment.technique for treatment in scenario.plan)
    tables_read = [read.table(figures.figures(scenario, key, WORDS).title) for key in ways]
    sources = [row[4].partition(" [")[0] for table in tables_read for row in table.rows if row[4]]
    assert int(said[1]) == len(sources)
    for name in ("published", "common practice", "from memory", "invented", "counted"):
        told = re.search(rf"\b{name}: (\d+)", said[2])
        assert (int(told[1]) if told else 0) == sources.count(name)
    own = re.search(r"stated by the family: (\d+)", said[2])
    assert (int(own[1]) if own else 0) == sources.count(WORDS("source.own"))


def planned_flows(scenario):
    """The farm by month with its plan, by what is held of takes and days."""
    return farm_flows(as_held(scenario, scenario.plan), scenario.plan)


def number(cell: str) -> float:
    """A number of an English table; a dash is nothing."""
    return 0.0 if cell == "–" else float(cell.replace(",", ""))


def joined(row: dict[str, str]) -> float:
    """What a month of the schedule adds to the debt."""
    return sum(number(row.get(name, "–")) for name in ("Received", "Fee kept back", "Interest that comes up"))


@each_scenario
def test_the_printed_schedule_balances_to_the_smallest_unit(path):
    """Owed = owed before + received + fee + interest that comes up − payment, on the printed figures themselves."""
    scenario = load_scenario(path)
    for loan in scenario.loans:
        table = page(path).table(WORDS("report.table.schedule", loan=loan.name))
        names = [heading.rpartition(",")[0] or heading for heading in table.headings]
        *months, total = [dict(zip(names, row, strict=True)) for row in table.rows]
        if loan.running:  # it goes on from what was owed
            owed = number(months[0]["Still owed"]) + number(months[0]["Payment"]) - joined(months[0])
        else:
            owed = 0.0
            assert months[0]["Month"] == WORDS.month(loan.payouts[0].month, "abbreviated").replace(" ", "\xa0")
        for row in months:
            parts = number(row["Interest in the payment"]) + number(row["Repaid by it"])
            assert number(row["Payment"]) == pytest.approx(parts)
            owed += joined(row) - number(row["Payment"])
            assert number(row["Still owed"]) == pytest.approx(owed, abs=1e-6)
        assert months[-1]["Still owed"] == "–"
        assert len(months) <= loan.term_months + 1
        if not loan.running:
            assert number(total["Received"]) + number(total.get("Fee kept back", "–")) == pytest.approx(loan.amount)
        for name in ("Payment", "Interest in the payment", "Repaid by it"):
            assert number(total[name]) == pytest.approx(sum(number(row[name]) for row in months), abs=1e-6)


@each_scenario
def test_the_plan_is_named_by_month_stand_way_and_trees(path):
    scenario = load_scenario(path)
    table = page(path).table(WORDS("report.table.plan"))
    stated = sorted(
        [WORDS.month(t.start), t.stand, Voice.of(scenario, WORDS).way(t.technique), WORDS.number(t.trees)]
        for t in scenario.plan
    )
    assert sorted(table.rows[:-1]) == stated
    assert number(table.rows[-1][-1]) == sum(t.trees for t in scenario.plan)


@each_scenario
def test_every_figure_stands_with_value_range_unit_and_source(path):
    scenario, read = load_scenario(path), page(path)
    scenario = as_held(scenario, scenario.plan)
    own = 0
    for key in scenario.techniques:
        table = figures.figures(scenario, key, WORDS)
        found = read.table(table.title)
        assert [row[:4] for row in found.rows] == [list(row[:4]) for row in table.rows]
        for shown, row in zip(found.rows, table.rows, strict=True):
            assert shown[4].partition(" [")[0] == row[4].partition(":")[0]
            if "[" in shown[4]:  # the citation stands in the list of sources under its number
                assert row[4].partition(": ")[2] in read.text
            own += row[4] == WORDS("source.own")
    assert written(path).count('<tr class="own">') >= own
    stated = {row[0]: row[1] for row in read.table(WORDS("report.table.stated")).rows}
    assert stated["Wage per day"] == Voice(WORDS, scenario.appraisal.currency).small_money(
        scenario.household.wage_per_day
    )
    assert [row[3] for row in read.table(WORDS("report.table.stated")).rows if row[0] == "Wage per day"] == ["invented"]
    assert stated["Discount rate"] == f"{scenario.appraisal.discount_rate:.0%}"
    stands = read.table(WORDS("report.table.stated_stands"))
    assert [h for h in stands.headings if h not in ("What", "Unit")] == [stand.name for stand in scenario.stands]


@each_scenario
def test_what_the_futures_are_drawn_from_stands_with_unit_and_source(path):
    """Each spread that the model declares, with its value; published ones with who publishes them."""
    scenario, read = load_scenario(path), page(path)
    rows = {row[0]: row[1:] for row in read.table(WORDS("workbook.risk.rests_on")).rows}
    moves = rows[WORDS("field.Risk.price_sd.label")]
    assert moves[0] == f"{scenario.risk.price_sd:g}"
    assert moves[3] == "published"
    assert "World Bank" in moves[4]
    assert rows[WORDS("field.Risk.draws.label")][0] == WORDS.number(scenario.risk.draws)
    assert all(row[2] and row[3] for name, row in rows.items() if "%" in row[0] and row[2] != "–")
    assert len(rows) > 12


@each_scenario
def test_days_of_work_add_up_as_they_are_printed(path):
    """The family's and the hired days of each month make the month's work; no kind of work is 0 days in all."""
    read = page(path)
    table = read.table(WORDS("report.table.labour_months"))
    places = [table.headings.index(WORDS(f"report.column.{key}")) for key in ("days", "family_days", "hired_days")]
    for row in table.rows:
        days, family, hired = (number(row[place]) for place in places)
        assert days == pytest.approx(family + hired, abs=0.11)
    assert all(number(row[1]) >= number(row[2]) > 0 for row in read.table(WORDS("cash.table.work")).rows)


@each_scenario
def test_every_chart_carries_its_finding(path):
    read = page(path)
    named = {value for _, name, value in read.attributes if name == "aria-labelledby"}
    ids = [value for _, name, value in read.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    assert len(named) == len(read.figures) >= 5
    assert named <= set(ids)
    assert all(len(figure.split()) > 8 for figure in read.figures)
    used = [m for _, _, value in read.attributes for m in re.findall(r"url\(#([^)]*)\)", value)]
    assert set(used) <= set(ids)


# What it is


@each_scenario
def test_the_file_fetches_nothing_and_runs_nothing(path):
    read = page(path)
    assert not read.tags & {"script", "iframe", "img", "link", "object", "embed", "base", "form"}
    assert "://" not in written(path)
    for tag_name, name, value in read.attributes:
        assert not name.startswith("on")
        if name in ("src", "href", "action"):
            assert value.startswith("#"), (tag_name, name, value)
        assert not re.search(r"url\((?!#)", value)
    assert "url(" not in read.style
    assert "@import" not in read.style
    assert ("meta", "content", "default-src 'none'; style-src 'unsafe-inline'") in read.attributes


@pytest.mark.long
def test_the_same_scenario_and_date_give_the_same_file():
    path = PATHS[0]
    script = (
        "import sys\nfrom datetime import date\nfrom pathlib import Path\n"
        "from renovation.inputs import load_scenario\nfrom renovation.show.report import report\n"
        "from renovation.words import Words\n"
        f"sys.stdout.write(report(load_scenario(Path({str(path)!r})), Words('en'), date(2026, 11, 25)))"
    )
    again = written(path)
    hashed_otherwise = {"PYTHONHASHSEED": "1", "PYTHONIOENCODING": "utf-8"}
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, check=True, env=hashed_otherwise)
    assert done.stdout.decode() == again
    other = report(load_scenario(path), WORDS, date(2026, 11, 26))
    assert other != again
    for written_as in ("November 26, 2026", style_text("November 26, 2026")[1:-1]):
        assert written_as in other
        other = other.replace(written_as, written_as.replace("26", "25", 1))
    assert other == again


@pytest.mark.parametrize("path", some_plain(PATHS, PLAIN[:1]), ids=lambda path: path.stem)
def test_every_word_on_the_page_comes_from_the_catalogue_or_the_scenario(path):
    scenario = load_scenario(path)
    masked = Page(report(scenario, Masked(), TODAY)).text
    names = [scenario.about.name, scenario.about.note, scenario.digest, scenario.appraisal.currency]
    names += [loan.name for loan in scenario.loans] + [stand.name for stand in scenario.stands]
    names += [technique.label or "" for technique in scenario.techniques.values()]
    names += re.findall(r"'citation': ['\"](.*?)['\"], 'because'", str(scenario.model_dump()))
    names += [because for *_, because in all_reasons(scenario, WORDS).rows]
    names += [WORDS.currency_sign(scenario.appraisal.currency), scenario.market.season.window or "", "ISO"]
    names += [declared(Risk, name).citation for name in Risk.model_fields]
    names += [citation(), "Kohl 2023: coverage above 1.50 good, 1.10–1.50 caution"]
    assert letters_left(masked, *names) == set()


def citation() -> str:
    """Who publishes the harvest windows."""
    from renovation.inputs.seasons import seasons

    return seasons().windows_source.citation


def test_no_name_can_become_markup():
    """A stand, a loan and a farm called like a script stay text, in the page, its title, its style and its charts."""
    text = (scenario_folder() / "first_grafters.toml").read_text("utf-8")
    text = text.replace("River field", HOSTILE).replace(
        "Tree loan", '"><img src=x onerror=alert(2)>'.replace('"', '\\"')
    )
    text = text.replace('name = "First grafters"', 'name = "</style><script>alert(3)</script>\\u0000\\u001b"')
    scenario = read_scenario(text, "farm.toml").changed(**FEW_FUTURES)
    made = report(scenario, WORDS, TODAY)
    read = Page(made)
    assert not read.tags & {"script", "img"}
    assert HOSTILE not in made
    assert HOSTILE in read.text
    assert "</style><script>" in read.text
    assert made.count("</style>") == 1
    assert "\x00" not in made
    assert "\x1b" not in made
    assert HOSTILE in [row[1] for row in read.table(WORDS("report.table.plan")).rows]


def test_escaping_covers_text_and_attributes():
    assert tag("p", 'a<b & "c"', title="'\"<>") == ('<p title="&#x27;&quot;&lt;&gt;">a&lt;b &amp; &quot;c&quot;</p>')


# Less than a whole scenario


@pytest.mark.long
def test_a_scenario_without_loans_says_so():
    read = Page(report(demo_scenario().changed(loans=(), **FEW_FUTURES), WORDS, TODAY))
    assert read.text.count(WORDS("lending.no_loans")) == 2
    assert WORDS("caution.debt") not in read.text
    assert not [table for table in read.tables if table.title == WORDS("lending.table.cover")]


@pytest.mark.long
def test_a_scenario_without_a_plan_says_so():
    bare = demo_scenario().changed(plan=(), loans=(), **FEW_FUTURES)
    read = Page(report(bare, WORDS, TODAY))
    assert read.text.count(WORDS("report.plan.none")) == 2
    with_plan, without = (read.table(WORDS(f"cash.table.{name}")) for name in ("years", "years_without"))
    balance = f"Balance at the end, {WORDS.currency_sign(bare.appraisal.currency)}"
    columns = [[row[t.headings.index(balance)] for row in t.rows] for t in (with_plan, without)]
    assert columns[0] == columns[1]


def test_a_scenario_in_which_no_way_can_start_says_so():
    """A single year from November on: an air layer, wanted in October, needs a nursery first."""
    text = (scenario_folder() / "first_grafters.toml").read_text("utf-8")
    head = text[: text.index("[comparison]")].replace("horizon_years = 25", "horizon_years = 1")
    head = re.sub(r"consider = .*", 'consider = ["air_layer"]', head).replace("2027-01", "2027-11")
    head = re.sub(r"techniques = .*", "", head)
    scenario = read_scenario(head + "\n[techniques.air_layer]\nstart_months = [11]\n", "farm.toml")
    assert compare(scenario).outcomes == {}
    assert WORDS("compare.alone.no_way", horizon="1 year") in Page(report(scenario, WORDS, TODAY)).text


@pytest.mark.long
def test_a_farm_of_many_stands_with_long_names_is_set_in_parts():
    base = demo_scenario()
    first = base.stands[0].model_dump()
    more = tuple({**first, "name": f"{'Field' * 12}{n}", "trees": 10} for n in range(12))
    scenario = base.changed(stands=(*(s.model_dump() for s in base.stands), *more))
    read = Page(report(scenario, WORDS, TODAY))
    parts = [table for table in read.tables if table.title == WORDS("report.table.stated_stands")]
    assert len(parts) > 1
    shown = [heading for part in parts for heading in part.headings[1:]]
    assert [h for h in shown if h != "Unit"] == [stand.name for stand in scenario.stands]


# The command


@pytest.mark.long
def test_the_command_writes_the_report_and_never_over_a_file(capsys, tmp_path, monkeypatch):
    class Today(date):
        @classmethod
        def today(cls):
            return TODAY

    monkeypatch.setattr("renovation.commands.report.date", Today)
    out = tmp_path / "report.html"
    assert main(["report", str(PLAIN[0]), "--appendix", "-o", str(out)]) == 0
    assert capsys.readouterr().out == f"Written: {out}\n"
    assert out.read_text("utf-8") == with_appendix(Dossier(load_scenario(PLAIN[0])), WORDS, TODAY)
    before = out.read_bytes()
    monkeypatch.setattr("renovation.show.note.note_of", None)  # refused before anything is worked out
    assert main(["report", str(PLAIN[1]), "-o", str(out)]) == 2
    assert "exists" in capsys.readouterr().err
    assert out.read_bytes() == before


def test_the_command_without_a_place_or_with_a_bad_file_writes_nothing(capsys, tmp_path):
    assert main(["report", str(PATHS[0])]) == 2
    assert "Say with -o where to write it." in capsys.readouterr().err
    assert main(["report", str(BAD[0]), "-o", str(tmp_path / "a.html")]) == 2
    assert capsys.readouterr().out == ""
    assert list(tmp_path.iterdir()) == []


def test_a_loan_that_cannot_be_is_refused_in_words(capsys, tmp_path):
    text = (scenario_folder() / "few_hands.toml").read_text("utf-8").replace("amount = 750000.0", "amount = 750000.5")
    copy = tmp_path / "farm.toml"
    copy.write_text(text, "utf-8")
    assert main(["report", str(copy), "-o", str(tmp_path / "a.html")]) == 2
    assert "whole number of the smallest unit" in capsys.readouterr().err
    assert not (tmp_path / "a.html").exists()


def test_a_contract_s_rate_is_told_whole_and_by_the_year():
    """12 % a year charged monthly is 12.68 % in effect: the textbook's example of compounding (from memory)."""
    data = demo_scenario().changed(loans__0__rate_per_year=0.12)
    odd = demo_scenario().changed(loans__0__rate_per_year=0.1225)
    told = [
        dict(contract.loan_terms(appraise_loans(scenario).loans[0], WORDS).rows)[
            WORDS("field.LoanConditions.rate_per_year.label")
        ]
        for scenario in (data, odd)
    ]
    assert told[0] == "12%, a twelfth of it each month; with interest on interest 12.68% a year"
    assert told[1].startswith("12.25%, ")


# On paper

A4 = (595.3, 841.9)
"""ISO 216: 210 × 297 mm, in points."""
MARGIN = 16 / 25.4 * 72
"""The margin at the sides that the style asks for, in points."""
FOOT = 18 / 25.4 * 72


@dataclass
class Sheet:
    """One printed page: its text in the order of the file, without white space, and where each word stands."""

    text: str
    words: list[tuple[float, float, float, float, str]]


def squeezed(text: str) -> str:
    """Text without white space, letters joined by the printer taken apart."""
    return "".join(unicodedata.normalize("NFKC", text).split())


def tool(name: str) -> str:
    """One of poppler's programs."""
    found = shutil.which(name)
    if found is None:
        missing(name)
    return str(found)


@pytest.fixture(scope="module")
def printed(tmp_path_factory):
    """A function that prints a page with Chromium, once for each."""
    tool("pdftotext")
    folder = tmp_path_factory.mktemp("printed")

    @functools.cache
    def print_once(made: str) -> Path:
        return pdf_of(made, folder / f"{abs(hash(made))}.html")

    return print_once


@functools.cache
def sheets(pdf: Path) -> list[Sheet]:
    """The pages of a PDF."""
    raw = subprocess.run([tool("pdftotext"), "-raw", str(pdf), "-"], check=True, capture_output=True)
    boxes = subprocess.run([tool("pdftotext"), "-bbox", str(pdf), "-"], check=True, capture_output=True)
    texts = raw.stdout.decode().split("\f")[:-1]
    pages = boxes.stdout.decode().split("<page ")[1:]
    word = re.compile(r'<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*?)</word>')
    assert len(texts) == len(pages)
    found = []
    for text, boxed in zip(texts, pages, strict=True):
        size = re.match(r'width="([\d.]+)" height="([\d.]+)"', boxed)
        assert size is not None
        assert [float(size[1]), float(size[2])] == pytest.approx(A4, abs=1.5)
        places = [(*(float(v) for v in m.groups()[:4]), m[5]) for m in word.finditer(boxed)]
        found.append(Sheet(squeezed(text), places))
    return found


def pages_of(text: str, printed_sheets: list[Sheet]) -> list[int]:
    """The pages on which a text stands whole."""
    wanted = squeezed(text)
    return [n for n, sheet in enumerate(printed_sheets) if wanted in sheet.text]


@pytest.mark.browser
@pytest.mark.long
@each_scenario
def test_no_page_is_blank_and_no_word_stands_beyond_the_margins(path, printed):
    found = sheets(printed(written(path)))
    assert 10 < len(found) < 60
    stamp = squeezed(WORDS("command.stamp", version=renovation.__version__, digest=load_scenario(path).digest, date=""))
    for n, sheet in enumerate(found, 1):
        assert stamp in sheet.text
        assert squeezed(f"Page {n} of {len(found)}") in sheet.text
        body = [word for word in sheet.words if word[1] < A4[1] - FOOT]
        assert len(body) > 30, n
        for left, top, right, bottom, said in body:
            assert left > MARGIN - 1, (n, said)
            assert right < A4[0] - MARGIN + 1, (n, said)
            assert top > MARGIN - 4, (n, said)  # a word's box is taller than its line
            assert bottom < A4[1] - FOOT + 1, (n, said)


OWN_FONTS = '"Liberation Sans", Arial, Helvetica, "DejaVu Sans Condensed", sans-serif'


@pytest.mark.browser
@pytest.mark.long
@pytest.mark.parametrize("font", ["DejaVu Sans", "DejaVu Sans Bold", "DejaVu Serif", "sans-serif"])
def test_whichever_font_a_machine_has_the_page_is_set_alike(font, printed):
    """Wide fonts (DejaVu: a figure of 0.636 em, where the fonts named have 0.556) are set smaller, so that all fits."""
    made = written(PLAIN[0])
    assert made.count(OWN_FONTS) == 4  # page, charts, both feet
    found = sheets(printed(made.replace(OWN_FONTS, f'"{font}"' if " " in font else font)))
    assert len(found) == pytest.approx(len(sheets(printed(made))), abs=2)
    for n, sheet in enumerate(found, 1):
        for left, _, right, _, said in sheet.words:
            assert left > MARGIN - 1, (n, said)
            assert right < A4[0] - MARGIN + 1, (n, said)
    read = page(PLAIN[0])
    assert squeezed("".join("".join(row) for row in read.table(WORDS("report.table.glance")).rows)) in found[0].text
    assert [figure for figure in read.figures if not pages_of(figure, found)] == []


@pytest.mark.browser
@pytest.mark.long
@each_scenario
def test_what_the_lender_asks_first_stands_on_page_one(path, printed):
    """What for, how much, when paid out, first crop, first instalment, coverage, gaps, how sure, which program."""
    scenario, read = load_scenario(path), page(path)
    lending = appraise_loans(scenario)
    first = sheets(printed(written(path)))[0].text
    answer_part = read.text.partition(WORDS("report.table.plan"))[0]
    said = [
        *cash_sentences.family_answer(lending.cash, WORDS),
        *(cash_sentences.loan_title(judged, WORDS) for judged in lending.loans),
        *(cell for row in read.table(WORDS("report.table.glance")).rows for cell in row),
        *re.findall(
            r"The plan renews [^.]*\.|An instalment is missed [^.]*\.|Figures behind the plan: [^.]*\.", answer_part
        ),
        scenario.digest,
        renovation.__version__,
        WORDS("report.head.by"),
    ]
    assert len(said) > 18
    assert [sentence for sentence in said if squeezed(sentence) not in first] == []


@pytest.mark.browser
@pytest.mark.long
@each_scenario
def test_every_row_stands_whole_on_one_page_under_its_head(path, printed):
    found = sheets(printed(written(path)))
    longest = 0
    for table in page(path).tables:
        rows = [pages_of("".join(row), found) for row in table.rows]
        assert all(rows), (table.title, [row for row, at in zip(table.rows, rows, strict=True) if not at])
        head = pages_of(table.title + "".join(table.headings), found)
        assert head, table.title
        # a row may stand elsewhere too, word for word; where it stands in one place only, its head stands there
        certain = {at[0] for at in rows if len(at) == 1}
        assert certain <= set(head), table.title
        longest = max(longest, len(certain))
    assert longest >= 2  # some table does run over pages, so that a head had to be repeated


@pytest.mark.browser
@pytest.mark.long
@each_scenario
def test_every_chart_stands_whole_on_one_page_with_its_finding(path, printed):
    found = sheets(printed(written(path)))
    for figure in page(path).figures:
        assert pages_of(figure, found), figure


@pytest.mark.browser
@pytest.mark.long
def test_long_names_and_many_stands_print_within_the_page(printed):
    base = demo_scenario()
    first = base.stands[0].model_dump()
    more = tuple({**first, "name": f"{'W' * 60}{n}", "trees": 10} for n in range(12))
    scenario = base.changed(stands=(*(s.model_dump() for s in base.stands), *more), about__name="M" * 80)
    found = sheets(printed(report(scenario, WORDS, TODAY)))
    for n, sheet in enumerate(found, 1):
        for left, _, right, _, said in sheet.words:
            assert left > MARGIN - 1, (n, said)
            assert right < A4[0] - MARGIN + 1, (n, said)


def test_each_reason_stands_once_in_the_report_with_the_figure_it_holds_for():
    scenario = as_held(load_scenario(PLAIN[0]), ())
    reasons = {row[2]: row[:2] for row in page(PLAIN[0]).table("Why these figures").rows}
    assert len(reasons) == len(page(PLAIN[0]).table("Why these figures").rows)
    for key, technique in scenario.techniques.items():
        for name in ("mature_crop", "take", "upkeep_days"):
            because = getattr(technique, name).because
            assert not because or WORDS(f"figure.{name}") in reasons[because][0], (key, name)
            assert not because or WORDS("technique." + key) in reasons[because][1] or reasons[because][1] == "all ways"
