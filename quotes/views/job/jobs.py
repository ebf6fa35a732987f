"""A job as a whole: where it stands, its sheet, what turned up, the release check, and the board going home."""

from __future__ import annotations

from datetime import date, datetime
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
from quotes.bench.plan.chances import KeptChance, chance_of, kept_chances
from quotes.bench.plan.reserving import by_material, late_finish, short_steps
from quotes.estimating import shop_calendar
from quotes.models import Extra, Job, Step
from quotes.papers import keeping
from quotes.ready_days.outlook import outlook
from quotes.views.job_page import JobMoney, JobPage
from quotes.views.refused import refused_shown
from shop.papers.paper import as_pdf
from shop.platform.acts import EVERY_ROLE, SEES_MONEY, Refused
from shop.web.access import open_to
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
        "chance": _kept_chance(row, timezone.localdate(now)),
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


def _kept_chance(row: Job, today: date) -> KeptChance | None:
    """How sure it is, as last worked out, that the day promised is kept; None where that is past or was never given."""
    ahead = row.promised_on is not None and row.promised_on >= today
    return chance_of(row, kept_chances(outlook())) if ahead else None


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
        pdf = bytes(last.document.pdf) if last else keeping.made(sheet_paper.pdf, row, at=timezone.now())
    except Refused as problem:
        messages.error(request, " ".join(problem.messages))
        return redirect("job", pk=row.pk)
    return as_pdf(pdf, f"job-sheet-{row.takein.tag}.pdf")
