"""What a shop knows about its past: needs on paper, logs, deliveries, counts and totals of hours.

Nothing here is computed. Days are numbers on any one scale (days since some morning); amounts are in the material's own
unit (g, mL, m, m2, each), minutes for labour. A step that was done again, or belongs to a comeback, carries `again`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from quotes.costing.stats.assumptions import MINUTES

_COUNTED = 1.15  # high over low of a trade range up to which pieces are counted


class Range(NamedTuple):
    """A trade figure: its middle, and the 5 to 95 % range."""

    mid: float
    low: float
    high: float


class Cell(NamedTuple):
    """An operation and a material ("minutes" for labour): what a factor belongs to."""

    operation: str
    material: str


@dataclass(frozen=True, slots=True)
class HistoryMaterial:
    """A material used up. `price` per unit, `loss` per mix (None where it is not mixed), steps of scale and count."""

    key: str
    unit: str
    price: float
    group: str = ""
    loss: Range | None = None
    log_step: float = 0.0
    count_step: float = 0.0
    max_batch: float | None = None
    in_parts: bool = False  # a piece serves several jobs

    @property
    def whole(self) -> bool:
        """Whether it is used by whole pieces: rounded up, at least one."""
        return self.unit == "each" and not self.in_parts


class Term(NamedTuple):
    """Need of one material on paper at one step, when, by whom; `mixes` as planned (0 where nothing is mixed).

    Without a worker or a brand it is by the first one met, as far as anybody knows.

    `step` tells the steps of an operation in a job apart, where they are known; the interchange form has none. `set_up`
    is the part of the need of minutes that goes into setting up, whatever the size of the work.
    """

    job: str
    operation: str
    day: float
    worker: str
    material: str
    need: float
    mixes: float = 0.0
    brand: str = ""
    again: bool = False
    step: str = ""
    set_up: float = 0.0


class Log(NamedTuple):
    """A weighed mix, a cut, or a timed step, as written down.

    A mix shared by several jobs is one log for each, with its share of the weight and of the mix (0.4 of a mix).
    """

    job: str
    operation: str
    material: str
    value: float
    mixes: float = 0.0
    again: bool = False


class Receipt(NamedTuple):
    """A delivery that went on the shelf, in the material's own unit."""

    day: float
    material: str
    qty: float


class ShelfCount(NamedTuple):
    """A count of what was on the shelf at the end of a day."""

    day: float
    material: str
    qty: float


class Hours(NamedTuple):
    """Hands-on minutes of one worker from one day to another, both included, whatever they were spent on.

    Without a worker it is the total of all.
    """

    from_day: float
    to_day: float
    worker: str
    minutes: float


@dataclass(frozen=True, slots=True)
class Trade:
    """Start of learning: the materials with their cup losses, and the trade default of every factor.

    `set_ups` is whether terms say what of their minutes goes into setting up.
    """

    materials: Mapping[str, HistoryMaterial]
    factors: Mapping[Cell, Range]
    set_ups: bool = False

    def whole(self, material: str) -> bool:
        """Whether a material is used by whole pieces. Minutes never are."""
        return material != MINUTES and self.materials[material].whole

    def counted(self, cell: Cell) -> bool:
        """Whether a cell takes pieces that are counted, not estimated: a fin box, not a worn disc.

        It has next to no range.
        """
        usual = self.factors.get(cell)
        return self.whole(cell.material) and (usual is None or usual.high <= _COUNTED * usual.low)

    def loss(self, material: str) -> Range | None:
        """Loss of a mix in its cup, in the material's unit; None where nothing is mixed."""
        return None if material == MINUTES else self.materials[material].loss

    def price(self, material: str, hourly: float) -> float:
        """Cost of one unit in currency; of a minute at the hourly rate."""
        return hourly / 60.0 if material == MINUTES else self.materials[material].price


@dataclass(frozen=True, slots=True)
class History:
    """Everything known of the past, and the trade defaults it starts from."""

    trade: Trade
    terms: Sequence[Term] = field(default_factory=tuple)
    logs: Sequence[Log] = field(default_factory=tuple)
    receipts: Sequence[Receipt] = field(default_factory=tuple)
    counts: Sequence[ShelfCount] = field(default_factory=tuple)
    hours: Sequence[Hours] = field(default_factory=tuple)

    @property
    def last_day(self) -> float:
        """Latest day anything is known of; 0 where nothing is."""
        days = [
            *(term.day for term in self.terms),
            *(count.day for count in self.counts),
            *(hours.to_day for hours in self.hours),
        ]
        return max(days, default=0.0)

    def before(self, day: float) -> History:
        """History as known on a day: steps done before it with their logs, receipts, counts and totals.

        A log is of all steps of an operation in a job: while one of them was ahead it was not known, and held against
        the others alone it would say far too much.
        """
        terms = tuple(term for term in self.terms if term.day < day)
        ahead = {(term.job, term.operation, term.material, term.again) for term in self.terms if term.day >= day}
        steps = {(term.job, term.operation, term.material, term.again) for term in terms} - ahead
        return replace(
            self,
            terms=terms,
            logs=tuple(log for log in self.logs if (log.job, log.operation, log.material, log.again) in steps),
            receipts=tuple(receipt for receipt in self.receipts if receipt.day < day),
            counts=tuple(count for count in self.counts if count.day < day),
            hours=tuple(hours for hours in self.hours if hours.to_day < day),
        )
