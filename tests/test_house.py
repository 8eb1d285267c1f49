"""The house keeps its shape: imports go down, Streamlit stays upstairs, sentences stay in the catalogue."""

import ast
import re
from pathlib import Path

import pytest

import renovation

ROOT = Path(renovation.__file__).parent.parent
PACKAGE = ROOT / "renovation"
FILES = sorted([*PACKAGE.rglob("*.py"), ROOT / "app.py"])
FLOORS = {
    "version": -1,
    "types": -1,
    "whole": -1,
    "on_demand": -1,
    "aside": -1,
    "money": 0,
    "inputs": 0,
    "words": 0,
    "defaults": 0,
    "tree": 1,
    "farm": 2,
    "decide": 3,
    "show": 4,
    "farms": 4,
    "screens": 5,
    "commands": 5,
    "app": 5,
    "__main__": 5,
}
BESIDE = {("inputs", there) for there in ("words", "defaults", "money")} | {
    ("app", "screens"),
    ("__main__", "commands"),
    ("show", "farms"),
}
"""Rooms of one floor that may import each other: inputs ask the words and money's formulas, an entry opens pages,

what many farms add up to is shown."""


def room(path):
    """The room that a file belongs to."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return parts[1] if parts[0] == "renovation" and len(parts) > 1 else parts[0]


def imports(tree):
    """Every module that a file imports, wherever in the file it does."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def wrong_imports(source, home):
    """The imports of a file in `home` that go up, or to another room of its own floor."""
    for module in imports(ast.parse(source)):
        parts = module.split(".")
        there = parts[1] if parts[0] == "renovation" and len(parts) > 1 else parts[0]
        if there not in FLOORS or there == home or (home, there) in BESIDE:
            continue
        if FLOORS[there] >= FLOORS[home]:
            yield module


def parsed(path):
    return ast.parse(path.read_text("utf-8"))


def test_every_room_has_a_floor():
    assert {room(path) for path in FILES} - {"__init__"} <= set(FLOORS)


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_nothing_imports_upward(path):
    home = room(path)
    if home != "__init__":  # the package's own front door may name any room
        assert list(wrong_imports(path.read_text("utf-8"), home)) == []


def graph():
    """Each module of the package with the modules of the package that it imports when it is itself imported."""
    names = {}
    for path in PACKAGE.rglob("*.py"):
        parts = path.relative_to(ROOT).with_suffix("").parts
        names[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return {name: at_import(path.read_text("utf-8"), name, names) for name, path in names.items()}


def at_import(source, name, names):
    """The package's modules that a file imports at its head, in its functions too, but not for its types alone."""
    tree = ast.parse(source)
    typing_only = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and getattr(node.test, "id", "") == "TYPE_CHECKING"
        for inner in ast.walk(node)
    }
    found = set()
    for node in ast.walk(tree):
        if id(node) in typing_only or not isinstance(node, ast.Import | ast.ImportFrom):
            continue
        wanted = list(imports(ast.Module([node], [])))
        deepest = {wanted[0]} if isinstance(node, ast.ImportFrom) else set(wanted)
        deepest |= {module for module in wanted[1:] if module in names}
        if len(deepest & set(names)) > 1:
            deepest -= {wanted[0]}  # a module taken from its package: the package itself is only its shelf
        found |= {module for module in deepest if module in names}
    return found - {name}


def circles(edges):
    """Groups of modules that reach each other by their imports."""
    reach = {}
    for start in edges:
        seen, left = set(), [start]
        while left:
            for there in edges[left.pop()] - seen:
                seen.add(there)
                left.append(there)
        reach[start] = seen
    together = {frozenset(b for b in reach[a] if a in reach[b]) for a in edges if a in reach[a]}
    return sorted(map(sorted, together))


def test_no_circle_of_imports_is_left_in_the_package():
    assert circles(graph()) == []


def test_a_circle_would_be_caught():
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}}) == [["a", "b", "c"]]
    assert at_import("def f():\n    from renovation.b import x", "renovation.a", {"renovation.b": 0}) == {
        "renovation.b"
    }


def test_an_upward_import_would_be_caught():
    assert list(wrong_imports("from renovation.farm import flows", "tree"))
    assert list(wrong_imports("def f():\n    import renovation.show.compare.charts", "decide"))
    assert list(wrong_imports("from renovation import inputs", "money"))
    assert list(wrong_imports("from renovation.inputs import Scenario", "words"))
    assert not list(wrong_imports("from renovation.words import Words", "inputs"))


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_streamlit_is_imported_only_by_screens_and_the_entry_script(path):
    if room(path) not in ("screens", "app"):
        assert not [module for module in imports(parsed(path)) if module.split(".")[0] == "streamlit"]


# The guide

NAMED = re.compile(r"`([\w./-]+(?:/|\.py|\.toml|\.md))`")
"""A folder or a file that a text names."""


def not_there(text):
    """Folders and files that a text names, each by the end of its path, and the repository lacks."""
    inside = [path for top in ("renovation", "tests", "scenarios", ".ci") for path in (ROOT / top).rglob("*")]
    known = [f"/{path.relative_to(ROOT).as_posix()}{'/' * path.is_dir()}" for path in [*ROOT.glob("*"), *inside]]
    return [name for name in NAMED.findall(text) if not any(path.endswith(f"/{name}") for path in known)]


def test_the_guide_names_only_what_is_there():
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    assert len(NAMED.findall(text)) > 40
    assert not_there(text) == []


def test_a_file_that_is_not_there_would_be_caught():
    assert not_there("`renovation/money/` `crowns.py` `renovation/farms/lost.py` `lost/`") == [
        "renovation/farms/lost.py",
        "lost/",
    ]


# Sentences

STRICT = ("show", "screens", "commands", "app", "__main__")
WORD = re.compile(r"[(\"'“]?[^\W\d_][^\W\d_'’-]*[,.;:!?)\"'”]*")
MARKUP = re.compile(r"<[^<>]*>|[^{}<>]*\{[^{}]*:[^{}]*\}")
"""HTML tags and CSS rules."""


def is_sentence(text):
    """Whether a text holds three words in a row."""
    in_a_row = 0
    for token in MARKUP.sub(" | ", text).split():
        in_a_row = in_a_row + 1 if WORD.fullmatch(token) else 0
        if in_a_row >= 3:
            return True
    return False


def spelled(node):
    """The text of a string or f-string, each fact standing as a mark."""
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else ""
    return "".join(part.value if isinstance(part, ast.Constant) else "0" for part in node.values)


def is_maths_text(node):
    """Whether a node only words a programmer's error: `raise`, `assert`, an exception's own words, a checked name."""
    if isinstance(node, ast.Raise | ast.Assert):
        return True
    if not isinstance(node, ast.Call):
        return False
    name = getattr(node.func, "id", getattr(node.func, "attr", ""))
    return name == "__init__" or name.lstrip("_").startswith("check")


def exempt(tree, strict):
    """Nodes that may hold sentences: docstrings, declared units, citations, and errors of pure maths."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            yield node.value
        is_quantity = isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Quantity"
        is_citation = isinstance(node, ast.keyword) and node.arg == "citation"
        if is_quantity or is_citation or (not strict and is_maths_text(node)):
            yield from ast.walk(node)


def sentences(source, strict):
    """Sentences that stand in code."""
    tree = ast.parse(source)
    passed_over = {id(node) for node in exempt(tree, strict)}
    passed_over |= {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    for node in ast.walk(tree):
        spoken = isinstance(node, ast.Constant | ast.JoinedStr) and id(node) not in passed_over
        if spoken and is_sentence(spelled(node)):
            yield node.lineno, spelled(node)


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_sentence_stands_in_code(path):
    strict = room(path) in STRICT or path == PACKAGE / "inputs" / "errors.py"
    assert list(sentences(path.read_text("utf-8"), strict)) == []


def test_a_sentence_in_code_would_be_caught():
    assert list(sentences('print("This pays back soon.")', strict=False))
    assert list(sentences('x = f"{way} pays back in {years}"', strict=False))
    assert list(sentences('raise ValueError("the rate is missing")', strict=True))
    assert list(sentences('html = "<p>Side graft pays back</p>"', strict=True))
    assert not list(sentences('raise ValueError("the rate is missing")', strict=False))
    assert not list(sentences('"""A docstring may speak freely."""', strict=True))
    assert not list(sentences('css = "td { margin: 0 auto } p.note { color: red }"', strict=True))
    assert not list(sentences('unit = Quantity("months after the anchor")', strict=True))


def test_one_file_alone_knows_dask():
    knows = [
        path.relative_to(PACKAGE).as_posix()
        for path in FILES
        if {module.split(".")[0] for module in imports(parsed(path))} & {"dask", "distributed"}
    ]
    assert knows == ["farms/machines.py"]
