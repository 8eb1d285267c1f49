"""Risk in sentences, answer first: what the futures say of each strategy, the hard cases, what an answer rests on.

No sentence stands here: each function chooses a key of the catalogue (`risk.*`, `sensitivity.*`) and its facts.
"""

from renovation.decide.guesses import path_of
from renovation.decide.risk import Answers, Bar, Estimate, RiskResult, Sensitivity, StressResult, WinMap
from renovation.decide.risk.answers import QUANTILES
from renovation.decide.risk.strategy import LEAVE
from renovation.decide.risk.stress import PRICE_SLUMP
from renovation.show.clones import of_clones
from renovation.show.figures import figure_cell
from renovation.show.guesses import marked_name
from renovation.show.voice import Voice
from renovation.words import Words


def chance(estimate: Estimate, words: Words) -> str:
    """A chance in words that its error bears: whole percent, a decimal below ten futures in a thousand.

    Example:
        >>> chance(Estimate(0.2598, 0.007), Words("en")), chance(Estimate(0.0038, 0.001), Words("en"))
        ('26%', '0.4%')
    """
    return words.percent(estimate.value, 0 if estimate.value in (0.0, 1.0) or 0.01 <= estimate.value <= 0.99 else 1)


def strategy_said(result: RiskResult, answer: Answers, words: Words) -> list[str]:
    """What the futures say of one strategy: worth, worst tenth, loss, gaps, instalments, deepest point."""
    voice = Voice.of(result.scenario, words)

    def told(amount: float) -> str:
        return voice.future_money(amount)

    said = []
    if answer.key != LEAVE:
        worth = {name: told(getattr(answer.npv, name).value) for name in ("p10", "p50", "p90")}
        said.append(words("risk.npv", expected=told(answer.expected_npv), **worth))
        said.append(words("risk.worst_tenth", money=told(answer.worst_tenth.value)))
        said.append(_chance_said("risk.worse", answer.worse_than_leaving, result, words))
    said.append(_chance_said("risk.short", answer.below_floor, result, words))
    said.append(_chance_said("risk.gap", answer.any_gap, result, words, year=_worst_year(result, answer, "gap", words)))
    if answer.strategy.loans:
        worst = _worst_year(result, answer, "missed", words)
        said.append(_chance_said("risk.missed", answer.any_missed, result, words, year=worst))
    said.append(words("risk.deepest", p50=told(answer.deepest.p50.value), p10=told(answer.deepest.p10.value)))
    return said


def _chance_said(key: str, found: Estimate, result: RiskResult, words: Words, **facts: str) -> str:
    """Say a chance: never, always or in a share of the futures."""
    voice = Voice.of(result.scenario, words)
    if found.value in (0.0, 1.0):
        kind = "none" if found.value == 0 else "all"
        return words(f"{key}.{kind}", futures=voice.futures(result.number), **facts)
    return words(f"{key}.some", share=chance(found, words), **facts)


def _worst_year(result: RiskResult, answer: Answers, kind: str, words: Words) -> str:
    """The project year in which a chance is highest, by its name."""
    voice = Voice.of(result.scenario, words)
    chances = [found.value for found in getattr(answer, f"{kind}_by_year")]
    return voice.year(chances.index(max(chances)) + 1)


def precision(result: RiskResult, words: Words) -> list[str]:
    """How many futures were tried, how exact the figures are, and how many would be enough."""
    voice = Voice.of(result.scenario, words)
    chances, sums = [0.0], [Estimate(0.0, 0.0)]
    for answer in result.answers.values():
        single = (answer.worse_than_leaving, answer.any_gap, answer.any_missed, answer.below_floor)
        chances += [found.error for found in (*single, *answer.gap_by_year, *answer.missed_by_year)]
        sums += [getattr(spread, q) for spread in (answer.npv, answer.deepest) for q in QUANTILES]
        sums.append(answer.worst_tenth)
    widest = max(sums, key=lambda found: found.error)
    facts = {"chance": words.percent(max(chances), 1), "money": voice.money_error(widest)}
    said = [words("risk.tried", futures=voice.futures(result.number), seed=str(result.seed), **facts)]
    if result.hands:
        said.append(words("risk.hands"))
    enough = result.futures_for()
    if enough > result.number:
        said.append(words("risk.more", futures=voice.futures(enough)))
    return said


def hardest(result: StressResult, words: Words) -> list[str]:
    """For each strategy the hard case that costs most, and all together."""
    voice = Voice.of(result.scenario, words)
    said = []
    for key, rows in result.rows.items():
        worst, together = rows[0], rows[-1]
        facts = {
            "strategy": voice.strategy(key),
            "case": words(f"risk.case.{worst.case}"),
            "npv": voice.money(worst.npv),
            "together": voice.money(together.npv),
        }
        said.append(words(f"risk.hardest.{'loss' if together.npv < 0 else 'gain'}", **facts))
    return said


def case_notes(result: StressResult, words: Words) -> list[str]:
    """What each hard case means, with its figures."""
    voice = Voice.of(result.scenario, words)
    stress, scenario = result.scenario.risk.stress, result.scenario
    facts = {
        "first": str(result.slump_from),
        "last": str(result.slump_from + 4),
        "take": words.percent(stress.beginner_take),
        "years": voice.whole_years(stress.beginner_seasons),
        "year": voice.year(stress.lost_crop_year),
        "rise": words.percent(stress.wage_rise),
        "days": words("unit.days", n=round(stress.hand_days)),
        "lost": words.percent(stress.lost_trees),
        "lost_year": voice.year(stress.lost_trees_year),
    }
    cases = dict.fromkeys(row.case for rows in result.rows.values() for row in rows[:-1])
    late = {PRICE_SLUMP: "_board"} if scenario.risk.price_setting == "board" else {}
    said = [words(f"risk.case_help.{case}{late.get(case, '')}", **facts) for case in cases]
    return [*said, *(words("risk.case_not_possible", case=words(f"risk.case.{case}")) for case in result.not_possible)]


# What an answer rests on


def driver_name(found: Sensitivity, bar: Bar, words: Words) -> str:
    """Name a figure: its name in the tables of figures, or in the scenario; marked where it is our guess.

    Example:
        >>> from renovation.decide import compare
        >>> from renovation.decide.risk import sensitivity
        >>> from renovation.inputs import demo_scenario
        >>> result = sensitivity(compare(demo_scenario()))
        >>> [driver_name(result, bar, Words("en")) for bar in result.bars if bar.driver == "days.graft"]
        ['Graft: days']
    """
    scenario = found.comparison.scenario
    place = scenario.stands.index(scenario.stand(found.comparison.stand))
    name = of_clones(scenario, found.technique, bar.driver, _driver_name(found, bar, words), words)
    return marked_name(scenario, path_of(bar.driver, place), name, words)


def _driver_name(found: Sensitivity, bar: Bar, words: Words) -> str:
    scenario = found.comparison.scenario
    root, *parts = bar.driver.split(".")
    if f"sensitivity.driver.{root}" not in words:
        return words(f"figure.{root}")
    technique = scenario.techniques[found.technique]
    facts = {}
    if root in ("days", "quantity", "lost"):
        facts["operation"] = words.name("operation", parts[0], technique.operations[parts[0]].label)
    if root in ("quantity", "lost", "unit_cost"):
        facts["item"] = words.name("item", parts[-1], scenario.supplies.items[parts[-1]].label)
    if root.startswith("tool"):
        facts["tool"] = words.name("tool", parts[0], scenario.supplies.tools[parts[0]].label)
    if root.startswith("intercrop"):
        span = technique.intercrop[int(parts[0]) - 1]
        facts |= {"first": words.number(span.first_month), "last": words.number(span.last_month)}
    if root == "payment":
        facts["name"] = technique.payments[int(parts[0]) - 1].name
    return words(f"sensitivity.driver.{root}", **facts)


def rests_on(found: Sensitivity, words: Words) -> list[str]:
    """The figure that moves the answer most, the critical ones, and those that may turn it."""
    voice = Voice.of(found.comparison.scenario, words)
    way = voice.way_inside(found.technique)
    said = [words("sensitivity.stated", way=way, npv=voice.money(found.npv))]
    widest = found.bars[0]
    if widest.npv_low is not None and widest.npv_high is not None:
        ends = sorted((widest.npv_low, widest.npv_high))
        low, high = (voice.money(end) for end in ends)
        said.append(words("sensitivity.widest", driver=driver_name(found, widest, words), low=low, high=high))
    critical = [driver_name(found, bar, words) for bar in found.critical]
    if critical:
        said.append(words("sensitivity.critical", drivers=words.listing(critical)))
    else:
        said.append(words("sensitivity.none_critical"))
    turning = [driver_name(found, bar, words) for bar in found.bars if _turns(bar, found.npv)]
    if turning:
        key = f"sensitivity.turns_{'loss' if found.npv > 0 else 'gain'}"
        said.append(words(key, n=len(turning), drivers=words.listing(turning)))
    else:
        said.append(words("sensitivity.holds"))
    return said


def _turns(bar: Bar, npv: float) -> bool:
    """Whether one end of a figure's range turns a gain into a loss, or a loss into a gain."""
    return any(end is not None and end * npv < 0 for end in (bar.npv_low, bar.npv_high))


def map_said(found: WinMap, words: Words) -> list[str]:
    """Who wins at the farm's own point, and over how much of the map each way wins."""
    voice = Voice.of(found.comparison.scenario, words)
    best = found.comparison.best
    drivers = {name: words(f"risk.axis.{axis.driver}") for name, axis in (("x", found.x), ("y", found.y))}
    kind = "leave" if best is None else "way"
    said = [words(f"risk.map.own_{kind}", way=voice.way_inside(best) if best else "", **drivers)]
    wins = sorted(((share, key) for key, share in found.shares.items() if share > 0), key=lambda win: -win[0])
    parts = [
        words("risk.map.wins", way=voice.strategy(key or LEAVE), share=words.percent(share)) for share, key in wins
    ]
    return [*said, words("risk.map.shares", parts=words.listing(parts))]


def switching_said(bar: Bar, words: Words) -> str:
    """The switching values of a bar: in its unit, or as a factor on a table by year."""
    if isinstance(bar.value, tuple) and bar.driver != "take":
        return words.listing([words("sensitivity.times", factor=words.number(v, 2)) for v in bar.switching])
    return words.listing([figure_cell(value, bar.unit, words) for value in bar.switching])
