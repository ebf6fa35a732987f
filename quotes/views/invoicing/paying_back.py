"""Money paid back or kept, what is not charged, and credit notes."""

from __future__ import annotations

from decimal import Decimal

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from quotes import bench, billing
from quotes.forms.money import CreditForm, KeepForm, RefundForm, UnchargedForm
from quotes.models import Invoice, InvoiceLine, Job
from quotes.views.invoicing.money import job_asked_for, money_held
from quotes.views.job.jobs import head, jobs_with_all
from shop.platform.acts import SEES_MONEY
from shop.web.access import open_to
from shop.web.page import Shown, act_page, button, form_page, sent
from shop.web.post_login_replay import typed_anew
from shop.web.request import ShopRequest, signed


@typed_anew
@open_to(*SEES_MONEY)
def refund_new(request: ShopRequest, pk: int) -> HttpResponse:
    """Money paid back on an invoice that was paid too much."""
    row = get_object_or_404(Invoice.objects.with_balance().select_related("customer"), pk=pk)
    if row.kind == Invoice.Kind.CREDIT:
        return redirect("invoice", pk=row.corrects_id)
    back = billing.to_pay_back(invoice=row)
    form = RefundForm(sent(request), shop=request.shop, button="Pay it back", initial={"amount": f"{back.amount:.2f}"})
    then = job_asked_for(row, request)

    def act() -> str:
        billing.refund(invoice=row, **form.entries(), signed=signed(request))
        return reverse("job-pickup", args=[then.pk]) if then else reverse("invoice", args=[row.pk])

    return form_page(request, "quotes/refund.html", form, act, invoice=row, back=back, then=then)


@typed_anew
@open_to(*SEES_MONEY)
def job_refund(request: ShopRequest, pk: int) -> HttpResponse:
    """What a job's account holds beyond its price, paid back where no invoice stands."""
    row = get_object_or_404(jobs_with_all(), pk=pk)
    if (standing := bench.standing_invoice(row)) is not None:
        return redirect("invoice", pk=standing.pk)
    back = billing.to_pay_back(job=row)
    form = RefundForm(sent(request), shop=request.shop, button="Pay it back", initial={"amount": f"{back.amount:.2f}"})

    def act() -> str:
        billing.refund(job=row, **form.entries(), signed=signed(request))
        return reverse("job-pickup", args=[row.pk])

    return form_page(request, "quotes/refund.html", form, act, **head(row), back=back)


def _to_pickup(job: Job) -> str:
    return reverse("job-pickup", args=[job.pk])


@typed_anew
@act_page(
    bench.charge_nothing, "quotes/job_uncharged.html", rows=jobs_with_all(), called="job",
    to=lambda extra: _to_pickup(extra.job),
)  # fmt: skip
def job_uncharged(request: ShopRequest, job: Job) -> Shown:
    """Nothing is charged for an ended job, with the reason; hand-over goes on from there."""
    return {**head(job), "form": UnchargedForm(sent(request), shop=request.shop), **money_held(job)}


@typed_anew
@act_page(
    billing.keep_deposit, "quotes/job_keep_deposit.html", rows=jobs_with_all(), called="job",
    to=lambda invoice: _to_pickup(invoice.jobs.get()), says="The invoice is issued. What is left is paid back on it.",
)  # fmt: skip
def job_keep_deposit(request: ShopRequest, job: Job) -> Shown:
    """A deposit of a job that is not charged is kept, all or a part of it."""
    held = billing.on_account(job)
    form = KeepForm(sent(request), shop=request.shop, initial={"amount": f"{held:.2f}" if held > 0 else ""})
    return {**head(job), "form": form, **money_held(job)}


job_charged = typed_anew(  # it is charged as agreed after all
    require_POST(button(bench.charge_after_all, rows=Job, called="job", to=_to_pickup))
)


@typed_anew
@open_to(*SEES_MONEY)
def invoice_credit(request: ShopRequest, pk: int) -> HttpResponse:
    """A credit note: the whole invoice, or amounts of its lines."""
    row = get_object_or_404(Invoice.objects.with_balance().select_related("customer"), pk=pk)
    if row.kind == Invoice.Kind.CREDIT:
        return redirect("invoice", pk=row.pk)
    lines = [(line, left) for line, left in _open_lines(row) if left]
    form = CreditForm(sent(request), shop=request.shop, lines=lines)

    def act() -> str:
        note = billing.credit_invoice(invoice=row, **form.entries(), signed=signed(request))
        return reverse("invoice", args=[note.pk])

    return form_page(request, "quotes/invoice_credit.html", form, act, invoice=row, lines=lines)


def _open_lines(row: Invoice) -> list[tuple[InvoiceLine, Decimal]]:
    left = billing.left_of_lines(row)
    return [(line, left[line.position]) for line in row.lines.order_by("position")]
