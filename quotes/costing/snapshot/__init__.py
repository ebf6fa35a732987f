"""What a quote keeps of an estimate, typed: frozen when it is worked out, read by every room above, also years later.

`Snapshot.from_json` is the one reader: it checks the schema and brings what older versions kept up to today's shape.
`to_json` is the one writer. Words are made from it where they are shown; none in it is searched or compared.

    lines ← factor used, unit cost        steps ← doses, materials, pieces, waits        problems ← remedy
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, NamedTuple

from quotes.costing.snapshot.lines import Carried, FactorUsed, SnapshotLine, UnitCost
from quotes.costing.snapshot.mixes import PlannedMix, StirredIn
from quotes.costing.snapshot.old_plans import without_sheet
from quotes.costing.snapshot.problems import Problem, Remedy
from quotes.costing.snapshot.steps import (
    Does,
    MadeOf,
    PlannedMaterial,
    PlannedPieces,
    PlannedStep,
    Serving,
    steps_from_json,
)

__all__ = [
    "NO_SNAPSHOT",
    "SCHEMA",
    "Carried",
    "Does",
    "FactorUsed",
    "KnownFrom",
    "MadeOf",
    "Margin",
    "MeasureTaken",
    "PlannedMaterial",
    "PlannedMix",
    "PlannedPieces",
    "PlannedStep",
    "Problem",
    "Remedy",
    "Serving",
    "Snapshot",
    "SnapshotLine",
    "StirredIn",
    "Trail",
    "UnitCost",
    "UnknownSchema",
    "lines_from_json",
    "problems_from_json",
    "steps_from_json",
    "values_from_json",
]

SCHEMA = 2


class UnknownSchema(ValueError):
    """A snapshot kept by a later version than this one."""


class KnownFrom(NamedTuple):
    """The state of learning that factors were taken from: its digest, from how much it came, and when."""

    digest: str
    jobs: int
    logs: int
    counts: int
    learned_at: str | None = None


class MeasureTaken(NamedTuple):
    """A measure as it was taken: its value in its unit, and what was typed."""

    label: str
    value: float
    unit: str
    typed: str


class Trail(NamedTuple):
    """A stage on the way from cost to price: words, and the amount in currency at it."""

    words: str
    amount: str


class Margin(NamedTuple):
    """Margin in currency, as a share of the price and of the cost in per cent, and how the price came about."""

    method: str
    percent: float
    amount: Decimal
    of_price_percent: float
    of_cost_percent: float
    trail: tuple[Trail, ...]

    def to_json(self) -> dict[str, Any]:
        """Margin as the row keeps it."""
        return {**self._asdict(), "amount": str(self.amount), "trail": [one._asdict() for one in self.trail]}

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> Margin:
        """Margin read back."""
        trail = tuple(Trail(**one) for one in kept["trail"])
        return cls(**{**kept, "amount": Decimal(kept["amount"]), "trail": trail})


@dataclass(frozen=True, slots=True)
class Snapshot:
    """An estimate as it is kept: money in `currency` and exact, times in minutes and days, weight in g.

    Money is there only while there are no `problems`. `outlay` is the cost without wages, `again` what is carried for
    work done again; `figures` are the shop's own that it was worked out with (None: kept before they were), `alone`
    whether no other board shared its set-ups, `known_from` what its factors were learned from (None: nothing).
    """

    recipe: str = ""
    recipe_name: str = ""
    recipe_version: int = 0
    currency: str = ""
    known_from: KnownFrom | None = None
    figures: Mapping[str, float] | None = None
    alone: bool = False
    measures: Mapping[str, MeasureTaken] = field(default_factory=dict)
    lines: tuple[SnapshotLine, ...] = ()
    again: tuple[Carried, ...] = ()
    cost: Decimal | None = None
    cost_unrounded: float | None = None
    outlay: float | None = None
    spent: Mapping[str, Decimal] | None = None
    margin: Margin | None = None
    price_before_tax: Decimal | None = None
    tax: Decimal | None = None
    tax_rate: float = 0.0
    price: Decimal | None = None
    shown: Decimal | None = None
    minutes: float = 0.0
    expected_minutes: float = 0.0
    earned_per_hour: float | None = None
    ready_days: float = 0.0
    added_weight_g: float = 0.0
    cautions: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    steps: tuple[PlannedStep, ...] = ()
    may_turn_up: str = ""
    release_check: tuple[str, ...] = ()
    aftercare: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Snapshot as the row keeps it: money as strings, everything else plain."""
        known, spent = self.known_from, self.spent
        return {
            "schema": SCHEMA,
            "recipe": self.recipe,
            "recipe_name": self.recipe_name,
            "recipe_version": self.recipe_version,
            "currency": self.currency,
            "experience": None if known is None else known._asdict(),
            "figures": None if self.figures is None else dict(self.figures),
            "alone": self.alone,
            "measures": {name: one._asdict() for name, one in self.measures.items()},
            "lines": [one.to_json() for one in self.lines],
            "again": [one.to_json() for one in self.again],
            "cost": _said(self.cost),
            "cost_unrounded": self.cost_unrounded,
            "outlay": self.outlay,
            "spent": None if spent is None else {kind: str(amount) for kind, amount in spent.items()},
            "margin": None if self.margin is None else self.margin.to_json(),
            "price_before_tax": _said(self.price_before_tax),
            "tax": _said(self.tax),
            "tax_rate": self.tax_rate,
            "price": _said(self.price),
            "shown": _said(self.shown),
            "minutes": self.minutes,
            "expected_minutes": self.expected_minutes,
            "earned_per_hour": self.earned_per_hour,
            "earliest_ready_days": self.ready_days,
            "added_weight_g": self.added_weight_g,
            "cautions": list(self.cautions),
            "problems": [one.to_json() for one in self.problems],
            "steps": [one.to_json() for one in self.steps],
            "may_turn_up": self.may_turn_up,
            "release_check": list(self.release_check),
            "aftercare": list(self.aftercare),
        }

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> Snapshot:
        """Snapshot read back; `NO_SNAPSHOT` where nothing is kept yet. Raises UnknownSchema for a later version's.

        The first schema has no mean beside the middle: hands are expected to take what is planned.
        """
        if not kept:
            return NO_SNAPSHOT
        if kept["schema"] not in range(1, SCHEMA + 1):
            raise UnknownSchema(
                f"This estimate has schema {kept['schema']}; up to {SCHEMA} is known here: update first."
            )
        known, spent, margin = kept.get("experience"), kept.get("spent"), kept["margin"]
        return cls(
            **_plain(kept),
            known_from=KnownFrom(**known) if known else None,
            figures=kept.get("figures"),
            alone=kept.get("alone", False),
            measures={name: MeasureTaken(**one) for name, one in kept["measures"].items()},
            lines=lines_from_json(kept["lines"]),
            again=tuple(map(Carried.from_json, kept.get("again") or ())),
            spent=None if spent is None else {kind: Decimal(amount) for kind, amount in spent.items()},
            margin=Margin.from_json(margin) if margin else None,
            expected_minutes=kept.get("expected_minutes", kept["minutes"]),
            ready_days=kept["earliest_ready_days"],
            cautions=without_sheet(kept["cautions"]),
            problems=tuple(map(Problem.from_json, kept["problems"])),
            steps=steps_from_json(kept["steps"]),
            may_turn_up=kept.get("may_turn_up", ""),
            release_check=tuple(kept.get("release_check") or ()),
            aftercare=tuple(kept.get("aftercare") or ()),
        )


NO_SNAPSHOT = Snapshot()
_PLAIN = (
    "recipe", "recipe_name", "recipe_version", "currency", "cost_unrounded", "outlay", "tax_rate", "minutes",
    "earned_per_hour", "added_weight_g",
)  # fmt: skip
_MONEY = ("cost", "price_before_tax", "tax", "price", "shown")


def problems_from_json(kept: Sequence[Mapping[str, Any]]) -> tuple[Problem, ...]:
    """Problems read back by themselves, where a way keeps those of all its repairs."""
    return tuple(map(Problem.from_json, kept))


def values_from_json(kept: Mapping[str, Mapping[str, Any]] | None) -> dict[str, float]:
    """Values of measures read back by themselves, by name, in canonical units."""
    return {name: one["value"] for name, one in (kept or {}).items()}


def lines_from_json(kept: Sequence[Mapping[str, Any]] | None) -> tuple[SnapshotLine, ...]:
    """Lines of a snapshot read back by themselves, where a page asks the database for these alone."""
    return tuple(map(SnapshotLine.from_json, kept or ()))


def _plain(kept: Mapping[str, Any]) -> dict[str, Any]:
    """What of a snapshot is plain, and its money."""
    money = {name: None if kept[name] is None else Decimal(kept[name]) for name in _MONEY}
    return {**{name: kept[name] for name in _PLAIN}, **money}


def _said(amount: Decimal | None) -> str | None:
    return None if amount is None else str(amount)
