"""Money paid back, each time with its receipt; and money that no invoice holds."""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from django.db.models import Exists, OuterRef, Q

from quotes.bench import agreed_total, dues, on_account, standing_invoice
from quotes.bench.plan.order import locked
from quotes.billing.parts import House
from quotes.billing.paying import ZERO, amount_taken, balance, cash_step, check_coins, receipted
from quotes.billing.tax_points import taxed_on_account
from quotes.models import Invoice, Job, Payment
from quotes.totals import cash_due
from quotes.totals.taxing import Rows, negated, no_longer_held
from shop.models import Customer
from shop.platform.acts import SEES_MONEY, Refused, Signed, action


class Back(NamedTuple):
    """So much, with tax, is to be paid back: to whom it was taken from, out of the account of this job."""

    amount: Decimal
    customer: Customer
    job: Job | None


def to_pay_back(*, invoice: Invoice | None = None, job: Job | None = None) -> Back:
    """What is to be paid back on an invoice, or for a job without one; never more than was taken from one payer.

    Where several paid, it is for the one of whom most is held. Raises Refused on a credit note, and for a job whose
    invoice stands.
    """
    if invoice is not None:
        if invoice.kind != Invoice.Kind.INVOICE:
            raise Refused("Money is paid back on an invoice, not on a credit note.")
        due, payer = -balance(invoice), invoice.customer
        jobs = list(invoice.jobs.order_by("pk"))
        held = Payment.objects.filter(Q(invoice=invoice) | Q(invoice=None, job__in=jobs))
    else:
        assert job is not None
        if standing_invoice(job) is not None:
            raise Refused("This job is invoiced: pay back on its invoice.")
        due, payer, jobs = on_account(job) - agreed_total(job), job.way.board.quote.payer, [job]
        held = Payment.objects.on_account().filter(job=job)
    by_payer = held.by("customer")
    whose = max(by_payer, key=lambda key: by_payer[key], default=payer.pk)
    by_job = held.filter(customer=whose).by("job")
    return Back(
        amount=max(ZERO, min(due, by_payer.get(whose, ZERO))),
        customer=payer if whose == payer.pk else Customer.objects.get(pk=whose),
        job=max(jobs, key=lambda one: by_job.get(one.pk, ZERO), default=None),
    )


class HeldMoney(NamedTuple):
    """Money of an ended job that no invoice holds, and how much of it is to be paid back as the job stands."""

    job: Job
    amount: Decimal
    back: Decimal


def held_without_invoice() -> list[HeldMoney]:
    """Jobs whose money is not settled: the board is gone, or more was taken than is charged. Seven queries."""
    standing = Invoice.objects.standing().filter(jobs=OuterRef("job"))
    taken = Payment.objects.on_account().exclude(job=None).exclude(job__state=Job.State.OPEN).exclude(Exists(standing))
    sums = {pk: held for pk, held in taken.by("job").items() if held > 0}
    if not sums:
        return []
    due = dues(Job.objects.filter(pk__in=sums))
    jobs = Job.objects.filter(pk__in=sums).select_related("takein__board", "takein__brought_by").order_by("pk")
    return [
        HeldMoney(job, sums[job.pk], max(ZERO, due[job.pk].back))
        for job in jobs
        if job.state == Job.State.PICKED_UP or due[job.pk].amount < 0
    ]


@action("money.pay_back", *SEES_MONEY)
def refund(
    *,
    amount: Decimal,
    method: str,
    signed: Signed,
    invoice: Invoice | None = None,
    job: Job | None = None,
    reason: str = "",
) -> Payment:
    """Pay money back, with a receipt: what an invoice was paid too much, or what a job holds beyond its price.

    It goes to who paid it. Raises Refused on a credit note, and for more than there is to pay back.
    """
    house = House.of(signed.shop)
    if (invoice is None) == (job is None):
        raise Refused("Say what the money is paid back on: an invoice, or a job without one.")
    if invoice is not None:
        invoice = Invoice.objects.select_for_update().get(pk=invoice.pk)
        back, words = to_pay_back(invoice=invoice), f"Paid back on {invoice.frozen['title'].lower()} {invoice.number}"
    else:
        assert job is not None
        job = locked(job)
        back, words = to_pay_back(job=job), f"Paid back for {job.way.title}, tag {job.takein.tag}"
    due = back.amount
    amount, step = amount_taken(amount, method, house.profile.currency), cash_step(house, method)
    whole = cash_due(due, step)
    if amount > whole:
        most = f"at most {whole:.2f} is to be paid back" if due > 0 else "nothing is to be paid back"
        raise Refused(f"Here {most}.", field="amount")
    check_coins(amount, step, whole)
    paid_back = Payment(
        kind=Payment.Kind.REFUND,
        amount=-amount,
        rounding=amount - due if amount == whole else Decimal(0),
        method=method,
        customer=back.customer,
        job=back.job,
        invoice=invoice,
    )
    words = f"{words}: {reason.strip()}" if reason.strip() else words
    taxed = _tax_back(house, job, on_account(job) + paid_back.settled) if job else ()
    return receipted(paid_back, house, words=words, left=None, signed=signed, taxed=taxed)


def _tax_back(house: House, job: Job, held: Decimal) -> Rows:
    """The tax of a job's deposits that is taken back once no more than this is held of them, below zero."""
    taxed = taxed_on_account([job])
    return negated(no_longer_held(taxed, held, house.profile.currency, house.rules.tie))
