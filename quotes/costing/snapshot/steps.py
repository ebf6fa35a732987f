"""The planned steps of a snapshot: what is done, with what, how long, and when it may be begun.

The same shape is kept by a job's step as its plan, by a way of several repairs as a step of its bench (then `serves`
says what of it is each repair's own), and by the line of a job's sundries, which is no step.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, NamedTuple

from quotes.costing.basis.going_off import Slowed, Wait
from quotes.costing.snapshot.mixes import PlannedMix
from quotes.costing.snapshot.old_plans import without_doses, without_sheet

Stuff = Literal["polyester", "epoxy", "cyanoacrylate", "solvent", "solvent paint", "two-pack clear", "pour foam"]
SUNDRIES = "sundries"  # the operation of the line of what the steps of a job share


class Does(NamedTuple):
    """Effect of a step on the board, and where; `over` is what lies under it, `room_c` its warmth in °C."""

    puts: tuple[Stuff, ...] = ()
    place: str = ""
    over: str = ""
    room_c: float = 0.0

    def to_json(self) -> dict[str, Any]:
        """Effect on the board as the row keeps it."""
        return {"puts": list(self.puts), "place": self.place, "over": self.over, "room_c": self.room_c}

    @classmethod
    def from_json(cls, kept: Mapping[str, Any] | None) -> Does | None:
        """Effect on the board read back; None where a plan keeps nothing of it."""
        return cls(**{**kept, "puts": tuple(kept["puts"])}) if kept else None


class MadeOf(NamedTuple):
    """Parts of a planned use, so that it can be made again of what is learned later: need × default + cups.

    `need`, `cups` and `least` are in the unit of the plan; operation and material name what is learned of it.
    """

    operation: str
    material: str
    default: float
    need: float
    cups: float
    least: float
    whole: bool

    def beside(self, other: MadeOf) -> MadeOf:
        """Parts of two uses of one material together."""
        return self._replace(
            need=self.need + other.need, cups=self.cups + other.cups, least=self.least + other.least
        )  # fmt: skip


class PlannedMaterial(NamedTuple):
    """Amount of a material that a step plans to use, in its unit; 0 where a step before it plans for both.

    `need` is what geometry asks for, `made_of` None for what is counted. A `sundry` is shared by the steps of a job; on
    the line of these, `step` and `operation` are those of the repair's first step that takes it.
    """

    material: str
    name: str
    planned: float
    unit: str
    need: float = 0.0
    made_of: MadeOf | None = None
    sundry: bool = False
    step: int | None = None
    operation: str = ""

    def to_json(self) -> dict[str, Any]:
        """Planned material as the row keeps it."""
        kept: dict[str, Any] = {"material": self.material, "name": self.name, "planned": self.planned,
                                "unit": self.unit, "need": self.need,
                                "made_of": None if self.made_of is None else self.made_of._asdict()}  # fmt: skip
        if self.sundry:
            kept["sundry"] = True
        return kept if self.step is None else {**kept, "step": self.step, "operation": self.operation}

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> PlannedMaterial:
        """Planned material read back; the oldest know neither need nor what a plan is made of."""
        made = kept.get("made_of")
        return cls(
            kept["material"], kept["name"], kept.get("planned") or 0.0, kept["unit"], kept.get("need") or 0.0,
            MadeOf(**made) if made else None, kept.get("sundry", False), kept.get("step"), kept.get("operation", ""),
        )  # fmt: skip


class PlannedPieces(NamedTuple):
    """Pieces of cloth of one shape and size, for the cut plan."""

    material: str
    length_mm: float
    width_mm: float
    area_cm2: float
    many: float
    shape: str

    def to_json(self) -> dict[str, Any]:
        """Pieces as the row keeps them."""
        return {"material": self.material, "length_mm": self.length_mm, "width_mm": self.width_mm,
                "area_cm2": self.area_cm2, "count": self.many, "shape": self.shape}  # fmt: skip

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> PlannedPieces:
        """Pieces read back."""
        return cls(
            kept["material"], kept["length_mm"], kept["width_mm"], kept["area_cm2"], kept["count"], kept["shape"]
        )  # fmt: skip


class Serving(NamedTuple):
    """Part of a step of the bench that is one repair's own.

    `damage` is its number among those priced together (None on the line of sundries), `part` the key of its row (None
    before it has one), `step` the number of that repair's own step.
    """

    damage: int | None
    part: int | None
    step: int
    minutes: float
    does: Does | None
    mixes: tuple[PlannedMix, ...]
    materials: tuple[PlannedMaterial, ...]

    def to_json(self) -> dict[str, Any]:
        """Serving as the row keeps it."""
        own = {"step": self.step, "minutes": self.minutes, "does": self.does.to_json() if self.does else {},
               "mixes": [one.to_json() for one in self.mixes],
               "materials": [one.to_json() for one in self.materials]}  # fmt: skip
        if self.damage is None:
            return {"part": self.part, **own}
        return {"damage": self.damage, **own, **({} if self.part is None else {"part": self.part})}

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> Serving:
        """Serving read back."""
        return cls(
            kept.get("damage"), kept.get("part"), kept["step"], kept["minutes"], Does.from_json(kept["does"]),
            tuple(map(PlannedMix.from_json, kept["mixes"])),
            tuple(map(PlannedMaterial.from_json, kept["materials"])),
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """A step as it is planned: `index` is its place in its repair, from 1; `minutes` are hands-on.

    It may be begun so many hours after the one before, until `latest_start_h` (None: no hurry), else `if_late` says
    what is done first. `pause_h` are hours within it in which the board waits. `meets` is what it asks of those before
    it (`temperature.MEETS`), `wait` what it leaves (None: nothing cures); `keeps_waits` and `does` tell a plan of
    before these were kept. `put_in` says why the bench put it in, `left_out` why it was left out.
    """

    operation: str = ""
    index: int = 0
    title: str = ""
    instruction: str = ""
    session: str = ""
    boards: float = 1.0
    minutes: float = 0.0
    earliest_start_h: float = 0.0
    latest_start_h: float | None = None
    if_late: str = ""
    same_sitting: bool = False
    pause_h: float = 0.0
    mixes: tuple[PlannedMix, ...] = ()
    materials: tuple[PlannedMaterial, ...] = ()
    pieces: tuple[PlannedPieces, ...] = ()
    measures: tuple[str, ...] = ()
    meets: int = 0
    cuts_back: bool = False
    wait: Wait | None = None
    cautions: tuple[str, ...] = ()
    weight_g: float = 0.0
    bench_hours_ok: bool = True
    does: Does | None = None
    serves: tuple[Serving, ...] = ()
    keeps_waits: bool = True
    put_in: str = ""
    left_out: str = ""

    @property
    def takes(self) -> set[str]:
        """Keys of the materials that it takes."""
        return {one.material for one in self.materials}

    def own(self, part: int | None) -> list[tuple[int | None, PlannedStep]]:
        """Repairs that it serves, by key, each with its own plan, numbered as the steps of that repair are.

        `part` is the repair of a plan that serves one alone.
        """
        return [
            (one.part, replace(self, serves=(), index=one.step, minutes=one.minutes, does=one.does, mixes=one.mixes,
                               materials=one.materials))
            for one in self.serves
        ] or [(part, self)]  # fmt: skip

    def to_json(self) -> dict[str, Any]:
        """Step as the row keeps it."""
        mixes, does = [one.to_json() for one in self.mixes], None if self.does is None else self.does.to_json()
        materials, serves = [one.to_json() for one in self.materials], [one.to_json() for one in self.serves]
        if self.operation == SUNDRIES:
            return {"index": self.index, "operation": self.operation, "title": self.title, "instruction": "",
                    "cautions": [], "minutes": self.minutes, "does": does or {}, "mixes": mixes,
                    "materials": materials, "serves": serves}  # fmt: skip
        kept: dict[str, Any] = {
            "index": self.index, "operation": self.operation, "title": self.title, "instruction": self.instruction,
            "session": self.session, "boards": self.boards, "minutes": self.minutes,
            "earliest_start_h": self.earliest_start_h, "latest_start_h": self.latest_start_h, "if_late": self.if_late,
            "same_sitting": self.same_sitting, "pause_h": self.pause_h, "mixes": mixes, "materials": materials,
            "pieces": [one.to_json() for one in self.pieces], "measures": list(self.measures), "meets": self.meets,
            "cuts_back": self.cuts_back, "wait": _wait_to_json(self.wait), "cautions": list(self.cautions),
            "weight_g": self.weight_g, "bench_hours_ok": self.bench_hours_ok, "does": does,
        }  # fmt: skip
        if not self.keeps_waits:
            del kept["wait"], kept["meets"], kept["cuts_back"]
        said = {"serves": serves, "put_in": self.put_in, "left_out": self.left_out}
        return {**kept, **{name: value for name, value in said.items() if value}}

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> PlannedStep:
        """Step read back; one of before keeps what it knew, and its instruction without the doses that were in it."""
        known = {name: kept[name] for name in _PLAIN if name in kept}
        mixes = tuple(map(PlannedMix.from_json, kept.get("mixes") or ()))
        return cls(
            **known,
            instruction=without_doses(kept.get("instruction", ""), mixes),
            earliest_start_h=kept.get("earliest_start_h") or 0.0,
            mixes=mixes,
            materials=tuple(map(PlannedMaterial.from_json, kept.get("materials") or ())),
            pieces=tuple(map(PlannedPieces.from_json, kept.get("pieces") or ())),
            measures=tuple(kept.get("measures") or ()),
            wait=_wait_from_json(kept.get("wait")),
            cautions=without_sheet(kept.get("cautions") or ()),
            does=Does.from_json(kept.get("does")),
            serves=tuple(map(Serving.from_json, kept.get("serves") or ())),
            keeps_waits="wait" in kept,
        )


_PLAIN = (
    "operation", "index", "title", "session", "boards", "minutes", "latest_start_h", "if_late", "same_sitting",
    "pause_h", "meets", "cuts_back", "weight_g", "bench_hours_ok", "put_in", "left_out",
)  # fmt: skip


def _wait_to_json(wait: Wait | None) -> dict[str, Any] | None:
    return None if wait is None else {**wait._asdict(), "slowed": [[name, *one] for name, one in wait.slowed]}


def _wait_from_json(kept: Mapping[str, Any] | None) -> Wait | None:
    if kept is None:
        return None
    return Wait(**{**kept, "slowed": tuple((name, Slowed(*one)) for name, *one in kept["slowed"])})


def steps_from_json(kept: Sequence[Mapping[str, Any]]) -> tuple[PlannedStep, ...]:
    """Planned steps read back, in order."""
    return tuple(map(PlannedStep.from_json, kept))
