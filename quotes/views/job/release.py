"""A job leaves: release check, aftercare, pick-up."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from quotes import bench, billing
from quotes.bench.papers import aftercare
from quotes.billing.rates import rate_changes
from quotes.forms.bench import whole_minutes
from quotes.forms.job import ReleaseForm
from quotes.forms.money import IssueForm, MoneyForm, PickUpForm
from quotes.models import Job
from quotes.views.job.jobs import head, jobs_with_all, sundries_line, to_job
from shop.papers.paper import PaperProblem, as_pdf
from shop.platform.acts import EVERY_ROLE
from shop.web.access import open_to
from shop.web.page import Shown, act_page, form_page, sent
from shop.web.request import ShopRequest, signed


@open_to(*EVERY_ROLE)
def job_release(request: ShopRequest, pk: int) -> HttpResponse:
    """The release check; with it the board is ready to collect."""
    row = get_object_or_404(jobs_with_all(), pk=pk)
    steps = [step for step in row.steps.all() if step.ahead and step.operation == bench.RELEASE]
    minutes = sum((bench.planned_minutes(step) for step in steps), Decimal(0))
    usual = whole_minutes(float(minutes)) if steps else ""
    form = ReleaseForm(sent(request), shop=request.shop, lines=bench.release_lines(row), usual=usual)

    def act() -> str:
        spent = form.cleaned_data.get("minutes")
        bench.finish_job(
            job=row, checks=form.checks(), minutes=spent / max(1, len(steps)) if spent else None, signed=signed(request),
        )  # fmt: skip
        return to_job(row)

    sundries = [sundries_line(line) for line in bench.sundries_of(row) if line.ahead]
    context: Shown = {"can_finish": bench.can_finish_job(row), "sundries": sundries}
    return form_page(request, "quotes/job_release.html", form, act, **head(row), **context)


@open_to(*EVERY_ROLE)
def job_aftercare(request: ShopRequest, pk: int) -> HttpResponse:
    """The sheet that goes home with the board, to print: how to treat it, or that it was stopped and is open."""
    row = get_object_or_404(jobs_with_all(), pk=pk)
    if row.on_the_bench:
        messages.error(request, "The work is not finished, so there is no sheet to go home with the board yet.")
        return redirect("job", pk=row.pk)
    try:
        pdf = aftercare.pdf(row, profile=request.shop)
    except PaperProblem as problem:
        messages.error(request, problem.sentence)
        return redirect("job", pk=row.pk)
    return as_pdf(pdf, f"aftercare-{row.takein.tag}.pdf")


@act_page(
    bench.pick_up, "quotes/job_pickup.html", rows=jobs_with_all(), called="job",
    to=to_job, says=lambda job: f"{job.takein.board.name} has gone home.",
)  # fmt: skip
def job_pickup(request: ShopRequest, job: Job) -> Shown:
    """Leads through invoice, payment and the board going home, one after the other."""
    return {**head(job), "form": PickUpForm(sent(request), shop=request.shop), **_pickup(request, job)}


def _pickup(request: ShopRequest, row: Job) -> dict[str, Any]:
    bill = bench.charges(row)
    totals = bill.totals(prepaid=billing.on_account(row))
    invoice = bench.standing_invoice(row)
    left = invoice.left if invoice else Decimal(0)
    pay_form = MoneyForm(shop=request.shop, button="Take the money", initial={"amount": f"{left:.2f}"})
    return {
        "bill": list(zip(bill.lines, totals.line_amounts, strict=True)),
        "totals": totals,
        "invoice": invoice,
        "uncharged": bench.uncharged(row),
        "stopped": bench.stopped(row),
        "left": left,
        "back": -left,
        "account_back": -totals.payable,
        "payments": list(row.payments.order_by("pk")),
        "can_pick_up": bench.can_pick_up(row),
        "pay_form": pay_form,
        "issue_form": _issue_form(request, row) if invoice is None else None,
    }


def _issue_form(request: ShopRequest, row: Job) -> IssueForm:
    others = ready_with(row)
    return IssueForm(shop=request.shop, others=others, changes=rate_changes([row, *others], request.shop))


def ready_with(row: Job) -> list[Job]:
    """Other jobs of the same payer that are ready and not invoiced yet."""
    payer = row.way.board.quote.payer_id
    ready = Job.objects.filter(state__in=Job.TO_COLLECT, way__board__quote__payer=payer)
    ready = ready.exclude(pk=row.pk).select_related("takein__board", "way")
    return [other for other in ready if bench.standing_invoice(other) is None and bench.agreed_total(other)]
