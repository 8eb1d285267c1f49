"""A page without a browser: opened, typed into, its parts chosen, a file given to it."""

from streamlit.testing.v1 import AppTest

from renovation.screens.controls.text import plain


def _script(page):
    """One page with the sidebar, as the entry script draws it."""
    from renovation.screens import entry
    from renovation.screens.controls import drivers, sidebar
    from renovation.screens.memory import state
    from renovation.screens.pages import offered

    state.begin_run()
    drivers.read_link()
    sidebar.draw()
    entry.notes()
    {known.name: known.draw for known in offered()}[page]()
    drivers.write_link()
    state.end_run()


def visit(page="compare", **link):
    """Open a page, by a link where one is given."""
    at = AppTest.from_function(_script, kwargs={"page": page}, default_timeout=60)
    for name, value in link.items():
        at.query_params[name] = value
    at.run()
    assert not at.exception, at.exception[0].message
    return at


def key(at, name):
    return f"{name}|{at.session_state['edition']}"


def choose(at, page, section):
    at.button_group(key=key(at, f"section.{page}")).set_value(section)
    return run(at)


def run(at):
    at.run()
    assert not at.exception, at.exception[0].message
    return at


def type_in(at, name, text):
    at.text_input(key=key(at, name)).set_value(text)
    return run(at)


def farm(at):
    return at.session_state["scenario"]


def said(at):
    return [entry.value for kind in (at.error, at.warning, at.success) for entry in kind]


def upload(at, name, content):
    at.file_uploader(key=key(at, "upload")).set_value((name, content, "application/toml"))
    return run(at)


def header(at):
    return at.header[0].value


def open_with(page, **changes):
    """A page on the demo farm changed, as if it had been changed on another page."""
    at = visit(page)
    at.session_state["scenario"] = farm(at).changed(**changes)
    return run(at)


def shown(at):
    """Every word in running text."""
    return " ".join(block.value for block in (*at.header, *at.markdown, *at.caption))


def tables_of(at):
    """Every table on the page, cell by cell."""
    return [table.value.to_numpy().tolist() for table in at.table]


def cells(table):
    """A table's cells as a page says them."""
    return [[plain(cell) for cell in row] for row in table.rows]


def press(at, name):
    at.button(key=key(at, name)).click()
    return run(at)
