"""What is measured on a board: each with a dimension, a label, a hint and the limits of the plausible.

A value beyond the limits is asked about once and then accepted; it is never guessed or clipped. Beyond twenty times the
upper one, or what no board in a shop has, it is a slip and refused whoever says yes to it.
Lengths come in mm, areas in cm², volumes in mL, weights in g, times in min, temperatures in °C.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple

from quotes.costing.snapshot import Problem, Remedy

Dimension = Literal["length", "area", "volume", "mass", "count", "temperature", "time"]
UNIT: dict[Dimension, str] = {
    "length": "mm", "area": "cm2", "volume": "mL", "mass": "g", "count": "piece", "temperature": "degC", "time": "min",
}  # fmt: skip


CEILING: dict[Dimension, float] = {
    "length": 10_000.0,
    "area": 100_000.0,
    "volume": 500_000.0,
    "mass": 100_000.0,
    "count": 200.0,
    "temperature": 200.0,
    "time": 60_000.0,
}  # 10 m, 10 m2, 500 L, 100 kg, two hundred pieces, 200 degC, a thousand hours; our own limits, no source
BEYOND = 20.0  # times the upper limit of the plausible; our own limit


class Given(NamedTuple):
    """A measure as handed in: its value in the canonical unit, and what the person typed."""

    value: float
    typed: str = ""


@dataclass(frozen=True, slots=True)
class Measure:
    """A thing to measure, in the canonical unit of its dimension. `low` and `high` bound the plausible.

    `default` empty means it must be given. `when` names another measure: where that one is zero, this one is not asked
    for and counts as zero.
    """

    name: str
    label: str
    dimension: Dimension
    low: float
    high: float
    hint: str = ""
    default: float | None = None
    when: str = ""

    @property
    def unit(self) -> str:
        """Canonical unit of its values."""
        return UNIT[self.dimension]

    @property
    def most(self) -> float:
        """Value that it never exceeds, in its unit, whatever anybody says yes to."""
        return min(BEYOND * self.high, CEILING[self.dimension])


def read_measures(
    wanted: Iterable[Measure], given: Mapping[str, Given | float], accepted_odd: Collection[str] = ()
) -> tuple[dict[str, Given], list[Problem]]:
    """Values to work with, in canonical units, and a Problem for each measure that is missing, unknown or impossible.

    One that is oddly large or small is a Problem too, unless `accepted_odd` names it.
    """
    values: dict[str, Given] = {}
    problems: list[Problem] = []
    names = set()
    for measure in wanted:
        names.add(measure.name)
        found = given.get(measure.name)
        if found is None:
            if measure.when and measure.when in values and not values[measure.when].value:
                values[measure.name] = Given(0.0)
            elif measure.default is None:
                problems.append(_problem(measure, f"{measure.label} is missing: measure it."))
            else:
                values[measure.name] = Given(measure.default)
            continue
        one = found if isinstance(found, Given) else Given(float(found))
        wrong = _wrong(measure, one)
        if wrong:
            problems.append(_problem(measure, wrong))
        elif not measure.low <= one.value <= measure.high and measure.name not in accepted_odd:
            problems.append(_odd(measure, one))
        else:
            values[measure.name] = one
    for name in given:
        if name not in names:
            text = f"This recipe has no measure called {name}; it asks for {', '.join(sorted(names)) or 'none'}."
            problems.append(Problem("", name, text, Remedy("measure", name)))
    return values, problems


def _wrong(measure: Measure, given: Given) -> str:
    """Sentence if a measure is impossible, whoever says yes to it; else an empty text."""
    value = given.value
    if not math.isfinite(value):
        return f"{measure.label} must be a number."
    if measure.dimension != "temperature" and value < 0:
        return f"{measure.label} must not be below zero."
    if measure.dimension == "count" and value != int(value):
        return f"{measure.label} must be a whole number, like {max(1, round(value))}."
    if value > measure.most:
        shown = given.typed or f"{value:g} {measure.unit}"
        return f"{measure.label} must be at most {measure.most:g} {measure.unit}; {shown} is more than any board has."
    return ""


def _odd(measure: Measure, given: Given) -> Problem:
    """Problem of a measure beyond the plausible, which a yes puts right."""
    shown = given.typed or f"{given.value:g} {measure.unit}"
    usual = f"{measure.low:g} to {measure.high:g} {measure.unit}"
    return Problem(
        "",
        measure.name,
        f"{measure.label} is {shown}; usual is {usual}. Is that right?",
        Remedy("measure", measure.name),
        True,
    )


def _problem(measure: Measure, text: str) -> Problem:
    return Problem("", measure.name, text, Remedy("measure", measure.name))
