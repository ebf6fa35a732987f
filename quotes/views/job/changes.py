"""What changes of a job once it is agreed: what turned up, another way, another day, a stop."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from quotes import bench, billing
from quotes.bench.plan.reserving import late_finish
from quotes.estimating import shop_calendar
from quotes.forms.bench import FoundForm, as_typed
from quotes.forms.job import AbsorbForm, AnotherWayForm, AnswerForm, ExtraPriceForm, PromiseForm, StopForm
from quotes.models import Extra, Job, Way
from quotes.ready_days.outlook import outlook
from quotes.views.job.jobs import head, jobs_with_all, to_job, to_job_of
from shop.platform.acts import EVERY_ROLE, SEES_MONEY, Refused
from shop.text.formats import day as day_words
from shop.text.formats import in_ten
from shop.web.access import open_to
from shop.web.page import Shown, act_page, form_page, sent
from shop.web.request import ShopRequest, signed


@act_page(
    bench.note_found, "quotes/job_found.html", rows=jobs_with_all(), called="job", to=to_job_of,
    says="Noted. The counter prices it and asks the customer.",
)  # fmt: skip
def bench_note(request: ShopRequest, job: Job) -> Shown:
    return {**head(job), "form": FoundForm(sent(request), shop=request.shop)}


@open_to(*EVERY_ROLE)
def extra(request: ShopRequest, pk: int) -> HttpResponse:
    """What turned up: who found it, its price, the answer."""
    row = get_object_or_404(Extra.objects.select_related("found_by", "way__board__quote"), pk=pk)
    owner = jobs_with_all().get(pk=row.job_id)
    form = AbsorbForm(sent(request), shop=request.shop) if request.user.role in SEES_MONEY else None

    def act() -> str:
        assert form is not None
        bench.absorb_extra(extra=row, reason=form.cleaned_data["reason"], signed=signed(request))
        return reverse("job", args=[owner.pk])

    context = {**head(owner), "extra": row, "money": request.user.role in SEES_MONEY}
    if form is None:
        return render(request, "quotes/extra.html", context)
    return form_page(request, "quotes/extra.html", form, act, **context)


def _ways_for(row: Job) -> list[Way]:
    """Ways worked out for this board that nobody agreed to yet."""
    ways = Way.objects.filter(board__takein=row.takein, agreed_at__isnull=True, gross__isnull=False)
    found = ways.exclude(pk=row.way_id).select_related("board__quote").order_by("-pk")
    return [way for way in found if way.totals.get("shown")]


@act_page(
    bench.price_extra, "quotes/extra_price.html", rows=Extra, called="extra",
    to=lambda extra: reverse("extra", args=[extra.pk]),
)  # fmt: skip
def extra_price(request: ShopRequest, extra: Extra) -> Shown:
    owner = jobs_with_all().get(pk=extra.job_id)
    ways = [way for way in _ways_for(owner) if way.board_id != owner.quoted_id]
    form = ExtraPriceForm(sent(request), shop=request.shop, ways=ways, initial={"words": extra.words})
    return {**head(owner), "form": form}


@act_page(
    bench.answer_extra, "quotes/extra_answer.html", rows=Extra.objects.select_related("way"), called="extra",
    to=to_job_of,
)  # fmt: skip
def extra_answer(request: ShopRequest, extra: Extra) -> Shown:
    form = AnswerForm(sent(request), shop=request.shop, priced=extra.state == Extra.State.PRICED)
    return {**head(jobs_with_all().get(pk=extra.job_id)), "form": form}


@act_page(
    bench.propose_another_way, "quotes/job_another_way.html", rows=jobs_with_all(), called="job",
    to=lambda extra: reverse("extra", args=[extra.pk]),
)  # fmt: skip
def job_another_way(request: ShopRequest, job: Job) -> Shown:
    ways = _ways_for(job)
    return {**head(job), "form": AnotherWayForm(sent(request), shop=request.shop, ways=ways), "ways": ways}


def _promised(job: Job) -> str:
    """The day that was promised, with its chance where the bench could be asked."""
    promise = job.promises.latest("pk")
    chance = "" if promise.chance is None else f": {in_ten(promise.chance)}"
    return f"Promised for {day_words(promise.day)}{chance}."


@act_page(
    bench.promise_another_day, "quotes/job_promise.html", rows=jobs_with_all(), called="job", to=to_job, says=_promised
)  # fmt: skip
def job_promise(request: ShopRequest, job: Job) -> Shown:
    """Another day than was promised, once the customer knows."""
    today, seen = timezone.localdate(), outlook()
    first = late_finish(job, today=today, calendar=shop_calendar())
    days = seen.jobs.get(str(job.pk), {})
    even, likely, nine = (_from(days.get(name), today) for name in ("even", "likely", "nine"))
    form = PromiseForm(sent(request), shop=request.shop, initial={"day": likely or first})
    return {**head(job), "form": form, "not_before": first, "even": even, "likely": likely, "nine": nine, "seen": seen}


def _from(kept: str | None, today: date) -> date | None:
    """A day of the outlook, where it is not over."""
    day = date.fromisoformat(kept) if kept else None
    return day if day and day >= today else None


@act_page(
    bench.stop_job, "quotes/job_stop.html", rows=jobs_with_all(), called="job",
    to=lambda job: reverse("job-pickup", args=[job.pk]),
)  # fmt: skip
def job_stop(request: ShopRequest, job: Job) -> Shown:
    fair = bench.suggested_stop(job)
    return {
        **head(job),
        "form": StopForm(sent(request), shop=request.shop, initial={"amount": as_typed(fair)}),
        "agreed": bench.charges(job).totals().lines_total,
        "fair": fair,
        "short": _short_of_cost(job, fair),
        "truth": billing.job_truth(job),
        "on_account": billing.on_account(job),
    }


def _short_of_cost(row: Job, amount: Decimal) -> str:
    try:
        return bench.short_of_cost(row, amount, timezone.now())
    except Refused:  # no tax rate: the verb says so once it is sent
        return ""
