"""From how much a state was learned, and how one factor is shown with it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from quotes.costing.basis.lazy_words import many
from quotes.costing.stats.normal import Floats


@dataclass(frozen=True, slots=True)
class Evidence:
    """Evidence that each entry was learned from, weighted and faded, entry by entry.

    `spread_sum` and `spread_weight` hold the squared job-to-job deviations and how many they stand for; `own_sum` and
    `own_weight` the shop's own mean of logarithms over trade. `logs` and `counts` are plain numbers of what was
    trusted. `set_ups` holds the parts of logged minutes that set up, summed as `own_sum` is.
    """

    spread_sum: Floats
    spread_weight: Floats
    own_sum: Floats
    own_weight: Floats
    logs: Floats
    counts: Floats
    set_ups: Floats

    @staticmethod
    def none(entries: int) -> Evidence:
        """No evidence at all."""
        return Evidence(*(np.zeros(entries) for _ in range(7)))

    def longer(self, entries: int) -> Evidence:
        """Evidence with room for more entries at the end."""
        return Evidence(*(np.pad(column, (0, entries - len(column))) for column in self.columns()))

    def columns(self) -> tuple[Floats, ...]:
        """Columns of weights, sums and numbers, all seven in the order of the fields."""
        return (
            self.spread_sum, self.spread_weight, self.own_sum, self.own_weight, self.logs, self.counts, self.set_ups,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Figure:
    """A factor as it is shown: trade default, this shop's own figure, and what is used with its ranges.

    `own` is None without trusted logs. `low` and `high` are the 80 % range of the factor, `job_low` and `job_high` that
    of a single job's use over need; `sd` and `spread` the standard deviations of logarithms behind them.
    """

    trade: float
    own: float | None
    used: float
    low: float
    high: float
    job_low: float
    job_high: float
    sd: float
    spread: float
    logs: int
    counts: int

    def in_words(self) -> str:
        """Words for it: “trade 1.30, your 7 logs 1.44, used 1.41 (eight in ten: 1.22 to 1.63)”."""
        return shown_in_words(self.trade, self.own, self.used, self.low, self.high, self.logs, self.counts)


def shown_in_words(
    trade: float, own: float | None, used: float, low: float, high: float, logs: int, counts: int
) -> str:
    """Words for a factor as it is shown; `low` to `high` is its 80 % range, `own` None without logs."""
    mine = f"your {many(logs, 'log')} {own:.2f}, " if own else ""
    counted = f"{many(counts, 'count')}, " if counts else ""
    return f"trade {trade:.2f}, {mine}{counted}used {used:.2f} (eight in ten: {low:.2f} to {high:.2f})"
