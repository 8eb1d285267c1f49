"""Why a loan of a scenario cannot be worked out, in words."""

from renovation.money.loan_terms import LoanError
from renovation.words import Words


def refusal(error: LoanError, words: Words) -> str:
    """Say why a loan of a scenario cannot be worked out; what a scenario's reading has ruled out goes by its code."""
    facts = {name: _fact(value, words) for name, value in error.facts.items()}
    key = f"lending.refused.{error.code}"
    said = words(key, **facts) if key in words else words("lending.refused.other", code=str(error))
    return words("lending.refused_loan", loan=error.facts["loan"], reason=said) if "loan" in facts else said


def _fact(value: object, words: Words) -> str:
    """One fact of a refusal: a month by name, a number in the language's way, a list joined."""
    if isinstance(value, tuple):
        return words.listing([_fact(entry, words) for entry in value])
    if isinstance(value, int | float) and not isinstance(value, bool):
        return words.number(value)
    text = str(value)
    return words.month(text) if len(text) == 7 and text[4] == "-" and text[:4].isdigit() else text
