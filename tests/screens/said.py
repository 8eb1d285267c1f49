"""Reads the dashboard's source: is every text that the page may read as formatting ours, or said plainly?

Which arguments those are, the screen library's own documentation says. A text is safe where it is written in the
source, comes from the catalogue with facts that are safe, is a number in words, or went through `plain`; names are
followed to where they are set, parameters to every call, functions to what they return. What cannot be followed is
not safe. No call may let a text be a page's source, whatever it is given.
"""

import ast
import inspect
import re
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path

import streamlit as st

import renovation.screens
from renovation.words import Words

ROOM = Path(renovation.screens.__file__).parent
ENTRY = ROOM.parent.parent / "app.py"
NOT_TEXT = {"width", "bind", "pages", "cursor", "menu_items"}
"""Parameters in whose documentation the word stands, and which hold no text; nor do those that are yes or no."""
RAW, LETS_RAW = {"html", "iframe"}, "unsafe"
"""Calls that put a page's source into the page, and how the parameters that allow it begin."""
NUMBERS = {"number", "percent", "rate", "money", "round_money", "currency_sign", "month_name", "month", "day", "span"}
"""What the catalogue makes of numbers and months."""
JOINING = {"join", "strip", "rstrip", "capitalize", "casefold"}
"""Methods that give safe text from safe text."""
CATALOGUE = Words("en")._entries
PARTS = {
    ast.Constant: (),
    ast.JoinedStr: ("values",),
    ast.FormattedValue: ("value",),
    ast.IfExp: ("body", "orelse"),
    ast.BoolOp: ("values",),
    ast.BinOp: ("left", "right"),
    ast.Tuple: ("elts",),
    ast.List: ("elts",),
    ast.Dict: ("values",),
    ast.Starred: ("value",),
    ast.NamedExpr: ("value",),
    ast.Subscript: ("value",),
    ast.GeneratorExp: ("elt",),
    ast.ListComp: ("elt",),
    ast.DictComp: ("value",),
    ast.Lambda: ("body",),
}
"""Kinds of expression that are as safe as their parts."""
OPENING = ast.GeneratorExp | ast.ListComp | ast.DictComp | ast.Lambda
"""Those in which names of their own are set."""
Scope = tuple[ast.AST, ...]


@cache
def parameters() -> dict[str, dict[str, int]]:
    """Of each call of the screen library, the parameters that it reads as formatting, with their places."""
    found = {}
    for name in dir(st):
        call = getattr(st, name)
        if name.startswith("_") or not callable(call):
            continue
        section = re.search(r"Parameters\n-+\n(.*?)(?:\n[A-Z]\w+\n-+\n|\Z)", inspect.getdoc(call) or "", re.DOTALL)
        entries = re.split(r"^(?=\*{0,2}\w[\w, ]*:)", section[1] if section else "", flags=re.MULTILINE)
        names = {entry.split(":")[0].strip(" *") for entry in entries if "arkdown" in entry} - NOT_TEXT
        taken = inspect.signature(call).parameters
        names = {one for one in names if taken[one].annotation != "bool"}
        places = list(taken)
        if names:
            found[name] = {one: places.index(one) for one in names}
    return found


@cache
def parsed(name: str, text: str) -> ast.Module:
    """A file's tree, read once."""
    return ast.parse(text)


class Source:
    """The source of the dashboard: its functions, its calls, and where each stands."""

    def __init__(self, texts: Iterable[tuple[str, str]]) -> None:
        """Read texts by name."""
        self.calls: list[tuple[str, ast.Call, Scope]] = []
        self.functions: dict[str, list[tuple[ast.FunctionDef, Scope]]] = {}
        self.handed_on: list[tuple[str, ast.Attribute]] = []
        """Where a call of the screen library stands without being made: what it is given is not seen."""
        self.imports: dict[ast.AST, dict[str, bool]] = {}
        for name, text in texts:
            module = parsed(name, text)
            self.imports[module] = {
                alias.asname or alias.name: (node.module or "").startswith("renovation.screens")
                for node in ast.walk(module)
                if isinstance(node, ast.ImportFrom)
                for alias in node.names
            }
            self._walk(name, module, ())

    def _walk(self, name: str, node: ast.AST, scope: Scope) -> None:
        if isinstance(node, ast.FunctionDef):
            self.functions.setdefault(node.name, []).append((node, scope))
        called = scope and isinstance(scope[-1], ast.Call) and scope[-1].func is node
        if isinstance(node, ast.Attribute) and ast.unparse(node.value) == "st" and node.attr in parameters():
            self.handed_on += [] if called else [(name, node)]
        if isinstance(node, ast.Call):
            self.calls.append((name, node, (*scope, node)))
        for child in ast.iter_child_nodes(node):
            self._walk(name, child, (*scope, node))

    def unsafe(self) -> Iterator[str]:
        """Every argument that may hold formatting which is not ours, and every call handed on: file, line, source."""
        for name, call, scope in self.calls:
            if _lets_raw(call):
                yield f"{name}:{call.lineno}: {ast.unparse(call)} lets a text be a page's source"
            for argument in _arguments(call):
                if not self.safe(argument, scope):
                    yield f"{name}:{call.lineno}: {ast.unparse(argument)} in {ast.unparse(call.func)}"

        for name, place in self.handed_on:
            yield f"{name}:{place.lineno}: {ast.unparse(place)} is handed on"

    # What is safe

    def safe(self, node: ast.AST, scope: Scope, seen: frozenset[ast.AST] = frozenset()) -> bool:
        """Whether an expression, or each text in it, is ours or said plainly."""
        if node in seen:
            return True  # a circle adds nothing
        seen |= {node}

        if type(node) in PARTS:
            inside = (*scope, node) if isinstance(node, OPENING) else scope
            return all(self.safe(part, inside, seen) for part in _parts(node))
        if isinstance(node, ast.Call):
            return self._safe_call(node, scope, seen)
        if isinstance(node, ast.Attribute):
            if node.attr == "style":
                return self.safe(node.value, scope, seen)
            return node.attr in NUMBERS and _is_words(node.value)
        return isinstance(node, ast.Name) and self._safe_name(node.id, scope, seen)

    def _safe_call(self, call: ast.Call, scope: Scope, seen: frozenset[ast.AST]) -> bool:
        facts = [*call.args, *(keyword.value for keyword in call.keywords)]
        match call.func:
            case ast.Name(id="plain"):
                return True
            case ast.Name(id="str" | "map" | "sorted" | "list" | "tuple"):
                if isinstance(call.args[0], ast.Name) and call.args[0].id == "plain":
                    return True
                return all(self.safe(fact, scope, seen) for fact in facts)
            case ast.Attribute(value=of, attr=attr) if attr in JOINING:
                return all(self.safe(part, scope, seen) for part in (of, *facts))
            case ast.Attribute(value=of, attr=attr) if attr in NUMBERS and _is_words(of):
                return True
            case ast.Attribute(value=of, attr="listing") if _is_words(of):
                return all(self.safe(fact, scope, seen) for fact in facts)
            case ast.Attribute(value=ast.Name(id="pd"), attr="DataFrame"):
                words = [*call.args, *(keyword.value for keyword in call.keywords if keyword.arg == "columns")]
                return all(self.safe(part, scope, seen) for part in words)
        if _is_words(call.func):
            return all(
                self.safe(keyword.value, scope, seen)
                for keyword in call.keywords
                if keyword.arg != "n" or not _has_plurals(call)
            )
        made = self.functions.get(_last(call.func), []) if self._is_ours(call.func, scope) else []
        return bool(made) and all(
            self.safe(returned.value, inner, seen)
            for function, outer in made
            for returned, inner in _returns(function, outer)
            if returned.value is not None
        )

    def _is_ours(self, function: ast.AST, scope: Scope) -> bool:
        """Whether a function that is called is the dashboard's own, so that its name says which."""
        of = function
        while isinstance(of, ast.Attribute):
            of = of.value
        imported = self.imports[scope[0]]
        return isinstance(of, ast.Name) and imported.get(of.id, isinstance(function, ast.Name) or of.id == "self")

    def _safe_name(self, name: str, scope: Scope, seen: frozenset[ast.AST]) -> bool:
        """Whether all that a name may stand for is safe, from the innermost place where it is set."""
        for depth in range(len(scope) - 1, -1, -1):
            place = scope[depth]
            if isinstance(place, ast.GeneratorExp | ast.ListComp | ast.DictComp):
                sources = [loop.iter for loop in place.generators if name in _names(loop.target)]
                if sources:
                    return all(self.safe(source, scope[:depth], seen) for source in sources)
            if isinstance(place, ast.Lambda) and name in [a.arg for a in place.args.args]:
                return False
            if isinstance(place, ast.FunctionDef | ast.Module):
                set_here = list(_set_in(place, name))
                if set_here:
                    inside = (*scope[: depth + 1],)
                    return all(self.safe(value, inside, seen) for value in set_here)
                if isinstance(place, ast.FunctionDef) and name in _parameters(place):
                    return self._safe_parameter(place, name, seen)
        return False

    def _safe_parameter(self, function: ast.FunctionDef, name: str, seen: frozenset[ast.AST]) -> bool:
        """Whether every call of a function gives a safe text for a parameter, or leaves it at a safe default."""
        position = _parameters(function).index(name)
        given = []
        for _, call, scope in self.calls:
            if _last(call.func) != function.name:
                continue
            position_here = position - (_parameters(function)[0] == "self")
            by_name = [keyword.value for keyword in call.keywords if keyword.arg == name]
            by_place = call.args[position_here : position_here + 1] if not by_name else []
            if any(isinstance(arg, ast.Starred) for arg in call.args) or any(k.arg is None for k in call.keywords):
                return False
            given += [(value, scope) for value in (*by_name, *by_place)]
        return bool(given) and all(self.safe(value, scope, seen) for value, scope in given)


def _arguments(call: ast.Call) -> Iterator[ast.AST]:
    """The arguments of a call that the screen library reads as formatting."""
    if not isinstance(call.func, ast.Attribute) or call.func.attr not in parameters():
        return
    places = parameters()[call.func.attr]
    given = {keyword.arg: keyword.value for keyword in call.keywords}
    if call.func.attr == "write":
        yield from call.args
    for name, place in places.items():
        if name == "options" and "format_func" in given:
            continue
        if name in given:
            yield given[name]
        elif place < len(call.args):
            yield call.args[place]
    if None in given or any(isinstance(argument, ast.Starred) for argument in call.args):
        yield call


def _lets_raw(call: ast.Call) -> bool:
    """Whether a call of the screen library puts a page's source into the page, or allows it by name or by place."""
    if not isinstance(call.func, ast.Attribute):
        return False
    taken = raw_parameters().get(call.func.attr, ())
    by_name = any(keyword.arg and keyword.arg.startswith(LETS_RAW) for keyword in call.keywords)
    return by_name or call.func.attr in RAW or any(place < len(call.args) for place in taken)


@cache
def raw_parameters() -> dict[str, tuple[int, ...]]:
    """The places at which a call of the screen library may be allowed to take a page's source."""
    calls = {name: getattr(st, name) for name in dir(st) if not name.startswith("_") and callable(getattr(st, name))}
    found = {}
    for name, call in calls.items():
        taken = inspect.signature(call).parameters
        by_place = {place: one for place, one in enumerate(taken.values()) if one.kind == one.POSITIONAL_OR_KEYWORD}
        found[name] = tuple(place for place, one in by_place.items() if one.name.startswith(LETS_RAW))
    return found


def _has_plurals(call: ast.Call) -> bool:
    """Whether the sentence asked for has plural forms: then its fact `n` is written as a number, or refused."""
    key = call.args[0]
    return isinstance(key, ast.Constant) and isinstance(CATALOGUE[key.value], dict)


def _is_words(node: ast.AST) -> bool:
    """Whether the catalogue is asked: `words`, `words()`, `state.words()`, `voice.words`."""
    return _last(node.func if isinstance(node, ast.Call) else node) == "words"


def _parts(node: ast.AST) -> Iterator[ast.AST]:
    """The parts that an expression is as safe as."""
    for field in PARTS[type(node)]:
        part = getattr(node, field)
        yield from part if isinstance(part, list) else (part,)


def _last(node: ast.AST) -> str:
    """The last part of a dotted name."""
    return node.id if isinstance(node, ast.Name) else node.attr if isinstance(node, ast.Attribute) else ""


def _names(target: ast.AST) -> set[str]:
    return {node.id for node in ast.walk(target) if isinstance(node, ast.Name)}


def _parameters(function: ast.FunctionDef) -> list[str]:
    return [argument.arg for argument in (*function.args.args, *function.args.kwonlyargs)]


def _own(function: ast.AST) -> Iterator[ast.AST]:
    """The nodes of a function or module without those of functions inside it."""
    for child in ast.iter_child_nodes(function):
        yield child
        if not isinstance(child, ast.FunctionDef | ast.Lambda):
            yield from _own(child)


def _set_in(place: ast.AST, name: str) -> Iterator[ast.AST]:
    """What a name is set to inside a function or module."""
    for node in _own(place):
        if isinstance(node, ast.Assign | ast.AnnAssign | ast.AugAssign | ast.NamedExpr) and node.value is not None:
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            for target in targets:
                if isinstance(target, ast.Tuple) and isinstance(node.value, ast.Tuple):
                    yield from (v for t, v in zip(target.elts, node.value.elts, strict=True) if name in _names(t))
                elif not isinstance(target, ast.Subscript | ast.Attribute) and name in _names(target):
                    yield node.value
        elif isinstance(node, ast.For) and name in _names(node.target):
            yield node.iter
        elif isinstance(node, ast.Call) and _last(node.func) in ("append", "extend") and _last_of(node) == name:
            yield from node.args


def _last_of(call: ast.Call) -> str:
    """The name that a method is called on."""
    return call.func.value.id if isinstance(call.func, ast.Attribute) and isinstance(call.func.value, ast.Name) else ""


def _returns(function: ast.FunctionDef, scope: Scope) -> Iterator[tuple[ast.Return, Scope]]:
    """What a function returns or yields, with the scope of its inside."""
    for node in _own(function):
        if isinstance(node, ast.Return | ast.Yield | ast.YieldFrom):
            yield node, (*scope, function)


def sources() -> list[tuple[str, str]]:
    """The dashboard's source files by name."""
    paths = [*sorted(ROOM.rglob("*.py")), ENTRY]
    return [(str(path.relative_to(ENTRY.parent)), path.read_text("utf-8")) for path in paths]
