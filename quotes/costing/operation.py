"""What every operation is: settings it checks itself, and `work`, which says what a place of a given size takes.

An operation reads a `Bench` (settings, places, figures, shop, board) and fills a `Work` (needs, minutes, mixes, waits,
cautions, weight). It knows no prices: `working.estimate` turns needs into lines of cost.
Invariant: more area, length, layers or coats never needs less; nothing to do needs only the set-up.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, ClassVar, Literal, NamedTuple

from quotes.costing.constants import Constant, derived, practice
from quotes.costing.inputs import OWN_FACTS, Construction, Material, Shop
from quotes.costing.places import Place
from quotes.costing.result import LineKind, Problem

REGISTRY: dict[str, Operation] = {}
Meets = Literal["coat", "cut", "touch"]  # what the next step asks of the one before: wet bond, hard enough, dry enough

LISTS = ("materials", "choices")  # kinds of settings that hold several

EXACT = derived("exact_factor", 1.0, 1.0, 1.0, "1", "use is as planned", source="counted, not estimated")
MINUTES = practice("minutes_factor", 1.0, 0.8, 1.5, "1", "real minutes over standard minutes: skill and luck")
CUPS = practice("cup_each", 1, 1, 2, "piece", "cups, sticks and chip brushes for one mix, each")
GLOVES = practice("gloves_resin_step", 2, 1, 3, "piece", "pairs of nitrile gloves for one resin step")
ACETONE = practice("acetone_brush_ml", 60, 30, 150, "mL", "acetone to clean up after one mix")
MASK_SHARE = practice("mask_share_hour", 0.125, 0.05, 0.25, "piece", "share of a cartridge set for an hour")
DUST_BAG = practice("dust_bag_hour", 0.1, 0.04, 0.25, "piece", "share of an extractor bag for an hour of dust")


class Setting(NamedTuple):
    """One thing a recipe may set. A number may be the name of a measure; a default may be a constant of the trade."""

    name: str
    label: str
    kind: Literal["number", "place", "material", "materials", "choice", "choices", "words"]
    default: float | str | tuple[str, ...] | Constant | None = None
    unit: str = ""
    low: float = 0.0
    high: float = 1e6
    choices: tuple[str, ...] = ()

    @property
    def required(self) -> bool:
        """Whether the recipe must say it."""
        return self.default is None


def place(name: str = "place", label: str = "where") -> Setting:
    """A setting that names a place of the recipe."""
    return Setting(name, label, "place")


def number(
    name: str, label: str, default: float | Constant, unit: str = "", low: float = 0.0, high: float = 1e6
) -> Setting:
    """A setting that is a number or the name of a measure."""
    return Setting(name, label, "number", default, default.unit if isinstance(default, Constant) else unit, low, high)


def material(name: str, label: str, default: str) -> Setting:
    """A setting that is the key of a material."""
    return Setting(name, label, "material", default)


def choice(name: str, label: str, default: str, choices: tuple[str, ...]) -> Setting:
    """A setting that is one of a few words."""
    return Setting(name, label, "choice", default, choices=choices)


TIMES = number("times", "how many of them", 1, "piece", 0, 40)
SIDES = Setting("sides", "sides of each", "choice", "one", choices=("one", "both"))
TITLE = Setting("title", "title on the job sheet", "words", "")
NOTE = Setting("note", "a word to the bench", "words", "")


class Wait(NamedTuple):
    """Hours from the end of a step until the next one may coat it, cut it or touch it; and until when a coat bonds."""

    coat_h: float = 0.0
    cut_h: float = 0.0
    touch_h: float = 0.0
    coat_until_h: float | None = None


NO_WAIT = Wait()


class Need(NamedTuple):
    """So much of one material, on paper. `pooled` needs of a job are counted together, `whole` ones rounded up."""

    material: str
    value: float
    unit: str
    formula: str
    factor: Constant
    kind: LineKind
    mixes: int = 0
    loss: float = 0.0
    least: float = 0.0
    pooled: bool = False
    whole: bool = False
    moves_with: str = ""


class Gap(Exception):
    """Something an operation cannot do without is missing, or must not be done; carries the Problem."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.text)
        self.problem = problem


class Work:
    """What one step takes; an operation fills it."""

    __slots__ = ("cautions", "dust", "instruction", "minutes", "minutes_factor", "minutes_formula", "mixes", "needs",
                 "title", "vapour", "wait", "weight_g")  # fmt: skip

    def __init__(self, title: str) -> None:
        self.title = title
        self.instruction = ""
        self.minutes = 0.0
        self.minutes_formula = ""
        self.minutes_factor = MINUTES
        self.needs: list[Need] = []
        self.mixes: list[dict[str, Any]] = []
        self.cautions: list[str] = []
        self.dust = False
        self.vapour = False
        self.weight_g = 0.0
        self.wait = NO_WAIT

    def take(self, key: str, value: float, unit: str, formula: str, factor: Constant = EXACT) -> None:
        """So much of a material."""
        if value > 0:
            self.needs.append(Need(key, value, unit, formula, factor, "material"))

    def pieces(self, key: str, value: float, formula: str, factor: Constant = EXACT) -> None:
        """Whole pieces, counted over the whole job: rounded up once per job, at least one."""
        if value > 0:
            self.needs.append(Need(key, value, "piece", formula, factor, "consumable", pooled=True, whole=True))

    def share(self, key: str, value: float, unit: str, formula: str, factor: Constant = EXACT) -> None:
        """A share of something that serves many jobs, counted over the whole job without rounding."""
        if value > 0:
            self.needs.append(Need(key, value, unit, formula, factor, "consumable", pooled=True))

    def takes_minutes(self, value: float, formula: str, factor: Constant = MINUTES) -> None:
        """Hands-on minutes with their formula in words."""
        self.minutes, self.minutes_formula, self.minutes_factor = value, formula, factor

    def breathing(self, figures: Mapping[str, float]) -> None:
        """Shares of mask cartridges and extractor bag for the minutes of a step with dust or vapour."""
        hours = self.minutes / 60.0
        if self.dust or self.vapour:
            self.share(
                "cartridge-set", figures[MASK_SHARE.name] * hours, "piece", "mask share × hours in dust or vapour"
            )
        if self.dust:
            self.share("dust-bag", figures[DUST_BAG.name] * hours, "piece", "bag share × hours of dust")


class Bench:
    """All that an operation may look at while it works out one step."""

    __slots__ = ("board", "figures", "operation", "places", "settings", "shop", "step", "temperature_c")

    def __init__(
        self, shop: Shop, board: Construction, places: Mapping[str, Place], figures: Mapping[str, float]
    ) -> None:
        self.shop = shop
        self.board = board
        self.places = places
        self.figures = figures
        self.temperature_c = shop.temperature_c
        self.settings: Mapping[str, Any] = {}
        self.operation = ""
        self.step = 0

    def __getitem__(self, constant: Constant) -> float:
        """The shop's value of a constant."""
        return self.figures[constant.name]

    def number(self, name: str) -> float:
        """A setting that is a number."""
        value: float = self.settings[name]
        return value

    def faces(self) -> float:
        """How many faces of the place are worked on: times, twice that where both sides are meant."""
        times: float = self.settings["times"]
        return times * 2.0 if self.settings.get("sides") == "both" else times

    def words(self, name: str) -> str:
        """A setting that is a word, a key or a choice."""
        value: str = self.settings[name]
        return value

    def many(self, name: str) -> tuple[str, ...]:
        """A setting that is a list of keys."""
        value: tuple[str, ...] = self.settings[name]
        return value

    def place(self, name: str = "place") -> Place:
        """A setting that names a place."""
        return self.places[self.settings[name]]

    def work(self, title: str) -> Work:
        """An empty step with its title; the recipe's own title goes first."""
        return Work(self.settings["title"] or title)

    def factor_value(self, material: str, trade: Constant) -> float:
        """The usage factor that will be used for a material of this step."""
        own = self.shop.factors.get((self.operation, material))
        return own.value if own is not None else self.figures[trade.name]

    def material(self, key: str) -> Material:
        """A material of the shop. Raises Gap if it is not there or retired."""
        found = self.shop.materials.get(key)
        if found is None:
            raise Gap(self.problem(key, f"There is no material “{key}” in the store: add it.", f"material:{key}"))
        return found

    def fact(self, key: str, name: str, words: str) -> float:
        """A physical fact of a material, above zero. Raises Gap naming the material and the fact that is missing."""
        found = self.material(key)
        value = getattr(found, name) if name in OWN_FACTS else found.facts.get(name)
        if not value:
            text = f"“{found.name}” has no {words}: add it in the store."
            raise Gap(self.problem(name, text, f"material:{key}"))
        return float(value)

    def problem(self, field: str, text: str, fix: str) -> Problem:
        """A Problem of this step."""
        return Problem(self.operation, field, text, fix)


class Operation:
    """One kind of work. Subclasses give key, name, settings and `work`; defining one registers it."""

    key: ClassVar[str] = ""
    name: ClassVar[str] = ""
    meets: ClassVar[Meets] = "touch"
    settings: ClassVar[tuple[Setting, ...]] = ()

    def __init_subclass__(cls) -> None:
        super().__init_subclass__()
        if not cls.key:
            return
        if cls.key in REGISTRY:
            raise ValueError(f"The operation {cls.key} is there twice.")
        cls.settings = (*cls.settings, TITLE, NOTE)
        REGISTRY[cls.key] = cls()

    def work(self, at: Bench) -> Work:
        """What this step takes at the places and sizes of `at`. Raises Gap if it cannot or must not be done."""
        raise NotImplementedError

    def refusals(self, settings: Mapping[str, Any], board: Construction) -> Iterator[str]:
        """Reasons why this must not be done to such a board, whatever its size."""
        return iter(())

    def check(
        self, settings: Mapping[str, Any], measures: list[str], places: Mapping[str, Any]
    ) -> Iterator[tuple[str, str]]:
        """(setting, sentence) for each setting that is unknown, missing or not of its kind."""
        known = {setting.name: setting for setting in self.settings}
        for name in settings:
            if name not in known:
                yield name, f"there is no setting {name}; there are {', '.join(known)}."
        for setting in self.settings:
            value = settings.get(setting.name)
            if value is None:
                if setting.required:
                    yield setting.name, f"{setting.label} is missing."
                continue
            wrong = _wrong(setting, value, measures, places)
            if wrong:
                yield setting.name, wrong


def _wrong(setting: Setting, value: Any, measures: list[str], places: Mapping[str, Any]) -> str:
    if setting.kind == "number":
        if isinstance(value, str):
            return "" if value in measures else f"{setting.label} names {value}, which is no measure of this recipe."
        if isinstance(value, bool) or not isinstance(value, int | float):
            return f"{setting.label} must be a number or the name of a measure."
        if not setting.low <= value <= setting.high:
            return (
                f"{setting.label} must be between {setting.low:g} and {setting.high:g} {setting.unit}; it is {value:g}."
            )
        return ""
    if setting.kind in LISTS:
        if not (isinstance(value, list | tuple) and value and all(isinstance(one, str) for one in value)):
            return f"{setting.label} must be a list with at least one in it."
        strange = [one for one in value if setting.choices and one not in setting.choices]
        return f"{setting.label}: {strange[0]} is none of {', '.join(setting.choices)}." if strange else ""
    if not isinstance(value, str):
        return f"{setting.label} must be a word."
    if setting.kind == "place" and value not in places:
        return f"{setting.label} names {value}, which is no place of this recipe."
    if setting.kind == "choice" and value not in setting.choices:
        return f"{setting.label} must be one of {', '.join(setting.choices)}; it is {value}."
    return ""


class Compiled(NamedTuple):
    """An act made ready: the operation, and its settings split by where their value comes from."""

    operation: Operation
    when: str
    fixed: dict[str, Any]
    from_figures: tuple[tuple[str, str], ...]
    from_measures: tuple[tuple[str, str], ...]

    def resolved(self, figures: Mapping[str, float], values: Mapping[str, float]) -> dict[str, Any]:
        """The settings as the operation reads them."""
        settings = self.fixed.copy()
        for name, constant in self.from_figures:
            settings[name] = figures[constant]
        for name, measure in self.from_measures:
            settings[name] = values[measure]
        return settings


def compile_settings(key: str, settings: Mapping[str, Any], when: str, measures: set[str]) -> Compiled:
    """Splits an act's settings; the recipe must have been checked (`Recipe.problems`)."""
    operation = REGISTRY[key]
    fixed: dict[str, Any] = {}
    from_figures, from_measures = [], []
    for setting in operation.settings:
        value = settings.get(setting.name)
        if value is None:
            if isinstance(setting.default, Constant):
                from_figures.append((setting.name, setting.default.name))
            else:
                fixed[setting.name] = setting.default
        elif setting.kind == "number" and isinstance(value, str):
            assert value in measures, f"{value} is no measure"
            from_measures.append((setting.name, value))
        else:
            fixed[setting.name] = tuple(value) if setting.kind in LISTS else value
    return Compiled(operation, when, fixed, tuple(from_figures), tuple(from_measures))
