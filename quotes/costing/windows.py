"""The steps of one job in their order: when each may start, and until when a coat still bonds to the last one.

Waits run on from the end of the step that made them, through whatever is done meanwhile; sanding settles a window.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any, Protocol

from quotes.costing.operation import Compiled
from quotes.costing.sessions import Stage
from quotes.costing.words import Text, Words
from quotes.costing.work import NO_WAIT, Work

SAND_FIRST = "The last coat no longer bonds by itself: sand it first (P120, all over, dust off)."
_TIMES = {"coat": 0, "cut": 1, "touch": 2}


class Step:
    """A step of one job: its work, where it stands, and its window in hours after the end of the step before."""

    __slots__ = (
        "boards",
        "cuts_back",
        "earliest_start_h",
        "handling",
        "hands",
        "if_late",
        "in_time",
        "index",
        "kind",
        "latest_start_h",
        "measures",
        "meets",
        "met",
        "minutes",
        "set_up",
        "stage",
        "turned",
        "work",
    )

    def __init__(self, work: Work, index: int, act: Compiled) -> None:
        self.work = work
        self.index = index
        self.meets = act.meets
        self.cuts_back = act.operation.meets == "cut"
        self.turned = act.meets != act.operation.meets
        self.measures = act.measures
        self.kind = act.session
        self.stage = Stage(0, 0, 0)
        self.boards = 1.0  # that meet in its session
        self.hands = work.hands  # standard minutes by size, or its part of the visit
        self.met = 1.0  # its part of the set-up where other damages of the board share it
        self.set_up = 0.0  # standard minutes of the set-up that it bears
        self.handling = 0.0  # standard minutes to handle its places
        self.minutes = 0.0  # hands-on, as this shop takes them
        self.earliest_start_h = 0.0
        self.latest_start_h: float | None = None
        self.if_late = ""
        self.in_time = True

    @property
    def operation(self) -> str:
        """The key of its operation."""
        return self.work.operation

    @property
    def title(self) -> str:
        """Its title on the job sheet."""
        return self.work.title

    @property
    def instruction(self) -> str:
        """What to do, with sizes and doses."""
        return self.work.instruction

    @property
    def serves(self) -> Sequence[tuple[int, Step]]:
        """Itself: a step of one damage."""
        return ((0, self),)

    @property
    def standard_minutes(self) -> float:
        """Hands-on minutes as the trade takes them: by size, its part of the set-up, handling."""
        return self.hands + self.set_up + self.handling

    @property
    def minutes_formula(self) -> Text:
        """How its standard minutes come about, in words with their figures."""
        words: Text = self.work.minutes_formula
        if self.hands != self.work.hands:
            words = Words("{}, {:.1f} min of it with the other damages", words, self.hands)
        if self.set_up:
            words = Words("{} + {}", self._set_up_words(), words)
        return Words("{} + {:g} min to handle the places", words, self.handling) if self.handling else words

    def _set_up_words(self) -> Text:
        alone, boards = self.work.set_up, self.boards
        words: Text = Words("{:g} min set up", alone)
        if boards != 1:
            words = Words("{:g} min set up, {:.1f} with {:g} boards", alone, self.set_up / self.met, boards)
        return words if self.met == 1 else Words("{}, {:.1f} with the other damages", words, self.set_up)

    @property
    def mixes(self) -> tuple[dict[str, Any], ...]:
        """Its mixes with their doses."""
        return self.work.mixes

    @property
    def weight_g(self) -> float:
        """Weight it adds, or takes away, in g."""
        return self.work.weight_g

    def as_dict(self, materials: list[dict[str, Any]]) -> dict[str, Any]:
        """The step as the snapshot keeps it, with the materials it plans to use."""
        work = self.work
        return {
            "index": self.index,
            "operation": work.operation,
            "title": work.title,
            "instruction": work.instruction,
            "session": self.kind,
            "boards": self.boards,
            "minutes": self.minutes,
            "earliest_start_h": self.earliest_start_h,
            "latest_start_h": self.latest_start_h,
            "if_late": self.if_late,
            "mixes": [dict(one) for one in work.mixes],
            "materials": materials,
            "pieces": [cut.as_dict() for cut in work.cuts],
            "measures": list(self.measures),
            "cautions": list(dict.fromkeys(work.cautions)),
            "weight_g": work.weight_g,
            "bench_hours_ok": self.in_time,
        }


class Timeable(Protocol):
    """A step of one damage, or one that serves several: what it takes part in, and the window that it is given."""

    minutes: float
    earliest_start_h: float
    latest_start_h: float | None
    if_late: str

    @property
    def serves(self) -> Sequence[tuple[int, Step]]:
        """The damages that it serves, by number, with the step that it is for each."""


def set_windows(steps: Sequence[Timeable]) -> None:
    """Says of each step when it may start after the one before, and until when a coat still bonds.

    A step waits for what cures on the damages that it serves. A coat onto another face waits until the first can be
    lain on, and has no window. Sanding settles a window.
    """
    now = 0.0
    places: dict[int, _Curing] = defaultdict(_Curing)
    for step in steps:
        start = now
        for damage, own in step.serves:
            start = max(start, places[damage].free(_TIMES[own.meets]))
        step.earliest_start_h = start - now
        bonds = [places[damage].until for damage, own in step.serves if own.meets == "coat"]
        ends = [until for until in bonds if until is not None]
        if ends:
            step.latest_start_h = max(min(ends), start) - now
            step.if_late = SAND_FIRST
        now = start + step.minutes / 60.0
        for damage, own in step.serves:
            places[damage].take(own, now)


class _Curing:
    """What cures on one damage: hours at which it may be coated, cut, touched, and until when its last coat bonds."""

    __slots__ = ("cures", "until")

    def __init__(self) -> None:
        self.cures: list[tuple[float, float, float]] = []
        self.until: float | None = None

    def free(self, which: int) -> float:
        """The hour from which on it may be coated (0), cut (1) or touched (2)."""
        return max([cure[which] for cure in self.cures], default=0.0)

    def take(self, step: Step, now: float) -> None:
        """A step of it is done at this hour."""
        if step.cuts_back:
            self.until = None
        if self.cures:
            self.cures = [cure for cure in self.cures if cure[0] > now or cure[1] > now or cure[2] > now]
        wait = step.work.wait
        if wait is not NO_WAIT:
            self.cures.append((now + wait.coat_h, now + wait.cut_h, now + wait.touch_h))
            self.until = None if wait.coat_until_h is None else now + wait.coat_until_h
