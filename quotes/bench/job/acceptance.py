"""The customer said yes: an agreed way becomes a job with its steps."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date

from quotes import quoting
from quotes.bench.plan.order import insert
from quotes.bench.plan.reserving import reserve_job
from quotes.costing import PlannedStep
from quotes.costing.job.sundries import Told, lift_sundries
from quotes.costing.parts.repair_shares import repairs_of
from quotes.models import Cause, Job, Promise, Quote, Step, Way
from quotes.ready_days.outlook import look_again_soon
from quotes.ready_days.promises import keep_promise
from shop.platform.acts import SEES_MONEY, Refused, Signed, action

AGREED = Promise.Because.AGREED


def steps_of(way: Way) -> list[Step]:
    """The steps of a way, not stored yet: those of the bench, each over all repairs that it is done for together.

    A way of one repair, or worked out before the bench had steps of its own, has those of each repair as they are.
    What they share is the last, the line of sundries.
    """
    told: list[Told] = [(None, plan) for plan in way.planned_steps]
    if not told:
        told = [(part.pk, plan) for part in way.parts.order_by("pk") for plan in part.estimate.steps]
    plans, sundries = lift_sundries(told)
    steps = [_step(plan, repairs_of(plan, part)) for (part, _), plan in zip(told, plans, strict=True)]
    return steps if sundries is None else [*steps, _step(sundries, repairs_of(sundries, None))]


def _step(plan: PlannedStep, repairs: Sequence[int | None]) -> Step:
    return Step(
        part_id=repairs[0],
        serves=list(repairs) if len(repairs) > 1 else [],
        operation=plan.operation,
        title=plan.title[:160],
        instruction=plan.instruction,
        plan=plan.to_json(),
    )


@action("way.accept", *SEES_MONEY)
def accept_way(
    *,
    way: Way,
    signed: Signed,
    how: str,
    past_date: bool = False,
    spoken: bool = False,
    comeback_of: Job | None = None,
    cause: str = "",
    billed: bool = True,
    promised_on: date | None = None,
    wanted: Collection[int] | None = None,
) -> Job:
    """Make the job of a way the customer agreed to; `how` says how the yes was given.

    Agrees the way on its quote first (see quoting.agree for `past_date`, `spoken`, and for `wanted`, the optional
    repairs that the customer chose). Accepting it again gives the same job. `comeback_of` names the earlier job that a
    comeback's cost counts against. `promised_on` is the day the job is promised for, empty as worked out on the day of
    the yes; see `quoting.day_to_promise`. Raises Refused.
    """
    Quote.objects.select_for_update().get(pk=way.board.quote_id)
    job = Job.objects.filter(quoted=way.board_id).first()
    if job is not None:
        if job.way_id == way.pk or way.agreed_at is not None:
            return job
        raise Refused("Another way for this board is already agreed; change it on the job itself.")
    _check_comeback(way, comeback_of, cause)
    if promised_on is not None:
        quoting.day_may_be(promised_on, signed.day, field="promised_on")
    way = quoting.agree(way=way, signed=signed, how=how, past_date=past_date, spoken=spoken, wanted=wanted)
    promise = quoting.day_to_promise(way, signed.at, promised_on)
    job = Job.objects.create(
        takein=way.board.takein,
        quoted=way.board,
        way=way,
        agreed_at=signed.at,
        by=signed.by,
        promised_on=promise.day,
        comeback_of=comeback_of,
        cause=cause,
        billed=billed,
    )
    insert(job, steps_of(way), before=None)
    reserve_job(job=job, at=signed.at)
    if promise.day is not None:
        by_hand = promised_on is not None or way.ready_by_hand
        keep_promise(job=job, day=promise.day, asked=promise.asked, because=AGREED, by_hand=by_hand, signed=signed)
    look_again_soon(at=signed.at)
    signed.record(job, f"{way.title} was agreed for {job.takein.tag}")
    return job


def _check_comeback(way: Way, earlier: Job | None, cause: str) -> None:
    if earlier is None:
        return
    if earlier.takein.board_id != way.board.takein.board_id:
        raise Refused("A comeback is a job on the same board; that one was on another.", field="comeback_of")
    if cause not in Cause.values:
        raise Refused(
            "Cause is empty; say whose fault it was: ours, an earlier repairer's, the material's.", field="cause"
        )
