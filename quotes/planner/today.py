"""The plan of the day: who does what next by the rule of the hands, with the middle of all minutes as a guide."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from quotes.planner.play import Begun, Play
from quotes.planner.state import LOOK_AHEAD_DAYS, BenchState


@dataclass(frozen=True)
class BenchPlanStep:
    """A step planned: who begins it when, of which job, and the minutes hands take for it."""

    person: str
    begins: datetime
    job: str
    step: str
    minutes: float

    def to_json(self) -> dict[str, Any]:
        """The neutral form of an answer."""
        return {"person": self.person, "from": f"{self.begins:%H:%M}", "job": self.job, "step": self.step}


def plan_of_day(state: BenchState) -> list[BenchPlanStep]:
    """Steps of today in the order they are begun; of the next day with hours at the bench where today's are over."""
    play = Play(state, 0)
    people = range(len(state.people))
    day = next(
        (day for day in range(LOOK_AHEAD_DAYS) for who in people for _, end in play.workdays.spans(who, day) if end > play.now),
        0,
    )  # fmt: skip
    return _planned(play, day + 1)


def plan_ahead(state: BenchState, days: int) -> list[BenchPlanStep]:
    """Steps of so many days from that of the state on, in the order they are begun."""
    return _planned(Play(state, 0), days)


def _planned(play: Play, days: int) -> list[BenchPlanStep]:
    """Steps of so many days in the future where all goes as planned."""
    begun: list[Begun] = []
    play.middle(begun).run(until=24.0 * days - 1e-6)
    midnight = datetime.combine(play.workdays.first, datetime.min.time())
    return [
        BenchPlanStep(
            person=play.state.people[one.person].name,
            begins=midnight + timedelta(minutes=round(60 * one.at)),
            job=play.boards[one.board].job,
            step=play.courses[one.board].steps[one.step].name,
            minutes=play.courses[one.board].steps[one.step].minutes,
        )
        for one in begun
    ]
