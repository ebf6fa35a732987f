"""The doses of a snapshot: each mix of a step with what its gel and its catalyst hang on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from quotes.costing.basis.going_off import Catalyst, Ladder, Resin


class StirredIn(NamedTuple):
    """An addition to each cup of a mix: a material, and so much of it, in g or mL."""

    material: str
    amount: float
    unit: str


@dataclass(frozen=True, slots=True)
class PlannedMix:
    """A mix, of which `count` are made: grams of resin and of what hardens it, or of foam its two parts.

    A catalyst has its millilitres, drops and per cent beside it; a fixed `ratio` is by weight. `gel_min` is the
    earliest and latest gel in min, `told_for_c` the temperature in °C that all of it is told for (None: kept before
    that was said), `goes_off` what it hangs on, `floor_c` the least °C it is mixed at.
    """

    system: str = ""
    resin: str = ""
    resin_g: float = 0.0
    hardener: str = ""
    catalyst_g: float | None = None
    catalyst_ml: float | None = None
    drops: int | None = None
    percent: float | None = None
    hardener_g: float | None = None
    ratio: tuple[float, float] | None = None
    part_a_g: float | None = None
    part_b_g: float | None = None
    liquid_ml: float | None = None
    gel_min: tuple[float, float] | None = None
    count: int = 1
    told_for_c: float | None = None
    floor_c: float | None = None
    goes_off: Resin | None = None
    stirred_in: tuple[StirredIn, ...] = ()

    @property
    def hardens_g(self) -> float | None:
        """Catalyst or hardener in grams that goes to its resin; None where it names none."""
        return self.hardener_g if self.catalyst_g is None else self.catalyst_g

    @property
    def dose_in_words(self) -> bool:
        """Whether it was kept before a dose stood apart, when the instruction of its step told it too."""
        return self.told_for_c is None

    def to_json(self) -> dict[str, Any]:
        """Mix as the row keeps it: what it does not have is left out."""
        catalyst = self.hardener if self.catalyst_g is not None else ""
        found = {
            "system": self.system, "resin": self.resin, "resin_g": self.resin_g, "hardener": self.hardener or None,
            "catalyst": catalyst or None, "catalyst_g": self.catalyst_g, "catalyst_ml": self.catalyst_ml,
            "drops": self.drops, "percent": self.percent, "hardener_g": self.hardener_g,
            "ratio": None if self.ratio is None else list(self.ratio), "part_a_g": self.part_a_g,
            "part_b_g": self.part_b_g, "liquid_ml": self.liquid_ml,
            "gel_min": None if self.gel_min is None else list(self.gel_min), "count": self.count,
            "told_for_c": self.told_for_c, "by_temperature": self._by_temperature(),
            "stirred_in": [one._asdict() for one in self.stirred_in] or None,
        }  # fmt: skip
        return {name: value for name, value in found.items() if value is not None}

    def _by_temperature(self) -> dict[str, Any] | None:
        """Basis of the mix at other temperatures, as the row keeps it; None where that is not kept."""
        if self.goes_off is None:
            return None if self.floor_c is None else {"floor_c": self.floor_c}
        one = self.goes_off
        kept = {"floor_c": one.floor_c, "gel": list(one.gel), "gel_c": one.gel_c, "speed": list(one.speed),
                "usual": list(one.usual or ())}  # fmt: skip
        if one.catalyst is None:
            return kept
        return {**kept, "catalyst": {**one.catalyst._asdict(), "ladder": list(one.catalyst.ladder)}}

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> PlannedMix:
        """Mix read back."""
        hangs, ratio, gel = kept.get("by_temperature") or {}, kept.get("ratio"), kept.get("gel_min")
        return cls(
            system=kept.get("system") or "",
            resin=kept.get("resin", ""),
            resin_g=kept.get("resin_g") or 0.0,
            hardener=kept.get("hardener") or kept.get("catalyst") or "",
            catalyst_g=kept.get("catalyst_g"),
            catalyst_ml=kept.get("catalyst_ml"),
            drops=kept.get("drops"),
            percent=kept.get("percent"),
            hardener_g=kept.get("hardener_g"),
            ratio=None if not ratio else (ratio[0], ratio[1]),
            part_a_g=kept.get("part_a_g"),
            part_b_g=kept.get("part_b_g"),
            liquid_ml=kept.get("liquid_ml"),
            gel_min=None if not gel else (gel[0], gel[1]),
            count=kept.get("count") or 1,
            told_for_c=kept.get("told_for_c"),
            floor_c=hangs.get("floor_c"),
            goes_off=_goes_off(hangs) if "gel" in hangs else None,
            stirred_in=tuple(StirredIn(**one) for one in kept.get("stirred_in") or ()),
        )


def _goes_off(kept: Mapping[str, Any]) -> Resin:
    """What a mix hangs on; the oldest keep no middle of gel and speed."""
    found = kept.get("catalyst")
    catalyst = None if found is None else Catalyst(**{**found, "ladder": Ladder(*found["ladder"])})
    gel, speed, usual = kept["gel"], kept["speed"], kept.get("usual") or None
    middle = None if usual is None else (usual[0], usual[1])
    return Resin(kept["floor_c"], (gel[0], gel[1]), kept["gel_c"], (speed[0], speed[1]), catalyst, middle)
