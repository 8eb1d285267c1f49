"""The season's record that a visitor has in hand, and next year's farm made of it."""

import streamlit as st

from renovation.decide.after_signing import AfterSigning, after_signing
from renovation.decide.happened import Happened, planned_and_happened
from renovation.decide.next_year import NextYear, next_year
from renovation.inputs import Scenario, SeasonRecord, season_problems

_KEPT = 16
_NAME = "season_record"


def keep(record: SeasonRecord, *, as_planned: bool) -> None:
    """Have a record in hand. as_planned: whether what it is silent about went as planned."""
    st.session_state[_NAME] = (record, as_planned)


def put(held: tuple[SeasonRecord, bool] | None) -> None:
    """Have in hand what was held before, or nothing."""
    st.session_state[_NAME] = held


def held() -> tuple[SeasonRecord, bool] | None:
    """The record in hand, whatever farm it is of, and whether the plan was followed."""
    found: tuple[SeasonRecord, bool] | None = st.session_state.get(_NAME)
    return found


def in_hand(farm: Scenario) -> tuple[SeasonRecord, bool] | None:
    """The record in hand and whether the plan was followed; None where there is none of this farm's season."""
    found = held()
    return found if found is not None and not season_problems(found[0], farm) else None


def next_farm(farm: Scenario, record: SeasonRecord, *, as_planned: bool) -> NextYear:
    """The farm twelve months on; raises as `next_year`, and as a loan that cannot be."""
    return _next_farm(farm.digest, record.model_dump_json(), as_planned, farm, record)


def looked_back(farm: Scenario, record: SeasonRecord, *, as_planned: bool) -> Happened:
    """The season beside what was expected of it; raises as `planned_and_happened`, and as a loan that cannot be."""
    return _looked_back(farm.digest, record.model_dump_json(), as_planned, farm, record)


def signed(farm: Scenario) -> AfterSigning | None:
    """The loans after signing, by the record in hand; None without a record where no loan is under way.

    Raises as `after_signing`, and for a loan that cannot be.
    """
    return signed_by(farm, in_hand(farm))


def signed_by(farm: Scenario, found: tuple[SeasonRecord, bool] | None) -> AfterSigning | None:
    """The same by a record that is given: where a file is made nobody has anything in hand."""
    if found is None:
        running = any(loan.running for loan in farm.loans)
        return _signed(farm.digest, "", False, farm, None) if running else None
    record, as_planned = found
    return _signed(farm.digest, record.model_dump_json(), as_planned, farm, record) if farm.loans else None


# A name that begins with an underscore is not hashed: digest and record as text are the key.


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _next_farm(
    digest: str,  # noqa: ARG001
    counted: str,  # noqa: ARG001
    as_planned: bool,
    _farm: Scenario,
    _record: SeasonRecord,
) -> NextYear:
    return next_year(_farm, _record, as_planned=as_planned)


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _looked_back(
    digest: str,  # noqa: ARG001
    counted: str,  # noqa: ARG001
    as_planned: bool,
    _farm: Scenario,
    _record: SeasonRecord,
) -> Happened:
    return planned_and_happened(_farm, _record, as_planned=as_planned)


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def _signed(
    digest: str,  # noqa: ARG001
    counted: str,  # noqa: ARG001
    as_planned: bool,
    _farm: Scenario,
    _record: SeasonRecord | None,
) -> AfterSigning:
    return after_signing(_farm, _record, as_planned=as_planned)
