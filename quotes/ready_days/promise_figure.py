"""What the shop knows of itself for a promise: where a figure started, what its own rows say, what is used of both.

A starting figure counts for so many observations (`worth`), as a trade's rate does in the learning; each of the shop's
own counts for one. Then a share has a beta law again, a rate a gamma, the middle of a log-normal a normal on the
logarithm, a spread a scaled inverse chi-square. Source: A. Gelman and others, Bayesian Data Analysis, sections 2.4 to
2.6, from memory. Every starting figure and its worth is common practice, no source, unless said beside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from quotes.costing.stats.normal import quantile
from quotes.costing.stats.quantiles import EIGHT_IN_TEN, beta_quantile, gamma_quantile

_REACH = quantile(EIGHT_IN_TEN[1])  # sd from the middle to the ends of eight in ten


@dataclass(frozen=True, slots=True)
class FigureRange:
    """A figure with the range that holds it eight times in ten."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class PromiseFigure:
    """A figure: where it started, what `count` observations of the shop say (None: nothing yet), what is used.

    Shares and chances between 0 and 1, spreads as sd, `answer_h` in hours, `jobs_a_day` a day worked.
    """

    name: str
    start: FigureRange
    own: float | None
    count: int
    used: FigureRange

    @property
    def learned(self) -> bool:
        """Whether the shop's own rows say anything about it."""
        return self.own is not None


def not_learned(name: str, start: float, low: float, high: float) -> PromiseFigure:
    """A figure about which no row says anything: it is used as it starts."""
    known = FigureRange(start, low, high)
    return PromiseFigure(name, known, None, 0, known)


def share(name: str, start: float, worth: float, count: int, of: int) -> PromiseFigure:
    """A share or a chance, by how often it was so. `start` lies between 0 and 1, both left out; no more were so than
    there are."""
    count = min(count, of)

    def law(so: float, all_of_them: float) -> FigureRange:
        a, b = start * worth + so, (1.0 - start) * worth + all_of_them - so
        return FigureRange(a / (a + b), *(beta_quantile(chance, a, b) for chance in EIGHT_IN_TEN))

    return PromiseFigure(name, law(0, 0), count / of if of else None, of, law(count, of) if of else law(0, 0))


def rate(name: str, start: float, worth: float, events: int, days: int) -> PromiseFigure:
    """How often something comes on a day, by how often it came on so many days. `start` is above zero."""

    def law(came: float, on_days: float) -> FigureRange:
        shape, weight = start * worth + came, worth + on_days
        return FigureRange(shape / weight, *(gamma_quantile(chance, shape) / weight for chance in EIGHT_IN_TEN))

    return PromiseFigure(name, law(0, 0), events / days if days else None, days, law(events, days))


def middle_of_hours(name: str, start: float, sd_log: float, worth: float, hours: Sequence[float]) -> PromiseFigure:
    """The middle of hours whose logarithm scatters by `sd_log`; all hours are above zero."""
    logs = [math.log(one) for one in hours]

    def law(seen: Sequence[float]) -> FigureRange:
        count = worth + len(seen)
        middle, near = (math.log(start) * worth + math.fsum(seen)) / count, _REACH * sd_log / math.sqrt(count)
        return FigureRange(math.exp(middle), math.exp(middle - near), math.exp(middle + near))

    own = math.exp(math.fsum(logs) / len(logs)) if logs else None
    return PromiseFigure(name, law(()), own, len(logs), law(logs))


def spread(
    name: str, start: float, worth: float, squares: float, count: int, *, least: float = 0.0, most: float = math.inf
) -> PromiseFigure:
    """A spread (sd), by the sum of squared distances from the middle of so many observations.

    What is used is kept between `least` and `most`: a spread beyond them is odd rows, not the work.
    """

    def law(of: float, seen: float) -> FigureRange:
        weight = worth + seen
        whole = start * start * worth + of
        ends = (math.sqrt(whole / (2.0 * gamma_quantile(1.0 - chance, weight / 2.0))) for chance in EIGHT_IN_TEN)
        return _kept(FigureRange(math.sqrt(whole / weight), *ends), least, most)

    own = math.sqrt(squares / count) if count else None
    return PromiseFigure(name, law(0, 0), own, count, law(squares, count))


def mean_share(
    name: str, start: float, sd: float, seen: Sequence[tuple[float, float]], *, of_days: float, doubt: float,
    least: float, most: float,
) -> PromiseFigure:  # fmt: skip
    """The mean of a share that scatters by `of_days` from day to day, by days as (share, weight).

    `sd` is how far the start may lie off; `doubt` is an sd that no number of days takes away, so that they never count
    for all. What is used is kept between `least` and `most`.
    """
    whole = math.fsum(weight for _, weight in seen)
    start_range = _normal(start, sd)
    if not whole:
        return PromiseFigure(name, _kept(start_range, least, most), None, 0, _kept(start_range, least, most))
    own = math.fsum(one * weight for one, weight in seen) / whole
    noise = of_days**2 * math.fsum(weight**2 for _, weight in seen) / whole**2 + doubt**2
    trust = sd**2 / (sd**2 + noise)
    used = _normal(start + trust * (own - start), sd * math.sqrt(1.0 - trust))
    return PromiseFigure(name, _kept(start_range, least, most), own, len(seen), _kept(used, least, most))


def _normal(middle: float, sd: float) -> FigureRange:
    return FigureRange(middle, middle - _REACH * sd, middle + _REACH * sd)


def _kept(figure: FigureRange, least: float, most: float) -> FigureRange:
    return FigureRange(*(min(most, max(least, value)) for value in (figure.value, figure.low, figure.high)))
