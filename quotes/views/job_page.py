"""What a job's page says and offers: the one thing to do next, and what else may be done. Nothing asks the database."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from django.urls import reverse

from quotes.lookback import RepairCost, Truth
from quotes.models import Job
from quotes.views.action import Action


@dataclass(frozen=True)
class JobMoney:
    """What a job comes to for the roles that see money, with tax; `left` is below zero where money is to be given back.

    `truth` is what it really took, None before anything was done; `repairs` that of each repair where it has several.
    """

    lines: tuple[tuple[str, Decimal], ...]  # what is charged: words and amount
    gross: Decimal
    left: Decimal
    on_account: Decimal = Decimal(0)  # taken before there was an invoice
    invoice: tuple[int, str] | None = None  # its key and number
    paid: Decimal = Decimal(0)  # on the invoice
    truth: Truth | None = None
    repairs: tuple[RepairCost, ...] = ()

    @property
    def sums(self) -> tuple[tuple[str, Decimal], ...]:
        """What was agreed, what it comes to, what was taken: words and amount."""
        return tuple(self._sums())

    def _sums(self) -> Iterator[tuple[str, Decimal]]:
        yield from self.lines or (("Nothing is charged for this job", Decimal(0)),)
        yield "In all, with tax", self.gross
        if self.on_account:
            yield "Taken already", self.on_account
        if self.invoice and self.paid:
            yield f"Paid on {self.invoice[1]}", self.paid

    @property
    def due(self) -> tuple[str, Decimal]:
        """What is still to be paid, or paid back: words and amount."""
        return ("To be paid back", -self.left) if self.left < 0 else ("Left to pay", self.left)

    @property
    def spent(self) -> tuple[tuple[str, Decimal], ...]:
        """What it was really spent on, without tax: words and amount."""
        return tuple(self._spent())

    def _spent(self) -> Iterator[tuple[str, Decimal]]:
        if self.truth is None:
            return
        yield "Materials, at what their lots cost", self.truth.real.materials
        yield "Hands", self.truth.real.labour
        yield "Overheads", self.truth.real.overhead
        yield "Bought in", self.truth.real.bought
        if self.truth.comebacks.cost:
            yield "Comebacks", self.truth.comebacks.cost


@dataclass(frozen=True)
class JobPage:
    """A job as its page meets it; `job` and `board` are their keys."""

    job: int
    board: int
    state: str  # of Job.State
    money: JobMoney | None = None  # None for who does not see it
    keeper: bool = False  # who looks is the keeper
    finishable: bool = False  # the release check can be made
    lacking: str = ""  # what stands between it and the release check
    next_step: tuple[int, str] | None = None  # key and title
    waits: bool = False  # that step is not ready to be begun
    window: str = ""  # when hands may go on
    shown_ahead: int = 0  # steps ahead that are listed unfolded
    done: int = 0
    total: int = 0
    stopped: bool = False

    @property
    def open(self) -> bool:
        """It is on the bench: what was agreed can still be changed."""
        return self.state == Job.State.OPEN

    @property
    def primary_action(self) -> Action | None:
        """The one thing to do next: the only loud button of the page."""
        if not self.open:
            return self._hand_over()
        if self.finishable:
            return Action("Release check", href=self._at("job-release"), mark="tick", look="go")
        if self.next_step is None:
            return None
        key, title = self.next_step
        words = "Look at the next step" if self.waits else f"Go on: {title}"
        return Action(words, href=reverse("step", args=[key]), look="go")

    def _hand_over(self) -> Action | None:
        if self.state == Job.State.PICKED_UP or self.money is None:
            return None
        return Action("Hand the board over", href=self._at("job-pickup"), look="go")

    @property
    def standing(self) -> str:
        """What the work waits for; empty once it left the bench."""
        if not self.open:
            return ""
        if self.next_step is None:
            return "Every step is done"
        return f"{self.next_step[1]}. {self.window}" if self.window else self.next_step[1]

    @property
    def counted(self) -> str:
        """How many of its steps are done."""
        if self.stopped:
            return f"{self.done} step{'' if self.done == 1 else 's'} done, the others left out"
        return f"{self.done} of {self.total} steps done"

    @property
    def why_not_yet(self) -> str:
        """What stands between it and the release check, said where hardly a step is ahead; else the steps say it."""
        return self.lacking if self.open and not self.finishable and self.shown_ahead < 2 else ""

    @property
    def sundries_ahead(self) -> str:
        """Of sundries that were not booked yet: when they are."""
        return "Booked with the release check" if self.open else "Not booked"

    @property
    def another_day(self) -> str:
        """Where another day is promised than the one that can not be kept; empty for who does not tell customers."""
        return self._at("job-promise") if self.money else ""

    @property
    def comes_back(self) -> Action | None:
        """A comeback is a take-in of the same board."""
        if self.open or self.money is None:
            return None
        return Action(
            "The board comes back: take it in", href=f"{reverse('takein-new')}?board={self.board}", look="hitrow"
        )

    @property
    def other_actions(self) -> tuple[Action, ...]:
        """The row under what turned up."""
        found = Action("Something turned up", href=reverse("bench-note", args=[self.job]))
        sheet = Action("Job sheet", post=self._at("job-sheet"), mark="print", by_browser=True)
        return (found, sheet) if self.open else (sheet,)

    @property
    def money_actions(self) -> tuple[Action, ...]:
        """The row under the sums: a deposit before there is an invoice, then the invoice."""
        return tuple(self._money_actions())

    def _money_actions(self) -> Iterator[Action]:
        if self.money is None:
            return
        if self.money.invoice:
            key, number = self.money.invoice
            yield Action(number, href=reverse("invoice", args=[key]))
        elif self.state in (Job.State.OPEN, Job.State.FINISHED) and self.money.gross > self.money.on_account:
            yield Action("Take a deposit", href=self._at("deposit-new"))

    @property
    def changes(self) -> tuple[Action, ...]:
        """How what was agreed is changed, while the job is on the bench."""
        if not self.open or self.money is None:
            return ()
        return (
            Action("Promise another day", href=self._at("job-promise")),
            Action("Another way instead", href=self._at("job-another-way")),
            Action("Stop the work", href=self._at("job-stop"), look="go alarm"),
        )

    @property
    def cost_words(self) -> str:
        """What its real cost is called: so far, in all, or by the minutes that were planned."""
        if self.money and self.money.truth and not self.money.truth.hands_known:
            return "Cost, hands as planned"
        return "It cost so far" if self.open else "It really cost"

    @property
    def step_by_step(self) -> Action | None:
        """For the keeper, what was quoted and real at each step, once it has ended."""
        if self.open or not self.keeper:
            return None
        return Action("Quoted and real, step by step", href=self._at("learned-job"), look="hitrow")

    def _at(self, name: str) -> str:
        return reverse(name, args=[self.job])
