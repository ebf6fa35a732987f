"""Speed as ratios: our own code against a floor of the same work, in the same run, on the same machine.

A bench is a module `bench_*.py` with a function `ratios() -> list[Ratio]`. The floor is written out plainly beside it.
"""

from __future__ import annotations

import gc
import statistics
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass


@dataclass(frozen=True)
class Ratio:
    """How many times its floor something takes; `most` is what we hold ourselves to, None is report only."""

    name: str
    ours_s: float
    floor_s: float
    ratio: float
    most: float | None
    floor_words: str

    @property
    def held(self) -> bool:
        return self.most is None or self.ratio <= self.most

    def as_dict(self) -> dict[str, object]:
        return {**asdict(self), "held": self.held}


def measure(
    name: str,
    *,
    ours: Callable[[], object],
    floor: Callable[[], object],
    floor_words: str,
    most: float | None = None,
    rounds: int = 7,
    loops: int = 1,
) -> Ratio:
    """Run ours and the floor in turn, after one warm round each, and take the median of the ratios pair by pair."""
    ours()
    floor()
    pairs = [(_clock(ours, loops), _clock(floor, loops)) for _ in range(rounds)]
    return Ratio(
        name=name,
        ours_s=statistics.median(a for a, _ in pairs),
        floor_s=statistics.median(b for _, b in pairs),
        ratio=statistics.median(a / b for a, b in pairs),
        most=most,
        floor_words=floor_words,
    )


def _clock(work: Callable[[], object], loops: int) -> float:
    gc.disable()  # as timeit does: a collection would fall now on one of the two, now on the other
    try:
        start = time.perf_counter()
        for _ in range(loops):
            work()
        return (time.perf_counter() - start) / loops
    finally:
        gc.enable()
