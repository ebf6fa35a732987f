"""Many quotes at once: what they cost at other prices, and how they may come out, in NumPy.

The lines of all snapshots lie in columns, the price of each in a list of its own, so that one new price of a resin or
an hour reprices every quote. Throwing needs dice that are handed in; a chunk of quotes is thrown at a time, so that
memory stays bounded whatever the number of quotes. What is done again now and then is tossed for by step.
Invariant: at the stored prices the costs are those of the snapshots.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from quotes.costing.learning.assumptions import USUAL, Assumptions
from quotes.costing.risk import factor_sd

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_CHUNK = 2_000_000  # amounts thrown at a time: 16 MB for each array


@dataclass(frozen=True, slots=True)
class Thrown:
    """How each quote came out over all draws: mean cost, quantiles, and the share of draws dearer than its price."""

    mean: Floats
    q10: Floats
    q50: Floats
    q90: Floats
    chance_of_loss: Floats


@dataclass(frozen=True, slots=True)
class Portfolio:
    """The lines of many snapshots in columns.

    `price` is an index into `keys`; money is in one currency, without tax.
    """

    keys: tuple[str, ...]
    stored: Floats  # unit cost by key, as stored
    middle: Floats  # need × factor
    sd: Floats  # of the logarithm
    loss: Floats
    least: Floats
    whole: NDArray[np.bool_]
    counted: Floats  # expected use as stored, for what prices alone move
    labour: NDArray[np.bool_]
    price: Ints
    cell: Ints  # lines of one cell come out high or low together
    quote: Ints
    again: Floats  # share of its doings that are done again, where the price carries it
    step: Ints  # lines of one step are done again together
    starts: Ints  # first line of each quote

    @classmethod
    def of(cls, snapshots: Sequence[Mapping[str, Any]], assume: Assumptions = USUAL) -> Portfolio:
        """All priced snapshots together. Raises ValueError if one has no lines."""
        columns: dict[str, list[Any]] = {name: [] for name in _COLUMNS}
        keys: dict[str, int] = {}
        stored: list[float] = []
        cells: dict[tuple[int, str], int] = {}
        steps: dict[tuple[int, int], int] = {}
        starts = []
        for number, snapshot in enumerate(snapshots):
            if not snapshot["lines"]:
                raise ValueError(f"Quote {number + 1} has no lines: put its problems right first.")
            starts.append(len(columns["middle"]))
            again = {one["step"]: one["rate"] for one in snapshot.get("again") or ()}
            for line in snapshot["lines"]:
                key = price_key(line)
                if key not in keys:
                    keys[key] = len(keys)
                    stored.append(line["unit_cost"]["value"])
                moves = line["moves_with"].partition(":")[2] or line["material"]
                cell = cells.setdefault((number, f"{line['operation']} {moves}"), len(cells))
                labour = line["kind"] in ("labour", "overhead")
                usual = assume.spread_labour if labour else assume.spread_material
                row = (
                    line["need"]["value"] * line["factor"]["value"], factor_sd(line["factor"], usual, assume),
                    line["mixes"] * line["loss"], line["least"], line["whole"],
                    line.get("expected", line["use"])["value"], labour, keys[key],
                    cell, number, 0.0 if line["kind"] == "consumable" else again.get(line["step"], 0.0),
                    steps.setdefault((number, line["step"]), len(steps)),
                )  # fmt: skip
                for name, value in zip(_COLUMNS, row, strict=True):
                    columns[name].append(value)
        made = {name: np.array(values, dtype=_COLUMNS[name]) for name, values in columns.items()}
        return cls(tuple(keys), np.array(stored), **made, starts=np.array(starts, dtype=np.int64))

    def unit_costs(self, changed: Mapping[str, float]) -> Floats:
        """Unit costs by key, with those that changed (material key, "labour" or "overhead") in place."""
        costs = self.stored.copy()
        for index, key in enumerate(self.keys):
            if key in changed:
                costs[index] = changed[key]
        return costs

    def costs(self, changed: Mapping[str, float]) -> Floats:
        """Expected cost of each quote at these unit costs, unrounded; no dice."""
        counted = self.counted * (1.0 + self.again)
        result: Floats = np.add.reduceat(counted * self.unit_costs(changed)[self.price], self.starts)
        return result

    def throw(
        self,
        changed: Mapping[str, float],
        nets: Floats,
        dice: np.random.Generator,
        draws: int,
        assume: Assumptions = USUAL,
    ) -> Thrown:
        """Each quote `draws` times, at these unit costs, against its price without tax (`nets`)."""
        prices = self.unit_costs(changed)[self.price]
        parts = [self._chunk(first, last, prices, nets, dice, draws, assume) for first, last in self._chunks(draws)]
        return Thrown(*(np.concatenate(column) for column in zip(*parts, strict=True)))

    def _chunks(self, draws: int) -> Iterator[tuple[int, int]]:
        """First and last quote of each chunk: as many as give about `_CHUNK` amounts."""
        lines = len(self.middle) / max(1, len(self.starts))
        step = max(1, int(_CHUNK / (draws * lines)))
        for first in range(0, len(self.starts), step):
            yield first, min(first + step, len(self.starts))

    def _chunk(
        self, first: int, last: int, prices: Floats, nets: Floats, dice: np.random.Generator, draws: int,
        assume: Assumptions,
    ) -> tuple[Floats, ...]:  # fmt: skip
        end = self.starts[last] if last < len(self.starts) else len(self.middle)
        rows = slice(self.starts[first], end)
        cell = self.cell[rows] - self.cell[rows].min()
        quote = self.quote[rows] - first
        log_factor = dice.standard_normal((draws, cell.max() + 1))[:, cell] * self.sd[rows]
        hard = dice.standard_normal((draws, 2, last - first)) * _difficulty(assume)
        moved = hard[:, self.labour[rows].astype(np.int64), quote]
        moved *= self.sd[rows] > 0
        log_factor += moved
        use = np.exp(log_factor, out=log_factor)
        use *= self.middle[rows]
        use += self.loss[rows]
        np.maximum(use, self.least[rows], out=use)
        whole = self.whole[rows]
        use[:, whole] = np.maximum(1.0, np.ceil(use[:, whole] - 1e-9))
        use *= prices[rows]
        if self.again[rows].any():
            step = self.step[rows] - self.step[rows].min()
            use *= 1.0 + (dice.random((draws, step.max() + 1))[:, step] < self.again[rows])
        cost = np.add.reduceat(use, self.starts[first:last] - self.starts[first], axis=1)
        q10, q50, q90 = np.quantile(cost, (0.1, 0.5, 0.9), axis=0)
        return cost.mean(axis=0), q10, q50, q90, (cost > nets[first:last]).mean(axis=0)


_COLUMNS: dict[str, Any] = {
    "middle": np.float64, "sd": np.float64, "loss": np.float64, "least": np.float64, "whole": np.bool_,
    "counted": np.float64, "labour": np.bool_, "price": np.int64, "cell": np.int64, "quote": np.int64,
    "again": np.float64, "step": np.int64,
}  # fmt: skip


def price_key(line: Mapping[str, Any]) -> str:
    """What a line is paid by: its material, or "labour" or "overhead"."""
    return line["material"] or str(line["kind"])


def _difficulty(assume: Assumptions) -> Floats:
    return np.array([[assume.difficulty_material], [assume.difficulty_labour]])
