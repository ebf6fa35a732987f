"""The work itself: steps, what was really used, what turned up, and how it ended."""

from __future__ import annotations

from decimal import Decimal
from uuid import uuid4

from django.db import models
from django.db.models import Q

from inventory.models import Material, Movement, Reservation
from quotes.costing.snapshot import PlannedStep
from quotes.costing.snapshot.old_plans import without_doses
from quotes.costing.snapshot.steps import SUNDRIES
from quotes.models.quote import QuoteBoard, Way, WayPart
from quotes.models.reading import read_once
from quotes.models.takein import TakeIn
from shop.fields import ExactField, MoneyField, QuantityField
from shop.models import Row, User

WORDS_ASKED = 8  # of a search


class Cause(models.TextChoices):
    """Causes of work that is done again."""

    OURS = "ours", "our own work"
    EARLIER = "earlier", "an earlier repairer"
    MATERIAL = "material", "the material"
    CUSTOMER = "customer", "the customer"


class JobQuerySet(models.QuerySet["Job"]):
    """Jobs as screens ask for them."""

    def came_back_with(self, takein: TakeIn) -> JobQuerySet:
        """Earlier ended jobs on the board of a take-in, the last first: what comes back may be one of them."""
        ended = self.exclude(state=Job.State.OPEN).filter(takein__board=takein.board_id).exclude(takein=takein)
        return ended.select_related("takein", "way").order_by("-pk")

    def named(self, words: str) -> JobQuerySet:
        """Jobs of which each word is the tag, or in the name of the board, of who brought it, or of the way."""
        found = self
        for word in words.split()[:WORDS_ASKED]:
            found = found.filter(
                Q(takein__tag__iexact=word) | Q(takein__board__name__icontains=word)
                | Q(takein__brought_by__name__icontains=word) | Q(way__title__icontains=word)
            )  # fmt: skip
        return found


class Job(Row):
    """An agreed way being done, written when the customer says yes."""

    class State(models.TextChoices):
        OPEN = "open", "on the bench"
        FINISHED = "finished", "ready to collect"
        STOPPED = "stopped", "stopped after opening"
        PICKED_UP = "picked_up", "picked up"

    class Hands(models.TextChoices):
        """How the minutes of a job were written down."""

        STEPS = "steps", "written down at each step"
        WHOLE = "whole", "said for the whole job"
        UNKNOWN = "unknown", "not written down"

    DONE = (State.FINISHED, State.PICKED_UP)  # all of the work was done
    TO_COLLECT = (State.FINISHED, State.STOPPED)

    takein = models.ForeignKey(TakeIn, on_delete=models.PROTECT, related_name="jobs")
    quoted = models.ForeignKey(QuoteBoard, on_delete=models.PROTECT, null=True, blank=True, related_name="jobs")
    way = models.ForeignKey(Way, on_delete=models.PROTECT, related_name="jobs", help_text="The way being done now.")
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    agreed_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT)
    promised_on = models.DateField(null=True, blank=True)
    release_check = models.JSONField(default=list, help_text="List of {line, ok, reason}.")
    finished_at = models.DateTimeField(null=True, blank=True)
    picked_up_at = models.DateTimeField(null=True, blank=True)
    comeback_of = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="comebacks")
    cause = models.CharField("cause of the comeback", max_length=10, choices=Cause, blank=True)
    billed = models.BooleanField("is charged", default=True)
    hands = models.CharField(
        "hands-on minutes", max_length=8, choices=Hands, default=Hands.STEPS,
        help_text="Said for the whole job, steps hold shares of them; not written down, the steps' are those planned.",
    )  # fmt: skip

    objects = JobQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["quoted"], name="job_once_per_quoted_board",
                violation_error_message="This board of the quote is already a job.",
            )
        ]  # fmt: skip

    def __str__(self) -> str:
        return f"Job {self.takein.tag}"

    @property
    def on_the_bench(self) -> bool:
        """Whether the job is still worked on."""
        return self.state == self.State.OPEN

    def repairs_done(self) -> list[WayPart]:
        """The repairs that its steps serve, those left out aside, in the order they are met. Two queries."""
        steps = Step.objects.filter(job=self).exclude(state=Step.State.DROPPED).order_by("position")
        keys = dict.fromkeys(key for step in steps.only("part", "serves") for key in step.repairs if key)
        found = WayPart.objects.in_bulk(list(keys))
        return [found[key] for key in keys]


class StepQuerySet(models.QuerySet["Step"]):
    """Steps as the bench asks for them."""

    def ahead(self) -> StepQuerySet:
        """Still to be done, or under way."""
        return self.filter(state__in=Step.AHEAD)

    def on_the_bench(self) -> StepQuerySet:
        """What is ahead on jobs that are on the bench."""
        return self.ahead().filter(job__state=Job.State.OPEN)


class WorkedSteps(models.Manager.from_queryset(StepQuerySet)):  # type: ignore[misc]
    """The steps that hands work: all but the line of sundries."""

    def get_queryset(self) -> StepQuerySet:
        """Steps that are worked, without the line of sundries."""
        return super().get_queryset().exclude(operation=SUNDRIES)  # type: ignore[no-any-return]


class Step(Row):
    """One operation of a job with its dose and its window; done, or done again with a cause.

    A job's sundries are a row of their own that nobody works, met only `with_sundries`: ahead until they are booked.
    """

    class State(models.TextChoices):
        TODO = "todo", "ahead"
        DOING = "doing", "under way"
        DONE = "done", "done"
        DROPPED = "dropped", "not needed any more"

    AHEAD = (State.TODO, State.DOING)

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="steps")
    part = models.ForeignKey(
        WayPart,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="steps",
        help_text="The repair it belongs to: steps of one repair wait for each other, those of another do not.",
    )
    serves = models.JSONField(
        default=list, blank=True,
        help_text="Keys of the repairs it serves where it is done for several at once; empty: for its part alone.",
    )  # fmt: skip
    position = models.PositiveIntegerField()
    operation = models.CharField(max_length=40)
    title = models.CharField(max_length=160)
    instruction = models.TextField(blank=True)
    plan = models.JSONField(default=dict, help_text="The snapshot's step: minutes, mixes, materials, cautions, window.")
    state = models.CharField(max_length=8, choices=State, default=State.TODO)
    earliest_at = models.DateTimeField(null=True, blank=True, help_text="Empty: when the one before is done.")
    latest_at = models.DateTimeField(null=True, blank=True, help_text="Empty: no hurry.")
    started_at = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True)
    note = models.TextField("bench note", max_length=2000, blank=True)
    redo_of = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="redone")
    redo_cause = models.CharField(max_length=10, choices=Cause, blank=True)
    redo_billed = models.BooleanField(default=False)

    objects = WorkedSteps()
    with_sundries = StepQuerySet.as_manager()

    class Meta:
        ordering = ["job", "position"]
        constraints = [models.UniqueConstraint(fields=["job", "position"], name="step_position_once")]

    def __str__(self) -> str:
        return self.title

    @property
    def ahead(self) -> bool:
        """Still to be done, or under way."""
        return self.state in self.AHEAD

    @property
    def is_sundries(self) -> bool:
        """No step to be worked: what the steps of a job share."""
        return self.operation == SUNDRIES

    @property
    def repairs(self) -> tuple[int | None, ...]:
        """Keys of the repairs that it serves."""
        return tuple(self.serves) or (self.part_id,)

    @property
    def planned(self) -> PlannedStep:
        """What was planned for it; an empty step for work that no recipe describes."""
        return read_once(self, "plan", PlannedStep.from_json)

    @planned.setter
    def planned(self, planned: PlannedStep) -> None:
        self.plan = planned.to_json()

    @property
    def to_do(self) -> str:
        """What to do, without the doses, which stand apart."""
        return " ".join(without_doses(self.instruction, self.planned.mixes).split())

    @property
    def own_plans(self) -> list[tuple[int | None, PlannedStep]]:
        """Each repair that it serves, by key, with that repair's own plan."""
        return self.planned.own(self.part_id)

    @property
    def planned_minutes(self) -> float:
        """Hands-on minutes that were planned."""
        return float(self.planned.minutes)


class StepTime(Row):
    """Hands-on minutes of one person on a step, at the wage and overhead of that day."""

    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="times")
    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    minutes = QuantityField("minutes")
    day = models.DateField()
    wage_per_hour = MoneyField()
    overhead_per_hour = MoneyField()
    replaced_at = models.DateTimeField("taken back", null=True, blank=True)
    of_total = models.BooleanField("share of a day's total", default=False)
    typed = models.BooleanField(
        "written down or timed", null=True, default=None,
        help_text="No: as planned, because nobody said. Empty: kept before this was marked, and told by its value.",
    )  # fmt: skip
    sure_at = models.DateTimeField("said to be right", null=True, blank=True, help_text="Empty: nobody was asked.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(minutes__gt=0),
                name="minutes_above_zero",
                violation_error_message="Minutes must be above zero.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.minutes} min {self.person}"


class Mix(Row):
    """One batch of resin really mixed; it may serve steps of several jobs."""

    system = models.CharField(max_length=20)
    mixed_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "mixes"

    def __str__(self) -> str:
        return f"mix {self.pk}"


class StepUse(Row):
    """What a step really took: a material, a share of a mix where there was one, and the movements that booked it."""

    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="uses")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="+")
    mix = models.ForeignKey(Mix, on_delete=models.PROTECT, null=True, blank=True, related_name="uses")
    planned = QuantityField(default=Decimal(0))
    used = QuantityField()
    cost = MoneyField("cost from the lots", default=Decimal(0))
    customers_own = models.BooleanField("the customer's own material", default=False)
    as_planned = models.BooleanField(default=False)
    tap = models.UUIDField(
        default=uuid4, editable=False, db_index=True, help_text="What was booked in one tap has the same."
    )
    movements = models.ManyToManyField(Movement, related_name="step_uses", blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT)
    undone_at = models.DateTimeField(null=True, blank=True)
    sure_at = models.DateTimeField("said to be right", null=True, blank=True, help_text="Empty: nobody was asked.")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.used} {self.material.unit} {self.material}"


class Warmth(Row):
    """How warm the shop was on a day, as somebody read it at the bench; the last one of a day stands."""

    day = models.DateField(db_index=True)
    celsius = ExactField("temperature at the bench in °C", places=1)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "warmths"

    def __str__(self) -> str:
        return f"{self.celsius.normalize():f} °C on {self.day}"


class StepReservation(Row):
    """What a step ahead has reserved in the store; the reservation itself knows nothing of jobs."""

    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="reserved")
    reservation = models.OneToOneField(Reservation, on_delete=models.PROTECT, related_name="step_reservation")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.reservation} for {self.step}"
