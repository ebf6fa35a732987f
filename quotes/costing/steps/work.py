"""One step of a job, and the bench it is worked out on.

A `Bench` is all that an operation may look at: settings, places, figures, shop, board. A `Work` is what it fills:
needs, minutes, mixes, wait, cautions, weight. Each need becomes a line of cost at once: need × factor + mixes × loss,
at least the smallest mix, at the price of buying it again. What a job shares (discs, cups, solvent) is pooled over its
steps; gloves, rags and solvent are taken once for a session, however many of its steps lie in it. Minutes are told
apart: those by size, and the set-up, which a session bears once.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, NamedTuple

from quotes.costing.basis.constants import Constant, derived, practice
from quotes.costing.basis.going_off import NO_WAIT, Wait
from quotes.costing.basis.lazy_words import Text, Words
from quotes.costing.basis.places import Place
from quotes.costing.parts.inputs import OWN_FACTS, Construction, CoreMaterial, Shop
from quotes.costing.parts.refusals import floor_c, too_cold
from quotes.costing.parts.result import CostLine, MixedLine, Share, Supply
from quotes.costing.parts.usage import FACT_WORDS, POOLED, UsageFactor, in_stock_unit
from quotes.costing.snapshot import PlannedMix, PlannedPieces, Problem, Remedy

# What a step asks of the one before: wet bond, hard enough, dry enough, hard through, firm gel.
Meets = Literal["coat", "cut", "touch", "polish", "gel"]

EXACT = derived("exact_factor", 1.0, 1.0, 1.0, "1", "use is as planned", source="counted, not estimated")
MINUTES = practice("minutes_factor", 1.0, 0.8, 1.5, "1", "real minutes over standard minutes: skill and luck")
CUPS = practice("cups_for_a_mix", 1, 0.5, 2, "piece", "cups and sticks for one mix, each")
GLOVES = practice(
    "gloves_in_a_session", 1, 0.5, 2, "piece", "pairs of nitrile gloves, a board in a resin or spray session"
)
RAGS = practice("rags_in_a_session", 1, 0.5, 2, "piece", "rags, a board in a resin session")
BRUSHES = practice("brushes_for_a_coat", 0.25, 0.1, 1, "piece", "chip brushes for a coat; 1 where they are thrown away")
ACETONE = practice("acetone_session_ml", 40, 20, 100, "mL", "acetone, a board in a resin session")
ACETONE_FACTOR = practice("acetone_factor", 1.0, 0.5, 2.5, "1", "acetone really used over planned")
MASK_HOURS = practice("cartridge_hours", 40, 15, 80, "h", "hours in vapour or dust that one set of cartridges lasts")
MASK_FACTOR = practice("cartridge_factor", 1.0, 0.5, 2.7, "1", "cartridges really used over planned")
BAG_HOURS = practice("dust_bag_hours", 40, 15, 80, "h", "hours of dust that one extractor bag lasts")
BAG_FACTOR = practice("dust_bag_factor", 1.0, 0.5, 2.7, "1", "extractor bags really used over planned")


SPOTS = ("place", "fin", "pocket", "face")  # settings by which operations name where they work


class Gap(Exception):
    """An operation that lacks something, or must not be done; carries the Problem."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.text)
        self.problem = problem


class Cut(NamedTuple):
    """Pieces of cloth of one outline, each cut from the roll as the rectangle that holds it."""

    material: str
    outline: Place
    many: float

    @property
    def kept(self) -> PlannedPieces:
        """Pieces as the snapshot keeps them, for the cut plan."""
        one = self.outline
        return PlannedPieces(self.material, one.length_mm, one.width_mm, one.area_cm2, self.many, one.shape)


class Batch(NamedTuple):
    """A mix of one step: the resin, g as expected to be mixed, and the most g that one mix may hold."""

    resin: str
    expected_g: float
    most_g: float


class Work:
    """Work of one step of a job, wherever it stands in it: what to do, how long, with what. An operation fills it.

    Once settled it is never changed: the choices of a board share it.
    """

    _instruction: Text = ""
    hands: float = 0.0  # standard minutes by size
    set_up: float = 0.0  # standard minutes to set up for it, alone on one board
    places: float = 0.0  # how many places it works on
    paste: str = ""  # what its resin is thickened with; only like goes into one cup
    minutes_formula: Text = ""
    minutes_factor: Constant = MINUTES
    batch: Batch | None = None
    mixes: tuple[PlannedMix, ...] = ()
    cautions: tuple[str, ...] = ()
    dust: bool = False
    vapour: bool = False
    weight_g: float = 0.0
    wait: Wait = NO_WAIT
    pause_h: float = 0.0  # hours within the step in which the board waits and no hand is on it
    gel_min: float = 0.0  # from mixing until its resin gels, in this shop now
    cuts: tuple[Cut, ...] = ()

    def __init__(self, bench: Bench, title: str) -> None:
        self.bench = bench
        self.operation = bench.operation
        self.title = title
        self.lines: list[CostLine] = []
        self.shares: list[Share] = []
        self.places = bench.spots()

    @property
    def instruction(self) -> str:
        """Instruction with sizes and doses."""
        return str(self._instruction)

    @instruction.setter
    def instruction(self, text: Text) -> None:
        """Words that may still have their figures beside them."""
        self._instruction = text

    @property
    def told(self) -> Text:
        """Instruction with its figures still beside the words."""
        return self._instruction

    def take(
        self,
        key: str,
        value: float,
        unit: str,
        formula: Text,
        trade: Constant = EXACT,
        *,
        mixes: int = 0,
        loss: float = 0.0,
        least: float = 0.0,
        moves_with: str = "",
    ) -> None:
        """Take `value` of a material; `loss` is what each mix leaves, `least` the smallest use, all in `unit`."""
        if value <= 0:
            return
        bench = self.bench
        supply = bench.supply(key, unit)
        if supply is None:
            return
        factor = bench.factor(moves_with or key, trade)
        scale = supply.scale
        need = value * scale
        if not mixes:
            self.lines.append(CostLine(self.operation, "material", supply, supply.name, need, formula, factor))
            return
        learned = bench.shop.losses.get(moves_with or key, 1.0)
        self.lines.append(
            MixedLine(self.operation, supply, need, formula, factor, mixes=mixes, loss=loss * scale,
                      least=least * scale, moves_with=moves_with, loss_learned=learned)
        )  # fmt: skip

    def pieces(self, key: str, value: float, formula: Text, trade: Constant = EXACT) -> None:
        """Take whole pieces, counted over the whole job: rounded up once per job, at least one."""
        self._pool(key, value, "piece", formula, trade, whole=True)

    def share(
        self, key: str, value: float, unit: str, formula: Text, trade: Constant = EXACT, *, least: float = 0.0
    ) -> None:
        """Take a share of something that serves many jobs, counted over the whole job without rounding.

        `least` is the smallest share that a job takes of it, in `unit`.
        """
        self._pool(key, value, unit, formula, trade, least=least)

    def sundry(self, key: str, value: float, unit: str, formula: Text, trade: Constant) -> None:
        """Take a small thing, in `unit`, once for the board in this session, however many of its steps lie in it."""
        self._pool(key, value, unit, formula, trade, goes_by="session")

    def cups(self, value: float, formula: Text, keys: tuple[str, ...] = ("cup", "stick")) -> None:
        """Take a number of cups and sticks, one for each mix; where a mix serves several damages they share it."""
        for key in keys:
            self._pool(key, value, "piece", formula, CUPS, goes_by="cup")

    def _pool(
        self, key: str, value: float, unit: str, formula: Text, trade: Constant, *, whole: bool = False,
        least: float = 0.0, goes_by: Literal["size", "session", "cup", "minute"] = "size",
    ) -> None:  # fmt: skip
        """Add a share, in `unit`, to what the job counts together."""
        if value <= 0:
            return
        supply = self.bench.supply(key, unit)
        if supply is not None:
            factor = self.bench.factor(key, trade, POOLED)
            scale = supply.scale
            self.shares.append(Share(supply, value * scale, formula, factor, whole, least * scale, goes_by))

    def cut(self, key: str, outline: Place, many: float) -> None:
        """Note a number of pieces of cloth of this outline; what they cost is said by `take`."""
        if many > 0 and outline.length_mm > 0:
            self.cuts += (Cut(key, outline, many),)

    def takes_minutes(self, hands: float, formula: Text, factor: Constant = MINUTES, *, set_up: float = 0.0) -> None:
        """Add standard hands-on minutes by size with their formula in words, and set-up minutes for one board."""
        self.hands, self.minutes_formula, self.minutes_factor, self.set_up = hands, formula, factor, set_up

    def settle(self) -> None:
        """Close the step: mask and bag by the minute, and how long a standard minute takes here."""
        bench = self.bench
        if (self.dust or self.vapour) and (self.hands or self.set_up):
            words = Words("hours in vapour or dust over {:g} h for a set", bench[MASK_HOURS])
            self._pool("cartridge-set", 1.0 / 60.0 / bench[MASK_HOURS], "piece", words, MASK_FACTOR, goes_by="minute")
        if self.dust and (self.hands or self.set_up):
            words = Words("hours of dust over {:g} h for a bag", bench[BAG_HOURS])
            self._pool("dust-bag", 1.0 / 60.0 / bench[BAG_HOURS], "piece", words, BAG_FACTOR, goes_by="minute")
        self.time_factor = bench.factor("minutes", self.minutes_factor)
        del self.bench


def _lacking(key: str, found: CoreMaterial | None) -> str:
    if found is None:
        return f"There is no material “{key}” in the store: add it."
    if found.retired:
        return f"“{found.name}” is retired: choose another material in the recipe."
    return f"“{found.name}” has no price: give one of its packs a price."


class Bench:
    """All that an operation may look at while it works out one step."""

    __slots__ = (
        "board",
        "cures",
        "factors",
        "figures",
        "operation",
        "places",
        "problems",
        "settings",
        "shop",
        "step",
        "temperature_c",
    )

    def __init__(self, shop: Shop, board: Construction, places: Mapping[str, Place]) -> None:
        """Bench of a shop for one board and its places, before its first step."""
        self.shop = shop
        self.board = board
        self.places = places
        self.figures = shop.figures
        self.factors: dict[tuple[str, str, str, str], UsageFactor] = {}
        self.cures: dict[tuple[str, bool], Wait] = {}  # by resin system and wax, at this temperature
        self.problems: list[Problem] = []
        self.temperature_c = shop.temperature_c
        self.settings: Mapping[str, Any] = {}
        self.operation = ""
        self.step = 0

    def __getitem__(self, constant: Constant) -> float:
        """The shop's value of a constant."""
        return self.figures[constant.name]

    def ends(self, constant: Constant) -> tuple[float, float]:
        """Low and high end of a constant, in its unit, the shop's own before the trade's."""
        own = self.shop.constants.get(constant.name)
        return (own[1], own[2]) if own else (constant.low, constant.high)

    def number(self, name: str) -> float:
        """Setting that is a number, in the setting's unit."""
        value: float = self.settings[name]
        return value

    def faces(self) -> float:
        """Number of faces of the place that are worked on: times, twice that where both sides are meant."""
        times: float = self.settings["times"]
        return times * 2.0 if self.settings.get("sides") == "both" else times

    def spots(self) -> float:
        """Number of places this step works on; 0 where it names none."""
        settings = self.settings
        if not any(name in settings for name in SPOTS):
            return 0.0
        times: float = settings.get("times", 1.0)
        return times

    def words(self, name: str) -> str:
        """Setting that is a word, a key or a choice."""
        value: str = self.settings[name]
        return value

    def many(self, name: str) -> tuple[str, ...]:
        """Setting that is a list of keys."""
        value: tuple[str, ...] = self.settings[name]
        return value

    def place(self, name: str = "place") -> Place:
        """Setting that names a place."""
        return self.places[self.settings[name]]

    def work(self, title: str) -> Work:
        """Empty step with its title; the recipe's own title goes first."""
        return Work(self, self.settings["title"] or title)

    def factor(self, material: str, trade: Constant, taught_as: str = "") -> UsageFactor:
        """Usage factor for a material of this step, one and the same however often it is asked for.

        See `Shop.factor`.
        """
        asked = (self.operation, material, trade.name, taught_as)
        if asked not in self.factors:
            self.factors[asked] = self.shop.factor(self.operation, material, trade, taught_as)
        return self.factors[asked]

    def lost(self, constant: Constant, material: str) -> float:
        """Loss of one mix in its cup, in the constant's unit: the figure × what was learned for the material."""
        return self.figures[constant.name] * self.shop.losses.get(material, 1.0)

    def supply(self, key: str, unit: str) -> Supply | None:
        """Unit and price of a material asked for in some unit; None, with a Problem, if that is not known."""
        material = self.shop.materials.get(key)
        if material is None or material.retired or material.price is None:
            self.problems.append(self.problem("material", _lacking(key, material), Remedy("material", key)))
            return None
        scale, missing = (1.0, "") if unit == material.unit else in_stock_unit(unit, material.unit, material.known)
        if missing:
            fact = FACT_WORDS.get(missing, missing)
            text = f"“{material.name}” has no {fact}, needed to count {unit} in {material.unit}: add it in the store."
            self.problems.append(self.problem(missing, text, Remedy("material", key)))
            return None
        price = material.price
        return Supply(key, material.name, material.unit, scale, price.value, price.source, price.guess)

    def material(self, key: str) -> CoreMaterial:
        """Material of the shop. Raises Gap if it is not there or retired."""
        found = self.shop.materials.get(key)
        if found is None:
            raise Gap(self.problem(key, f"There is no material “{key}” in the store: add it.", Remedy("material", key)))
        return found

    def fact(self, key: str, name: str) -> float:
        """Physical fact of a material, above zero, in the fact's unit.

        Raises Gap naming material and fact if missing.
        """
        found = self.material(key)
        value = getattr(found, name) if name in OWN_FACTS else found.facts.get(name)
        if not value:
            text = f"“{found.name}” has no {FACT_WORDS[name]}: add it in the store."
            raise Gap(self.problem(name, text, Remedy("material", key)))
        return float(value)

    def warm_enough(self, what: str, facts: Mapping[str, float]) -> float:
        """Least °C at which polyester, epoxy or pour foam with these facts may be mixed.

        Raises Gap if the shop is colder.
        """
        cold = too_cold(what, self.temperature_c, facts, self.figures)
        if cold:
            raise Gap(self.problem(cold.setting, cold.text, Remedy("shop", "temperature_c")))
        return floor_c(what, facts, self.figures)

    def problem(self, field: str, text: str, remedy: Remedy | str) -> Problem:
        """Problem of this step; its remedy may be the name of one of the step's own settings."""
        where = remedy if isinstance(remedy, Remedy) else Remedy("setting", remedy, self.step)
        return Problem(self.operation, field, text, where)
