"""What a step's page offers: the one thing to do next, and whatever else may be done. Nothing asks the database."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.urls import reverse

from quotes.models import Job, Step
from quotes.views.action import Action


@dataclass(frozen=True)
class StepPage:
    """A step as its page meets it; `step` and `job` are their keys."""

    step: int
    job: int
    state: str  # of Step.State
    job_state: str  # of Job.State
    late: bool = False  # the window to go on without sanding is over
    waits: bool = False  # what was done before it is not ready
    refused: bool = False  # it must not be begun, and its dose is not told
    dosed: bool = False  # something is mixed for it
    mixes: bool = False  # one of its mixes is still to be weighed
    withheld: bool = False  # that one's dose is not told before it is said how warm it is
    unbooked: bool = False  # something it was planned to take is not booked
    next_step: tuple[int, str] | None = None  # key and title of the job's next step, where that is another one
    times: tuple[tuple[int, str], ...] = ()  # key and words of each time that was logged on it

    @property
    def open(self) -> bool:
        """Hands may work on it: it is ahead, and its job is on the bench."""
        return self.job_state == Job.State.OPEN and self.state in Step.AHEAD

    @property
    def at_hand(self) -> bool:
        """It can be done at once. What was refused can still be said to have been done all the same."""
        return self.open and (self.refused or not (self.late or self.waits))

    @property
    def may_book(self) -> bool:
        """Until the board is picked up, what went into it can still be put right."""
        return self.job_state != Job.State.PICKED_UP

    @property
    def is_late(self) -> bool:
        return self.open and self.late and not self.refused

    @property
    def mixed_all_the_same(self) -> str:
        """Where a mix is booked that should not have been made; empty where there is none to book."""
        return reverse("mix-new", args=[self.step]) if self.open and self.refused and self.dosed else ""

    @property
    def primary_action(self) -> Action | None:
        """The one thing to do next: the loudest button of the page."""
        if not self.open:
            return self._next()
        if self.is_late:
            return Action("Sand first", post=self._at("step-start"), look="go")
        if not self.at_hand:
            return None
        if self.mixes:
            return None if self.withheld else Action("Mixed as shown", form="mixed", mark="scale", look="go")
        return None if self.refused else self._done("go")

    def _next(self) -> Action | None:
        if self.next_step is None:
            return None
        key, title = self.next_step
        return Action(f"Next: {title}", href=reverse("step", args=[key]), look="go")

    @property
    def early_action(self) -> Action | None:
        """To begin before the clock says that the step before is ready."""
        if not self.open or self.refused or self.late or not self.waits:
            return None
        return Action("It is ready, begin now", post=self._at("step-start"), also={"early": "1"})

    @property
    def hands(self) -> tuple[Action, ...]:
        """The row under the dose: that it was mixed as shown, that the step is done."""
        if not self.at_hand:
            return ()
        first = self.primary_action
        if first is None:
            return (self._done("go plain"),)
        return (first,) if first.form == "done" else (first, self._done("go plain"))

    def _done(self, look: str) -> Action:
        return Action("Step done", form="done", mark="tick", look=look)

    @property
    def timing(self) -> Action | None:
        """To begin now, so that the minutes are counted."""
        if not self.at_hand or self.refused or self.state != Step.State.TODO:
            return None
        return Action("Begin, and time it", post=self._at("step-start"), mark="wait")

    @property
    def booking(self) -> tuple[Action, ...]:
        """What may be booked beside the table of what it takes."""
        return tuple(self._booking())

    def _booking(self) -> Iterator[Action]:
        if self.open and self.unbooked and not self.refused:
            yield Action("All as planned", post=self._at("step-as-planned"))
        if self.may_book:
            yield Action("Book another material", href=self._at("step-use"))

    @property
    def other_actions(self) -> tuple[Action, ...]:
        """At the foot of the page, in the order they are wanted."""
        return tuple(self._others())

    def _others(self) -> Iterator[Action]:
        yield Action("Something turned up", href=reverse("bench-note", args=[self.job]))
        for key, words in self.times if self.may_book else ():
            yield Action(f"{words} is not right", href=reverse("time-edit", args=[key]), look="hitrow")
        done = self.state == Step.State.DONE
        if done and self.job_state == Job.State.OPEN:
            yield Action("Not done yet", post=self._at("step-reopen"), mark="undo")
        if done and self.may_book:
            yield Action("Do it again", href=self._at("step-redo"))
        if self.open:
            yield Action("This step is not needed", href=self._at("step-drop"), look="hitrow")

    def _at(self, name: str) -> str:
        return reverse(name, args=[self.step])
