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
from quotes.costing.job.damage import work_out
from quotes.costing.job.sharing import lines_of
from quotes.costing.parts.inputs import CoreMaterial, Price
from quotes.costing.snapshot import MadeOf, SnapshotLine, lines_from_json, values_from_json
from quotes.estimating import materials_of
from quotes.models import Experience, RecipeVersion, WayPart
from shop.models import Profile

Lines = Sequence[SnapshotLine]
_ANY = Price(1.0, "")  # no need hangs on a price
_BOARD = "way__board__takein__board__"
_KEPT = 256  # repairs alike that are worked out once


class PartPlan(NamedTuple):
    """What a part's estimate was made of; `figures` are None where its quote did not keep them yet.

    `measures` are their values by name. `of_row` makes it of a row of `PLAN`, the columns of `WayPart` it is read from,
    `of` of a part.
    """

    lines: Lines
    measures: Mapping[str, float]
    figures: Mapping[str, float] | None
    alone: bool
    version: int
    core: str
    resin: str
    skin: str

    @classmethod
    def of(cls, part: WayPart) -> PartPlan:
        """That of a part read with its `way__board__takein__board`."""
        kept, board = part.estimate, part.way.board.takein.board
        values = {name: one.value for name, one in kept.measures.items()}
        built = board.core, board.resin, board.skin
        return cls(kept.lines, values, kept.figures, kept.alone, part.recipe_version_id, *built)

    @classmethod
    def of_row(cls, lines: Any, measures: Any, figures: Any, alone: Any, version: int, *built: str) -> PartPlan:
        """That of a row of `PLAN`: the parts of its snapshot as they are kept, then plain columns."""
        return cls(lines_from_json(lines), values_from_json(measures), figures, bool(alone), version, *built)


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
        """The lines of a plan by these figures, in its order; one that does not differ is the stored one itself."""
        kept = plan.lines
        if not kept or self.own is None or (plan.figures == self.own and _tell_set_ups(kept)):
            return kept
        now = self._of(plan, self.own)
        stored = dict(zip(_keys(kept), map(_stored, kept), strict=True))
        then = stored if plan.figures is None else self._of(plan, plan.figures)
        return [
            _restated(line, now[key].over(then[key], stored[key])) if _same(key, now, then, stored) else line
            for key, line in zip(stored, kept, strict=True)
        ]

    def made_of(self, line: SnapshotLine, losses: Mapping[str, float]) -> MadeBy:
        """What the use of a line is made of by these figures; `losses` by material what cups keep, times the trade."""
        name, own = line.factor.name, self.own or {}
        cups = line.mixes * line.trade_loss * losses.get(line.taught_as, 1.0)
        known = name in CONSTANTS and not line.shared
        return MadeBy(line.need, cups, line.least, own.get(name, CONSTANTS[name].value) if known else None)

    def _of(self, plan: PartPlan, own: Mapping[str, float]) -> Mapping[_Key, _Need]:
        measures = tuple(sorted((name, float(value)) for name, value in plan.measures.items()))
        board = Construction(plan.core, plan.resin, plan.skin)  # type: ignore[arg-type]
        return self._needs((plan.version, measures, board, plan.alone, tuple(sorted(own.items()))))

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
        needs = [_Need(x.supply.unit, x.need, x.loss, x.least, x.set_up) for _, x in rows]
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


class MadeBy(NamedTuple):
    """What a planned use is made of by the figures of now: need, cups and smallest use in the unit of the plan.

    `default` None leaves that of the plan.
    """

    need: float
    cups: float
    least: float
    default: float | None

    def laid_over(self, made: MadeOf) -> MadeOf:
        """What a plan was made of, with these figures in place of its own."""
        default = made.default if self.default is None else self.default
        return made._replace(need=self.need, cups=self.cups, least=self.least, default=default)


MadeNow = Mapping[int, Mapping[tuple[int, str, bool], MadeBy]]  # by part; by step, material, whether steps share it


def plans_made(standard: Standard, parts: Collection[int], losses: Mapping[str, float]) -> MadeNow:
    """By part what its plan is made of by these figures: by step, material and whether it is shared by several steps.

    Only of parts quoted by other figures, and of what stands once at a step. One query, and two where there is such a
    part.
    """
    found = {}
    for pk, *row in WayPart.objects.filter(pk__in=parts).values_list("pk", *PLAN):
        plan = PartPlan.of_row(*row)
        lines = [line for line in standard.lines(plan) if line.material]
        if lines and plan.figures != standard.own:
            keys = [(line.step, line.material or "", line.shared) for line in lines]
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
    return _numbered([(line.step, line.kind, line.material or "") for line in lines])


def _numbered(names: Sequence[tuple[int, str, str]]) -> list[_Key]:
    met: dict[tuple[int, str, str], int] = defaultdict(int)
    found = []
    for name in names:
        met[name] += 1
        found.append((*name, met[name]))
    return found


def _stored(line: SnapshotLine) -> _Need:
    return _Need(line.unit, line.need, line.trade_loss, line.least, line.set_up)


def _tell_set_ups(lines: Lines) -> bool:
    return all(line.set_up is not None for line in lines)


def _restated(line: SnapshotLine, now: _Need) -> SnapshotLine:
    """A stored line with other needs; the multiple of its loss that was learned stays as it is."""
    then = _stored(line)
    if now == then:
        return line
    set_up = now.set_up if line.is_time else line.set_up
    if now[:4] == then[:4]:
        return replace(line, set_up=set_up)
    loss = line.loss * now.loss / then.loss if then.loss else now.loss
    return replace(line, set_up=set_up, need=now.need, loss=loss, trade_loss=now.loss, least=now.least)
