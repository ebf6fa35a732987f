"""Coverage of ranges: whether they hold as often as they say, with as much chance as so few jobs leave.

Of n jobs the number that an 80 % range holds is binomial; the central interval is summed exactly (Johnson, Kemp & Kotz,
Univariate Discrete Distributions, section 3.8, from memory). The shares that a count speaks for are the interval of
C. J. Clopper and E. S. Pearson, Biometrika 26 (1934): the same sums, asked the other way round.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from quotes.costing.stats.quantiles import beta_quantile

ENOUGH = 20  # jobs from which a share says something; common practice, no source


@dataclass(frozen=True, slots=True)
class RangeCoverage:
    """Number of `jobs` that a range `held`, and the counts between which that usually lies where the range is right."""

    jobs: int
    held: int
    low: int
    high: int

    @property
    def enough(self) -> bool:
        """Whether there are jobs enough to judge the range by."""
        return self.jobs >= ENOUGH

    @property
    def as_usual(self) -> bool:
        """Whether the count is one that a right range gives 19 times in 20."""
        return self.low <= self.held <= self.high


def coverage(count: int, jobs: int, share: float = 0.8) -> RangeCoverage:
    """Coverage of a range that should hold with the chance `share` and held `count` times of `jobs`.

    Raises ValueError for a count beyond the jobs or a share that is no chance.
    """
    if not 0 <= count <= jobs:
        raise ValueError(f"Of {jobs} jobs a range cannot hold {count}.")
    if not 0.0 < share < 1.0:
        raise ValueError(f"A share must lie between 0 and 1, both left out; {share:g} does not.")
    low, high = _usual(jobs, share)
    return RangeCoverage(jobs, count, low, high)


def true_share(count: int, of: int, beyond: float = 0.025) -> tuple[float, float]:
    """Lowest and highest share for which `count` of so many is no odder than a chance `beyond` on its side.

    Between 0 and 1 where there are none. Raises ValueError for a count beyond them.
    """
    if not 0 <= count <= of:
        raise ValueError(f"Of {of} no {count} can be so.")
    low = beta_quantile(beyond, count, of - count + 1) if count else 0.0
    high = beta_quantile(1.0 - beyond, count + 1, of - count) if count < of else 1.0
    return low, high


def _usual(jobs: int, share: float, beyond: float = 0.025) -> tuple[int, int]:
    """Counts below and above which at most a chance `beyond` lies."""
    chances = [math.comb(jobs, n) * share**n * (1.0 - share) ** (jobs - n) for n in range(jobs + 1)]
    below, low = 0.0, 0
    while below + chances[low] <= beyond:
        below, low = below + chances[low], low + 1
    above, high = 0.0, jobs
    while above + chances[high] <= beyond:
        above, high = above + chances[high], high - 1
    return low, high
