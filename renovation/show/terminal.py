"""Whole answers set out for the terminal: sentences first, then tables. Pure functions of results."""

from collections.abc import Iterable, Mapping

from renovation.decide import Comparison, npv_per_tree, ranges
from renovation.decide.materials import MaterialComparison
from renovation.decide.practise import practise_first
from renovation.inputs import Scenario, Supplies, Technique
from renovation.show import figures, planting
from renovation.show.compare import sentences, tables
from renovation.show.compare.answer import answer, both_hands, tried
from renovation.show.compare.practise import practise_sentences
from renovation.show.compare.reasons import reasons
from renovation.show.grid import INDENT, Table, lines, paragraph, render
from renovation.show.guesses import counted
from renovation.show.held import held_sentences
from renovation.show.tally import whole_sentences
from renovation.show.voice import Voice
from renovation.words import Words


def compare_text(comparison: Comparison, words: Words, width: int, years_of: Iterable[str] = ()) -> str:
    """A comparison: the answer, the measures, what it rests on, the stands, year tables where wanted, cautions."""
    scenario, outcomes = comparison.scenario, comparison.outcomes
    swings = ranges(comparison, comparison.headline) if comparison.headline else ()
    parts = [
        paragraph(sentences.subject(comparison, words), width),
        lines(answer(comparison, swings, words), width),
    ]
    if outcomes:
        if hands := both_hands(comparison, words):
            parts.append(render(hands, width))
        parts.append(lines(held_sentences(scenario, words), width))
        practised = practise_sentences(practise_first(comparison), comparison, words)
        parts.append(lines(practised, width))
        parts.append(render(tables.measures(comparison, words), width))
        parts.append(lines(sentences.blanks(outcomes.values(), words), width))
        parts += [_way_text(comparison, key, words, width) for key in _ways_spoken_of(comparison)]
        parts.append(lines(sentences.ties(comparison, words), width))
    if comparison.headline:
        parts.append(render(tables.ranges(comparison, comparison.headline, swings, words), width))
    parts.append(render(tables.npv_per_tree(scenario, npv_per_tree(scenario), words), width))
    parts += [render(tables.years(comparison, key, words), width) for key in years_of if key in outcomes]
    parts.append(lines(sentences.notes(scenario, words), width))
    techniques = {key: scenario.techniques[key] for key in outcomes}
    parts.append(_cautions_text(figures.cautions(techniques, words, losses=scenario.states_losses), width))
    return "\n\n".join(part for part in parts if part)


def materials_text(found: MaterialComparison, words: Words, width: int) -> str:
    """One way with different clones: the answer, the table, who sets fruit with whom, what is known, cautions."""
    scenario, key = found.together.scenario, found.key_of(found.best) if found.best else None
    parts = [
        paragraph(sentences.subject(found.together, words), width),
        lines(planting.compared_sentences(found, words), width),
        render(planting.compared_table(found, words), width),
        lines(planting.alone_sentences(found, words), width),
    ]
    if key is not None:
        parts.append(render(tables.ranges(found.together, key, found.swings[found.best or ""], words), width))
    parts.append(render(planting.materials_table(found.materials, scenario.appraisal.currency, words), width))
    parts.append(lines(planting.material_reasons(found.materials, words), width))
    parts.append(lines(sentences.notes(scenario, words), width))
    parts.append(_cautions_text(figures.cautions(scenario.techniques, words, losses=scenario.states_losses), width))
    return "\n\n".join(part for part in parts if part)


def _ways_spoken_of(comparison: Comparison) -> list[str]:
    """The ways of the headline, and the best where it is another."""
    return list(dict.fromkeys(key for key in (comparison.headline, comparison.against, comparison.best) if key))


def _way_text(comparison: Comparison, key: str, words: Words, width: int) -> str:
    """What is said of one way: its range, its start, its deepest point, its return, its break-even values."""
    told = key == comparison.headline  # the answer has its range
    said = [
        *([] if told else sentences.rests_on(comparison, key, ranges(comparison, key), words)),
        sentences.start(comparison, key, words),
        tried(comparison, key, words),
        sentences.trough(comparison, key, words),
        sentences.rate_of_return(comparison, key, words),
        words("compare.each_alone"),
        *sentences.break_even(comparison, key, words),
    ]
    return lines(filter(None, said), width)


def _cautions_text(table: Table, width: int) -> str:
    """Cautions as a list, in place of a table with two columns of prose."""
    one_way = len({ways for _, ways in table.rows}) == 1
    texts = [caution if one_way else f"{caution} ({ways})" for caution, ways in table.rows]
    return "\n".join([table.title, *(paragraph(f"- {text}", width, INDENT) for text in texts)])


def check_text(scenario: Scenario, words: Words, width: int) -> str:
    """That a scenario is sound, and what it holds."""
    voice = Voice.of(scenario, words)
    appraisal = scenario.appraisal
    ways = words.listing([voice.way_inside(key) for key in scenario.techniques])
    trees = voice.trees(sum(stand.trees for stand in scenario.stands))
    planned = sum(treatment.trees for treatment in scenario.plan)
    begun = sum(entry.trees for entry in scenario.under_way if scenario.techniques[entry.technique].works_on == "trees")
    gaps = sum(stand.empty_places for stand in scenario.stands)
    said = [
        words("command.check.sound", name=scenario.about.name),
        words("command.check.stands", stands=words("unit.stands", n=len(scenario.stands)), trees=trees),
        *([words("unit.under_way", n=begun)] if begun else []),
        *([words("command.check.gaps", places=words("unit.places", n=gaps))] if gaps else []),
        *whole_sentences(scenario, words),
        *([counted(scenario, words)] if scenario.guessed else []),
        words("command.check.ways", ways=ways),
        words(
            "command.check.horizon",
            horizon=voice.whole_years(scenario.appraisal.horizon_years),
            month=words.month(appraisal.start),
            currency=appraisal.currency,
            rate=words.rate(appraisal.discount_rate),
        ),
        words("command.check.plan", trees=voice.trees(planned)) if planned else words("command.check.no_plan"),
        words("command.check.loans", loans=words("unit.loans", n=len(scenario.loans)))
        if scenario.loans
        else words("command.check.no_loans"),
    ]
    return lines(said, width)


DEFAULT_CURRENCY = "USD"
"""The currency of the figures that ship with the program."""


def techniques_text(techniques: Mapping[str, Technique], words: Words, width: int) -> str:
    """The leading figures of every technique, and how to see all figures of one."""
    table = render(figures.leading_figures(techniques, DEFAULT_CURRENCY, words), width)
    return "\n\n".join([table, paragraph(words("command.techniques.more", key=next(iter(techniques))), width)])


def technique_text(key: str, technique: Technique, supplies: Supplies, words: Words, width: int) -> str:
    """Every figure of one technique, what its supplies and tools cost, why they are so, and its cautions."""
    title = words("table.figures", way=words.name("technique", key, technique.label))
    told = figures.technique_figures(technique, supplies, DEFAULT_CURRENCY, title, words)
    costs = figures.supplies(supplies, DEFAULT_CURRENCY, words, figures.supplies_of(technique))
    cautions = _cautions_text(figures.cautions({key: technique}, words), width)
    why = [paragraph(f"- {reason}", width, INDENT) for reason in reasons(technique, supplies, words)]
    reasoned = ["\n".join([words("reasons.title"), *why])] if why else []
    return "\n\n".join([render(told, width), render(costs, width), *reasoned, cautions])
