"""Every page of every demo farm in every language, part by part: nothing fails, and no English of ours is left."""

import json

import pytest
from screens.test_strangers import IDS, strings
from screens.visiting import farm as farm_of
from screens.visiting import visit
from words.foreign import english_in, keys, shipped, typed

from renovation.inputs import demo_names
from renovation.screens import pages
from renovation.screens.controls.text import plain
from renovation.words import Words, languages

CODE_OF_OURS = {
    "styles",
    "js_content",
    "code_text",
    "component_name",
    "json",
    "autocomplete",
    "icon",
    "url",
    "mime_type",
    "type",
}
"""Fields of a message that nobody reads: scripts, names of drawings' signs, kinds of files, addresses."""
UNSEEN = {"crop"}
"""What a drawing sorts its bars by, and shows nowhere."""
READ_IN_CHARTS = {"title", "text", "description", "name", "labelExpr", "label"}
KEYS = Words("en").keys()
OTHERS = [language for language in languages() if language != "en"]


def said_on(at):
    """Each text that the page shows, its tables' cells and its charts' words and names among them."""

    def walk(block):
        for child in block.children.values():
            proto = getattr(child, "proto", None)
            if proto is not None:
                for (_, field), text in strings(proto):
                    if field == "spec":
                        yield from chart(json.loads(text))
                    elif field not in IDS and field not in CODE_OF_OURS:
                        yield text.replace("\\$", "$")  # as it is shown
            if hasattr(child, "children"):
                yield from walk(child)
            elif child.type in ("arrow_data_frame", "arrow_table", "table"):
                frame = child.value
                yield from (str(cell) for cell in (*frame.columns, *frame.to_numpy().ravel()))

    yield from walk(at._tree)


def chart(node, key=""):
    """What a drawing says: titles, texts, what is read aloud, and the names in its data."""
    if isinstance(node, dict):
        for name, below in node.items():
            yield from chart(below, f"data.{name}" if key.startswith("data") or key == "datasets" else name)
    elif isinstance(node, list):
        for below in node:
            yield from chart(below, key)
    elif isinstance(node, str) and (key in READ_IN_CHARTS or key.startswith("data.")):
        yield node


def parts(at):
    """Each part of a page that a visitor may turn to."""
    yield at
    for key in [group.key for group in at.button_group if group.key and group.key.startswith("section.")]:
        tabs = f"screen.{key.removeprefix('section.').split('|')[0]}.tab."
        for name in (found.removeprefix(tabs) for found in KEYS if found.startswith(tabs)):
            at.button_group(key=key).set_value(name)
            at.run()
            assert not at.exception, (key, name, at.exception[0].message)
            yield at


@pytest.mark.long
@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("farm", demo_names())
def test_no_english_is_left_on_any_page(farm, language):
    own, found, seen = frozenset(), {}, set()
    for page in pages.PAGES:
        at = visit(page.name, farm=farm, language=language)
        if not own:
            own = frozenset({*typed(farm_of(at)), *shipped(), *keys(), *UNSEEN})
            own |= {plain(text) for text in own}
        for part in parts(at):
            new = set(said_on(part)) - seen
            seen |= new
            found |= {text[:200]: runs for text in new if (runs := english_in(text, language, own))}
    assert found == {}
    assert len(seen) > 500
