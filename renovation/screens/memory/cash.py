"""The household's cash, its work and its loans, remembered by the scenario's digest."""

from dataclasses import dataclass
from datetime import date
from functools import partial

import streamlit as st

from renovation.decide.after_signing import AfterSigning
from renovation.decide.dossier import Dossier
from renovation.decide.lending import Lending, appraise_loans
from renovation.farm import FarmFlows, HouseholdCash, Labour
from renovation.inputs import Scenario, SeasonRecord
from renovation.screens import jobs, searches
from renovation.screens.memory import plan as plan_results
from renovation.screens.memory import season, state

_KEPT = 32


@dataclass(frozen=True, eq=False)
class Family:
    """What the plan means for the family: flows, cash and work."""

    flows: FarmFlows
    cash: HouseholdCash
    labour: Labour


def family(farm: Scenario) -> Family:
    """The balance and the work by month; LoanError for a loan that cannot be."""
    return _family(farm.digest, farm)


def worth(farm: Scenario) -> float:
    """What the farm's own plan is worth beside leaving the farm as it is: its NPV."""
    return _worth(farm.digest, farm)


def lending(farm: Scenario) -> Lending:
    """Every loan judged; LoanError for a loan that cannot be."""
    return _lending(farm.digest, farm)


@dataclass(frozen=True, eq=False)
class Asked:
    """What a file is made of, noted when its button is drawn: it is made where nobody has a session.

    record: the season's record in hand, if there is one of this farm's, and whether the plan was followed.
    """

    farm: Scenario
    language: str
    record: tuple[SeasonRecord, bool] | None

    @classmethod
    def now(cls, farm: Scenario) -> "Asked":
        """With the language and the record of the visitor."""
        return cls(farm, state.words().language, season.in_hand(farm))

    @property
    def signed(self) -> AfterSigning | None:
        """The loans after signing, where a season's record is in hand."""
        return None if self.record is None else season.signed_by(self.farm, self.record)


def note_file(asked: Asked) -> str:
    """The credit note of today, made when it is asked for."""
    task = partial(searches.note_file, asked.farm, date.today(), asked.signed, asked.language)
    made: str = jobs.answer(task, _unseen)
    return made


def report_file(asked: Asked) -> str:
    """The credit note of today with the whole report behind it, made when it is asked for.

    With the careful plan where it has been made, or what would make a plan possible where none keeps every promise, and
    the season looked back upon where its record is in hand.
    """
    farm, held = asked.farm, asked.record
    found = jobs.remembered(plan_results.careful_question(farm)).get("found")
    happened = None if held is None else season.looked_back(farm, held[0], as_planned=held[1])
    task = partial(searches.report_file, farm, date.today(), found, happened, asked.signed, asked.language)
    made: str = jobs.answer(task, _unseen)
    return made


def workbook_file(asked: Asked) -> bytes:
    """The lender's workbook of today, made when it is asked for."""
    made: bytes = jobs.answer(partial(searches.workbook_file, asked.farm, asked.signed, asked.language), _unseen)
    return made


def _unseen(place: int, share: float) -> None:
    """A file is waited for where nothing can be drawn."""


# A name that begins with an underscore is not hashed: the digest alone is the key.


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _family(digest: str, _farm: Scenario) -> Family:  # noqa: ARG001
    dossier = Dossier(_farm)
    return Family(dossier.flows, dossier.cash, dossier.labour)


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _worth(digest: str, _farm: Scenario) -> float:  # noqa: ARG001
    return Dossier(_farm).measures.npv


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _lending(digest: str, _farm: Scenario) -> Lending:  # noqa: ARG001
    return appraise_loans(_farm, family(_farm).flows)
