"""The steps of one job in their order: when each may start, and until when a coat still bonds to the last one.

Waits run on from the end of the step that made them, through whatever is done meanwhile; sanding settles a window. A
trim at gel belongs to the sitting of its laminate: from gel to twice gel, counted from the end of laying it.
"""

from __future__ import annotations

from typing import Any

from quotes.costing.operation import Compiled
from quotes.costing.refusing import Doing
from quotes.costing.telling import MEETS, Row, windows
from quotes.costing.work import NO_WAIT, Work

SAND_FIRST = "The last coat no longer bonds by itself: sand it first (P120, all over, dust off)."
PAST_GEL = "The resin is past firm gel and a blade would lift it: let it harden, then grind the overhang off."


class Step:
    """A step of one job: its work, where it stands, and its window in hours after the end of the step before."""

    __slots__ = (
        "cuts_back",
        "doing",
        "earliest_start_h",
        "if_late",
        "in_time",
        "index",
        "latest_start_h",
        "measures",
        "meets",
        "sitting",
        "work",
    )

    def __init__(self, work: Work, index: int, act: Compiled, doing: Doing) -> None:
        self.work = work
        self.doing = doing
        self.index = index
        self.meets = act.meets
        self.cuts_back = act.operation.meets == "cut"
        self.measures = act.measures
        self.earliest_start_h = 0.0
        self.latest_start_h: float | None = None
        self.if_late = ""
        self.in_time = True
        self.sitting = False  # done before the hands leave the step before

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
    def minutes(self) -> float:
        """Hands-on minutes as this shop takes them."""
        return self.work.minutes

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
            "minutes": work.minutes,
            "earliest_start_h": self.earliest_start_h,
            "latest_start_h": self.latest_start_h,
            "if_late": self.if_late,
            "same_sitting": self.sitting,
            "pause_h": work.pause_h,
            "mixes": [dict(one) for one in work.mixes],
            "materials": materials,
            "pieces": [cut.as_dict() for cut in work.cuts],
            "measures": list(self.measures),
            "meets": MEETS[self.meets],
            "cuts_back": self.cuts_back,
            "wait": None if work.wait is NO_WAIT else work.wait.as_dict(),
            "cautions": list(dict.fromkeys(work.cautions)),
            "weight_g": work.weight_g,
            "bench_hours_ok": self.in_time,
            "does": self.doing.kept(),
        }


def set_windows(steps: list[Step]) -> None:
    """Says of each step when it may start after the one before, and until when a coat still bonds; see `windows`."""
    rows = [_row(step) for step in steps]
    for step, (start, until) in zip(steps, windows(rows), strict=True):
        step.earliest_start_h = start
        if until is not None:
            step.latest_start_h, step.if_late = until, PAST_GEL if step.meets == "gel" else SAND_FIRST

    for at, step in enumerate(steps):
        if step.meets != "gel":
            continue
        laid = next((n for n in range(at - 1, -1, -1) if steps[n].work.gel_min), at)
        for between in steps[laid + 1 : at + 1]:
            between.sitting = True


def _row(step: Step) -> Row:
    work, wait = step.work, step.work.wait
    hours, gel_h = work.minutes / 60.0 + work.pause_h, work.gel_min / 60.0
    if wait is NO_WAIT:
        return Row(MEETS[step.meets], step.cuts_back, hours)
    hours_of = wait.coat_h, wait.cut_h, wait.touch_h, max(wait.cut_h, wait.polish_h)
    return Row(MEETS[step.meets], step.cuts_back, hours, hours_of, wait.coat_until_h, gel_h)
