"""What every operation is: a key, a name, settings that it checks itself, and `work`, which fills one step of a job.

It reads a `Bench` and gives back a `Work`; it knows no money. Defining a subclass registers it, so that adding one is
adding a file. Invariant: more area, length, layers or coats never needs less; nothing to do needs only the set-up.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Any, ClassVar

from quotes.costing.basis.constants import Constant
from quotes.costing.basis.setting import LISTS, NOTE, TITLE, Setting, wrong_with
from quotes.costing.parts.inputs import Construction, CoreMaterial
from quotes.costing.parts.refusals import Doing, Stuff, system_for
from quotes.costing.steps.sessions import SessionKind
from quotes.costing.steps.work import Bench, Meets, Work

REGISTRY: dict[str, Operation] = {}


class Operation:
    """One kind of work. Subclasses give key, name, settings and `work`; defining one registers it."""

    key: ClassVar[str] = ""
    name: ClassVar[str] = ""
    meets: ClassVar[Meets] = "touch"
    session: ClassVar[SessionKind] = ""  # the kind of session it is done in
    bonds: ClassVar[bool] = False  # must bond to what is under it; so whatever is to meet it as a coat
    sand_first: ClassVar[bool] = False  # takes no other coat before it is sanded: waxed, or hard
    dries: ClassVar[bool] = False  # a wet core is dry after it
    opens: ClassVar[bool] = False  # lays foam bare
    closes: ClassVar[bool] = False  # lays cloth or a coat over bare foam
    on_skin: ClassVar[bool] = False  # has to hold on the skin
    off_board: ClassVar[bool] = False  # is made on the bench, and touches no board
    always_puts: ClassVar[tuple[Stuff, ...]] = ()  # onto the board, whatever its settings
    settings: ClassVar[tuple[Setting, ...]] = ()

    def __init_subclass__(cls) -> None:
        """Register the operation under its key. Raises ValueError for a key that is taken."""
        super().__init_subclass__()
        if not cls.key:
            return
        if cls.key in REGISTRY:
            raise ValueError(f"The operation {cls.key} is there twice.")
        cls.settings = (*cls.settings, TITLE, NOTE)
        cls.bonds = cls.bonds or cls.meets == "coat"
        REGISTRY[cls.key] = cls()

    def work(self, at: Bench) -> Work:
        """Work that this step takes at the places and sizes of `at`. Raises Gap if it cannot or must not be done."""
        raise NotImplementedError

    def session_of(self, settings: Mapping[str, Any]) -> SessionKind:
        """Kind of session it is done in with these settings; "" for what is no session."""
        return self.session

    def puts(
        self, told: Mapping[str, Any], board: Construction, materials: Mapping[str, CoreMaterial]
    ) -> tuple[Stuff, ...]:
        """Stuff it puts onto such a board: its resin, unless a subclass says otherwise. `told` lacks no setting."""
        resin = "system" in told and not self.off_board
        return (system_for(told["system"], board),) if resin else self.always_puts

    def doing(
        self,
        settings: Mapping[str, Any],
        board: Construction,
        materials: Mapping[str, CoreMaterial],
        roots: Mapping[str, str] = MappingProxyType({}),
    ) -> Doing:
        """Step as the rules of `refusals` see it, on such a board.

        `settings` as a recipe tells them or as resolved, `roots` maps a place to the one it grew out of.
        """
        usual = {one.name: one.default for one in self.settings if not isinstance(one.default, Constant)}
        told = {**usual, **{name: value for name, value in settings.items() if value is not None}}
        where = next((told[one.name] for one in self.settings if one.kind == "place"), "")
        room = told.get("room_c")
        return self.does(
            puts=self.puts(told, board, materials),
            place=roots.get(where, where) or "",
            over=told.get("over") or "",
            room_c=float(room) if isinstance(room, int | float) else 0.0,
        )

    def does(self, **what: Any) -> Doing:
        """Doing of `what`, with what is the same wherever this operation is used."""
        return Doing(self.key, **what, opens=self.opens, closes=self.closes, dries=self.dries, on_skin=self.on_skin)

    def check(
        self, settings: Mapping[str, Any], measures: list[str], places: Mapping[str, Any]
    ) -> Iterator[tuple[str, str]]:
        """Pairs (setting, sentence) for each setting that is unknown, missing or not of its kind."""
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
            wrong = wrong_with(setting, value, measures, places)
            if wrong:
                yield setting.name, wrong


class Compiled:
    """A recipe step made ready: the operation, and its settings split by where their value comes from."""

    __slots__ = (
        "fixed",
        "from_figures",
        "from_measures",
        "measures",
        "meets",
        "operation",
        "session",
        "when",
    )

    def __init__(
        self, key: str, settings: Mapping[str, Any], when: str, place_measures: Mapping[str, tuple[str, ...]]
    ) -> None:
        """Split the settings of a step; the recipe must have been checked (`CoreRecipe.problems`)."""
        self.operation = REGISTRY[key]
        self.when = when
        self.fixed: dict[str, Any] = {}
        self.from_figures: list[tuple[str, str]] = []
        self.from_measures: list[tuple[str, str]] = []
        for setting in self.operation.settings:
            value = settings.get(setting.name)
            if value is None and isinstance(setting.default, Constant):
                self.from_figures.append((setting.name, setting.default.name))
            elif value is None:
                self.fixed[setting.name] = setting.default
            elif setting.kind == "number" and isinstance(value, str):
                self.from_measures.append((setting.name, value))
            else:
                self.fixed[setting.name] = tuple(value) if setting.kind in LISTS else value
        named = [
            place_measures[settings[s.name]]
            for s in self.operation.settings
            if s.kind == "place" and s.name in settings
        ]
        hang_on = [*(name for names in named for name in names), *(measure for _, measure in self.from_measures)]
        self.measures = tuple(dict.fromkeys(hang_on))
        self.meets: Meets = "cut" if settings.get("onto") == "another face" else self.operation.meets
        self.session: SessionKind = self.operation.session_of(settings)

    def resolved(self, figures: Mapping[str, float], values: Mapping[str, float]) -> Mapping[str, Any]:
        """Settings as the operation reads them, each in its unit, with the shop's figures and the measures in place."""
        return {
            **self.fixed,
            **{name: figures[constant] for name, constant in self.from_figures},
            **{name: values[measure] for name, measure in self.from_measures},
        }
