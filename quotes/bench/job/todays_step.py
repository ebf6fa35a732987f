"""A step as the plan of the day meets it: whether it may be begun now, what it waits for, what fills that time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from quotes.bench.job.release import RELEASE
from quotes.bench.plan.order import late, waits
from quotes.bench.steps.words import clock_words
from quotes.models import Step
from quotes.planner.hands import CLOSES_WITHIN_H

DOING, NOW, CURES, AFTER = "doing", "now", "cures", "after"
A_CURE = timedelta(minutes=30)  # shorter ones leave no time for another board; a figure of ours


@dataclass(frozen=True)
class TodaysStep:
    """A step ahead, how it stands at a moment, and when the plan has it.

    `closes`: until when it bonds by itself, `frees`: when what cures is ready, under it or once it is done (then it is
    about then), `meanwhile`: the step that fills that time. `after` is the title of the step that comes before it;
    `next_up` the one that the page says first.
    """

    step: Step
    at: datetime
    standing: str
    minutes: float
    guide: datetime | None = None
    closes: datetime | None = None
    sand_first: bool = False
    after: str = ""
    frees: datetime | None = None
    meanwhile: Step | None = None
    next_up: bool = False

    @property
    def may_begin(self) -> bool:
        """One tap begins it; the release check has a page of its own."""
        return self.standing == NOW and self.step.operation != RELEASE

    @property
    def releases(self) -> bool:
        """The release check can be made."""
        return self.standing in (DOING, NOW) and self.step.operation == RELEASE

    @property
    def look(self) -> str:
        """The class of its button."""
        return "go" if self.next_up else "go plain"

    @property
    def closes_soon(self) -> bool:
        """It goes before all else, as the rule of the hands has it."""
        return self.closes is not None and self.closes - self.at <= timedelta(hours=CLOSES_WITHIN_H)

    @property
    def time(self) -> str:
        """When the plan has it: 09:30, or Thu 09:30 on another day; empty where it is in none."""
        return self._clock(self.guide) if self.guide else ""

    @property
    def mark(self) -> str:
        """The shape beside how it stands; empty where the words do."""
        if self.sand_first:
            return "late"
        return {DOING: "now", NOW: "wait" if self.closes else "", CURES: "wait"}.get(self.standing, "")

    @property
    def state(self) -> str:
        """How it stands in words; empty where nothing stands in the way and nothing hurries."""
        if self.sand_first:
            return "window over"
        if self.standing == DOING:
            return f"under way since {self._clock(self.step.started_at)}" if self.step.started_at else "under way"
        if self.standing == AFTER:
            return f"after: {self.after}"
        if self.standing == CURES:
            return f"cures until {self._clock(self.frees)}"
        return f"bonds until {self._clock(self.closes)}" if self.closes else ""

    @property
    def cure(self) -> str:
        """What it leaves to cure, and what fills the time: Then cures until about 15:30. Meanwhile: Sand, tag 004."""
        said = []
        if self.frees and self.standing != CURES:
            said.append(f"Then cures until about {self._clock(self.frees)}.")
        if self.meanwhile:
            said.append(f"Meanwhile: {self.meanwhile.title}, tag {self.meanwhile.job.takein.tag}.")
        return " ".join(said)

    def _clock(self, moment: datetime | None) -> str:
        return clock_words(moment, timezone.localdate(self.at))


def todays_step(step: Step, steps: Iterable[Step], at: datetime) -> TodaysStep:
    """How a step ahead stands among those of its job."""
    row = TodaysStep(step, at, NOW, float(_told(step).plan_minutes or 0))
    if step.state == Step.State.DOING:
        return replace(row, standing=DOING)
    before = [one for one in steps if one.ahead and one.position < step.position and _together(one, step)]
    if before:
        return replace(row, standing=AFTER, after=before[-1].title)
    if waits(step, at):
        return replace(row, standing=CURES, frees=step.earliest_at)
    return replace(row, sand_first=late(step, at), closes=None if late(step, at) else step.latest_at)


def pressing_first(rows: Iterable[TodaysStep]) -> list[TodaysStep]:
    """What is under way, then what bonds not for long, then the rest as they stand."""

    def pressing(row: TodaysStep) -> tuple[int, datetime]:
        if row.standing == DOING:
            return 0, row.at
        return (1, row.closes) if row.closes and row.closes_soon else (2, row.at)

    return sorted(rows, key=pressing)


def with_cures(
    rows: Sequence[TodaysStep], also: Sequence[TodaysStep], steps: Mapping[int, Sequence[Step]]
) -> Iterator[TodaysStep]:
    """Rows of a person's day, each with what it leaves to cure and what fills that time, of the day or of `also`."""
    for number, row in enumerate(rows):
        frees = row.frees or _cured(row, steps[row.step.job_id])
        later = rows if row.standing == CURES else rows[number + 1 :]
        fills = (one.step for one in (*later, *also) if frees and _fills(one, row, frees))
        yield replace(row, frees=frees, meanwhile=next(fills, None))


def _fills(other: TodaysStep, row: TodaysStep, frees: datetime) -> bool:
    """Whether another board's step can be begun while the board of a row cures."""
    if other.step.job_id == row.step.job_id:
        return False
    planned = row.standing != CURES and other.guide is not None and other.guide < frees
    return other.standing == NOW or (planned and other.standing != DOING)


def _cured(row: TodaysStep, steps: Iterable[Step]) -> datetime | None:
    """About when the next step may follow where this one leaves something to cure, as long as quoted; else None."""
    step = row.step
    behind = (one for one in steps if one.ahead and one.position > step.position)
    after = next((one for one in behind if _together(one, step)), None)
    cure = timedelta(hours=_told(after).plan_wait_h or 0) if after else timedelta(0)
    if cure < A_CURE:
        return None
    begins = step.started_at if row.standing == DOING and step.started_at else max(row.guide or row.at, row.at)
    return max(begins + timedelta(minutes=row.minutes), row.at) + cure


def _together(one: Step, other: Step) -> bool:
    """They serve a repair together, so that one waits for the other."""
    return not set(one.repairs).isdisjoint(other.repairs)


def _told(step: Any) -> Any:
    """The step with what was read out of its plan."""
    return step
