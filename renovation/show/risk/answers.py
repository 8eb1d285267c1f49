"""What the futures answer, in sentences to read aloud: how often out of a hundred, each with its sampling error.

As in `risk/sentences` no sentence stands here: each function chooses a key (`risk.answer.*`) and its facts.
"""

import math
from itertools import pairwise

from renovation.decide.risk import Answers, Estimate, RiskResult
from renovation.decide.risk.answers import chance_of
from renovation.decide.risk.futures import REPLICATES
from renovation.decide.risk.strategy import LEAVE, PLAN
from renovation.show.voice import Voice
from renovation.words import Words

HUNDRED, THOUSAND = 100, 1000


def often(chance: Estimate, futures: int, words: Words) -> str:
    """How often something happens, in whole futures of a hundred or of a thousand, with the error.

    Example:
        >>> often(Estimate(0.2598, 0.007), 8192, Words("en")).replace("\\xa0", " ")
        '26 of 100 futures (±1)'
        >>> often(Estimate(0.0038, 0.001), 8192, Words("en")).replace("\\xa0", " ")
        '4 of 1,000 futures (±1)'
        >>> often(Estimate(0.0, 0.0004), 8192, Words("en")), often(Estimate(1.0, 0.0004), 8192, Words("en"))
        ('none of 8,192 futures', 'all of 8,192 futures')
    """
    if chance.value in (0.0, 1.0):
        kind = "none" if chance.value == 0 else "all"
        return words(f"risk.answer.often.{kind}", futures=words("unit.futures", n=futures))
    base = HUNDRED if 0.01 <= chance.value <= 0.99 else THOUSAND
    many = round(chance.value * base)
    if many in (0, base):
        return words(f"risk.answer.often.{'hardly' if many == 0 else 'nearly'}", n=words.number(base))
    error = words.number(math.ceil(chance.error * base - 1e-9))
    kind = "some" if chance.error else "sure"
    return words(f"risk.answer.often.{kind}", many=words.number(many), n=words.number(base), error=error)


def worth(result: RiskResult, answer: Answers, words: Words) -> str:
    """Between which sums a strategy lies in eight of ten futures, and how often it does worse than doing nothing."""
    voice = Voice.of(result.scenario, words)
    spread = answer.npv
    name = voice.strategy_inside(answer.key)
    if answer.npvs.min() == answer.npvs.max():
        sentence = words("risk.answer.worth.sure", way=name, money=voice.future_money(spread.p50.value))
    else:
        facts = {"low": voice.future_money(spread.p10.value)}
        facts["high"] = voice.future_money(spread.p90.value)
        facts["error"] = voice.money_error(max(spread.p10, spread.p90, key=lambda end: end.error))
        sentence = words("risk.answer.worth.between", way=name, **facts)
    worse, kind = answer.worse_than_leaving, "some" if answer.worse_than_leaving.value else "none"
    facts = {"often": often(worse, result.number, words), "futures": voice.futures(result.number)}
    return f"{voice.at_head(sentence)} {words(f'risk.answer.worse.{kind}', **facts)}"


def middle(result: RiskResult, answer: Answers, words: Words) -> str:
    """The middle of the futures, the worst tenth, and what it is worth as expected."""
    voice = Voice.of(result.scenario, words)
    facts = {
        "middle": answer.npv.p50,
        "worst": answer.worst_tenth,
        "expected": Estimate(answer.expected_npv, 0.0),
    }
    said = {name: voice.future_money(found.value) for name, found in facts.items()}
    errors = {f"{name}_error": voice.money_error(found) for name, found in facts.items()}
    name = voice.at_head(voice.strategy_inside(answer.key))
    return words("risk.answer.middle", way=name, **said, **errors)


def side_by_side(result: RiskResult, words: Words) -> list[str]:
    """How often one way brings more than the next, in the same futures; ways on the same trees only."""
    voice = Voice.of(result.scenario, words)
    ways = [answer for key, answer in result.answers.items() if key not in (LEAVE, PLAN)]
    said = []
    for first, second in pairwise(ways):
        ahead = chance_of(first.npvs > second.npvs, REPLICATES)
        names = {
            "first": voice.strategy_inside(first.key),
            "second": voice.strategy_inside(second.key),
        }
        said.append(words("risk.answer.ahead", often=often(ahead, result.number, words), **names))
    return said


def tried(result: RiskResult, words: Words) -> str:
    """How many futures a chart rests on."""
    voice = Voice.of(result.scenario, words)
    return words("risk.answer.tried", futures=voice.futures(result.number))


def money_low(result: RiskResult, answer: Answers, words: Words) -> str:
    """How low the money in hand falls, with the errors."""
    voice = Voice.of(result.scenario, words)
    half, tenth = answer.deepest.p50, answer.deepest.p10
    return words(
        "risk.answer.low",
        way=voice.at_head(voice.strategy_inside(answer.key)),
        half=voice.future_money(half.value),
        half_error=voice.money_error(half),
        tenth=voice.future_money(tenth.value),
        tenth_error=voice.money_error(tenth),
    )


def chances(result: RiskResult, answer: Answers, words: Words) -> str:
    """How often money runs short, a year spends more than it brings, an instalment is missed; the worst year."""
    parts = [_short(result, answer, words), _chance(result, answer, "gap", words)]
    if answer.strategy.loans:
        parts.append(_chance(result, answer, "missed", words))
    return " ".join(parts)


def _short(result: RiskResult, answer: Answers, words: Words) -> str:
    """How often money runs short: the balance falls below the floor."""
    voice = Voice.of(result.scenario, words)
    way = voice.at_head(voice.strategy_inside(answer.key))
    found = answer.below_floor
    return words(
        f"risk.answer.short.{'some' if found.value else 'none'}", way=way, often=often(found, result.number, words)
    )


def _chance(result: RiskResult, answer: Answers, kind: str, words: Words) -> str:
    """The chance of a gap or of a missed instalment: in any year, and in the year in which it is highest."""
    voice = Voice.of(result.scenario, words)
    found: Estimate = getattr(answer, f"any_{kind}")
    by_year: tuple[Estimate, ...] = getattr(answer, f"{kind}_by_year")
    name = voice.at_head(voice.strategy_inside(answer.key))
    facts = {"way": name, "often": often(found, result.number, words)}
    if found.value == 0:
        return words(f"risk.answer.{kind}.none", **facts)
    worst = max(range(len(by_year)), key=lambda year: by_year[year].value)
    year = voice.year(worst + 1)
    return words(f"risk.answer.{kind}.some", year=year, then=often(by_year[worst], result.number, words), **facts)
