"""The steps of one job in their order: when each may start, and until when a coat still bonds to the last one.

Waits run on from the end of the step that made them, through whatever is done meanwhile; sanding settles a window. A
trim at gel belongs to the sitting of its laminate: from gel to twice gel, counted from the end of laying it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from quotes.costing.basis.going_off import NO_WAIT
from quotes.costing.basis.lazy_words import Text, Words
from quotes.costing.parts.refusals import Doing
from quotes.costing.snapshot import PlannedMaterial, PlannedMix, PlannedStep
from quotes.costing.steps.operation import Compiled
from quotes.costing.steps.sessions import Stage
from quotes.costing.steps.temperature import MEETS, WindowRow, windows
from quotes.costing.steps.work import Work

SAND_FIRST = "The last coat no longer bonds by itself: sand it first (P120, all over, dust off)."
PAST_GEL = "The resin is past firm gel and a blade would lift it: let it harden, then grind the overhang off."


class WindowedStep:
    """A step of one job: its work, where it stands, and its window in hours after the end of the step before."""

    __slots__ = (
        "boards",
        "cuts_back",
        "doing",
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
        "sitting",
        "stage",
        "time_factor",
        "turned",
        "work",
    )

    def __init__(self, work: Work, index: int, act: Compiled, doing: Doing) -> None:
        """Step `index` of a job, before its set-up is shared and its window is known."""
        self.work = work
        self.doing = doing
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
        self.time_factor = work.time_factor  # for so much set-up as it bears
        self.minutes = 0.0  # hands-on, as this shop takes them
        self.earliest_start_h = 0.0
        self.latest_start_h: float | None = None
        self.if_late = ""
        self.in_time = True
        self.sitting = False  # done before the hands leave the step before

    @property
    def operation(self) -> str:
        """Key of its operation."""
        return self.work.operation

    @property
    def title(self) -> str:
        """Title on the job sheet."""
        return self.work.title

    @property
    def instruction(self) -> str:
        """Instruction with sizes and doses."""
        return self.work.instruction

    @property
    def serves(self) -> Sequence[tuple[int, WindowedStep]]:
        """Itself alone: a step of one damage."""
        return ((0, self),)

    @property
    def standard_minutes(self) -> float:
        """Hands-on minutes as the trade takes them: by size, its part of the set-up, handling."""
        return self.hands + self.set_up + self.handling

    @property
    def minutes_formula(self) -> Text:
        """Words with figures for how its standard minutes come about."""
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
    def mixes(self) -> tuple[PlannedMix, ...]:
        """Mixes with their doses."""
        return self.work.mixes

    @property
    def weight_g(self) -> float:
        """Weight it adds, or takes away, in g."""
        return self.work.weight_g

    def kept(self, materials: Sequence[PlannedMaterial]) -> PlannedStep:
        """Step as the snapshot keeps it, with the materials it plans to use."""
        work = self.work
        return PlannedStep(
            operation=work.operation,
            index=self.index,
            title=work.title,
            instruction=work.instruction,
            session=self.kind,
            boards=self.boards,
            minutes=self.minutes,
            earliest_start_h=self.earliest_start_h,
            latest_start_h=self.latest_start_h,
            if_late=self.if_late,
            same_sitting=self.sitting,
            pause_h=work.pause_h,
            mixes=work.mixes,
            materials=tuple(materials),
            pieces=tuple(cut.kept for cut in work.cuts),
            measures=tuple(self.measures),
            meets=MEETS[self.meets],
            cuts_back=self.cuts_back,
            wait=None if work.wait is NO_WAIT else work.wait,
            cautions=tuple(dict.fromkeys(work.cautions)),
            weight_g=work.weight_g,
            bench_hours_ok=self.in_time,
            does=self.doing.kept,
        )


class Timeable(Protocol):
    """A step of one damage, or one that serves several, with its hands-on minutes and its window in hours."""

    minutes: float
    earliest_start_h: float
    latest_start_h: float | None
    if_late: str
    sitting: bool

    @property
    def serves(self) -> Sequence[tuple[int, WindowedStep]]:
        """Damages that it serves, by number, with the step that it is for each."""


def set_windows(steps: Sequence[Timeable]) -> None:
    """Set when each step may start after the one before, and until when a coat still bonds; see `windows`."""
    rows = [_row(step) for step in steps]
    serves = [tuple(damage for damage, _ in step.serves) for step in steps]
    for step, (start, until) in zip(steps, windows(rows, serves), strict=True):
        step.earliest_start_h = start
        if until is not None:
            step.latest_start_h, step.if_late = until, PAST_GEL if _own(step).meets == "gel" else SAND_FIRST

    for at, step in enumerate(steps):
        if _own(step).meets != "gel":
            continue
        laid = next((n for n in range(at - 1, -1, -1) if _own(steps[n]).work.gel_min), at)
        for between in steps[laid + 1 : at + 1]:
            between.sitting = True


def _own(step: Timeable) -> WindowedStep:
    return step.serves[0][1]


def _row(step: Timeable) -> WindowRow:
    """Step as its window needs it: of several damages the longest wait, and the first to gel."""
    works = [own.work for _, own in step.serves]
    meets, cuts = MEETS[_own(step).meets], any(own.cuts_back for _, own in step.serves)
    hours = step.minutes / 60.0 + max(work.pause_h for work in works)
    waits = [work.wait for work in works if work.wait is not NO_WAIT]
    if not waits:
        return WindowRow(meets, cuts, hours)
    coat, cut, touch, polish = (max(hours) for hours in zip(*(one.four for one in waits), strict=True))
    bonds = [one.coat_until_h for one in waits if one.coat_until_h is not None]
    gels = [work.gel_min for work in works if work.gel_min]
    return WindowRow(
        meets, cuts, hours, (coat, cut, touch, polish), min(bonds, default=None), min(gels, default=0.0) / 60.0
    )
