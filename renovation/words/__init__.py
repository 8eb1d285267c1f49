"""Words, numbers, money and dates for people (floor 0): nothing here knows what is computed."""

from renovation.words.asked import language_of, wished
from renovation.words.catalogue import Words, countries, known_currency, languages, smallest_unit

__all__ = ["Words", "countries", "known_currency", "language_of", "languages", "smallest_unit", "wished"]
