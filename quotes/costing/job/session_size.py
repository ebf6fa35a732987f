"""How many boards a shop does together, seen from what it did: steps put into sessions, and the figure of these.

Steps of one kind of session that the same hands did one after the other on one day are one session, until work of
another kind comes between; what is no session (a look, a trim, a drying) ends none. One cup is one session, whoever
worked from it. Boards count, not steps: several steps of a board are one. What is known of the order is when a step was
ticked off.

A session of k boards bears S·(1 + share·(k − 1)), so that over many sessions a board bears S·(1 + share·(n − 1))/n with
n the mean of k: that mean is the figure wanted.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import NamedTuple

from quotes.costing.basis.constants import Constant
from quotes.costing.stats.quantiles import EIGHT_IN_TEN, gamma_quantile
from quotes.costing.steps.sessions import BOARDS, SessionKind

PRIOR_SESSIONS = 1.0
"""What the trade's figure weighs: one session of so many boards, three with resin. Its range says no more than that:
with this weight the further boards lie below 4.7 in 95 of 100 shops, the trade says 5; of sanding below 3.0, it says 3.
"""
LEAST_SESSIONS = 5  # before anything is said: fewer are a week, not a habit; our own limit


class SessionStep(NamedTuple):
    """A step that was done: by whose hands, on which day, of which kind, on which board, from which cups.

    `rushed`: priced as worked alone.
    """

    hands: int
    day: date
    kind: SessionKind
    board: int
    cups: frozenset[int] = frozenset()
    rushed: bool = False


class ObservedSession(NamedTuple):
    """A session that took place: its kind, and the number of different boards that shared it."""

    kind: SessionKind
    boards: int


class SessionSize(NamedTuple):
    """Boards usually done together: the expected number, eight in ten from low to high, and the sessions behind it."""

    value: float
    low: float
    high: float
    sessions: int

    @property
    def enough(self) -> bool:
        """Whether there are enough sessions to speak of."""
        return self.sessions >= LEAST_SESSIONS

    @property
    def to_tenths(self) -> tuple[float, float, float]:
        """Value, low and high as numbers of boards to a tenth, as they are shown and taken over."""
        return round(self.value, 1), round(self.low, 1), round(self.high, 1)


class _Open:
    """A session as it grows."""

    def __init__(self, kind: SessionKind) -> None:
        self.kind = kind
        self.boards: set[int] = set()
        self.rushed = True  # until a board is met that is not

    def takes(self, steps: Iterable[SessionStep]) -> None:
        """Add the boards of steps that belong to it."""
        for step in steps:
            self.boards.add(step.board)
            self.rushed = self.rushed and step.rushed


def sessions_of(done: Iterable[SessionStep]) -> list[ObservedSession]:
    """Sessions of steps in the order they were done; those of rushed boards alone are left out.

    A rush is priced as worked by itself, so that it does not say how many boards the others meet.
    """
    found: list[_Open] = []
    last: dict[tuple[int, date], _Open] = {}
    for steps in _by_cup(one for one in done if one.kind):
        kind, who = steps[0].kind, {(step.hands, step.day) for step in steps}
        session = next((last[one] for one in sorted(who) if one in last and last[one].kind == kind), None)
        if session is None:
            session = _Open(kind)
            found.append(session)
        session.takes(steps)
        last |= dict.fromkeys(who, session)
    return [ObservedSession(one.kind, len(one.boards)) for one in found if not one.rushed]


def _by_cup(done: Iterable[SessionStep]) -> Iterator[list[SessionStep]]:
    """Groups of steps of one kind that share a cup, at the place of their first; every other step by itself."""
    groups: dict[int, list[SessionStep]] = {}
    at: dict[tuple[int, SessionKind], int] = {}  # the group of a cup
    for number, step in enumerate(done):
        cups = [(cup, step.kind) for cup in step.cups]
        first, *more = sorted({at[cup] for cup in cups if cup in at}) or [number]
        groups.setdefault(first, []).append(step)
        for other in more:
            moved = groups.pop(other)
            groups[first] += moved
            cups += [(cup, one.kind) for one in moved for cup in one.cups]
        at |= dict.fromkeys(cups, first)
    yield from groups.values()


def by_figure(sessions: Iterable[ObservedSession]) -> Mapping[str, tuple[Constant, list[int]]]:
    """Number of boards of each session, by the name of the figure that its kind goes by; every figure is there."""
    found: dict[str, tuple[Constant, list[int]]] = {one.name: (one, []) for one in BOARDS.values()}
    for session in sessions:
        found[BOARDS[session.kind].name][1].append(session.boards)
    return found


def session_size(trade: Constant, boards: Sequence[int]) -> SessionSize:
    """Session size from the boards (1 or more) of each session; the trade's with its own range where there was none.

    The trade's figure must be above 1. Boards beyond the first are taken as Poisson about a mean of which a gamma with
    the mean of the trade and the weight `PRIOR_SESSIONS` is believed before: then the mean has a gamma again, with the
    further boards and the sessions added (Gelman and others, Bayesian Data Analysis, section 2.6, from memory).
    """
    if not boards:
        return SessionSize(trade.value, trade.low, trade.high, 0)
    further = PRIOR_SESSIONS * (trade.value - 1.0) + sum(boards) - len(boards)
    weight = PRIOR_SESSIONS + len(boards)
    low, high = (1.0 + gamma_quantile(chance, further) / weight for chance in EIGHT_IN_TEN)
    return SessionSize(1.0 + further / weight, low, high, len(boards))
