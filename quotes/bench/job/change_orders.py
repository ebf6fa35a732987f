"""What changes after the yes: work that turned up, another way instead, work at our cost, a stop, or no charge at all.

Invariant: nothing is charged that the customer did not agree to, and how the answer came is kept. Work done stays done;
only steps still ahead are replaced or left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal

from quotes import quoting
from quotes.bench.job.acceptance import steps_of
from quotes.bench.job.charges import agreed_total, charges, uncharged
from quotes.bench.plan.order import insert, locked, on_the_bench
from quotes.bench.plan.reserving import release_job, reserve_job
from quotes.bench.use.spent import done_ways, spent
from quotes.bench.use.sundries import book_what_was_used, lock_sundries
from quotes.costing import Remedy
from quotes.estimating import shop_inputs
from quotes.models import Extra, Job, Promise, Quote, Step, Way
from quotes.ready_days.outlook import look_again_soon
from quotes.ready_days.promises import chance_of, keep_promise
from quotes.totals import DocumentLine, totals
from shop.measures.money import round_money
from shop.models import Profile
from shop.platform.acts import EVERY_ROLE, SEES_MONEY, Refused, Signed, action
from shop.text.formats import day as day_words

# Why a step was left out, in its plan; steps left out before it was kept there say it by their note alone.
BY_STOP, STOPPED_NOTE = "stop", "The work was stopped."


@action("extra.note", *EVERY_ROLE)
def note_found(*, job: Job, words: str, signed: Signed) -> Extra:
    """The bench notes what turned up; the counter prices it. Raises Refused for an empty note."""
    if not words.strip():
        raise Refused("What turned up is empty; say what you found, like wet foam 60 mm further.", field="words")
    job = on_the_bench(job)
    extra = Extra.objects.create(job=job, words=_fitting(words), found_at=signed.at, found_by=signed.by)
    look_again_soon(at=signed.at)
    signed.record(job, f"Turned up on {job.takein.tag}: {extra.words}")
    return extra


@action("extra.price", *SEES_MONEY)
def price_extra(
    *, extra: Extra, signed: Signed, price: Decimal | None = None, way: Way | None = None, words: str = ""
) -> Extra:
    """Price what turned up, by hand (as the shop's prices are) or by a way worked out for it; then it is answered.

    Raises Refused for neither or both, and for a way that is for another board or still has problems.
    """
    on_the_bench(extra.job)
    extra = _open(extra)
    if (price is None) == (way is None):
        raise Refused("Price it by hand, or by a way worked out for it; give one of the two.", field="price")
    if way is not None:
        _check_way(extra.job, way)
        _take_price(extra, way)
    else:
        assert price is not None
        _price_by_hand(extra, price, signed.at)
    extra.way, extra.state, extra.kind = way, Extra.State.PRICED, Extra.Kind.EXTRA
    extra.words = _fitting(words) or extra.words
    extra.save()
    look_again_soon(at=signed.at)
    signed.record(extra.job, f"Priced on {extra.job.takein.tag}: {extra.words}")
    return extra


def _price_by_hand(extra: Extra, price: Decimal, at: datetime) -> None:
    if price < 0:
        raise Refused("Price must not be below zero.", field="price")
    inputs = shop_inputs(day=quoting.shop_day(at))
    if (
        inputs.missing
        and inputs.tax.category == "O"
        and Remedy("shop", "tax") in [one.remedy for one in inputs.missing]
    ):
        raise Refused("No tax rate is marked for repair work: add one to the shop's tax rates.", field="price")
    line = DocumentLine(extra.words, Decimal(1), price, *inputs.tax)
    made = totals([line], currency=inputs.currency, prices_include_tax=inputs.prices_include_tax, tie=inputs.tie)
    extra.net, extra.tax, extra.gross = made.net, made.tax, made.gross
    extra.tax_category, extra.tax_percent = inputs.tax


def _take_price(extra: Extra, way: Way) -> None:
    extra.net, extra.tax, extra.gross, extra.tax_percent = way.net, way.tax, way.gross, way.tax_percent
    first = (way.totals.get("lines") or [{"tax_category": "S"}])[0]
    extra.tax_category = first["tax_category"]


def _check_way(job: Job, way: Way) -> None:
    if way.board.takein_id != job.takein_id:
        raise Refused("That way was worked out for another board.", field="way")
    if way.gross is None or way.problems:
        raise Refused("That way has no price yet: fill in what is missing first.", field="way")
    if way.agreed_at is not None:
        raise Refused("That way was agreed already.", field="way")
    if refused := quoting.refused_of_way(way):
        raise Refused({"way": [*refused, *quoting.what_to_do(refused.values())]})


@action("extra.propose_way", *SEES_MONEY)
def propose_another_way(*, job: Job, way: Way, words: str, signed: Signed) -> Extra:
    """Offer another way instead of the agreed one; the customer then answers as to an extra. Raises Refused.

    A way of the quote that the job came from is copied, at the price it was offered at: that quote stays as it was
    sent.
    """
    job = on_the_bench(job)
    if way.pk == job.way_id:
        raise Refused("That is the way being done now.", field="way")
    if way.board_id == job.quoted_id:
        way = _copied(way, signed)
    _check_way(job, way)
    if job.extras.filter(kind=Extra.Kind.ANOTHER, state=Extra.State.PRICED).exists():
        raise Refused("Another way already waits for the customer's answer.")
    extra = Extra(
        job=job, kind=Extra.Kind.ANOTHER, state=Extra.State.PRICED, way=way, found_at=signed.at, found_by=signed.by
    )
    extra.words = _fitting(words) or f"{way.title} instead of {job.way.title}"[:400]
    _take_price(extra, way)
    extra.save()
    look_again_soon(at=signed.at)
    signed.record(job, f"Offered for {job.takein.tag}: {extra.words}")
    return extra


def _copied(way: Way, signed: Signed) -> Way:
    """Copy of a way on a quote of its own, at the price that was offered."""
    quote = way.board.quote
    if not way.parts.exists() or not way.totals.get("shown"):
        raise Refused("That way has no price yet.", field="way")
    own = quoting.start_quote(takeins=[way.board.takein], signed=signed, payer=quote.payer)
    first, *others = way.parts.select_related("recipe_version__recipe", "damage").order_by("pk")
    copy = quoting.add_way(
        board=own.boards.get(), version=first.recipe_version, measures=first.measures, damage=first.damage,
        accepted_odd=first.accepted_odd, title=way.title, words=way.words, signed=signed,
    )  # fmt: skip
    for part in others:
        quoting.add_part(
            way=copy, version=part.recipe_version, measures=part.measures, damage=part.damage,
            accepted_odd=part.accepted_odd, signed=signed,
        )  # fmt: skip
    for line in way.lines.all():
        quoting.add_line(
            way=copy, words=line.words, price=line.price, cost=line.cost, tax_percent=line.tax_percent, signed=signed
        )
    copy.refresh_from_db()
    shown, reason = Decimal(way.totals["shown"]), f"as offered on {quote}"
    return quoting.edit_way(
        way=copy,
        title=copy.title,
        words=copy.words,
        price_by_hand=shown,
        price_reason=reason,
        below_cost=True,
        signed=signed,
    )


@action("extra.answer", *SEES_MONEY)
def answer_extra(*, extra: Extra, agreed: bool, how: str, signed: Signed) -> Extra:
    """The customer's yes or no, and how it came. A yes adds the steps, or replaces the agreed way.

    A note that was not priced can only be closed with a no. Raises Refused.
    """
    if not how.strip():
        raise Refused("How is empty; say how the answer came, like by phone, Tuesday 10:15.", field="how")
    sundries = lock_sundries(extra.job) if agreed and extra.kind == Extra.Kind.ANOTHER else {}
    job = locked(extra.job)
    extra = _open(extra)
    if agreed:
        on_the_bench(job)
        if extra.state != Extra.State.PRICED:
            raise Refused("It has no price yet; the customer can only agree to a price.", field="agreed")
        if extra.kind == Extra.Kind.ANOTHER:
            book_what_was_used(job, sundries, signed=signed)
        _carry_out(job, extra, how, signed)
    elif extra.way is not None and extra.way.board.quote.state in Quote.UNANSWERED:
        quoting.decline_quote(quote=extra.way.board.quote, reason=how, signed=signed)
    extra.state = Extra.State.AGREED if agreed else Extra.State.DECLINED
    _close(extra, how, signed.at)
    reserve_job(job=job, at=signed.at)
    look_again_soon(at=signed.at)
    word = "Yes" if agreed else "No"
    signed.record(job, f"{word} to “{extra.words}” on {job.takein.tag}")
    return extra


def _carry_out(job: Job, extra: Extra, how: str, signed: Signed) -> None:
    if extra.way is None:
        _add_steps(job, [_step_in_words(extra)])
        return
    quoting.agree(way=extra.way, signed=signed, how=how, spoken=True)
    if extra.kind == Extra.Kind.ANOTHER:
        todo = job.steps.filter(state=Step.State.TODO)
        todo.update(state=Step.State.DROPPED, note="Another way was agreed.")
        insert(job, steps_of(extra.way), before=None)
        job.way = extra.way
        job.save(update_fields=["way"])
        _promise_again(job, signed)
    else:
        _add_steps(job, steps_of(extra.way))


def _promise_again(job: Job, signed: Signed) -> None:
    """Promise the day of the way that is done now, as its quote said or as holds now; without one the old stays."""
    promise = quoting.day_to_promise(job.way, signed.at)
    if promise.day is not None:
        job.promised_on = promise.day
        job.save(update_fields=["promised_on"])
        because, by_hand = Promise.Because.ANOTHER_WAY, job.way.ready_by_hand
        keep_promise(job=job, day=promise.day, asked=promise.asked, because=because, by_hand=by_hand, signed=signed)


@action("extra.absorb", *SEES_MONEY)
def absorb_extra(*, extra: Extra, reason: str, signed: Signed) -> Extra:
    """Do what turned up at our cost, with the reason: its steps are added and its cost counts against the job."""
    if not reason.strip():
        raise Refused("Reason is empty; say why it is done at our cost.", field="reason")
    job = on_the_bench(extra.job)
    extra = _open(extra)
    if extra.kind == Extra.Kind.ANOTHER:
        raise Refused("Another way is agreed or not; it cannot be done at our cost.")
    if extra.way is not None:
        quoting.agree(way=extra.way, signed=signed, how=f"at our cost: {reason}"[:120], spoken=True)
        _add_steps(job, steps_of(extra.way))
    else:
        _add_steps(job, [_step_in_words(extra)])
    extra.kind, extra.state = Extra.Kind.ABSORBED, Extra.State.AGREED
    _close(extra, reason, signed.at)
    reserve_job(job=job, at=signed.at)
    look_again_soon(at=signed.at)
    signed.record(job, f"At our cost on {job.takein.tag}: {extra.words}")
    return extra


@action("job.stop", *SEES_MONEY)
def stop_job(*, job: Job, amount: Decimal, how: str, signed: Signed, words: str = "", below_cost: bool = False) -> Job:
    """End a job after opening: all that is charged is `amount` (as the shop's prices are), steps ahead are left out.

    Of its sundries as much is booked as the steps begun took. `how` says how the customer agreed to it. What the
    deposit holds beyond that is paid back after the invoice.
    Raises Refused for more than was agreed, and once for less than it cost so far (`below_cost` says yes).
    """
    if not how.strip():
        raise Refused("How is empty; say how the customer agreed to stop, like by phone.", field="how")
    sundries = lock_sundries(job)
    job = on_the_bench(job)
    agreed = charges(job).totals().lines_total
    if not 0 <= amount <= agreed:
        raise Refused(f"The amount must lie between 0 and the agreed price of {agreed:.2f}.", field="amount")
    book_what_was_used(job, sundries, signed=signed)
    if not below_cost and (short := short_of_cost(job, amount, signed.at)):
        raise Refused(f"{short} Is that meant?", field="below_cost")
    for extra in job.extras.filter(state__in=Extra.UNANSWERED):
        answer_extra(extra=extra, agreed=False, how=f"the work was stopped: {how}"[:200], signed=signed)
    stop = Extra(job=job, kind=Extra.Kind.STOPPED, state=Extra.State.AGREED, found_at=signed.at, found_by=signed.by)
    stop.words = _fitting(words) or "Stopped after opening"
    _price_by_hand(stop, amount, signed.at)
    _close(stop, how, signed.at)
    left_open = list(job.steps.ahead())
    for step in left_open:
        step.state, step.note, step.planned = Step.State.DROPPED, STOPPED_NOTE, replace(step.planned, left_out=BY_STOP)
    Step.objects.bulk_update(left_open, ["state", "note", "plan"])
    job.state, job.finished_at = Job.State.STOPPED, signed.at
    job.save(update_fields=["state", "finished_at"])
    release_job(job=job, at=signed.at)
    look_again_soon(at=signed.at)
    signed.record(job, f"Stopped the work on {job.takein.tag}")
    return job


def left_undone(job: Job) -> list[Step]:
    """The steps that a stop left out, in their order: what is still to be done by whoever goes on with it."""
    dropped = job.steps.filter(state=Step.State.DROPPED).order_by("position")
    return [step for step in dropped if step.planned.left_out == BY_STOP or step.note == STOPPED_NOTE]


def short_of_cost(job: Job, amount: Decimal, at: datetime) -> str:
    """The sentence where `amount` (as the shop's prices are) is less than a job cost so far; empty where it is not.

    Of a job that is not charged anyway nothing is said.
    """
    if not job.billed:
        return ""
    stop = Extra(job=job)
    _price_by_hand(stop, amount, at)
    cost = spent({job.pk: done_ways(job, job.extras.filter(state=Extra.State.AGREED))})[job.pk].cost
    cost = round_money(cost, Profile.objects.get().currency)
    short = stop.net is not None and stop.net < cost
    return f"Without tax that is {stop.net:.2f}, below the {cost:.2f} it cost so far." if short else ""


@action("job.charge_nothing", *SEES_MONEY)
def charge_nothing(*, job: Job, reason: str, signed: Signed) -> Extra:
    """Nothing is charged for an ended job, with the reason: it may leave without an invoice, what was paid goes back.

    Raises Refused without a reason, while the work goes on or an invoice stands, and where nothing is charged anyway.
    """
    if not reason.strip():
        raise Refused("Why is empty; say why nothing is charged, like: the repair did not hold.", field="reason")
    job = locked(job)
    if job.on_the_bench:
        raise Refused("The work is not finished: make the release check first, or stop the work.")
    if (invoice := job.invoices.standing().first()) is not None:
        raise Refused(f"This job is on invoice {invoice.number}: credit that one altogether first.")
    if agreed_total(job) == 0:
        raise Refused("Nothing is charged for this job already.")
    free = Extra(job=job, kind=Extra.Kind.UNCHARGED, state=Extra.State.AGREED, found_at=signed.at, found_by=signed.by)
    free.words = _fitting(reason)
    free.save()
    signed.record(job, f"Nothing is charged for {job.takein.tag}: {free.words}")
    return free


@action("job.charge_after_all", *SEES_MONEY)
def charge_after_all(*, job: Job, signed: Signed) -> Job:
    """A job for which nothing was to be charged is charged as agreed again.

    Raises Refused where it is anyway, and where an invoice of a deposit that is kept stands.
    """
    job = locked(job)
    free = uncharged(job)
    if free is None:
        raise Refused("This job is charged as agreed already.")
    if (invoice := job.invoices.standing().first()) is not None:
        raise Refused(f"This job is on invoice {invoice.number}: credit that one altogether first.")
    free.state = Extra.State.DECLINED
    _close(free, "charged after all", signed.at)
    signed.record(job, f"{job.takein.tag} is charged as agreed after all")
    return job


@action("job.promise", *SEES_MONEY)
def promise_another_day(*, job: Job, day: date, how: str, signed: Signed) -> Job:
    """A job on the bench is promised for another day; `how` says how the customer was told. Raises Refused."""
    job = on_the_bench(job)
    quoting.day_may_be(day, signed.day, field="day")
    if day == job.promised_on:
        raise Refused(f"The job is already promised for {day_words(day)}: give another day.", field="day")
    if not how.strip():
        raise Refused("How is empty; say how the customer was told, like by phone.", field="how")
    job.promised_on = day
    job.save(update_fields=["promised_on"])
    asked = chance_of(job, day, signed)
    by_hand = asked is None or asked.ready.q80 != day
    keep_promise(
        job=job, day=day, asked=asked, because=Promise.Because.ANOTHER_DAY, by_hand=by_hand, signed=signed
    )  # fmt: skip
    look_again_soon(at=signed.at)
    said = f"{job.takein.tag} is promised for {day_words(day)}; the customer was told {how.strip()}"
    signed.record(job, said)
    return job


def _open(extra: Extra) -> Extra:
    extra = Extra.objects.select_related("job__takein", "job__way", "way__board__quote").get(pk=extra.pk)
    if not extra.open:
        raise Refused(f"This was already answered: {extra.get_state_display()}, {extra.answered_how}.")
    return extra


def _close(extra: Extra, how: str, at: datetime) -> None:
    extra.answered_at, extra.answered_how = at, how.strip()[:200]
    extra.save()


def _add_steps(job: Job, steps: Sequence[Step]) -> None:
    """New work comes before what is still ahead."""
    before = job.steps.filter(state=Step.State.TODO).order_by("position").first()
    insert(job, steps, before=before)


def _step_in_words(extra: Extra) -> Step:
    """Something to tick for work that no recipe describes."""
    return Step(operation="extra", title=extra.words[:160], instruction=extra.words if len(extra.words) > 160 else "")


def _fitting(words: str) -> str:
    return " ".join(words.split())[:400]
