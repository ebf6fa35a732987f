"""A job as a whole: where it stands, its sheet, what turned up, the release check, and the board going home."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.db.models import Prefetch, QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from quotes import bench, billing
from quotes.bench.papers import job_sheet as sheet_paper
from quotes.bench.plan.reserving import by_material, late_finish, short_steps
from quotes.estimating import shop_calendar
from quotes.forms.bench import FoundForm, as_typed
from quotes.forms.job import AbsorbForm, AnotherWayForm, AnswerForm, ExtraPriceForm, PromiseForm, StopForm
from quotes.models import Extra, Job, Step, Way
from quotes.views.job_page import JobMoney, JobPage
from quotes.views.refused import refused_shown
from shop.papers.paper import PaperProblem, as_pdf
from shop.platform.acts import EVERY_ROLE, SEES_MONEY, Refused
from shop.web.access import open_to
from shop.web.page import Shown, act_page, form_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import once

AT_ONCE = 5  # steps ahead that a job's page shows unfolded


def jobs_with_all() -> QuerySet[Job]:
    """Jobs with what every page of theirs shows."""
    steps = Step.objects.select_related("done_by").order_by("position")
    return Job.objects.select_related(
        "takein__board", "takein__brought_by", "way__board__quote__payer", "comeback_of__takein"
    ).prefetch_related(
        Prefetch("steps", steps), Prefetch("extras", Extra.objects.select_related("found_by", "way")), "takein__damages"
    )


def to_job(job: Job) -> str:
    return reverse("job", args=[job.pk])


def to_job_of(row: Extra | Step) -> str:
    return reverse("job", args=[row.job_id])


def head(job: Job) -> dict[str, Any]:
    """What stands at the head of every page of a job."""
    steps = [step for step in job.steps.all() if step.state != Step.State.DROPPED]
    done = sum(step.state == Step.State.DONE for step in steps)
    return {
        "job": job,
        "takein": job.takein,
        "board": job.takein.board,
        "damages": list(job.takein.damages.all()),
        "name": f"{job.takein.brought_by.name}, {job.takein.board.name}",
        "done": done,
        "total": len(steps),
    }


@open_to(*EVERY_ROLE)
def job(request: ShopRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(jobs_with_all(), pk=pk)
    now = timezone.now()
    money = _money_of(row) if request.user.role in SEES_MONEY else None
    steps = list(row.steps.all())
    following = bench.next_step(steps, now)
    refused = bench.refused_ahead(row, bench.temperature_now(timezone.localdate())) if row.on_the_bench else {}
    rungs = [_rung(step, following, now, step.pk in refused) for step in steps if step.state != Step.State.DROPPED]
    context = {
        **head(row),
        **_in_three(rungs),
        "refused": refused_shown(
            (each for found in refused.values() for each in found), row.takein, request.user, job=row
        ),
        "short": by_material(short_steps([row], today=timezone.localdate(now)).get(row.pk, [])),
        "not_before": late_finish(row, today=timezone.localdate(now), calendar=shop_calendar()),
        "dropped": [step for step in steps if step.state == Step.State.DROPPED],
        "next": following if row.on_the_bench else None,
        "extras": list(row.extras.all()),
        "sundries": [sundries_line(line) for line in bench.sundries_of(row)],
        "sheets": list(row.sheets.select_related("document").defer("document__pdf").order_by("-pk")[:1]),
        "money": money,
        "rung": bench.last_rung([row.takein]).get(row.takein_id),
        "comebacks": list(row.comebacks.select_related("takein")),
    }
    context["page"] = _offers(row, following, now, context, keeper=request.user.is_keeper)
    return render(request, "quotes/job.html", context)


def _offers(row: Job, following: Step | None, now: datetime, shown: dict[str, Any], *, keeper: bool) -> JobPage:
    """What may be done on the job's page; `following` is its next step, `shown` what else the page shows."""
    can_finish = bench.can_finish_job(row)
    on_the_bench = following if row.on_the_bench else None
    return JobPage(
        job=row.pk,
        board=row.takein.board_id,
        state=row.state,
        money=shown["money"],
        keeper=keeper,
        finishable=bool(can_finish),
        lacking=can_finish.why,
        next_step=(on_the_bench.pk, on_the_bench.title) if on_the_bench else None,
        waits=on_the_bench is not None and bench.waits(on_the_bench, now),
        window=bench.window_words(on_the_bench, now) if on_the_bench else "",
        shown_ahead=len(shown["ahead"]),
        done=shown["done"],
        total=shown["total"],
        stopped=bench.stopped(row) is not None,
    )


def _in_three(rungs: list[dict[str, Any]]) -> dict[str, Any]:
    """The steps done, the next few and those that come after them; one alone is not folded away."""
    todo = [rung for rung in rungs if rung["step"].ahead]
    few = AT_ONCE if len(todo) > AT_ONCE + 1 else len(todo)
    return {"behind": [rung for rung in rungs if not rung["step"].ahead], "ahead": todo[:few], "later": todo[few:]}


def _rung(step: Step, following: Step | None, now: Any, refused: bool) -> dict[str, Any]:
    waits = bench.waits(step, now)
    mark = {"done": "done", "doing": "now"}.get(step.state, "wait" if waits else "ahead")
    if refused or bench.late(step, now):
        mark = "late"
    words = (
        "Not like this"
        if refused
        else {"late": "Window over", "wait": "Cures"}.get(mark, step.get_state_display().capitalize())
    )
    return {"step": step, "mark": mark, "words": words, "now": step == following, "minutes": step.planned_minutes}


def sundries_line(line: Step) -> dict[str, Any]:
    """A line of sundries in words, and whether it is booked; of work that was agreed later its way."""
    later = line.part if line.part is not None and line.part.way_id != line.job.way_id else None
    return {"step": line, "words": bench.sundries_in_words(line), "of": later.way.title if later else ""}


def _money_of(row: Job) -> JobMoney:
    """What was agreed, what was paid, and the job's own truth once hands were on it."""
    bill = bench.charges(row)
    totals, truth = bill.totals(), billing.job_truth(row)
    on_account = billing.on_account(row)
    invoice = bench.standing_invoice(row)
    return JobMoney(
        lines=tuple((line.words, amount) for line, amount in zip(bill.lines, totals.line_amounts, strict=True)),
        gross=totals.gross,
        left=invoice.left if invoice else totals.gross - on_account,
        on_account=on_account,
        invoice=(invoice.pk, str(invoice)) if invoice else None,
        paid=invoice.paid if invoice else Decimal(0),
        truth=truth if truth.real.minutes or truth.real.materials else None,
        repairs=tuple(billing.cost_of_repairs(row)),
    )


@open_to(*EVERY_ROLE)
def job_sheet(request: ShopRequest, pk: int) -> HttpResponse:
    """POST prints the sheet and keeps it; GET shows the last one printed, or the job as it stands."""
    row = get_object_or_404(Job.objects.select_related("takein__board", "takein__brought_by", "way"), pk=pk)
    try:
        if request.method == "POST":

            def act() -> str:
                bench.print_sheet(job=row, signed=signed(request))
                return reverse("job-sheet", args=[row.pk])

            return once(request, act)
        last = row.sheets.select_related("document").order_by("-pk").first()
        pdf = bytes(last.document.pdf) if last else sheet_paper.pdf(row, at=timezone.now())
    except (PaperProblem, Refused) as problem:
        messages.error(request, problem.sentence if isinstance(problem, PaperProblem) else " ".join(problem.messages))
        return redirect("job", pk=row.pk)
    return as_pdf(pdf, f"job-sheet-{row.takein.tag}.pdf")


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


@act_page(bench.promise_another_day, "quotes/job_promise.html", rows=jobs_with_all(), called="job", to=to_job)
def job_promise(request: ShopRequest, job: Job) -> Shown:
    """Another day than was promised, once the customer knows."""
    first = late_finish(job, today=timezone.localdate(), calendar=shop_calendar())
    form = PromiseForm(sent(request), shop=request.shop, initial={"day": first})
    return {**head(job), "form": form, "not_before": first}


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
