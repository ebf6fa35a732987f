"""How far off logs and spans are, what they weigh, and the normal equations of the logs, put together in blocks.

A log touches four entries of the state at most, so its share of the precision is a 4 × 4 square added in place: memory
grows with the number of logs by a few columns, never by the whole state.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from quotes.costing.learning.model.lines import tally
from quotes.costing.learning.model.logs import LogRows, Pull
from quotes.costing.stats.assumptions import Assumptions
from quotes.costing.stats.normal import Floats

_BLOCK = 8192  # logs taken at once
_LEAST_HELD = 0.05  # a log that makes up more than 95 % of what is known of it is judged as if it made up 95 %


def equations(rows: LogRows, found: Pull, weight: Floats, entries: int) -> tuple[Floats, Floats]:
    """Precision and gradient of the state (`entries`, not the idle one) from weighted logs, linearised as `found`."""
    n = entries + 1
    precision, gradient = np.zeros(n * n), np.zeros(n)
    push = weight * found.mean / found.sd
    hold = weight * found.information / found.sd**2
    for at in _blocks(len(weight)):
        columns, slope = rows.columns[at], found.slope[at]
        held = slope * hold[at][:, None]
        pairs = columns[:, :, None] * n + columns[:, None, :]
        precision += tally(pairs.ravel(), (held[:, :, None] * slope[:, None, :]).ravel(), n * n)
        gradient += tally(columns.ravel(), (slope * push[at][:, None]).ravel(), n)
    return precision.reshape(n, n)[:-1, :-1], gradient[:-1]


def surroundings(rows: LogRows, found: Pull, covariance: Floats) -> Floats:
    """Variance of what is expected of each log, from the state's covariance (idle entry included)."""
    around = np.zeros(len(rows.line))
    for at in _blocks(len(around)):
        columns, slope = rows.columns[at], found.slope[at]
        near = covariance[columns[:, :, None], columns[:, None, :]]
        around[at] = (np.matmul(near, slope[:, :, None])[:, :, 0] * slope).sum(axis=1)
    return around


def left_out(off: Floats, variance: Floats, around: Floats, hold: Floats) -> Floats:
    """Number of sd something is off when judged by everything but itself.

    `off` by how much, `variance` its own, `around` that of what is expected of it, `hold` the precision it brought to
    that.
    """
    held = np.clip(1.0 - hold * around, _LEAST_HELD, 1.0)
    result: Floats = off / held / np.sqrt(variance + around / held)
    return result


def forgiven(z: Floats, soft: float, cut: float) -> Floats:
    """Weight of something z sd off: 1 up to `soft`, then falling with the square, 0 beyond `cut`."""
    size = np.maximum(np.abs(z), soft)
    return np.where(size > cut, 0.0, (soft / size) ** 2)


def faded(day: Floats, today: float, assume: Assumptions) -> Floats:
    """Weight of what happened on a day, seen from today: half for every half-life."""
    result: Floats = 0.5 ** (np.maximum(today - day, 0.0) / assume.half_life_days)
    return result


def _blocks(n: int) -> Iterator[slice]:
    return (slice(start, min(start + _BLOCK, n)) for start in range(0, n, _BLOCK))
