"""Money: invoices with what is still to be paid, their payments and receipts, deposits, credit notes."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.db.models import Q, QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import urlencode

from inventory.models import Movement
from quotes import bench, billing
from quotes.billing.books import old_mistakes
from quotes.billing.rates import rate_changes
from quotes.forms.money import IssueForm, MoneyForm
from quotes.models import Invoice, Job, Payment
from quotes.papers import itemised as itemised_paper
from quotes.papers import keeping
from quotes.views.job.jobs import head, jobs_with_all
from quotes.views.job.release import ready_with
from shop.models import Role
from shop.papers.paper import as_pdf
from shop.platform.acts import SEES_MONEY, Refused
from shop.web.access import open_to
from shop.web.page import Shown, act_page, form_page, sent
from shop.web.post_login_replay import typed_anew
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for

ON_A_PAGE = 25
JOBS_SHOWN = 3  # of an invoice; the jobs of one with more are folded
SHOWS = (("unpaid", "Still open"), ("invoices", "All invoices"), ("receipts", "Receipts"))


@open_to(*SEES_MONEY)
def money(request: ShopRequest) -> HttpResponse:
    """What is still open first; found by number, name or tag."""
    q = asked_for(request)
    show = request.GET.get("show", "unpaid")
    show = show if show in dict(SHOWS) else "unpaid"
    rows: QuerySet[Any]
    if show == "receipts":
        rows = Payment.objects.select_related("customer", "invoice", "job__takein").order_by("-pk")
    else:
        invoices = Invoice.objects.unpaid() if show == "unpaid" and not q else Invoice.objects.with_balance()
        rows = invoices.select_related("customer").defer("frozen").order_by("-pk")
    for word in q.split()[:8]:
        tag = "job__takein__tag__iexact" if show == "receipts" else "jobs__takein__tag__iexact"
        rows = rows.filter(Q(number__icontains=word) | Q(customer__name__icontains=word) | Q(**{tag: word})).distinct()
    page: Page[Any] = Paginator(rows, ON_A_PAGE).get_page(request.GET.get("page"))
    for row in page if show != "receipts" else ():
        row.back = -row.left
    first = show == "unpaid" and not q and page.number == 1
    context = {
        "page": page,
        "q": q,
        "show": show,
        "shows": SHOWS,
        "query": urlencode({"q": q, "show": show} if q else {"show": show}),
        "held": billing.held_without_invoice() if first else [],
        "mistakes": old_mistakes() if first and request.user.role == Role.KEEPER else [],
    }
    return render(request, "quotes/money.html", context)


@open_to(*SEES_MONEY)
def invoice(request: ShopRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(
        Invoice.objects.with_balance().select_related("customer", "corrects", "by").prefetch_related("lines"), pk=pk
    )
    left: Decimal = row.left
    jobs = list(row.jobs.select_related("takein__board"))
    held = Payment.objects.on_account().filter(job__in=jobs).by("job")
    gone = row.kind == Invoice.Kind.INVOICE and row.credited < 0 and row.standing == 0
    context = {
        "invoice": row,
        "left": left,
        "back": -left,
        "payable_back": -row.payable,
        "is_credit": row.kind == Invoice.Kind.CREDIT,
        "gone": gone,
        "tax_rows": row.frozen["totals"]["tax_rows"],
        "tax": row.frozen["tax"],
        "payments": row.payments.select_related("by").order_by("pk"),
        "prepaid": row.frozen["prepaid"],
        "notes": row.corrections.order_by("pk"),
        "jobs": [(each, held.get(each.pk, Decimal(0))) for each in jobs],
        "fold_jobs": len(jobs) > JOBS_SHOWN and not gone,  # of one that is gone the jobs are what one comes for
        "goods": _goods(row),
    }
    return render(request, "quotes/invoice.html", context)


def _goods(row: Invoice) -> list[Movement]:
    """What it took off the shelf and is not back, each with its `amount`. One query."""
    gone = list(billing.goods_on(row))
    for movement in gone:
        movement.amount = -movement.quantity
    return gone


@open_to(*SEES_MONEY)
def invoice_pdf(request: ShopRequest, pk: int) -> HttpResponse:
    """The paper that was given out: always the same bytes."""
    row = get_object_or_404(Invoice.objects.select_related("document"), pk=pk)
    return as_pdf(bytes(row.document.pdf), row.document.name)


@open_to(*SEES_MONEY)
def invoice_itemised(request: ShopRequest, pk: int) -> HttpResponse:
    """The price of an invoice laid out over materials and hours, as a paper for a customer who asks."""
    row = get_object_or_404(Invoice, pk=pk, kind=Invoice.Kind.INVOICE)
    try:
        return as_pdf(keeping.made(itemised_paper.pdf, billing.itemised(row)), f"itemised-{row.number}.pdf")
    except Refused as problem:
        messages.error(request, problem.messages[0])
        return redirect("invoice", pk=row.pk)


@open_to(*SEES_MONEY)
def receipt_pdf(request: ShopRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Payment.objects.select_related("document"), pk=pk, document__isnull=False)
    assert row.document is not None
    return as_pdf(bytes(row.document.pdf), row.document.name)


@typed_anew
@open_to(*SEES_MONEY)
def invoice_issue(request: ShopRequest, pk: int) -> HttpResponse:
    """Numbered, frozen, ready to be handed over; `pk` is a job."""
    row = get_object_or_404(jobs_with_all(), pk=pk)
    others = ready_with(row)
    changes = rate_changes([row, *others], request.shop)
    form = IssueForm(sent(request), shop=request.shop, others=others, changes=changes)

    def act() -> str:
        jobs = [row, *form.also()]
        billing.issue_invoice(jobs=jobs, rates=form.rates(), signed=signed(request))
        return reverse("job-pickup", args=[row.pk])

    bill = bench.charges(row)
    totals = bill.totals(prepaid=billing.on_account(row))
    context: Shown = {"bill": list(zip(bill.lines, totals.line_amounts, strict=True)), "totals": totals}
    context["account_back"] = -totals.payable
    return form_page(request, "quotes/invoice_issue.html", form, act, **head(row), **context)


@typed_anew
@act_page(
    billing.take_deposit, "quotes/deposit.html", rows=jobs_with_all(), called="job",
    to=lambda taken: reverse("receipt", args=[taken.pk]),
)  # fmt: skip
def deposit_new(request: ShopRequest, job: Job) -> Shown:
    suggested = billing.suggested_deposit(job)
    initial = {"amount": f"{suggested:.2f}" if suggested else ""}
    form = MoneyForm(sent(request), shop=request.shop, button="Take the deposit", initial=initial)
    return {**head(job), "form": form, **money_held(job)}


def money_held(job: Job) -> Shown:
    return {"gross": bench.agreed_total(job), "on_account": billing.on_account(job)}


@open_to(*SEES_MONEY)
def receipt(request: ShopRequest, pk: int) -> HttpResponse:
    """What was taken or given back, with its paper and where to go on."""
    row = get_object_or_404(Payment.objects.select_related("customer", "invoice", "job__takein__board", "by"), pk=pk)
    return render(request, "quotes/receipt.html", {"payment": row})


@typed_anew
@open_to(*SEES_MONEY)
def payment_new(request: ShopRequest, pk: int) -> HttpResponse:
    """Money taken on an invoice; `then` names the job whose pick-up goes on after it."""
    row = get_object_or_404(Invoice.objects.with_balance().select_related("customer"), pk=pk)
    if row.kind == Invoice.Kind.CREDIT:
        return redirect("invoice", pk=row.corrects_id)
    left: Decimal = row.left
    form = MoneyForm(
        sent(request), shop=request.shop, button="Take the money", initial={"amount": f"{max(left, Decimal(0)):.2f}"}
    )
    then = job_asked_for(row, request)
    cash = billing.to_pay(row, Payment.Method.CASH)
    if cash != left:
        form.fields["amount"].help_text = f"In cash: {cash:.2f}."

    def act() -> str:
        billing.pay(invoice=row, **form.entries(), signed=signed(request))
        return reverse("job-pickup", args=[then.pk]) if then else reverse("invoice", args=[row.pk])

    says = "Taken. The receipt is on the list of payments."
    return form_page(request, "quotes/payment.html", form, act, says=says, invoice=row, left=left, then=then)


def job_asked_for(row: Invoice, request: ShopRequest) -> Job | None:
    asked = (request.POST or request.GET).get("then", "")
    return row.jobs.filter(pk=int(asked)).first() if asked.isascii() and asked.isdigit() and len(asked) < 19 else None
