"""Recipes are data: measures to take, places worked out from them, and an ordered list of operations with settings.

A recipe is frozen and goes to JSON and back unchanged, so that a quote keeps the version it was priced with.
There is no formula language: a setting is a number, a word, a list, the name of a measure, or the name of a place.
`problems()` lets each operation check its own settings; a recipe with problems is never priced.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import Any

from quotes.costing.basis.constants import Constant
from quotes.costing.basis.places import check_places, measures_of
from quotes.costing.basis.setting import Setting
from quotes.costing.operations import REGISTRY
from quotes.costing.parts.inputs import Construction, CoreMaterial
from quotes.costing.parts.measures import UNIT, Measure
from quotes.costing.parts.refusals import Refusal, refusals_in_order
from quotes.costing.recipes.layers import CLEAR_THIN, LaidStep, Meeting, meetings_of, wrong_meetings
from quotes.costing.snapshot import Problem, Remedy
from quotes.costing.snapshot.problems import WET
from quotes.costing.steps.operation import Compiled

SCHEMA = 1


@dataclass(frozen=True)
class RecipeStep:
    """An operation of a recipe with its settings; left out of a job where the measure named by `when` is zero."""

    operation: str
    settings: Mapping[str, Any] = field(default_factory=dict)
    when: str = ""


@dataclass(frozen=True)
class CoreRecipe:
    """A named way of doing one kind of repair.

    `places` maps a name to {"shape": …, size: measure name or number}. `kinds` are the damages it mends (the kinds of
    the take-in). `release_check` is ticked before the board is ready; `aftercare` goes to the rider.
    """

    key: str
    name: str
    version: int
    measures: tuple[Measure, ...]
    places: Mapping[str, Mapping[str, Any]]
    acts: tuple[RecipeStep, ...]
    about: str = ""
    kinds: tuple[str, ...] = ()
    may_turn_up: str = ""
    release_check: tuple[str, ...] = ()
    aftercare: tuple[str, ...] = ()

    @classmethod
    def from_dict(cls, body: Mapping[str, Any]) -> CoreRecipe:
        """Recipe from its JSON form. Raises ValueError in a sentence if a part is missing or of the wrong kind."""
        try:
            measures = tuple(_measure(one) for one in body.get("measures", ()))
            acts = tuple(
                RecipeStep(str(one["operation"]), dict(one.get("settings", {})), str(one.get("when", "")))
                for one in body["operations"]
            )
            places = {
                str(place["name"]): {key: value for key, value in place.items() if key != "name"}
                for place in body.get("places", ())
            }
            recipe = cls(
                key=str(body["key"]),
                name=str(body["name"]),
                version=int(body.get("version", 1)),
                measures=measures,
                places=places,
                acts=acts,
                about=str(body.get("about", "")),
                kinds=tuple(body.get("kinds", ())),
                may_turn_up=str(body.get("may_turn_up", "")),
                release_check=tuple(body.get("release_check", ())),
                aftercare=tuple(body.get("aftercare", ())),
            )
        except KeyError as missing:
            raise ValueError(f"The recipe lacks {missing.args[0]!r}.") from missing
        except (TypeError, AttributeError) as wrong:
            raise ValueError("A recipe is an object with key, name, measures, places and operations.") from wrong
        return recipe

    def to_dict(self) -> dict[str, Any]:
        """Recipe in its JSON form; `from_dict` gives it back unchanged. Places are a list: their order counts."""
        return {
            "schema": SCHEMA,
            "key": self.key,
            "name": self.name,
            "version": self.version,
            "about": self.about,
            "kinds": list(self.kinds),
            "measures": [
                {
                    "name": m.name, "label": m.label, "dimension": m.dimension,
                    "low": m.low, "high": m.high, "hint": m.hint, "default": m.default,
                    **({"when": m.when} if m.when else {}),
                }
                for m in self.measures
            ],
            "places": [{"name": name, **place} for name, place in self.places.items()],
            "operations": [
                {"operation": act.operation, "settings": dict(act.settings), **({"when": act.when} if act.when else {})}
                for act in self.acts
            ],
            "may_turn_up": self.may_turn_up,
            "release_check": list(self.release_check),
            "aftercare": list(self.aftercare),
        }  # fmt: skip

    def problems(self) -> list[Problem]:
        """Problems of the recipe itself, whatever the board and the measures."""
        if not self.acts:
            return [Problem("", "operations", f"{self.name} has no operations: add at least one.", Remedy("recipe"))]
        names = [measure.name for measure in self.measures]
        found = [
            Problem("", name, f"The measure {name} is there twice.", Remedy("recipe"))
            for name in sorted({name for name in names if names.count(name) > 1})
        ]
        for index, measure in enumerate(self.measures):
            if measure.when and measure.when not in names[:index]:
                text = f"The measure {measure.name} depends on {measure.when!r}, which is no measure above it."
                found.append(Problem("", measure.name, text, Remedy("recipe")))
        found += [Problem("", "places", text, Remedy("recipe")) for text in check_places(self.places, names)]
        for index, act in enumerate(self.acts, 1):
            operation = REGISTRY.get(act.operation)
            if operation is None:
                known = ", ".join(sorted(REGISTRY))
                text = f"Step {index}: there is no operation {act.operation!r}; there are {known}."
                found.append(Problem(act.operation, "operation", text, Remedy("setting", "operation", index)))
                continue
            if act.when and act.when not in names:
                text = f"Step {index} ({operation.name}): “when” names {act.when}, which is no measure of this recipe."
                found.append(Problem(act.operation, "when", text, Remedy("setting", "when", index)))
            for field_name, text in operation.check(act.settings, names, self.places):
                sentence = f"Step {index} ({operation.name}): {text}"
                found.append(Problem(act.operation, field_name, sentence, Remedy("setting", field_name, index)))
        return found

    @cached_property
    def found_problems(self) -> tuple[Problem, ...]:
        """Problems of the recipe, looked for once; see `problems`."""
        return tuple(self.problems())

    def refusals(
        self, board: Construction, materials: Mapping[str, CoreMaterial] = MappingProxyType({})
    ) -> list[Problem]:
        """Problems with doing it to a board of this construction, with the reason; empty if the recipe fits.

        Of a wet core only the first step that closes it in; one that a measure may leave out is not held against it.
        """
        known = [(index, act) for index, act in enumerate(self.acts, 1) if act.operation in REGISTRY]
        doings = [REGISTRY[act.operation].doing(act.settings, board, materials, self.roots) for _, act in known]
        found = [
            (act, as_problem(refusal, act.operation, index))
            for (index, act), refusals in zip(known, refusals_in_order(doings, board), strict=True)
            for refusal in refusals
        ]
        wet = [problem for act, problem in found if problem.remedy == WET and not act.when]
        return [*(problem for _, problem in found if problem.remedy != WET), *wet[:1]]

    @cached_property
    def roots(self) -> dict[str, str]:
        """Root of each place: the one it grew out of, itself if it has sizes of its own."""
        found: dict[str, str] = {}
        for name, place in self.places.items():
            of = str(place.get("of", ""))
            found[name] = found.get(of, of) if place.get("shape") == "grown" else name
        return found

    @cached_property
    def laid(self) -> tuple[LaidStep, ...]:
        """Steps as `layers` looks at them."""
        return tuple(LaidStep(act.operation, act.settings, act.when) for act in self.acts)

    @cached_property
    def meetings(self) -> tuple[Meeting, ...]:
        """Pairs of steps that must not meet; those of a recipe without `problems` can be looked for."""
        return meetings_of(self.laid)

    def layer_problems(self) -> list[Problem]:
        """Problems with what would lie on what by the trade's figures, for some measures at least."""
        if self.found_problems:
            return []
        without = [one._replace(apart=()) for one in self.meetings]  # some measures leave those steps out
        return wrong_meetings(without, self.laid, lambda _: True, self._usual_film, CLEAR_THIN.value)

    def _usual_film(self, number: int) -> float:
        """Dry film of a spraying act in µm over all its coats; 0 where a measure sets it."""
        act = self.acts[number - 1]
        told = {setting.name: _usual(setting, act.settings) for setting in REGISTRY[act.operation].settings}
        coats, film = told["coats"], told["film_um"]
        return 0.0 if isinstance(coats, str) or isinstance(film, str) else float(coats * film)

    @cached_property
    def compiled(self) -> tuple[Compiled, ...]:
        """Steps made ready for pricing once.

        Operations looked up, settings split by where their value comes from.
        """
        of_places = measures_of(self.places)
        return tuple(Compiled(act.operation, act.settings, act.when, of_places) for act in self.acts)


def _usual(setting: Setting, told: Mapping[str, Any]) -> Any:
    """What a setting is with the trade's figures; the name of a measure where that sets it."""
    value = told.get(setting.name)
    if value is not None:
        return value
    return setting.default.value if isinstance(setting.default, Constant) else setting.default


def as_problem(refusal: Refusal, operation: str, index: int) -> Problem:
    """Problem of a refusal of step `index`."""
    remedy = WET if refusal.because == "wet" else Remedy("setting", refusal.setting, index)
    return Problem(operation, refusal.setting, refusal.text, remedy)


def _measure(one: Mapping[str, Any]) -> Measure:
    """Measure from its JSON form. Raises ValueError in a sentence for an unknown dimension, or low above high."""
    if one["dimension"] not in UNIT:
        raise ValueError(
            f"The measure {one['name']} is of dimension {one['dimension']!r}; it must be one of {list(UNIT)}."
        )
    default = one.get("default")
    low, high = float(one["low"]), float(one["high"])
    if low > high:
        raise ValueError(f"The measure {one['name']} must have low ≤ high.")
    return Measure(
        name=str(one["name"]),
        label=str(one["label"]),
        dimension=one["dimension"],
        low=low,
        high=high,
        hint=str(one.get("hint", "")),
        default=None if default is None else float(default),
        when=str(one.get("when", "")),
    )
