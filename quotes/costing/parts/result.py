"""What an estimate is made of: lines of cost, steps of work, problems, and the money on top.

Everything here is filled once by `damage.estimate` and read afterwards; `Estimate.snapshot` is what a quote keeps of
it. Invariant: `cost` is the rounded sum of the unrounded lines, and the shown cents of the lines add up to it.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Literal, NamedTuple

from quotes.costing.basis.lazy_words import Text, Words
from quotes.costing.parts.usage import UsageFactor, rounded_use
from quotes.costing.snapshot import MadeOf, SnapshotLine, UnitCost
from quotes.costing.snapshot.lines import POOLED, TIME
from quotes.costing.snapshot.lines import LineKind as LineKind


class Supply(NamedTuple):
    """Unit and price of a material (None for hands-on time); `scale` is stock units to one unit asked for."""

    material: str | None
    name: str
    unit: str
    scale: float
    price: float
    source: str
    guess: bool = False


class CostLine:
    """A line of cost, as one step takes it; it is never changed.

    `need` is what geometry asks for, `use` what this shop is expected to use up; `loss` is what each of `mixes` leaves
    in its cup (of one that serves other damages too only a part is counted), `loss_learned` times what the trade says,
    `least` the smallest use; all in the unit of the supply. `expected` is the mean of what it may come to, above the
    middle that is planned; the cost is of the mean. Lines of one step with the same `moves_with` are one uncertain
    thing (resin and its hardener, wage and overhead). `whole` rounds up to whole pieces.
    """

    __slots__ = ("cost", "expected", "factor", "kind", "name", "need", "operation", "supply", "use", "words")
    mixes: float = 0
    loss: float = 0.0
    loss_learned: float = 1.0
    least: float = 0.0
    moves_with: str = ""
    whole: bool = False
    sundry: bool = False
    set_up: float = 0.0
    parts: Sequence[tuple[int, float, UsageFactor]] = ()

    def __init__(
        self, operation: str, kind: LineKind, supply: Supply, name: Text, need: float, words: Text, factor: UsageFactor
    ) -> None:
        """Line whose use and cost are still to be reckoned; `need` in the unit of the supply."""
        self.operation = operation
        self.kind = kind
        self.supply = supply
        self.name = name
        self.need = need
        self.words = words
        self.factor = factor
        self.reckon()

    def reckon(self) -> None:
        """Set its use, the mean of that, and what the mean costs."""
        cups, factor = self.mixes * self.loss, self.factor
        mean = factor.expected(self.kind in TIME)
        self.use = rounded_use(self.need * factor.value + cups, self.least, self.whole)
        self.expected = rounded_use(self.need * mean + cups, self.least, self.whole)
        self.cost = self.expected * self.supply.price

    @property
    def formula(self) -> str:
        """Words with figures for how the need came about."""
        return str(self.words)

    @property
    def taught_as(self) -> tuple[str, str]:
        """Operation and material under which its factor is learned."""
        return self.operation, self.moves_with or self.supply.material or self.supply.name

    def made_of(self) -> MadeOf | None:
        """Parts that the planned use was made of; None where counted."""
        default = self.factor.default or self.factor
        if default.low == default.high:
            return None
        cups = self.mixes * self.loss
        return MadeOf(*self.taught_as, default.value, self.need, cups, self.least, self.whole)

    def kept(self, step: int, shown: int, decimals: int = 2) -> SnapshotLine:
        """Line as the snapshot keeps it, at its step, with the minor units of the currency it is shown with."""
        supply, loss = self.supply, self.loss
        return SnapshotLine(
            self.operation, step, self.kind, supply.material, str(self.name), self.need, supply.unit, str(self.words),
            self.factor.used(), self.mixes, loss, loss / self.loss_learned, self.least, self.whole, self.moves_with,
            self.use, self.expected, UnitCost(supply.price, supply.unit, supply.source, supply.guess), self.cost,
            Decimal(minor_words(shown, decimals)), self.set_up,
        )  # fmt: skip


class TimeLine(CostLine):
    """A line of hands-on time: the wage and the overhead of one step come out high or low together.

    `set_up` is the part of its need that sets up, in standard minutes.
    """

    __slots__ = ("set_up",)
    moves_with = "minutes"

    def __init__(
        self, operation: str, kind: LineKind, supply: Supply, name: Text, need: float, words: Text, factor: UsageFactor,
        set_up: float,
    ) -> None:  # fmt: skip
        self.set_up = set_up
        super().__init__(operation, kind, supply, name, need, words, factor)


class MixedLine(CostLine):
    """A part of a mix: each mix leaves its cup, and none is smaller than can be metered."""

    __slots__ = ("least", "loss", "loss_learned", "mixes", "moves_with")

    def __init__(
        self, operation: str, supply: Supply, need: float, words: Text, factor: UsageFactor, *,
        mixes: float, loss: float, least: float, moves_with: str, loss_learned: float,
    ) -> None:  # fmt: skip
        self.mixes, self.loss, self.least = mixes, loss, least
        self.moves_with, self.loss_learned = moves_with, loss_learned
        super().__init__(operation, "material", supply, supply.name, need, words, factor)

    def with_others(self, ratio: float) -> MixedLine:
        """Line whose cups serve other damages too: `ratio` is the share of its own cups that counts, 0 to 1."""
        return MixedLine(
            self.operation, self.supply, self.need, self.words, self.factor, mixes=self.mixes * ratio, loss=self.loss,
            least=self.least * ratio, moves_with=self.moves_with, loss_learned=self.loss_learned,
        )  # fmt: skip


class Share(NamedTuple):
    """A step's share of something that its job counts together: discs, cups, solvent. In the supply's unit.

    `goes_by` says what it grows with: its own size, the session (taken once, however many of its steps ask for it), the
    cups that are really mixed, or the standard minute of its step. `least` is the smallest share of a job.
    """

    supply: Supply
    need: float
    words: Text
    factor: UsageFactor
    whole: bool = False
    least: float = 0.0
    goes_by: Literal["size", "session", "cup", "minute"] = "size"


class PooledLine(CostLine):
    """A line that several steps of a job share: `parts` are (step, need, factor), the first step takes it.

    Whole pieces are rounded up for the job, at least one; what is no piece that is put in is a `sundry`.
    """

    __slots__ = ("least", "parts", "sundry", "whole")
    parts: list[tuple[int, float, UsageFactor]]

    def __init__(self, operation: str, first: Share) -> None:
        self.operation, self.kind, self.supply, self.name = operation, "consumable", first.supply, first.supply.name
        self.words, self.factor, self.whole, self.least = first.words, first.factor, first.whole, first.least
        self.sundry = not first.whole
        self.parts = []  # nothing is reckoned before they are added up

    @property
    def taught_as(self) -> tuple[str, str]:
        """Operation and material under which it is learned: for the job as a whole."""
        return POOLED, self.supply.material or self.supply.name

    def add_up(self) -> None:
        """Set need and expected use over all its parts, and what that costs."""
        parts, factor = self.parts, self.factor
        need, alike = 0.0, True
        for _, value, one in parts:
            need += value
            alike = alike and one is factor
        if not alike:
            self.factor = factor = _mean_factor(parts, need)
        self.need = need
        self.reckon()
        if len(parts) > 1:
            self.words = Words("{}, over {} steps", self.words, len(parts))


def _mean_factor(parts: Sequence[tuple[int, float, UsageFactor]], need: float) -> UsageFactor:
    """Factor of the whole where its parts have several: their mean by need."""
    value, low, high = (
        sum([share * getattr(factor, end) for _, share, factor in parts]) / need for end in ("value", "low", "high")
    )
    first = parts[0][2]
    default = None
    if first.learned is not None:  # what is shared was learned for the job as a whole: the same for all parts
        default = _mean_factor([(step, share, factor.default or factor) for step, share, factor in parts], need)
    return UsageFactor(value, low, high, first.source, first.spread, default, first.learned, first.name)


def minor_words(minor: int, decimals: int) -> str:
    """Decimal string of whole minor units: 42731 with 2 decimals is "427.31"."""
    if decimals == 0:
        return str(minor)
    sign, digits = ("-" if minor < 0 else ""), str(abs(minor)).rjust(decimals + 1, "0")
    return f"{sign}{digits[:-decimals]}.{digits[-decimals:]}"
