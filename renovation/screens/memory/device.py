"""The farm in hand, kept on the visitor's own device, and there again after a reload or a lost connection.

A component of our own writes it to the browser's store: nothing of it lies on the server's disk or in its logs. The
store and not the address, though a part after `#` would not reach the server either: an address is copied, shown to
others and kept in the list of pages visited, with the family's numbers in it, and is gone with its tab. Twice it is
written, to the tab's own store and to the device's. A tab that is loaded again finds its own farm, whatever another
tab has in hand; a new tab finds the farm that was changed last.

The page asks once at the start of a session. A cookie says that there is something to ask for, and no more: with it
the first run waits for the answer, without it the first run is the page. What is kept wins over an address that it
wrote itself, or that is loaded again; any other link wins over it, and what was kept can be gone back to.

=========  ======================================================================================================
the page   ask: a word for this session, once; do: keep, clear (what this tab kept), forget (all), leave; stamp,
tells      text: the farm in hand, the text only in the run after a change
the        heard: text, or None; again: this tab's own, loaded again; shared: what stands after `#` in the address
browser    missed: the text of a stamp did not arrive; refused: the browser keeps nothing
tells
=========  ======================================================================================================
"""

import base64
import binascii
import hashlib
import json
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import urlencode, urlsplit, urlunsplit

import streamlit as st

from renovation.inputs import Scenario, ScenarioError, SeasonRecord, demo_names
from renovation.inputs.files import scenario_of, written
from renovation.inputs.overrides import Table
from renovation.inputs.packed import pack, packed, unpack, unpacked
from renovation.screens import jobs
from renovation.screens.memory import history, language, season, state
from renovation.screens.memory.state import InHand

COOKIE = "renovation_farm"
SHARED = "shared"
"""In an address: the farm itself stands after its `#`, which no server is sent."""
_KEY = "device"


@dataclass(frozen=True)
class Kept:
    """What a device keeps: the farm in hand, the one left for it, the season's record, the address and ways beside."""

    held: InHand
    left: InHand | None
    record: tuple[SeasonRecord, bool] | None
    link: Mapping[str, str]
    beside: tuple[str, ...] = ()


# Written down and read


def as_text(kept: Kept) -> str:
    """What is kept, as letters; nothing of what is as the defaults have it."""
    table: Table = {**_as_table(kept.held), "link": dict(kept.link), "beside": list(kept.beside)}
    if kept.left is not None:
        table["left"] = _as_table(kept.left)
    if kept.record is not None:
        record, as_planned = kept.record
        table["record"] = record.model_dump(mode="json", exclude_defaults=True)
        table["as_planned"] = as_planned
    return base64.b64encode(packed(table)).decode()


def _as_table(held: InHand) -> Table:
    return {
        "farm": written(held.farm),
        "origin": held.origin,
        "is_demo": held.is_demo,
        "changed": held.is_changed,
        "text": held.text,
    }


def from_text(text: str) -> Kept:
    """Read what `as_text` wrote.

    Errors: ScenarioError for what is damaged, newer, or no farm any more.
    """
    name = state.words()("screen.device.file")
    try:
        table = unpacked(base64.b64decode(text, validate=True), name)
        record = None
        if "record" in table:
            counted = SeasonRecord.model_validate_json(json.dumps(table["record"]))
            record = counted, table["as_planned"] is True
        left = _held(table["left"], name) if "left" in table else None
        link = {str(key): str(value) for key, value in table["link"].items()}
        return Kept(_held(table, name), left, record, link, tuple(map(str, table["beside"])))
    except (KeyError, TypeError, AttributeError, ValueError, binascii.Error):
        raise ScenarioError([state.damaged(name)]) from None


def _held(table: Table, name: str) -> InHand:
    farm = scenario_of(table["farm"], name)
    is_demo = table["is_demo"] is True and table["origin"] in demo_names()
    return InHand(farm, str(table["origin"]), is_demo, None if table["changed"] else farm, str(table.get("text", "")))


# The start of a session


def arrived() -> bool:
    """Whether the farm in hand is there to be drawn; until the device has answered a sentence stands in its place."""
    mine = state.memory(_KEY)
    heard = mine.get("heard")
    expected = st.context.cookies.get(COOKIE) == "1" or SHARED in st.query_params
    if heard is None and not mine.get("begun") and expected:
        _mount("leave", wait=True)
        with st.container(key="opening"):
            st.info(state.words()("screen.device.opening"))
            st.button(state.words()("screen.device.without"), on_click=_heard_nothing)
        return False
    if heard is not None:
        _begin(heard)
        if SHARED in st.query_params:
            _open_shared(str(heard.get("shared") or ""))
        mine.pop("heard", None)  # not before: a run that is broken off has put nothing in hand
    mine["begun"] = True
    return True


def _begin(heard: Mapping[str, Any]) -> None:
    """Put in hand what the device kept, or let it be gone back to where a link wins."""
    text = heard.get("text")
    if not text:
        return
    words = state.words()
    try:
        kept = from_text(str(text))
    except ScenarioError as error:
        state.memory(_KEY)["leave"] = True
        state.say_once("device", [words("screen.device.unread", why=error.sentences(words)[0])])
        return
    state.memory(_KEY)["sent"] = _stamp(str(text))
    asked = st.query_params.to_dict()
    asked.pop(SHARED, None)
    state.take_aside(asked)
    if state.is_untouched() and (heard.get("again") or not asked or asked == kept.link):
        st.session_state["link_read"] = True
        state.put_back(kept.held, kept.left)
        st.session_state["beside"] = list(kept.beside)
        if kept.record is not None:
            season.keep(kept.record[0], as_planned=kept.record[1])
        history.begin()
    else:
        state.leave(kept.held if kept.held.is_changed else kept.left)


def _open_shared(text: str) -> None:
    """Take up the farm of a share link; what is cut, changed or newer is refused in a sentence."""
    words = state.words()
    try:
        farm = unpack(text, words("screen.share.name"))
    except ScenarioError as error:
        state.say_once("device", [error.sentences(words)[0]])
    else:
        st.session_state["link_read"] = True
        state.take_up(farm, farm.about.name, is_demo=False)
    del st.query_params[SHARED]


def share_link(farm: Scenario) -> str:
    """The address that opens this farm in another browser, in the language that was chosen here, if one was."""
    here, chosen = urlsplit(st.context.url or ""), language.chosen()
    asked = {SHARED: "1", **({language.NAME: chosen} if chosen else {})}
    return urlunsplit((here.scheme, here.netloc, "/", urlencode(asked), pack(farm)))


# What is in hand now


def keep(link: Mapping[str, str]) -> None:
    """Have the browser write down what is in hand where that has changed. link: the address that says some of it."""
    mine = state.memory(_KEY)
    if mine.get("refused"):
        _mount("leave")
        return
    held, left, record = state.in_hand(), state.left(), season.held()
    if left is None and record is None and held.is_demo and held.farm == state.demo(held.origin):
        if "forgot" in mine:
            _mount("forget", stamp=mine["forgot"])
        else:
            _mount("leave" if mine.get("leave") else "clear")
        return
    mine.pop("leave", None)
    mine.pop("forgot", None)
    now = (held.farm, held.origin, held.taken_up, left and left.farm, record, dict(link))
    if not _same(now, mine.get("now")):
        text = as_text(Kept(held, left, record, link, tuple(st.session_state.get("beside", ()))))
        mine |= {"now": now, "text": text, "stamp": _stamp(text)}
    sent = mine.get("sent") == mine["stamp"]
    _mount("keep", stamp=mine["stamp"], text=None if sent else mine["text"])
    mine["sent"] = mine["stamp"]


def _stamp(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def _same(now: tuple[Any, ...], before: tuple[Any, ...] | None) -> bool:
    """Whether nothing has changed: farms are told apart by being the same object, for each change makes another."""
    return before is not None and all(
        one is other or (isinstance(one, str | dict) and one == other) for one, other in zip(now, before, strict=True)
    )


def is_kept() -> bool:
    """Whether something of this visitor's lies on the device, as far as is known."""
    mine = state.memory(_KEY)
    return "sent" in mine and not mine.get("refused")


def is_refused() -> bool:
    """Whether the browser said that it keeps nothing."""
    return bool(state.memory(_KEY).get("refused"))


def forget() -> None:
    """Take everything off the device and out of the session: the next person at this computer finds a new visitor's.

    The language stays: whoever forgets reads that it is done, and that it can be taken back for a minute.
    """
    jobs.drop()
    edition, before, chosen = state.edition(), history.moment(), language.chosen()
    st.session_state.clear()
    language.choose(chosen)
    st.session_state["edition"] = edition + 1
    st.session_state["link_read"] = True
    st.session_state[_KEY] = {"begun": True, "asked": True, "forgot": secrets.token_hex(6)}
    history.forgotten(before)
    state.say_once("opened", [state.words()("screen.device.forgotten")])


# The component


@cache
def _component() -> Any:
    return st.components.v2.component("renovation.device", js=Path(__file__).with_name("device.js").read_text("utf-8"))


def _mount(do: str, *, stamp: str = "", text: str | None = None, wait: bool = False) -> None:
    """Tell the browser what to do; ask what it keeps until it has been asked once."""
    mine = state.memory(_KEY)
    ask = None if "asked" in mine else mine.setdefault("ask", secrets.token_hex(6))
    if not wait:
        mine["asked"] = True
    _component()(
        key=_KEY + "_store",
        data={"ask": ask, "wait": wait, "do": do, "stamp": stamp, "text": text},
        on_heard_change=_heard,
        on_missed_change=_missed,
        on_refused_change=_refused,
    )


def _told(name: str) -> Any:
    """What the browser told in this run."""
    return st.session_state[_KEY + "_store"].get(name)


def _heard() -> None:
    told = _told("heard")
    state.memory(_KEY)["heard"] = told if isinstance(told, Mapping) else {}
    state.memory(_KEY)["asked"] = True


def _heard_nothing() -> None:
    """Begin without what is kept, and leave it where it is."""
    state.memory(_KEY).update(heard={}, asked=True, leave=True)


def _missed() -> None:
    state.unasked()
    state.memory(_KEY).pop("sent", None)


def _refused() -> None:
    state.unasked()
    state.memory(_KEY)["refused"] = True
