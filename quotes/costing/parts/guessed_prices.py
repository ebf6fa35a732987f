"""How much of a cost rests on prices that nobody has said."""

from __future__ import annotations

from collections.abc import Iterable
from math import fsum
from typing import NamedTuple

from quotes.costing.parts.result import CostLine
from quotes.costing.snapshot import Snapshot


class Guessed(NamedTuple):
    """Materials that a cost rests on, those with a guessed price, and the unrounded cost in currency of the latter."""

    materials: frozenset[str] = frozenset()
    on_guess: frozenset[str] = frozenset()
    cost: float = 0.0

    @property
    def words(self) -> str:
        """Words for it: 11 of 24 prices are guesses; "" where none is."""
        many = len(self.on_guess)
        return f"{many} of {len(self.materials)} prices {'is a guess' if many == 1 else 'are guesses'}" if many else ""

    def beside(self, other: Guessed) -> Guessed:
        """Guesses of two costs side by side: materials that either rests on, and the larger cost."""
        return Guessed(self.materials | other.materials, self.on_guess | other.on_guess, max(self.cost, other.cost))


NO_COST = Guessed()


def guessed(snapshots: Iterable[Snapshot]) -> Guessed:
    """Guesses that several snapshots rest on together; one from before guesses were known has none."""
    lines = [line for snapshot in snapshots for line in snapshot.lines]
    return _rests((line.material, line.unit_cost.guess, line.cost) for line in lines)


def guessed_in(lines: Iterable[CostLine]) -> Guessed:
    """Guesses that the lines of an estimate rest on."""
    return _rests((line.supply.material, line.supply.guess, line.cost) for line in lines)


def _rests(lines: Iterable[tuple[str | None, bool, float]]) -> Guessed:
    found = [(key, guess, cost) for key, guess, cost in lines if key]
    guesses = [(key, cost) for key, guess, cost in found if guess]
    return Guessed(
        frozenset(key for key, _, _ in found), frozenset(key for key, _ in guesses), fsum(cost for _, cost in guesses)
    )
