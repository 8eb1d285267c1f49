"""Every call of the screen library in the source is given words that are ours, or a stranger's said plainly."""

import ast
import inspect

import pytest
import streamlit as st
from screens.said import Source, parameters, raw_parameters, sources


def test_every_text_of_every_call_is_ours_or_said_plainly():
    assert list(Source(sources()).unsafe()) == []


def test_the_screen_library_says_which_texts_it_reads_as_formatting():
    """From its documentation: a call that it gains, or a text that it begins to read so, is looked at by itself."""
    found = {name: set(places) for name, places in parameters().items()}
    assert len(found) > 40
    assert found["metric"] == {"label", "value", "delta", "help"}
    assert found["pills"] == {"label", "options", "format_func", "help"}
    assert found["expander"] >= {"label"}
    assert all(
        {"label", "help"} <= found[name] for name in ("button", "toggle", "text_input", "selectbox", "file_uploader")
    )
    assert all(
        "body" in found[name]
        for name in ("title", "header", "subheader", "markdown", "caption", "error", "warning", "toast")
    )


STRANGE = [
    "st.write(scenario.about.name)",
    "st.write('a', scenario.about.name)",
    "st.metric(stand.name, words('unit.trees', n=2))",
    "st.metric(words('screen.plan.none_now'), stand.name)",
    "st.metric('a', 'b', stand.name)",
    "st.header(scenario.about.name)",
    "st.title(f'**{scenario.about.name}**')",
    "st.caption('a ' + stand.name)",
    "st.caption(words('screen.compare.untouched', stand=stand.name))",
    "st.caption(words('screen.compare.beside', n=stand.name))",
    "st.toast(stand.name)",
    "st.error(str(error))",
    "st.button('a', help=stand.name)",
    "left.button(stand.name)",
    "st.expander(stand.name)",
    "st.tabs([stand.name for stand in scenario.stands])",
    "st.pills('a', keys, format_func=lambda key: stand.name)",
    "st.pills('a', [stand.name])",
    "st.radio('a', names)",
    "st.markdown(' '.join(stand.name for stand in scenario.stands))",
    "st.markdown(stand.name if busy else plain(stand.name))",
    "name = stand.name\nst.markdown(name)",
    "name = plain(stand.name)\nname += stand.name\nst.markdown(name)",
    "said = []\nsaid.append(stand.name)\nst.markdown(' '.join(said))",
    "def draw(label):\n    st.markdown(label)\ndraw('a')\ndraw(stand.name)",
    "def name(stand):\n    return stand.name\nst.markdown(name(stand))",
    "def draw(label, *more):\n    st.markdown(label)\ndraw(*found)",
    "for name in names:\n    st.markdown(name)",
    "names = {1: stand.name}\nst.markdown(names[1])",
    "st.markdown(sentences.lead(farm, words))",
    "st.markdown(**texts)",
    "st.table(frame)",
    "st.table(pd.DataFrame([[stand.name]], columns=['a']))",
    "st.table(pd.DataFrame([['a']], columns=[stand.name]))",
    "frame = pd.DataFrame([[stand.name]])\nst.table(frame.style)",
    "show = st.error if busy else st.warning\nshow(stand.name)",
    "with st.status(stand.name):\n    pass",
    "st.navigation([st.Page(draw, title=stand.name)])",
]


@pytest.mark.parametrize("line", STRANGE)
def test_a_stranger_s_words_are_found_wherever_they_stand(line):
    assert list(Source([("page.py", line)]).unsafe())


def test_no_call_lets_a_text_be_the_source_of_a_page():
    """By name, by place, on a column, or by a call that does nothing else; what allows it is asked of the library."""
    places = {name: taken for name, taken in raw_parameters().items() if taken}
    assert places == {"markdown": (1,), "caption": (1,)}
    allows = list(inspect.signature(st.markdown).parameters)[1]
    for line in (
        f"st.markdown('a', {allows}=True)",
        f"st.write('a', {allows}=True)",
        f"left.caption('a', {allows}=False)",
        "st.markdown('a', True)",
        "st.html('a')",
        "left.html('a')",
        "components.html('a')",
    ):
        assert any("a page's source" in told for told in Source([("page.py", line)]).unsafe()), line


@pytest.mark.long
@pytest.mark.parametrize("line", STRANGE)
def test_a_stranger_s_words_are_found_among_all_the_pages(line):
    assert list(Source([*sources(), ("page.py", line)]).unsafe())


@pytest.mark.parametrize(
    "line",
    [
        "st.markdown(plain(stand.name))",
        "st.markdown(f'**{plain(stand.name)}**')",
        "st.markdown(words('screen.compare.untouched', stand=plain(stand.name)))",
        "st.markdown('\\n'.join(map(plain, said)))",
        "st.caption(words('unit.trees', n=stand.trees))",
        "st.selectbox('a', [stand.name])",
        "def draw(label):\n    st.markdown(label)\ndraw(plain(stand.name))",
        "st.pills('a', keys, format_func=words.month)",
    ],
)
def test_words_that_are_said_plainly_are_let_pass(line):
    assert list(Source([("page.py", line)]).unsafe()) == []


NOT_PLAIN = "as_a_stranger_has_it"
"""A function that none of our files has."""


def without_plain(text):
    """A text with `plain` taken away from one call after the other."""
    lines = text.splitlines(keepends=True)
    for node in ast.walk(ast.parse(text)):
        for name in (node.func, *node.args) if isinstance(node, ast.Call) else ():
            if isinstance(name, ast.Name) and name.id == "plain":
                at, line = name.col_offset, lines[name.lineno - 1].encode()
                changed = (line[:at] + NOT_PLAIN.encode() + line[at + 5 :]).decode()
                yield changed.strip(), "".join([*lines[: name.lineno - 1], changed, *lines[name.lineno :]])


@pytest.mark.long
def test_each_place_where_words_are_said_plainly_today_would_be_missed():
    texts = sources()
    changes = [
        (line, Source([*texts[:place], (name, changed), *texts[place + 1 :]]))
        for place, (name, text) in enumerate(texts)
        for line, changed in without_plain(text)
    ]
    assert len(changes) > 80
    assert not any(NOT_PLAIN in text for _, text in texts)
    assert [line for line, source in changes if not list(source.unsafe())] == []
