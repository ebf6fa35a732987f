"""The standard that the shop's jobs are held against: what its own figures say of them now.

A figure set by hand takes the place of what was learned under the old one: the need of an old job times what the same
repair comes to by the figures of now, over what it comes to by those it was quoted with. So what was used is compared
with the new standard, and what the figure says already is not learned on top of it. A quote of before quotes kept
their figures is worked out again from its measures outright. What cannot be worked out again keeps its needs.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Any, NamedTuple

from quotes import costing
from quotes.costing import CONSTANTS, Construction, CoreRecipe
from quotes.costing.job.sharing import lines_of
from quotes.costing.job.working import work_out
from quotes.costing.parts.inputs import CoreMaterial, Price
from quotes.costing.parts.result import TIME
from quotes.estimating import materials_of
from quotes.models import Experience, RecipeVersion, WayPart
from shop.models import Profile

Lines = Sequence[Mapping[str, Any]]
_ANY = Price(1.0, "")  # no need hangs on a price
_BOARD = "way__board__takein__board__"
_KEPT = 256  # repairs alike that are worked out once


class PartPlan(NamedTuple):
    """What a part's estimate was made of; `figures` are None where its quote did not keep them yet.

    Made of a row of `PLAN`, the columns of `WayPart` it is read from, or `of` a part.
    """

    lines: Lines | None
    measures: Mapping[str, Mapping[str, Any]] | None
    figures: Mapping[str, float] | None
    alone: bool | None
    version: int
    core: str
    resin: str
    skin: str

    @classmethod
    def of(cls, part: WayPart) -> PartPlan:
        """That of a part read with its `way__board__takein__board`."""
        kept, board = part.snapshot, part.way.board.takein.board
        lines, measures, figures, alone = (kept.get(name) for name in ("lines", "measures", "figures", "alone"))
        of_board = board.core, board.resin, board.skin
        return cls(lines, measures, figures, alone, part.recipe_version_id, *of_board)


PLAN = (
    *(f"snapshot__{name}" for name in ("lines", "measures", "figures", "alone")),
    "recipe_version",
    *(f"{_BOARD}{name}" for name in ("core", "resin", "skin")),
)


class _Need(NamedTuple):
    """What a line needs, what each mix leaves in its cup by the trade, and the smallest use; in the line's unit.

    `set_up` is what of a need of minutes sets up; None where a plan of before did not say so.
    """

    unit: str
    need: float
    loss: float
    least: float
    set_up: float | None = 0.0

    def over(self, then: _Need, kept: _Need) -> _Need:
        """What was kept, as many times as this is of what the figures of then give."""
        each = zip(self[1:4], then[1:4], kept[1:4], strict=True)
        found = _Need(self.unit, *(_moved(*one) for one in each))
        part = (self.set_up or 0.0) / self.need if self.need else 0.0
        return found._replace(set_up=found.need * part)


def _moved(now: float, then: float, kept: float) -> float:
    if not then:
        return kept or now
    return kept * now / then


_Key = tuple[int, str, str, int]  # step, kind, material or "", and which of several alike
_Asked = tuple[int, tuple[tuple[str, float], ...], Construction, bool, tuple[tuple[str, float], ...]]


@dataclass
class Standard:
    """The shop's own figures by name, and the plans of its jobs by them. Two queries once a plan was made by others."""

    own: Mapping[str, float] | None  # None leaves every plan as it was quoted

    def __post_init__(self) -> None:
        self._needs = lru_cache(_KEPT)(self._worked_out)

    @classmethod
    def now(cls) -> Standard:
        """By the figures that the shop works with now. One query."""
        return cls(own_now())

    @classmethod
    def learned(cls, row: Experience) -> Standard:
        """By the figures that what is in `row` was learned under; as quoted where nothing was learned."""
        return cls(row.figures.get("own"))

    def lines(self, plan: PartPlan) -> Lines:
        """The lines of a plan by these figures; one that differs from the stored one has that in `then`."""
        kept = plan.lines or ()
        if not kept or self.own is None or (plan.figures == self.own and _tell_set_ups(kept)):
            return kept
        now = self._of(plan, self.own)
        stored = dict(zip(_keys(kept), map(_stored, kept), strict=True))
        then = stored if plan.figures is None else self._of(plan, plan.figures)
        return [
            _restated(line, now[key].over(then[key], stored[key])) if _same(key, now, then, stored) else line
            for key, line in zip(stored, kept, strict=True)
        ]

    def made_of(self, line: Mapping[str, Any], losses: Mapping[str, float]) -> dict[str, Any]:
        """What the use of a line is made of by these figures; `losses` by material what cups keep, times the trade."""
        name, own = line["factor"].get("name", ""), self.own or {}
        taught_as = line["moves_with"].partition(":")[2] or line["material"]
        loss = line.get("loss_trade", line["loss"]) * losses.get(taught_as, 1.0)
        made = {"need": line["need"]["value"], "cups": line["mixes"] * loss, "least": line["least"]}
        if name not in CONSTANTS or line["kind"] == "consumable":
            return made
        return {**made, "default": own.get(name, CONSTANTS[name].value)}

    def _of(self, plan: PartPlan, own: Mapping[str, float]) -> Mapping[_Key, _Need]:
        measures = tuple(sorted((name, float(one["value"])) for name, one in (plan.measures or {}).items()))
        board = Construction(plan.core, plan.resin, plan.skin)  # type: ignore[arg-type]
        return self._needs((plan.version, measures, board, bool(plan.alone), tuple(sorted(own.items()))))

    def _worked_out(self, asked: _Asked) -> Mapping[_Key, _Need]:
        """What each line of a repair needs by these figures; nothing where it cannot be worked out now."""
        version, measures, board, alone, own = asked
        recipe = self._recipes.get(version)
        if recipe is None:
            return {}
        given = dict(measures)
        shop = self._shop(own, alone)
        worked = work_out(recipe, given, shop, board=board, accepted_odd=given)
        rows = lines_of([worked], shop)[0]
        keys = _numbered([(step, line.kind, line.supply.material or "") for step, line in rows])
        needs = [_Need(x.supply.unit, x.need, x.loss, x.least, getattr(x, "set_up", 0.0)) for _, x in rows]
        return dict(zip(keys, needs, strict=True))

    @cached_property
    def _shops(self) -> dict[tuple[object, bool], costing.Shop]:
        return {}

    def _shop(self, own: tuple[tuple[str, float], ...], alone: bool) -> costing.Shop:
        found = self._shops.get((own, alone))
        if found is None:
            constants = {name: (value, value, value) for name, value in own if _settable(name)}
            found = costing.Shop(self._materials, wage_per_hour=0.0, constants=constants, alone=alone)
            self._shops[own, alone] = found
        return found

    @cached_property
    def _materials(self) -> dict[str, CoreMaterial]:
        return {key: replace(one, price=_ANY, retired=False) for key, one in materials_of().items()}

    @cached_property
    def _recipes(self) -> dict[int, CoreRecipe]:
        return {pk: CoreRecipe.from_dict(body) for pk, body in RecipeVersion.objects.values_list("pk", "body")}


def plans_made(
    standard: Standard, parts: Collection[int], losses: Mapping[str, float]
) -> dict[int, dict[tuple[int, str, bool], dict[str, Any]]]:
    """By part what its plan is made of by these figures: by step, material and whether it is shared by several steps.

    Need, cups and default of a `made_of` (see `planned_now`), and its smallest use; only of parts quoted by other
    figures, and of what stands once at a step. One query, and two where there is such a part.
    """
    found = {}
    for pk, *row in WayPart.objects.filter(pk__in=parts).values_list("pk", *PLAN):
        plan = PartPlan(*row)
        lines = [line for line in standard.lines(plan) if line["material"]]
        if lines and plan.figures != standard.own:
            keys = [(line["step"], line["material"], line["kind"] == "consumable") for line in lines]
            once = [(key, line) for key, line in zip(keys, lines, strict=True) if keys.count(key) == 1]
            found[pk] = {key: standard.made_of(line, losses) for key, line in once}
    return found


def own_now() -> dict[str, float]:
    """The shop's own figures by name, as they are now. One query."""
    own = Profile.objects.values_list("constants", flat=True).first() or {}
    return {name: float(value) for name, (value, _, _) in own.items()}


def _settable(name: str) -> bool:
    return name in CONSTANTS and CONSTANTS[name].adjustable


def _same(key: _Key, now: Mapping[_Key, _Need], then: Mapping[_Key, _Need], stored: Mapping[_Key, _Need]) -> bool:
    """Whether a line is there by either figures, counted as it was."""
    return key in now and key in then and now[key].unit == then[key].unit == stored[key].unit


def _keys(lines: Lines) -> list[_Key]:
    return _numbered([(line["step"], line["kind"], line["material"] or "") for line in lines])


def _numbered(names: Sequence[tuple[int, str, str]]) -> list[_Key]:
    met: dict[tuple[int, str, str], int] = defaultdict(int)
    found = []
    for name in names:
        met[name] += 1
        found.append((*name, met[name]))
    return found


def _stored(line: Mapping[str, Any]) -> _Need:
    need = line["need"]
    set_up = line.get("set_up", None if line["kind"] in TIME else 0.0)
    return _Need(need["unit"], need["value"], line.get("loss_trade", line["loss"]), line["least"], set_up)


def _tell_set_ups(lines: Lines) -> bool:
    return all("set_up" in line for line in lines if line["kind"] in TIME)


def _restated(line: Mapping[str, Any], now: _Need) -> Mapping[str, Any]:
    """A stored line with other needs; the multiple of its loss that was learned stays as it is."""
    then = _stored(line)
    if now == then:
        return line
    set_up = {"set_up": now.set_up} if line["kind"] in TIME else {}
    if now[:4] == then[:4]:
        return {**line, **set_up}
    loss = line["loss"] * now.loss / then.loss if then.loss else now.loss
    return {
        **line, **set_up, "need": {**line["need"], "value": now.need}, "loss": loss, "loss_trade": now.loss,
        "least": now.least, "then": line,
    }  # fmt: skip
