"""The fifty hardest words: each is gone from the pages, or explained at the foot of every page that says it."""

import pytest
from factories import some_plain
from screens.visiting import choose, visit
from streamlit.testing.v1 import AppTest

from renovation.screens.pages import PAGES
from renovation.show.hard import explained, forms_of, keys_of, said_in
from renovation.words import Words

WORDS = Words("en")
TITLE = WORDS("hard_page.title")
IN_FILES = ("error.", "instead.", "hard.")
"""What is said of a file's own keys, and the list itself."""


def _script(page):
    """One page with its foot, as the entry script draws it."""
    from renovation.screens import entry
    from renovation.screens.controls import drivers, sidebar
    from renovation.screens.memory import heard, state
    from renovation.screens.pages import PAGES
    from renovation.screens.parts import hard

    heard.listen()
    state.begin_run()
    drivers.read_link()
    sidebar.draw()
    entry.notes()
    {known.name: known.draw for known in PAGES}[page]()
    hard.foot()
    state.end_run()


def box(at):
    """The box at the foot of a page; None where there is none."""
    return next((one for one in at.main.expander if one.label == TITLE), None)


def said_by(at):
    """Every text of a page but those of its foot: running text, numbers, names of fields and what they hold."""
    foot = {one.value for one in box(at).markdown}
    running = (*at.title, *at.header, *at.subheader, *at.markdown, *at.caption, *at.warning, *at.info, *at.error)
    texts = [one.value for one in running if one.value not in foot]
    for one in (*at.metric, *at.text_input, *at.selectbox, *at.multiselect, *at.toggle, *at.button, *at.expander):
        texts += [one.label, str(getattr(one, "help", "") or "")]
    texts += [metric.value for metric in at.metric]
    texts += [str(cell) for table in at.table for cell in (*table.value.columns, *table.value.to_numpy().ravel())]
    return "\n".join(text for text in texts if text != TITLE)


def test_there_are_fifty():
    keys = [*keys_of("hard", WORDS), *keys_of("instead", WORDS)]
    assert len(keys) == 50
    forms = [
        form for group in ("hard", "instead") for key in keys_of(group, WORDS) for form in forms_of(group, key, WORDS)
    ]
    assert len(set(forms)) == len(forms)


def test_a_word_for_which_there_is_a_plainer_one_is_said_nowhere():
    texts = {key: WORDS.text(key) for key in WORDS.keys() if not key.startswith(IN_FILES)}  # noqa: SIM118 - no mapping
    assert {key: found for key, text in texts.items() if (found := said_in(text, WORDS, "instead"))} == {}


def test_an_explanation_is_short_and_uses_no_word_of_the_list_but_its_own():
    for key in keys_of("hard", WORDS):
        means = WORDS(f"hard.{key}.means")
        assert len(means.split()) <= 24, key
        assert said_in(means, WORDS, "instead") == []


@pytest.mark.parametrize("page", some_plain([page.name for page in PAGES], ["compare", "lender"]))
def test_every_hard_word_of_a_page_is_explained_at_its_foot(page):
    at = AppTest.from_function(_script, kwargs={"page": page}, default_timeout=60).run()
    assert not at.exception
    found = said_in(said_by(at), WORDS)
    assert found
    told = " ".join(entry.value for entry in box(at).markdown)
    assert [key for key in found if explained([key], WORDS)[0].split(":")[0] not in told] == []


def test_the_sources_explain_all_of_them():
    at = choose(visit("sources"), "sources", "words")
    shown = " ".join(entry.value for entry in at.markdown)
    assert all(WORDS(f"hard.{key}.means").split(".")[0] in shown.replace("\\", "") for key in keys_of("hard", WORDS))
