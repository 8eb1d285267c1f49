"""Scenario files in, every mistake listed at once, and the tables that say a scenario; `document` writes them."""

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from renovation.inputs.appraisal import Appraisal
from renovation.inputs.defaults import DEFAULT_CURRENCY, default_materials, default_supplies, default_techniques
from renovation.inputs.errors import MOST_TOLD, Problem, ScenarioError, as_written, key_text
from renovation.inputs.findings import problems_of
from renovation.inputs.materials import Material
from renovation.inputs.overrides import LEAVE_OUT, Table, expand, priced, shrink, tupled
from renovation.inputs.parse import MOST_BYTES, bounded, parsed
from renovation.inputs.planted import as_stated
from renovation.inputs.quantities import MOST_NAMED, FrozenDict
from renovation.inputs.scenario import Scenario
from renovation.inputs.seasons import season_from_window, window_names
from renovation.inputs.shapes import bounds, fields
from renovation.inputs.techniques import Supplies, Technique

OWN_FIGURES = "own_figures"
EVEN_SEASON = (1 / 12,) * 12


def load_scenario(path: str | Path) -> Scenario:
    """Read a scenario file.

    Errors: ScenarioError listing every mistake; also for a folder and a missing, empty, binary or large file.

    Example:
        >>> from renovation.inputs import demo_names, scenario_folder
        >>> load_scenario(scenario_folder() / f"{demo_names()[0]}.toml").about.invented
        True
    """
    return opened(path)[0]


def opened(path: str | Path) -> tuple[Scenario, str]:
    """Read a scenario file, and give its text too: what is written over it keeps its comments.

    Errors: as of `load_scenario`.
    """
    content, name = content_of(path)
    return read_scenario(content, name), content.decode("utf-8")


def content_of(path: str | Path) -> tuple[bytes, str]:
    """What stands in a file that a person names, no more than is read of any, and the file's name.

    Errors: ScenarioError for a folder and a file that is missing or cannot be opened.
    """
    path = Path(path)
    name = path.name or str(path)
    if path.is_dir():
        raise ScenarioError([Problem(name, "", "is_folder")])
    try:
        with path.open("rb") as file:
            return file.read(MOST_BYTES + 1), name
    except FileNotFoundError:
        raise ScenarioError([Problem(name, "", "missing_file")]) from None
    except OSError:
        raise ScenarioError([Problem(name, "", "unreadable_file")]) from None


def read_scenario(content: str | bytes, name: str) -> Scenario:
    """Read a scenario from the content of a file called `name`, such as an upload.

    Errors: ScenarioError listing every mistake.

    Example:
        >>> from renovation.inputs import demo_scenario, write_scenario
        >>> scenario = demo_scenario()
        >>> read_scenario(write_scenario(scenario), "again.toml") == scenario
        True
    """
    try:
        return _Reader(parsed(content, name), name).scenario()
    except RecursionError:
        raise ScenarioError([Problem(name, "", "nested_too_deep")]) from None


def scenario_of(tables: Table, name: str) -> Scenario:
    """Read a scenario from the tables of a file called `name`, as `written` gives them.

    Errors: ScenarioError listing every mistake.
    """
    try:
        return _Reader(bounded(tables, name), name).scenario()
    except RecursionError:
        raise ScenarioError([Problem(name, "", "nested_too_deep")]) from None


class _Reader:
    """Turns one parsed file into a scenario, gathering mistakes on the way."""

    def __init__(self, raw: Table, file: str) -> None:
        self.raw, self.file = tupled(raw), file
        self.problems: list[Problem] = []
        self.more = 0
        appraisal = self._section("appraisal")
        currency, rate = appraisal.get("currency"), appraisal.get("currency_per_usd", 1.0)
        accepted = bounds(fields(Appraisal)["currency_per_usd"])
        sound = isinstance(rate, int | float) and not isinstance(rate, bool) and accepted.holds(rate)
        self.currency = currency if isinstance(currency, str) else DEFAULT_CURRENCY
        self.per_usd = float(rate) if sound else 1.0

    def scenario(self) -> Scenario:
        """Expand, validate, and raise all mistakes at once."""
        data = {key: value for key, value in self.raw.items() if key != "consider"}
        data["techniques"] = self._techniques()
        if "materials" in self.raw:
            data["materials"] = self._materials()
        data["supplies"] = self._supplies()
        if "market" in self.raw:
            data["market"] = self._market()
        self._check_comparison(data["techniques"])
        self._check_premiums(data["techniques"])
        try:
            scenario = Scenario.model_validate(data)
        except ValidationError as error:
            told, more = problems_of(error, Scenario, self.raw, self.file, self.currency)
            if self.problems:  # what `consider` lacks is told already
                told = tuple(problem for problem in told if problem.code != "no_technique")
            raise ScenarioError([*self.problems, *told], self.more + more) from None
        if self.problems:
            raise ScenarioError(self.problems, self.more)
        return scenario

    def _section(self, key: str) -> Mapping[str, Any]:
        section = self.raw.get(key)
        return section if isinstance(section, Mapping) else {}

    def _refuse(self, code: str, path: tuple[str | int, ...], found: Any = "", **facts: Any) -> None:
        if len(self.problems) >= MOST_TOLD:
            self.more += 1
            return
        shown = "" if found == "" else as_written(found)
        self.problems.append(Problem(self.file, key_text(self.raw, path), code, shown, FrozenDict(facts)))

    # Techniques

    def _techniques(self) -> Any:
        """The considered techniques: defaults in the scenario's currency, overrides in place."""
        stated = self.raw.get("techniques", {})
        if not isinstance(stated, Mapping):
            return stated
        considered = self._considered(stated)
        for key in stated:
            if key not in considered and isinstance(self.raw.get("consider"), tuple):
                self._refuse("not_considered", ("techniques", key), like=key, choices=considered)
        return {key: table for key in considered if (table := self._technique(key, stated)) is not None}

    def _considered(self, stated: Mapping[str, Any]) -> tuple[str, ...]:
        """The keys under `consider`, each a default or a variant that has a table of its own."""
        listed = self.raw.get("consider")
        known = tuple(dict.fromkeys([*default_techniques(), *stated]))
        if listed is None:
            self._refuse("consider_missing", ("consider",), choices=known)
            return tuple(stated)
        if not isinstance(listed, tuple) or not all(isinstance(key, str) for key in listed) or not listed:
            self._refuse("consider_no_list", ("consider",), listed, choices=known)
            return tuple(stated)
        if len(listed) > MOST_NAMED:
            self._refuse("list_too_long", ("consider",), len(listed), most=MOST_NAMED)
            listed = listed[:MOST_NAMED]
        for position, key in enumerate(listed):
            if key in listed[:position]:
                self._refuse("listed_twice", ("consider", position), key)
            elif key not in known:
                self._refuse("unknown_technique", ("consider", position), key, like=str(key), choices=known)
        return tuple(key for key in dict.fromkeys(listed) if key in known)

    def _technique(self, key: str, stated: Mapping[str, Any]) -> Any:
        """One technique's full table; None where its base is not known."""
        table = stated.get(key, {})
        if not isinstance(table, Mapping):
            return table
        based_on = table.get("based_on")
        if based_on is not None and not (isinstance(based_on, str) and based_on in default_techniques()):
            known = tuple(default_techniques())
            path = ("techniques", key, "based_on")
            self._refuse("unknown_technique", path, based_on, like=str(based_on), choices=known)
            return None
        base_key = based_on or (key if key in default_techniques() else None)
        if base_key is None and not {"family", "operations"} <= set(table):
            known = tuple(default_techniques())
            self._refuse("based_on_missing", ("techniques", key), like=str(key), choices=known)
            return None
        if OWN_FIGURES in table:
            table = {name: value for name, value in table.items() if name != OWN_FIGURES}
            known = tuple(fields(Technique))
            self._refuse("unknown_key", ("techniques", key, OWN_FIGURES), like=OWN_FIGURES, choices=known)
        shaded = table.get("temporary_shade") is not False
        base = priced_technique(base_key, self.currency, self.per_usd, shaded=shaded) if base_key else None
        self._check_left_out(base, table, ("techniques", key))
        return expand(Technique, table if shaded else _take_in_the_open(table, base), base, self.currency)

    def _materials(self) -> Any:
        """The materials stated, each over the one that ships under its name."""
        stated = self.raw["materials"]
        if not isinstance(stated, Mapping):
            return stated
        found = {}
        for name, table in stated.items():
            base = default_materials().get(name)
            shipped = base.model_dump() if base else None
            if isinstance(table, Mapping):
                self._check_left_out(shipped, table, ("materials", name))
            found[name] = expand(Material, table, shipped, self.currency)
        return found

    def _check_left_out(self, base: Table | None, table: Mapping[str, Any], path: tuple[str | int, ...]) -> None:
        """Refuse a `leave_out` that names nothing of its default."""
        if base is None or LEAVE_OUT not in table:
            return
        named = [f"{field}.{name}" for field, below in base.items() if isinstance(below, dict) for name in below]
        known = (*base, *named)
        paths = table[LEAVE_OUT]
        for entry in paths if isinstance(paths, tuple) else (paths,):
            if entry not in known:
                self._refuse("unknown_left_out", (*path, LEAVE_OUT), entry, like=str(entry), choices=known)

    def _supplies(self) -> Any:
        """All supplies: the defaults in the scenario's currency with the overrides in their place."""
        base = priced_supplies(self.currency, self.per_usd)
        stated = self.raw.get("supplies", {})
        if isinstance(stated, Mapping):
            self._check_left_out(base, stated, ("supplies",))
        return expand(Supplies, stated, base, self.currency)

    # Market

    def _market(self) -> Any:
        """The market with its season's shares in place of the name of a window."""
        market = self.raw.get("market")
        season = self._section("market").get("season")
        if not isinstance(season, Mapping) or "shares" in season or "window" not in season:
            return market
        window, mid_share = season["window"], season.get("mid_share")
        kept = {key: value for key, value in season.items() if key != "mid_share"}
        if window not in window_names():
            known = tuple(window_names())
            place = ("market", "season", "window")
            self._refuse("unknown_window", place, window, like=str(window), choices=known)
            return {**self._section("market"), "season": {**kept, "window": None, "shares": EVEN_SEASON}}
        sound = mid_share is None or (
            isinstance(mid_share, int | float) and not isinstance(mid_share, bool) and 0 <= mid_share <= 1
        )
        if not sound:
            self._refuse("wrong_mid_share", ("market", "season", "mid_share"), mid_share)
        made = season_from_window(window, mid_share=mid_share if sound else None)
        return {**self._section("market"), "season": {**kept, "shares": made.shares}}

    # What only the written file can tell

    def _check_comparison(self, techniques: Any) -> None:
        """Refuse a headline that is written but not considered (an unwritten one is chosen by rule)."""
        comparison = self._section("comparison")
        for field in ("headline", "against"):
            key = comparison.get(field)
            if isinstance(key, str) and isinstance(techniques, Mapping) and key not in techniques:
                known = tuple(techniques)
                self._refuse(
                    "technique_not_considered",
                    ("comparison", field),
                    key,
                    like=key,
                    choices=known,
                )

    def _check_premiums(self, techniques: Any) -> None:
        """Refuse a premium for a material that no technique makes."""
        premium = self._section("market").get("premium")
        if not isinstance(premium, Mapping) or not isinstance(techniques, Mapping) or len(premium) > MOST_NAMED:
            return
        own = [table.get("material") for table in techniques.values() if isinstance(table, Mapping)]
        known = tuple(dict.fromkeys([*(str(m) for m in own), *(t.material for t in default_techniques().values())]))
        for material in premium:
            if material not in known:
                place = ("market", "premium", material)
                self._refuse("unknown_material", place, like=str(material), choices=known)


def _take_in_the_open(table: Mapping[str, Any], base: Table | None) -> Mapping[str, Any]:
    """Where no shade is grown `take` and `take_without_shade` are one figure: one that is stated is both."""
    one = base is not None and base["take_without_shade"] is not None
    if "take" not in table and "take_without_shade" in table:
        return {**table, "take": table["take_without_shade"]}
    if one and "take_without_shade" not in table and "take" in table:
        return {**table, "take_without_shade": table["take"]}
    return table


@lru_cache(maxsize=256)
def priced_technique(key: str, currency: str, per_usd: float, shaded: bool = True) -> Table:
    """A default technique's table in a currency; shared, so never changed in place.

    shaded: False gives what the way is where no temporary shade is grown: its take without shade, and no
    temporary crop, for that is the shade. A way without that choice stays as it is.
    """
    table = priced(Technique, default_techniques()[key].model_dump(), currency, per_usd)
    without = table["take_without_shade"]
    return table if shaded or without is None else {**table, "take": without, "intercrop": ()}


@lru_cache(maxsize=64)
def priced_supplies(currency: str, per_usd: float) -> Table:
    """The default supplies' table in a currency; shared, so never changed in place."""
    return priced(Supplies, default_supplies().model_dump(), currency, per_usd)


# Out


def written(scenario: Scenario) -> Table:
    """The tables of a scenario's file, in the order in which people read them."""
    data = as_stated(scenario).model_dump()
    currency, per_usd = scenario.appraisal.currency, scenario.appraisal.currency_per_usd or 1.0
    techniques, supplies = data["techniques"], data["supplies"]
    left: Table = {"techniques": {}, "materials": {}, "supplies": {"items": {}, "tools": {}}}
    table = shrink(Scenario, {**data, **left}, None, currency)
    del table["supplies"], table["techniques"]
    tables = {key: _written_technique(key, technique, currency, per_usd) for key, technique in techniques.items()}
    own = {key: entry for key, entry in tables.items() if entry}
    changed = shrink(Supplies, supplies, priced_supplies(currency, per_usd), currency)
    _name_window(scenario, table)
    return {
        "consider": list(techniques),
        **table,
        **({"techniques": own} if own else {}),
        **({"materials": stated} if (stated := _written_materials(data["materials"], currency)) else {}),
        **({"supplies": changed} if changed else {}),
    }


def _written_technique(key: str, technique: Table, currency: str, per_usd: float) -> Table:
    """What a technique states in place of its default."""
    base_key = technique["based_on"] or key
    if base_key not in default_techniques():
        return shrink(Technique, technique, None, currency)
    shaded = technique["temporary_shade"] is not False
    return shrink(Technique, technique, priced_technique(base_key, currency, per_usd, shaded=shaded), currency)


def _written_materials(materials: Table, currency: str) -> Table:
    """What each material states in place of the one that ships; nothing of one that is as it ships."""
    shipped = default_materials()
    bases = {name: shipped[name].model_dump() if name in shipped else None for name in materials}
    tables = {name: shrink(Material, entry, bases[name], currency) for name, entry in materials.items()}
    return {name: table for name, table in tables.items() if table or bases[name] is None}


def _name_window(scenario: Scenario, table: Table) -> None:
    """Write a season by the name of its window where that says it all."""
    season = scenario.market.season
    if season.window in window_names() and season_from_window(season.window) == season:
        table["market"]["season"] = {"window": season.window}
