"""The two-minute job: a plug or a small ding for cash, from recipe to paid and picked up in one act.

It is a job like any other, on the same costing, stock and number series, its materials recorded as planned. Minutes are
said for the whole of it, or are not known.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal

from quotes import bench, quoting
from quotes.billing.issuing import issue_invoice
from quotes.billing.paying import pay, to_pay
from quotes.billing.rates import IN_FORCE
from quotes.models import Job, Payment, RecipeVersion, Step, StepTime, Way
from shop.models import Board, Customer
from shop.platform.acts import SEES_MONEY, Refused, Signed, action

WALK_IN = "Walk-in customer"
HOW = "at the counter, two-minute job"


def walk_in() -> Customer:
    """The customer that stands for people who leave no name."""
    customer, _ = Customer.objects.get_or_create(walk_in=True, defaults={"name": WALK_IN})
    return customer


@action("job.two_minutes", *SEES_MONEY)
def two_minute_job(
    *,
    version: RecipeVersion,
    measures: Mapping[str, str],
    board: Board,
    method: str,
    signed: Signed,
    customer: Customer | None = None,
    accepted_odd: Collection[str] = (),
    price_by_hand: Decimal | None = None,
    price_reason: str = "",
    below_cost: bool = False,
    shown: Decimal | None = None,
    minutes: Decimal | None = None,
) -> Payment:
    """Take the board in, price, do, invoice and take the money; returns the payment with its receipt.

    `board` is not saved yet. `price_by_hand` stands for the one worked out, `shown` the price the counter has on the
    screen: if it is no longer right, nothing is done. `minutes` are those of all its steps; None leaves the job out of
    what an hour earned. Raises Refused, nothing stored.
    """
    way = _way(version, measures, board, customer or walk_in(), accepted_odd, signed)
    way = quoting.edit_way(
        way=way,
        signed=signed,
        title=way.title,
        words=way.words,
        ready_on=signed.day,
        price_by_hand=price_by_hand,
        price_reason=price_reason,
        below_cost=below_cost,
    )
    if way.problems:
        raise Refused(way.lacks[0].text)
    price_now = Decimal(way.totals["shown"])
    if shown is not None and price_now != shown:
        raise Refused(f"The price is {price_now:.2f} now, not {shown:.2f}. Look at it again before you take the money.")
    job = bench.accept_way(way=way, signed=signed, how=HOW, spoken=True)
    _do_as_planned(job, minutes, signed)
    invoice = issue_invoice(jobs=[job], rates=IN_FORCE, signed=signed)  # nobody agreed to others
    payment = pay(invoice=invoice, amount=to_pay(invoice, method), method=method, signed=signed)
    bench.pick_up(job=job, signed=signed)
    return payment


def _way(
    version: RecipeVersion,
    measures: Mapping[str, str],
    board: Board,
    customer: Customer,
    accepted_odd: Collection[str],
    signed: Signed,
) -> Way:
    checks = [{"line": line, "ok": False, "reason": "two-minute job"} for line in quoting.TAKE_IN_CHECK]
    takein = quoting.take_in(brought_by=customer, board=board, checks=checks, signed=signed, wants=version.recipe.name)
    quote = quoting.start_quote(takeins=[takein], signed=signed)
    return quoting.add_way(
        board=quote.boards.get(), version=version, measures=measures, signed=signed, accepted_odd=accepted_odd
    )


def too_few_minutes(minutes: Decimal, steps: int) -> str:
    """A sentence where so many steps cannot be said to take so few minutes; else ""."""
    least = bench.SHORTEST * steps
    return f"Minutes must be at least {least:f}, a tenth for each step, like 5." if minutes < least else ""


def _do_as_planned(job: Job, minutes: Decimal | None, signed: Signed) -> None:
    steps = list(job.steps.order_by("position"))
    for step, share in zip(steps, _minutes_of(steps, minutes), strict=True):
        bench.finish_step(step=step, minutes=share, signed=signed, typed=False)
    job.hands = Job.Hands.UNKNOWN if minutes is None else Job.Hands.WHOLE
    job.save(update_fields=["hands"])
    if minutes is not None:  # a share is for what the job cost; of a single step nobody measured anything
        StepTime.objects.filter(step__in=steps).update(of_total=True)
    ticked = [{"line": line, "ok": True, "reason": ""} for line in bench.release_lines(job)]
    bench.finish_job(job=job, checks=ticked, signed=signed)


def _minutes_of(steps: Sequence[Step], minutes: Decimal | None) -> list[Decimal]:
    """What each step took, by what was planned for it. Raises Refused for less than its steps can be said to take."""
    if minutes is None:
        return [bench.planned_minutes(step) for step in steps]
    if wrong := too_few_minutes(minutes, len(steps)):
        raise Refused(wrong, field="minutes")
    return bench.minute_shares(minutes, [step.planned_minutes for step in steps])
