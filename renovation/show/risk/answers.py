"""What the futures answer, in sentences to read aloud: how often out of a hundred, each with its sampling error.

As in `risk_sentences` no sentence stands here: each function chooses a key (`risk.answer.*`) and its facts.
"""

import math
from itertools import pairwise

from renovation.decide.risk import Answers, Estimate, RiskResult
from renovation.decide.risk.answers import chance_of
from renovation.decide.risk.futures import REPLICATES
from renovation.decide.risk.strategy import CAREFUL, EXPECTED, LEAVE, PLAN
from renovation.inputs import Scenario
from renovation.show.cash.sentences import year_name
from renovation.show.compare.sentences import way_in_sentence
from renovation.words import Words

HUNDRED, THOUSAND = 100, 1000


def in_sentence(scenario: Scenario, key: str, words: Words) -> str:
    """Name a strategy inside a sentence: the plan, the farm left as it is, or a way."""
    if key in (LEAVE, PLAN, EXPECTED, CAREFUL):
        return words(f"risk.answer.name.{key}")
    return way_in_sentence(scenario, key, words)


def often(chance: Estimate, futures: int, words: Words) -> str:
    """How often something happens, in whole futures of a hundred or of a thousand, with the error.

    Example:
        >>> often(Estimate(0.2598, 0.007), 8192, Words("en")).replace("\\xa0", " ")
        '26 of 100 futures (± 1)'
        >>> often(Estimate(0.0038, 0.001), 8192, Words("en")).replace("\\xa0", " ")
        '4 of 1,000 futures (± 1)'
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


def money(amount: float, currency: str, words: Words) -> str:
    """A sum to whole units from one on: futures know no cents.

    Example:
        >>> [money(amount, "USD", Words("en")) for amount in (87.58, 0.5, 0.0)]
        ['$88', '$0.50', '$0']
    """
    return words.money(amount, currency, 0) if _whole(amount) else words.round_money(amount, currency)


def money_error(found: Estimate, currency: str, words: Words) -> str:
    """The error of a sum in the digits of the sum, rounded up where those are whole units.

    Example:
        >>> money_error(Estimate(566.0, 55.2), "USD", Words("en")), money_error(Estimate(0.5, 0.21), "USD", Words("en"))
        ('$56', '$0.21')
    """
    return money(math.ceil(found.error - 1e-9) if _whole(found.value) else found.error, currency, words)


def _whole(amount: float) -> bool:
    """Whether a sum is written without cents."""
    return amount == 0 or abs(amount) >= 1


def worth(result: RiskResult, answer: Answers, words: Words) -> str:
    """Between which sums a strategy lies in eight of ten futures, and how often it does worse than doing nothing."""
    scenario = result.scenario
    currency, spread = scenario.appraisal.currency, answer.npv
    name = in_sentence(scenario, answer.key, words)
    if spread.p10.value == spread.p90.value:
        sentence = words("risk.answer.worth.sure", way=name, money=money(spread.p50.value, currency, words))
    else:
        facts = {"low": money(spread.p10.value, currency, words)}
        facts["high"] = money(spread.p90.value, currency, words)
        facts["error"] = money_error(max(spread.p10, spread.p90, key=lambda end: end.error), currency, words)
        sentence = words("risk.answer.worth.between", way=name, **facts)
    worse = words("risk.answer.worse", often=often(answer.worse_than_leaving, result.number, words))
    return f"{_capital(sentence)} {worse}"


def middle(result: RiskResult, answer: Answers, words: Words) -> str:
    """The middle of the futures, the worst tenth, and what it is worth as expected."""
    currency = result.scenario.appraisal.currency
    facts = {
        "middle": answer.npv.p50,
        "worst": answer.worst_tenth,
        "expected": Estimate(answer.expected_npv, 0.0),
    }
    said = {name: money(found.value, currency, words) for name, found in facts.items()}
    errors = {f"{name}_error": money_error(found, currency, words) for name, found in facts.items()}
    name = _capital(in_sentence(result.scenario, answer.key, words))
    return words("risk.answer.middle", way=name, **said, **errors)


def side_by_side(result: RiskResult, words: Words) -> list[str]:
    """How often one way brings more than the next, in the same futures; ways on the same trees only."""
    ways = [answer for key, answer in result.answers.items() if key not in (LEAVE, PLAN)]
    said = []
    for first, second in pairwise(ways):
        ahead = chance_of(first.npvs > second.npvs, REPLICATES)
        names = {
            "first": in_sentence(result.scenario, first.key, words),
            "second": in_sentence(result.scenario, second.key, words),
        }
        said.append(words("risk.answer.ahead", often=often(ahead, result.number, words), **names))
    return said


def tried(result: RiskResult, words: Words) -> str:
    """How many futures a picture rests on."""
    return words("risk.answer.tried", futures=words("unit.futures", n=result.number))


def money_low(result: RiskResult, answer: Answers, words: Words) -> str:
    """How low the money in hand falls, with the errors."""
    currency = result.scenario.appraisal.currency
    half, tenth = answer.deepest.p50, answer.deepest.p10
    return words(
        "risk.answer.low",
        way=_capital(in_sentence(result.scenario, answer.key, words)),
        half=money(half.value, currency, words),
        half_error=money_error(half, currency, words),
        tenth=money(tenth.value, currency, words),
        tenth_error=money_error(tenth, currency, words),
    )


def chances(result: RiskResult, answer: Answers, words: Words) -> str:
    """How often a year does not pay for itself and an instalment is missed, and in which year most often."""
    parts = [_chance(result, answer, "gap", words)]
    if answer.strategy.loans:
        parts.append(_chance(result, answer, "missed", words))
    return " ".join(parts)


def _chance(result: RiskResult, answer: Answers, kind: str, words: Words) -> str:
    """One of the two chances: in any year, and in the year that is worst."""
    found: Estimate = getattr(answer, f"any_{kind}")
    by_year: tuple[Estimate, ...] = getattr(answer, f"{kind}_by_year")
    name = _capital(in_sentence(result.scenario, answer.key, words))
    facts = {"way": name, "often": often(found, result.number, words)}
    if found.value == 0:
        return words(f"risk.answer.{kind}.none", **facts)
    worst = max(range(len(by_year)), key=lambda year: by_year[year].value)
    year = year_name(result.scenario.appraisal.start, worst + 1, words)
    return words(f"risk.answer.{kind}.some", year=year, then=often(by_year[worst], result.number, words), **facts)


def _capital(text: str) -> str:
    """Begin with a capital letter."""
    return text[:1].upper() + text[1:]
