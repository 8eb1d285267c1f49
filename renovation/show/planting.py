"""Planting material in words: which is worth most, who sets fruit with whom, what is known of each. Keys `planting`."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from renovation.decide import Comparison
from renovation.decide.materials import ALONE, MaterialComparison
from renovation.inputs import Material, Scenario, default_groups, materials_of
from renovation.inputs.materials import FIGURES, Pollination, pollination
from renovation.show import figures
from renovation.show.clones import group_name, material_name, names_of
from renovation.show.compare import sentences, tables
from renovation.show.grid import Column, Table, blank, column, columns
from renovation.show.voice import Voice
from renovation.words import Words

MEASURES = ("npv", "payback_years", "most_money_out", "return_per_day", "benefit_cost")
KINDS = ("lacks", "unsure", "unknown")


# One way with several


def compared_sentences(found: MaterialComparison, words: Words) -> list[str]:
    """The material that is worth most, the way without one, the range of the first, and what nothing is known of."""
    comparison, best = found.together, found.best
    voice = Voice.of(comparison.scenario, words)
    way = voice.way_inside(found.way)
    if best is None:
        return [voice.sentence("planting.no_start", way=way, horizon=voice.whole_years(_years(found)))]
    names = {name: material_name(name, entry, words) for name, entry in found.materials.items()}
    tied = [name for name in names if found.worth[name] == found.worth[best]]
    key = "same" if len(tied) == len(names) > 1 else "one" if len(names) == 1 else "best"
    worth, alone = (_worth(found.worth[name], voice) for name in (best, ALONE))
    said = [voice.sentence(f"planting.lead.{key}", material=names[best], worth=worth)]
    said.append(voice.sentence("planting.alone", way=way, worth=alone))
    said += sentences.rests_on(comparison, found.key_of(best), found.swings[best], words)[:2]
    silent = [name for name, entry in found.materials.items() if entry.mature_crop is None]
    if silent:
        said.append(voice.sentence("planting.crop_unknown", materials=words.listing([names[n] for n in silent])))
    if any(entry.mature_crop and entry.mature_crop.source != "own" for entry in found.materials.values()):
        said.append(words("planting.station"))
    return said


def _years(found: MaterialComparison) -> int:
    return found.each[ALONE].scenario.appraisal.horizon_years


def _worth(npv: float, voice: Voice) -> str:
    return voice(f"planting.worth.{'less' if npv < 0 else 'more'}", money=voice.money(abs(npv)))


def drawn(found: MaterialComparison, words: Words) -> Comparison:
    """All of them as a chart draws them: the way itself is called what it is, without a named clone."""
    together, own = found.together, found.way
    if own not in together.outcomes:
        return together
    called = replace(together.outcomes[own], label=words("planting.without"))
    return replace(together, outcomes={**together.outcomes, own: called})


def compared_table(found: MaterialComparison, words: Words) -> Table:
    """The way without a named material and with each: a row per measure, the range of the worth among them."""
    comparison = found.together
    voice = Voice.of(comparison.scenario, words)
    keys = [found.key_of(name) for name in found.worth]
    heads = tuple(Column(key, _head(found, name, words), "right") for key, name in zip(keys, found.worth, strict=True))
    rows = [(words(f"measure.{name}"), *tables.measure_cells(comparison, keys, name, words)) for name in MEASURES]
    spans = [found.span(name) for name in found.worth]
    for place, end in enumerate(("low", "high")):
        cells = (blank(words) if span is None else voice.money(span[place]) for span in spans)
        rows.insert(1 + place, (words(f"planting.row.npv_{end}"), *cells))
    crops = [comparison.scenario.techniques[key].mature_crop.value for key in keys]
    rows.append((words("planting.row.mature_crop"), *(words.number(crop, 2) for crop in crops)))
    pods = [_pods(found.materials.get(name), crop, words) for name, crop in zip(found.worth, crops, strict=True)]
    rows.append((words("planting.row.pods"), *pods))
    groups = [_group_cell(found, name, words) for name in found.worth]
    rows.append((words("planting.row.group"), *groups))
    title = words("planting.table.compared", way=voice.way(found.way))
    return Table(title, (column("column.measure", words), *heads), tuple(rows))


def _head(found: MaterialComparison, name: str, words: Words) -> str:
    return material_name(name, found.materials[name], words) if name else words("planting.without")


def _pods(material: Material | None, crop: float, words: Words) -> str:
    """Pods of a grown tree and year, where it is known how many make a kilogram."""
    if material is None or material.pods_per_kg is None:
        return blank(words)
    return words.number(round(crop * material.pods_per_kg.value))


def _group_cell(found: MaterialComparison, name: str, words: Words) -> str:
    return group_name(found.materials[name].group, words) if name else blank(words)


# Who sets fruit with whom


def alone_sentences(found: MaterialComparison, words: Words) -> list[str]:
    """Of the compared materials, those that set no fruit by themselves, and whether all of them do together."""
    each = found.pollination
    told = Pollination(
        tuple(each), **{kind: tuple(name for name, one in each.items() if getattr(one, kind)) for kind in KINDS}
    )
    said = pollination_sentences(replace(told, unsure=()), found.materials, words)
    if len(each) > 1 and (told.lacks or told.unknown) and found.mixed.is_sure:
        said.append(words("planting.suit.mixed", materials=names_of(each, found.materials, words)))
    return said


def pollination_sentences(found: Pollination, materials: Mapping[str, Material], words: Words) -> list[str]:
    """Whether the materials of one renewal set fruit, with the groups of those that do not; nothing for none."""
    if not found.names:
        return []
    said = []
    for kind in KINDS:
        names = getattr(found, kind)
        if names:
            told = [_with_group(name, materials[name], words) for name in names]
            said.append(words(f"planting.suit.{kind}", n=len(names), materials=words.listing(told)))
    if said:
        return said
    return [words("planting.suit.sure", n=len(found.names), materials=names_of(found.names, materials, words))]


def _with_group(name: str, material: Material, words: Words) -> str:
    called = material_name(name, material, words)
    if material.group is None:
        return called
    return words("planting.with_group", material=called, group=group_name(material.group, words))


def renewal_sentences(scenario: Scenario, ways: Iterable[str], words: Words) -> list[str]:
    """Of some ways together, such as those of a plan: whether what they plant sets fruit; empty where none is named."""
    materials = {name: entry for way in ways for name, entry in materials_of(scenario, way).items()}
    return pollination_sentences(pollination(materials, default_groups()), materials, words)


def way_sentences(scenario: Scenario, ways: Iterable[str], words: Words) -> list[str]:
    """Of each way that names a material: what it uses, and whether that sets fruit where it alone is planted."""
    voice, said = Voice.of(scenario, words), []
    for way in ways:
        if materials := materials_of(scenario, way):
            names = names_of(materials, materials, words)
            said.append(voice.sentence("planting.uses", way=voice.way_inside(way), materials=names))
            said += pollination_sentences(pollination(materials, default_groups()), materials, words)
    return said


# What is known of each


def materials_table(materials: Mapping[str, Material], currency: str, words: Words) -> Table:
    """Every figure that is known of each material, and its group, with their sources."""
    rows: list[tuple[str, ...]] = []
    for name, entry in materials.items():
        called = material_name(name, entry, words)
        for field in FIGURES:
            if (figure := getattr(entry, field)) is not None:
                label = words(f"field.Material.{field}.label")
                rows.append((called, label, *figures.figure_row(figure, currency, words)))
        cited = figures.source_cell_of(entry.source, entry.citation, words) if entry.group else ""
        rows.append((called, words("field.Material.group.label"), group_name(entry.group, words), "", "", cited))
    headed = columns("column", ("material", *figures.FIGURE_COLUMNS), words)
    return Table(words("planting.table.known"), headed, tuple(rows))


def material_reasons(materials: Mapping[str, Material], words: Words) -> list[str]:
    """Why each material is what it is said to be, and why each of its figures."""
    said = []
    for name, entry in materials.items():
        reasons = [entry.because, *(one.because for field in FIGURES if (one := getattr(entry, field)))]
        told = " ".join(dict.fromkeys(words.reason(reason) for reason in reasons if reason))
        if told:
            said.append(words("reasons.one", figures=material_name(name, entry, words), because=told))
    return said


def group_reasons(words: Words) -> list[str]:
    """Why each kind of pollination is what it is said to be, with its source."""
    said = []
    for key, group in default_groups().items():
        source = figures.source_cell_of(group.source, group.citation, words)
        told = words("planting.reason", because=words.reason(group.because), source=source)
        said.append(words("reasons.one", figures=group_name(key, words), because=told))
    return said
